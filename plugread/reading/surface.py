"""What a small net makes of a firing end's surface: how much it looks like each reading, from texture and shape.

The net sees a square about nose, electrodes and rim in corrected light; it was taught on rendered plugs alone. Its answers are
features for a taught model (`features.py`), never a reading by themselves. Only OpenCV's `cv2.dnn` is used.
"""

from __future__ import annotations

SIDE_PX = 160
"""Side of the square the net sees."""

REACH = 2.0
"""The square's side over the square root of the area of nose, electrodes and rim."""
