"""Records of the photo, what was found in it and what was measured.

Pixel boxes and points are (x, y) in the upright full-size photo; masks and maps are row, column.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

View = Literal["side", "oblique", "end", "unknown"]
ReadStatus = Literal["read", "unsure", "refused"]
WhiteMethod = Literal["card", "paper", "estimated"]
Box = tuple[int, int, int, int]
"""x, y, width, height in pixels."""

PARTS = ("background", "nose", "centre", "strap", "rim", "thread", "hex", "upper", "sheet")
"""Parts the locator tells apart, by channel: rim = rim and bore, hex = hex and seat, sheet = white or grey reference."""

KEY_POINTS = ("strap_face", "centre_tip", "axis_front", "axis_back")
"""strap_face and centre_tip face each other across the gap; axis_front lies on the shell's end face."""


@dataclass(frozen=True)
class Measured:
    """A measured number, never bare.

    `spread` is the half-width of its 95 % interval, in the same unit; `method` says how it was taken.
    """

    value: float
    spread: float
    unit: str
    method: str


@dataclass(frozen=True, eq=False)
class Photo:
    """A decoded photo: upright, RGB, encoded values untouched.

    Parameters
    ----------
    name : file name as given.
    rgb : uint8 or uint16 of shape (h, w, 3), encoded; may be a reduced decode.
    scale : full-size pixels for one pixel of `rgb` (1, 2, 4 or 8).
    size : (w, h) of the upright full-size photo.
    to_srgb : float64 of shape (3, 3), linear RGB of the file's profile -> linear sRGB.
    valid : bool of shape (h, w), False where alpha hides the colour; None = all valid.
    notes : remarks about the file that a user should know (profile missing, orientation applied...).
    curve : float64 of shape (256,) or (65536,), linear value of each code by the file's profile; None = the sRGB curve.
    """

    name: str
    rgb: NDArray[np.uint8] | NDArray[np.uint16]
    scale: int
    size: tuple[int, int]
    to_srgb: NDArray[np.float64]
    valid: NDArray[np.bool_] | None = None
    notes: tuple[str, ...] = ()
    curve: NDArray[np.float64] | None = None


@dataclass(frozen=True, eq=False)
class PartMap:
    """Part probabilities over a crop of the photo.

    `probability` is float32 of shape (9, h, w), channels as `PARTS`; map pixel (r, c) covers the full-size
    pixels from (x0 + c * step, y0 + r * step), `step` full-size pixels wide.
    """

    probability: NDArray[np.float32]
    x0: float
    y0: float
    step: float


@dataclass(frozen=True, eq=False)
class FiringEnd:
    """One firing end found in a photo.

    `score` is the finder's own confidence, 0-1; `agreement` how well two flipped passes agree on the nose (IoU, 0-1);
    `key_points` maps names of `KEY_POINTS` to (x, y, confidence).
    """

    nose_box: Box
    view: View
    view_probability: Mapping[str, float]
    parts: PartMap
    key_points: Mapping[str, tuple[float, float, float]]
    score: float
    agreement: float
    by_hand: bool = False
    sheets: NDArray[np.float32] | None = None
    """How likely paper or a grey card lies on each cell (h, w) of a grid over the whole picture, 0-1; None = not looked for."""


@dataclass(frozen=True, eq=False)
class White:
    """How the light of the photo was taken out.

    Corrected linear sRGB = matrix @ (gains * rgb) ** power, level included where a reference gave one.

    Parameters
    ----------
    method : card (grey card, paper and card, or chart), paper, or estimated.
    detail : which reference exactly, in words.
    gains, power : float64 of shape (3,) each.
    matrix : float64 of shape (3, 3).
    level_known : whether lightness is calibrated too, not only hue.
    spread_lab : 95 % half-widths that this correction alone brings to L*, a*, b*.
    reference_box : box of the reference used; None when estimated.
    why : why a better reference was not used (clipped, shaded, sloping...); None if there is nothing to say.
    """

    method: WhiteMethod
    detail: str
    gains: NDArray[np.float64]
    power: NDArray[np.float64]
    matrix: NDArray[np.float64]
    level_known: bool
    spread_lab: tuple[float, float, float]
    reference_box: Box | None = None
    why: str | None = None


@dataclass(frozen=True)
class Quality:
    """Can the firing end be measured at all?

    `blur_px` is the edge width at the nose; `px_per_mm` is None where no scale was found; `refusal` is the reason
    not to read the photo, `advice` what to change.
    """

    blur_px: float
    exposure: float
    clipped_share: float
    px_per_mm: float | None
    refusal: str | None = None
    advice: tuple[str, ...] = ()


@dataclass(frozen=True)
class PlugMeasures:
    """What was measured on one firing end; None = could not be measured, the reason stands in `why`.

    L*, a*, b* are CIELAB under D65, 2 degree observer. `gloss` is 0 (matt) to 1 (wet or glassy); `crust` 0 (smooth) to 1
    (heavy); `specks` counts by kind ("dark", "metal", "white").
    """

    lightness: Measured | None
    a: Measured | None
    b: Measured | None
    gloss: Measured | None
    crust: Measured | None
    specks: Mapping[str, int] | None
    gap_mm: Measured | None
    why: Mapping[str, str] = field(default_factory=dict)
    features: Mapping[str, float] = field(default_factory=dict)
    """Further raw cues used by the reading rules, by name (unevenness, electrode colour...)."""
    gap_line: tuple[float, float, float, float] | None = None
    """Where the gap was measured: x, y on the strap's face, then on the centre's, full-size pixels."""
    px_per_mm: float | None = None
    """Full-size pixels per millimetre at the plug's axis, from the thread; None where it could not be counted."""

    @property
    def lab(self) -> tuple[float, float, float] | None:
        """Nose colour as (L*, a*, b*), or None."""
        if self.lightness is None or self.a is None or self.b is None:
            return None
        return self.lightness.value, self.a.value, self.b.value


@dataclass(frozen=True)
class Reading:
    """What a firing end looks like, as likelihood and as probability.

    `likelihood` maps each look (reading id) to how probable the measurements are under it, scaled so that the largest is 1;
    `probability` weighs it with how common the looks are. `top` is None when no look stands out.
    `by` is "rules" or "classifier".
    """

    status: ReadStatus
    why: str | None
    likelihood: Mapping[str, float]
    probability: Mapping[str, float]
    top: str | None
    by: str = "rules"


@dataclass(frozen=True, eq=False)
class PlugRead:
    """All that one firing end in one photo gave."""

    reading: Reading
    measures: PlugMeasures
    quality: Quality
    end: FiringEnd | None
    nose_mask: NDArray[np.bool_] | None = None
    """Upright, over `mask_box` only (full-size pixels); None when refused."""
    mask_box: Box | None = None


@dataclass(frozen=True, eq=False)
class PhotoRead:
    """The answer for one photo: one plug, or several of a line-up from left to right (or top to bottom)."""

    file: str
    status: ReadStatus
    why: str | None
    size: tuple[int, int] | None
    white: White | None
    plugs: tuple[PlugRead, ...]
    lineup: bool = False
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Line:
    """One line drawn on the picture that explains a photo.

    Parameters
    ----------
    name : what it stands for: nose, centre, strap, rim, thread, gap, axis or reference.
    ink : red, green, blue, 0-255.
    dash : lengths drawn and left out in turn, in line widths; () is a line without a break.
    box : where it lies in the upright full-size photo.
    """

    name: str
    ink: tuple[int, int, int]
    dash: tuple[float, ...]
    box: Box


@dataclass(frozen=True)
class Explained:
    """The picture that explains a photo (JPEG), and the lines drawn on it, in the order a key names them."""

    picture: bytes
    lines: tuple[Line, ...]
