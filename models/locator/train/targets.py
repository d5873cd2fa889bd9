"""What the net is asked for: the names of its channels, and how answers and targets are laid out."""

from __future__ import annotations

from sample_images.render.mesh import PARTS

HEATS = ("strap_face", "centre_tip", "axis_front", "axis_back", "nose_centre")
"""Heat maps, one a channel, after the parts: the key points of a shard, in its order, and the middle of the visible nose.

Parts and key points are written into the model's card; the finder refuses a card that names others than it knows.
"""

OFFSETS = 2
"""Last channels of the dense answer: (x, y) from a cell to the nose centre of its own plug, in `OFFSET_CELLS` cells."""

OFFSET_CELLS = 64.0

VIEWS = ("none", "side", "oblique", "end")
"""View of the largest firing end in the picture; none = no firing end in it."""

QUALITIES = ("fine", "blurred", "blown_out", "too_dark")

FIRING_END = tuple(PARTS.index(name) for name in ("nose", "centre", "strap", "rim", "thread"))
"""Parts that count as the firing end."""

NOSE, RIM, STRAP, THREAD, SHEET = (PARTS.index(name) for name in ("nose", "rim", "strap", "thread", "sheet"))

KEPT_PLUGS = 8
"""Plugs of a scene that carry key points and views."""
