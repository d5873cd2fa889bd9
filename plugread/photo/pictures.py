"""Writes what was found: the nose mask, and a picture that explains the reading."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.errors import PhotoError
from plugread.photo.decode import open_photo
from plugread.records import PARTS, FiringEnd, PhotoRead, PlugRead

LINEUP_STEP = 10
"""Mask value of the k-th nose of a line-up is k times this."""
EXPLAIN_SIDE_PX = 1600
LEAST_OUTLINE_PX = 30
"""Smaller islands of a part are not outlined: they hide more than they show."""
SMALL_NOSE_PX = 120
"""Round a nose narrower than this on the picture the outlines are drawn thinner, or they hide it."""
KEY_WIDTH_PX = 150
SEAM, PAPER = (20, 20, 20), (255, 255, 255)
INK = {
    "nose": (255, 176, 0),
    "centre": (0, 158, 115),
    "strap": (86, 180, 233),
    "rim": (204, 121, 167),
    "reference": (240, 228, 66),
}


def write_mask(photo: PhotoRead, path: Path) -> None:
    """Write the upright full-size mask: 255 = nose, or 10 x k for the nose of plug k of a line-up.

    Raises
    ------
    PhotoError
        The file could not be written.
    """
    if photo.size is None:
        return
    mask = np.zeros((photo.size[1], photo.size[0]), np.uint8)
    for k, plug in enumerate(photo.plugs, 1):
        if plug.nose_mask is not None and plug.mask_box is not None:
            x, y, w, h = plug.mask_box
            mask[y : y + h, x : x + w][plug.nose_mask] = LINEUP_STEP * k if photo.lineup else 255
    _write(path, mask)


def write_explanation(source: str | Path | bytes, photo: PhotoRead, path: Path) -> None:
    """Write the photo with the found parts, axis, gap edges and reference drawn on it."""
    _write(path, explanation(source, photo)[..., ::-1])


def explanation_bytes(source: str | Path | bytes, photo: PhotoRead) -> bytes:
    """Return the explaining picture as JPEG bytes."""
    ok, data = cv2.imencode(".jpg", explanation(source, photo)[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 88])
    if not ok:
        raise PhotoError(f"{photo.file}: the explaining picture could not be made")
    return bytes(data)


def explanation(source: str | Path | bytes, photo: PhotoRead) -> NDArray[np.uint8]:
    """Return uint8 RGB of shape (h, w, 3), at most 1600 px long, with everything found drawn on it."""
    opened = open_photo(source, name=photo.file, at_least_px=EXPLAIN_SIDE_PX)
    rgb = opened.rgb if opened.rgb.dtype == np.uint8 else (opened.rgb // 257).astype(np.uint8)
    factor = EXPLAIN_SIDE_PX / max(opened.size)
    size = (round(opened.size[0] * factor), round(opened.size[1] * factor))
    canvas = np.array(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    for plug in photo.plugs:
        if plug.end is not None:
            _draw_parts(canvas, plug.end, factor)
            _draw_points(canvas, plug, factor)
    if photo.white is not None and photo.white.reference_box is not None:
        x, y, w, h = (round(v * factor) for v in photo.white.reference_box)
        cv2.rectangle(canvas, (x, y), (x + w, y + h), SEAM, 4)
        cv2.rectangle(canvas, (x, y), (x + w, y + h), INK["reference"], 2)
    if photo.plugs:
        _draw_key(canvas, [name for name in INK if name != "reference" or (photo.white and photo.white.reference_box)])
    return canvas


def _draw_parts(canvas: NDArray[np.uint8], end: FiringEnd, factor: float) -> None:
    """Outline the parts around the gap where the finder is sure of them, smoothly, each over a dark seam."""
    parts, height, width = end.parts, *canvas.shape[:2]
    step = parts.step * factor
    line_px = 1 if end.nose_box[2] * factor < SMALL_NOSE_PX else 2
    to_canvas = np.array([[step, 0, parts.x0 * factor + step / 2], [0, step, parts.y0 * factor + step / 2]])
    for name in ("rim", "strap", "centre", "nose"):
        chance = np.ascontiguousarray(parts.probability[PARTS.index(name)], np.float32)
        sure = (cv2.warpAffine(chance, to_canvas, (width, height)) > 0.5).astype(np.uint8)
        lines, _ = cv2.findContours(sure, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        shown = [line for line in lines if cv2.contourArea(line) > LEAST_OUTLINE_PX]
        cv2.polylines(canvas, shown, True, SEAM, 2 * line_px, cv2.LINE_AA)
        cv2.polylines(canvas, shown, True, INK[name], line_px, cv2.LINE_AA)


def _draw_key(canvas: NDArray[np.uint8], names: list[str]) -> None:
    """Write in a corner which colour stands for what."""
    height = canvas.shape[0]
    top = height - 26 * len(names) - 12
    canvas[top:, :KEY_WIDTH_PX] = canvas[top:, :KEY_WIDTH_PX] // 4
    for k, name in enumerate(names):
        y = top + 26 * k + 20
        cv2.line(canvas, (12, y), (40, y), INK[name], 4, cv2.LINE_AA)
        cv2.putText(canvas, name, (50, y + 6), cv2.FONT_HERSHEY_SIMPLEX, 0.6, PAPER, 1, cv2.LINE_AA)


def _draw_points(canvas: NDArray[np.uint8], plug: PlugRead, factor: float) -> None:
    """Draw the axis, and the two faces of the gap with its width."""
    assert plug.end is not None
    points = {name: (round(x * factor), round(y * factor)) for name, (x, y, sure) in plug.end.key_points.items() if sure > 0.3}
    if {"axis_front", "axis_back"} <= points.keys():
        cv2.line(canvas, points["axis_back"], points["axis_front"], (255, 255, 255), 1, cv2.LINE_AA)
    gap = plug.measures.gap_mm
    if gap is not None and {"strap_face", "centre_tip"} <= points.keys():
        cv2.line(canvas, points["strap_face"], points["centre_tip"], (255, 255, 255), 2, cv2.LINE_AA)
        x, y = points["strap_face"]
        cv2.putText(canvas, f"{gap.value:.2f} mm", (x + 8, y - 8), cv2.FONT_HERSHEY_SIMPLEX, 0.7, (255, 255, 255), 2, cv2.LINE_AA)


def _write(path: Path, picture: NDArray[np.uint8]) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        _, data = cv2.imencode(path.suffix, picture)
        path.write_bytes(bytes(data))
    except (OSError, cv2.error) as problem:
        raise PhotoError(f"{path}: could not be written ({problem})", "choose a folder you may write to") from problem
