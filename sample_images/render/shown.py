"""Plugs as their owner would confirm them: the reading is plain to see, and the photo is taken from where it is seen.

A chip behind the strap, an edge worn by a tenth or a gap seen from behind is no photo of what it is named for: nobody would
teach with it. Amounts and angles are our own choice; a deposit may be slight, for it covers the nose from every side.
"""

from __future__ import annotations

from dataclasses import replace

from sample_images.render.draw import Rng, uniform
from sample_images.render.plug.spec import PlugSpec, random_spec

AT_THE_GAP = frozenset({"worn", "gap_bridged", "preignition_melt"})
"""Readings that are seen where the electrodes face each other."""
BROKEN = frozenset({"detonation_damage", "nose_piece_missing", "nose_cracked", "struck"})
"""Readings that are nothing but a change of shape."""
BEHIND_THE_STRAP = (AT_THE_GAP | BROKEN) - {"struck"}
"""Readings that the strap hides from one side."""
VIEWS = {
    **dict.fromkeys(AT_THE_GAP, ("side", "side", "oblique")),
    **dict.fromkeys(BROKEN, ("side", "oblique", "oblique", "end")),
    "struck": ("side", "side", "oblique", "end"),
}
"""Where a reading is not seen equally well from everywhere: the views it is taken from."""
LEAST_AMOUNT, LEAST_DAMAGE = 0.4, 0.6
AS_NEW_TO, WORN_FROM = 0.35, 0.6
"""Wear of the electrodes on a plug that is not called worn, and on one that is."""


def amount_of(rng: Rng, reading: str) -> float:
    """Return a random amount, 0-1, in which the reading shows."""
    return uniform(rng, LEAST_DAMAGE if reading in AT_THE_GAP | BROKEN else LEAST_AMOUNT, 1.0)


def shown_plug(rng: Rng, family: str, readings: dict[str, float], *, odd: bool | None = False) -> PlugSpec:
    """Return a random plug with these readings; its electrodes are worn only where it is called worn."""
    spec = random_spec(rng, family=family, readings=readings, odd=odd)
    wear = max(spec.wear, WORN_FROM) if "worn" in readings else AS_NEW_TO * spec.wear
    return replace(spec, wear=wear)


def view_of(rng: Rng, reading: str) -> str:
    """Return a view of `scene.VIEWS` in which a reading shows."""
    views = VIEWS.get(reading, ("side", "oblique", "end", "side"))
    return views[int(rng.integers(len(views)))]


def facing_of(spec: PlugSpec) -> float | None:
    """Return the side of a plug that is to face the lens, radians about its axis; None where any will do."""
    return spec.open_side if BEHIND_THE_STRAP & set(spec.readings) else None
