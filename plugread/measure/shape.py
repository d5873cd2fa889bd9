"""What the part map says about the shape of the firing end: which parts show, and how much."""

from __future__ import annotations

import numpy as np

from plugread.records import PARTS, FiringEnd


def shape_features(end: FiringEnd) -> dict[str, float]:
    """Return the area of strap and centre relative to the nose, and how ragged the nose outline is; empty for a box by hand."""
    if end.by_hand:
        return {}
    top = end.parts.probability.argmax(0)
    area = {name: float((top == PARTS.index(name)).sum()) for name in ("nose", "centre", "strap", "rim")}
    nose = max(area["nose"], 1.0)
    chance = end.parts.probability[PARTS.index("nose")][top == PARTS.index("nose")]
    return {
        "strap_share": area["strap"] / nose,
        "centre_share": area["centre"] / nose,
        "rim_share": area["rim"] / nose,
        "nose_sure": float(np.mean(chance)) if chance.size else 0.0,
    }
