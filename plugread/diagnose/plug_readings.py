"""What each plug shows once photo, ticks and all the rest are taken together."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from plugread.diagnose.network import Network
from plugread.diagnose.numbers import Array
from plugread.diagnose.observed import NORMAL, PlugSights
from plugread.diagnose.plug_table import Absences, Own, absences, plug_table
from plugread.diagnose.sweep import sweep

if TYPE_CHECKING:
    from plugread.diagnose.posterior import Posterior


def plug_readings(posterior: Posterior) -> dict[int, dict[str, float]]:
    """Return cylinder -> reading -> probability for every plug with a photo or a tick.

    A tick is certain by definition. A photo gives every reading it leaves open a probability, in the light of the other plugs
    and signs; a plug that was only ticked keeps its ticks. `normal` is the chance that nothing the photo can show is there.
    """
    known: dict[int, dict[str, float]] = {}
    for (name, cylinder), seen in posterior.evidence.findings.items():
        if cylinder is not None:
            known.setdefault(cylinder, {})[name] = float(seen)
    with_photo = [position for position, plug in enumerate(posterior.observed.plugs) if plug.hidden]
    worth = sweep(posterior.network, posterior.observed, sets=posterior.likely, own_of=()).worth if with_photo else ()
    for position in with_photo:
        cylinder = posterior.network.engine.cylinders[position]
        known[cylinder] = _from_photo(posterior, worth[position], position) | known.get(cylinder, {})
    return {cylinder: known[cylinder] for cylinder in sorted(known)}


def _from_photo(posterior: Posterior, worth: Array, position: int) -> dict[str, float]:
    """Chance of each reading that the photo leaves open: one minus the chance that it is absent with all the rest."""
    network, observed = posterior.network, posterior.observed
    plug, numbers = observed.plugs[position], network.numbers
    prior = numbers.prior[:, network.cause_of[network.local_slice(network.engine.cylinders[position])]]
    own = Own(prior, absences(numbers, observed.absent).kept[:, 0, network.local_of])
    supposed, seen = _suppose_absent(network, plug), posterior.likely.locals[position]
    table = plug_table(network, numbers, plug, coupled=observed.coupled, own=own, seen=seen, absent=supposed)
    gone = np.clip((table.likelihood * worth).sum(axis=(1, 2)), 0.0, 1.0)
    names = tuple(network.signals)
    chances = {names[sight.signal]: float(1.0 - share) for sight, share in zip(plug.hidden, gone[:-1], strict=True)}
    return chances if plug.present else {NORMAL: float(gone[-1])} | chances


def _suppose_absent(network: Network, plug: PlugSights) -> Absences:
    """Absences of the plug with, row by row, one more hidden finding absent; in the last row all of them."""
    numbers, count = network.numbers, len(plug.hidden)
    number = np.arange(count)
    by_photo = number < np.array(plug.prefix)[:, None]
    supposed = np.concatenate([np.eye(count, dtype=bool), np.ones((1, count), dtype=bool)])
    mask = (by_photo[None] | supposed[:, None])[..., None]
    hard = absences(numbers, plug.absent)
    leak = np.stack([1.0 - sight.leak(numbers) for sight in plug.hidden])
    kept = np.stack([1.0 - sight.link(numbers)[0] for sight in plug.hidden])
    return Absences(
        hard.leak[0] * np.where(mask, leak, 1.0).prod(axis=(2, 3)),
        hard.kept[0, 0] * np.where(mask, kept, 1.0).prod(axis=2),
    )
