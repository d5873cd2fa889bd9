"""The plug's description and a random draw of it.

Families keep training and testing apart: noses, centres, straps and hexes of style "test" are never drawn for training.
About a third of the training draws are odd on purpose (strange colours, one coat over everything, proportions out
of the usual): a locator that has seen only likely plugs fails on other people's pictures.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from sample_images.render.plug.shape import (
    FIRING_END,
    GAP_LIMITS_MM,
    LOWEST_TIP_MM,
    OUTSIDE,
    READINGS,
    SHUT_GAP_MM,
    Body,
    Centre,
    Nose,
    Odd,
    PlugSpec,
    SpecError,
    Strap,
    thread_sizes,
)

__all__ = ["FIRING_END", "OUTSIDE", "READINGS", "PlugSpec", "SpecError", "random_spec"]

ODD_SHARE = 1 / 3
DARK = ("carbon_fouled", "carbon_fouled", "oil_fouled", "oil_fouled", "fuel_wet")
"""Drawn on top of the others for a fifth of the training plugs: black noses are the hardest to find."""
SEEN_ON_NOSE = ("nose_cracked", "nose_piece_missing", "detonation_damage", "metal_specks", "splash_fouled")
CLEAR_AMOUNT = 0.5
"""Above this amount a reading of `SEEN_ON_NOSE` is drawn on a nose that stands out of the shell, where it shows."""
STYLES = {
    "train": {
        "nose": ("cone", "cone", "bell", "straight"),
        "centre": ("flat", "flat", "domed"),
        "strap": ("bar", "bar", "narrowed"),
    },
    "test": {"nose": ("stepped", "barrel"), "centre": ("grooved", "pointed"), "strap": ("wedge", "forked")},
}
"""Styles of parts by family; nothing stands in both."""


def random_spec(
    rng: np.random.Generator,
    *,
    family: str = "train",
    readings: Mapping[str, float] | None = None,
    thread: str | None = None,
    seat: str | None = None,
    reach_mm: float | None = None,
    centre: str | None = None,
    strap: str | None = None,
    gap_mm: float | None = None,
    odd: bool | None = None,
) -> PlugSpec:
    """Return a random plug; whatever is given is kept, None is drawn.

    Parameters
    ----------
    rng : source of all draws; one generator state gives one plug.
    family : "train" or "test", see the module text.
    readings : amounts 0-1 by reading id; None draws none to three readings that go together.
    odd : force or forbid strange colours and proportions; None draws them for a third of the training family.

    Raises
    ------
    SpecError : if what was given cannot exist.
    """
    if family not in STYLES:
        raise SpecError(f"family {family!r} is not known; use one of: {', '.join(STYLES)}")
    thread = thread or str(rng.choice(list(thread_sizes()), p=_thread_weights()))
    if thread not in thread_sizes():
        raise SpecError(f"thread {thread!r} is not known; use one of: {', '.join(thread_sizes())}")
    size = thread_sizes()[thread]
    seat = seat or ("gasket" if rng.random() < 0.65 else "taper")
    reaches = size.gasket_reach_mm if seat == "gasket" else size.taper_reach_mm
    strange = (family == "train" and rng.random() < ODD_SHARE) if odd is None else odd
    body = _body(rng, size.major_mm / 14.0, strange, family)
    bore = size.minor_mm / 2 - 0.08 - body.rim_width_mm
    amounts = dict(_drawn_readings(rng, family) if readings is None else readings)
    nose = _nose(rng, bore, strange, family, melted=bool(amounts.get("preignition_melt")))
    if strap == "surface":
        nose = replace(nose, tip_radius_mm=bore - 0.3, protrusion_mm=float(rng.uniform(-0.3, 0.4)), slope=0.01)
    elif any(amounts.get(name, 0.0) > CLEAR_AMOUNT for name in SEEN_ON_NOSE):
        nose = replace(nose, protrusion_mm=max(nose.protrusion_mm, float(rng.uniform(1.2, 3.0))))
    tip = _centre(rng, nose, centre, family, strange)
    ground = _strap(rng, size.major_mm / 14.0, strap, family, strange, tip)
    tip = replace(tip, stand_out_mm=max(tip.stand_out_mm, LOWEST_TIP_MM[ground.kind] - nose.protrusion_mm))
    return PlugSpec(
        thread=thread,
        reach_mm=float(rng.choice(reaches)) if reach_mm is None else reach_mm,
        seat=seat,
        hex_af_mm=float(size.hex_af_mm[int(len(size.hex_af_mm) * rng.random() ** 2)]),
        nose=nose,
        centre=tip,
        strap=ground,
        body=body,
        gap_mm=_gap(rng, amounts, gap_mm),
        wear=float(np.clip(rng.beta(1.3, 3.0) + 0.6 * amounts.get("worn", 0.0), 0, 1)),
        readings=amounts,
        odd=_odd(rng) if strange else None,
        seed=int(rng.integers(2**31)),
        family=family,
    )


def _thread_weights() -> list[float]:
    weight = {"M14x1.25": 0.55, "M12x1.25": 0.2, "M10x1.0": 0.15, "M18x1.5": 0.1}
    return [weight[name] for name in thread_sizes()]


def _body(rng: np.random.Generator, scale: float, strange: bool, family: str) -> Body:
    wide = 1.6 if strange else 1.0
    return Body(
        skirt_mm=float(rng.uniform(2.5, 8.0)),
        hex_height_mm=float(rng.uniform(6.0, 10.5)),
        upper_length_mm=float(rng.uniform(18.0, 32.0)),
        upper_radius_mm=float(rng.uniform(4.6, 5.6) * np.sqrt(scale)),
        ribs=int(rng.choice([0, 0, 3, 4, 5])),
        hex_points=12 if family == "test" and rng.random() < 0.4 else 6,
        terminal=str(rng.choice(["nut", "nut", "stud"])),
        lead_in_mm=float(rng.uniform(0.4, 1.6 * wide)),
        run_out_mm=float(rng.uniform(0.3, 2.0)),
        rim_width_mm=float(rng.uniform(1.25, 1.75) * scale**0.8 * (rng.uniform(0.75, 1.2) if strange else 1.0)),
        chamfer_mm=float(rng.uniform(0.1, 0.4)),
    )


def _nose(rng: np.random.Generator, bore: float, strange: bool, family: str, *, melted: bool) -> Nose:
    radius = bore * rng.uniform(0.42, 0.66) if not strange else bore * rng.uniform(0.34, 0.8)
    kind = rng.random()
    protrusion = rng.uniform(0.6, 3.5) if kind < 0.8 else rng.uniform(-1.8, 0.6)
    if strange and kind > 0.93:
        protrusion = rng.uniform(3.5, 6.0)
    return Nose(
        tip_radius_mm=float(np.clip(radius, 0.95, bore - 0.35)),
        protrusion_mm=float(max(protrusion, 0.4) if melted else protrusion),
        depth_mm=float(rng.uniform(5.5, 14.0)),
        slope=float(rng.uniform(0.02, 0.13)),
        edge_radius_mm=float(rng.uniform(0.12, 0.55)),
        shoulder_mm=float(rng.choice([0.0, 0.0, rng.uniform(0.2, 0.7)])),
        shoulder_at_mm=float(rng.uniform(1.5, 6.0)),
        style=str(rng.choice(STYLES[family]["nose"])),
    )


def _centre(rng: np.random.Generator, nose: Nose, kind: str | None, family: str, strange: bool) -> Centre:
    kind = kind or ("nickel" if rng.random() < 0.65 else "fine_wire")
    wanted = rng.uniform(2.1, 2.7) if kind == "nickel" else rng.uniform(0.4, 1.1)
    if strange:
        wanted *= rng.uniform(0.8, 1.3)
    return Centre(
        kind=kind,
        diameter_mm=float(min(wanted, 2 * nose.tip_radius_mm - 0.7)),
        stand_out_mm=float(rng.uniform(0.5, 2.2) if rng.random() < 0.9 else rng.uniform(0.15, 0.5)),
        edge_radius_mm=float(rng.uniform(0.04, 0.2)),
        style=str(rng.choice(STYLES[family]["centre"])),
    )


def _strap(rng: np.random.Generator, scale: float, kind: str | None, family: str, strange: bool, tip: Centre) -> Strap:
    kind = kind or str(rng.choice(["j", "short", "multi", "surface"], p=[0.8, 0.07, 0.09, 0.04]))
    wide = rng.uniform(0.7, 1.4) if strange else 1.0
    return Strap(
        kind=kind,
        width_mm=float(rng.uniform(2.2, 2.9) * scale**0.6 * wide),
        thickness_mm=float(rng.uniform(1.2, 1.6) * scale**0.5),
        bend_mm=float(rng.uniform(0.9, 2.4)),
        reach_past_mm=float(rng.uniform(0.5, 1.5)),
        end_width_share=float(rng.choice([1.0, rng.uniform(0.55, 1.0)])),
        count=int(rng.integers(2, 5)) if kind == "multi" else 1,
        angle=float(rng.uniform(0, 2 * np.pi)),
        slant=float(rng.normal(0, 0.03)),
        pad=bool(tip.kind == "fine_wire" and kind == "j" and rng.random() < 0.5),
        style=str(rng.choice(STYLES[family]["strap"])),
    )


def _drawn_readings(rng: np.random.Generator, family: str) -> dict[str, float]:
    """Draw none to three firing-end readings, sometimes one outside; amounts lean to the clear end."""
    count = int(rng.choice([0, 1, 2, 3], p=[0.08, 0.5, 0.3, 0.12]))
    chosen = list(rng.choice(FIRING_END, count, replace=False))
    dark = str(rng.choice(DARK)) if rng.random() < 0.22 and family == "train" else None
    if rng.random() < 0.35:
        chosen.append(str(rng.choice(OUTSIDE)))
    amounts = {str(name): float(rng.beta(2.2, 1.3)) for name in chosen}
    return amounts if dark is None else amounts | {dark: float(rng.uniform(0.6, 1.0))}


def _gap(rng: np.random.Generator, amounts: Mapping[str, float], gap_mm: float | None) -> float:
    fresh = rng.uniform(0.5, 1.2)
    if gap_mm is not None:
        return gap_mm
    gap = fresh + 0.7 * amounts.get("worn", 0.0) + 0.3 * amounts.get("overheated", 0.0)
    if amounts.get("struck"):
        return float(max(SHUT_GAP_MM, gap * (1 - amounts["struck"]) ** 2))
    if amounts.get("preignition_melt"):
        gap += 0.8 * amounts["preignition_melt"]
    return float(np.clip(gap, *GAP_LIMITS_MM))


def _odd(rng: np.random.Generator) -> Odd:
    def colour() -> tuple[float, float, float]:
        grey = np.exp(rng.uniform(np.log(0.015), np.log(0.8)))
        r, g, b = np.clip(grey * np.exp(rng.normal(0, 0.45, 3)), 0.008, 0.9)
        return float(r), float(g), float(b)

    return Odd(
        coat=colour(),
        coat_share=float(rng.choice([0.0, rng.uniform(0.3, 1.0), 1.0])),
        coat_roughness=float(rng.uniform(0.2, 1.0)),
        coat_gloss=float(rng.choice([0.0, 0.0, rng.uniform(0.3, 1.0)])),
        base=tuple(colour() for _ in range(3)) if rng.random() < 0.5 else (),
    )
