"""Tables over sets of findings, without a single subtraction.

A table holds, for each set of findings, the chance that exactly those are accounted for so far. A set is a number whose bits are
its members, the first finding being the highest bit. The textbook sum over subsets (Heckerman 1989) adds and subtracts, and loses
digits where many rare findings are present; here a cause either leaves a set alone or moves chance to larger sets.
"""

from __future__ import annotations

import numpy as np

from plugread.diagnose.numbers import Array


def cover(table: Array, links: Array) -> Array:
    """Return `table` after a present cause had its chance at each finding.

    Parameters
    ----------
    table : shape (B, terms, sets).
    links : shape (B, findings), the chance with which the cause brings each about.
    """
    out, bits = table.copy(), links.shape[1]
    for bit in range(bits):
        link = links[:, bit, None, None, None]
        if link.any():
            halves = out.reshape(*out.shape[:2], 2**bit, 2, -1)
            halves[..., 1, :] += link * halves[..., 0, :]
            halves[..., 0, :] *= 1.0 - link
    return out


def uncover(weights: Array, links: Array) -> Array:
    """Return the adjoint of `cover`: what each set is worth before the cause had its chance; shapes as there."""
    out, bits = weights.copy(), links.shape[1]
    for bit in range(bits):
        link = links[:, bit, None, None, None]
        if link.any():
            halves = out.reshape(*out.shape[:2], 2**bit, 2, -1)
            halves[..., 0, :] *= 1.0 - link
            halves[..., 0, :] += link * halves[..., 1, :]
    return out


def products_left(miss: Array) -> Array:
    """Return, for each covered set, the product of `1 - miss` over the findings left; last axis findings -> sets."""
    out = np.ones((*miss.shape[:-1], 1))
    for bit in range(miss.shape[-1]):
        left = (1.0 - miss[..., bit, None]) * out
        out = np.stack([left, out], axis=-1).reshape(*out.shape[:-1], -1)
    return out


def signed_left(miss: Array) -> Array:
    """Return the weights that turn sums over subsets (`at_most`) into what `products_left` gives sets; axes as there.

    For each set the product of `-miss` over the findings left: the alternating sum over larger sets, worked out.
    """
    out = np.ones((*miss.shape[:-1], 1))
    for bit in range(miss.shape[-1]):
        left = -miss[..., bit, None] * out
        out = np.stack([left, out], axis=-1).reshape(*out.shape[:-1], -1)
    return out


def join(one: Array, other: Array) -> Array:
    """Return the table of the union of two independent sets; sets on the last axis but one, all other axes broadcast.

    Three products a finding: (a0 b0, a1 (b0 + b1) + a0 b1).
    """
    sets = one.shape[-2]
    if sets == 1:
        return one * other
    half = sets // 2
    a0, a1, b0, b1 = one[..., :half, :], one[..., half:, :], other[..., :half, :], other[..., half:, :]
    return np.concatenate([join(a0, b0), join(a1, b0 + b1) + join(a0, b1)], axis=-2)


def unjoin(weights: Array, table: Array) -> Array:
    """Return the adjoint of `join`: what each set of the one is worth, given what unions are worth and the other's table."""
    sets = weights.shape[-2]
    if sets == 1:
        return weights * table
    half = sets // 2
    w0, w1, t0, t1 = weights[..., :half, :], weights[..., half:, :], table[..., :half, :], table[..., half:, :]
    return np.concatenate([unjoin(w0, t0) + unjoin(w1, t1), unjoin(w1, t0 + t1)], axis=-2)


def at_most(table: Array) -> Array:
    """Return, for each set, the sum of `table` over its subsets; sets on the last axis but one. A union becomes a product."""
    return _fold(table, into=1)


def at_least(weights: Array) -> Array:
    """Return the adjoint of `at_most`: the sum over the sets that contain each one."""
    return _fold(weights, into=0)


def _fold(table: Array, *, into: int) -> Array:
    out, half = table.copy(), table.shape[-2] // 2
    while half:
        halves = out.reshape(*out.shape[:-2], -1, 2, half, out.shape[-1])
        halves[..., into, :, :] += halves[..., 1 - into, :, :]
        half //= 2
    return out
