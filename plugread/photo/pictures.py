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
KEY_ROW_PX, KEY_LETTERS, LETTERS = 32, 0.75, 0.9
KEY_POINT_SURE, FACE_STROKE_PX = 0.3, 26
SCALE_BARS_MM, MOST_BAR_PX = (10, 5, 2, 1), 420
OUTLINED = ("thread", "rim", "strap", "centre", "nose")
SEAM, PAPER = (20, 20, 20), (255, 255, 255)
INK = {
    "nose": (255, 176, 0),
    "centre": (0, 158, 115),
    "strap": (86, 180, 233),
    "rim": (204, 121, 167),
    "thread": (150, 150, 150),
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
    for number, plug in enumerate(photo.plugs, 1):
        if plug.end is not None:
            _draw_parts(canvas, plug.end, factor)
            _draw_axis(canvas, plug.end, factor)
            _draw_gap(canvas, plug, factor)
            if len(photo.plugs) > 1:
                _write_beside(canvas, f"{number}", _below(plug.end, factor))
    _draw_reference(canvas, photo, factor)
    if photo.plugs:
        _draw_key(canvas, _key(photo))
        _draw_scale(canvas, photo, factor)
    return canvas


def _draw_parts(canvas: NDArray[np.uint8], end: FiringEnd, factor: float) -> None:
    """Outline the parts where the finder is sure of them, smoothly, each over a dark seam."""
    parts, height, width = end.parts, *canvas.shape[:2]
    step = parts.step * factor
    line_px = 1 if end.nose_box[2] * factor < SMALL_NOSE_PX else 2
    to_canvas = np.array([[step, 0, parts.x0 * factor + step / 2], [0, step, parts.y0 * factor + step / 2]])
    for name in OUTLINED:
        chance = np.ascontiguousarray(parts.probability[PARTS.index(name)], np.float32)
        sure = (cv2.warpAffine(chance, to_canvas, (width, height)) > 0.5).astype(np.uint8)
        lines, _ = cv2.findContours(sure, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        shown = [line for line in lines if cv2.contourArea(line) > LEAST_OUTLINE_PX]
        cv2.polylines(canvas, shown, True, SEAM, 2 * line_px, cv2.LINE_AA)
        cv2.polylines(canvas, shown, True, INK[name], line_px, cv2.LINE_AA)


def _draw_axis(canvas: NDArray[np.uint8], end: FiringEnd, factor: float) -> None:
    points = {
        name: (round(x * factor), round(y * factor)) for name, (x, y, sure) in end.key_points.items() if sure > KEY_POINT_SURE
    }
    if {"axis_front", "axis_back"} <= points.keys():
        cv2.line(canvas, points["axis_back"], points["axis_front"], SEAM, 3, cv2.LINE_AA)
        cv2.line(canvas, points["axis_back"], points["axis_front"], PAPER, 1, cv2.LINE_AA)


def _draw_gap(canvas: NDArray[np.uint8], plug: PlugRead, factor: float) -> None:
    """Draw the two faces of the gap as short strokes, the distance between them, and its width in words."""
    gap, line = plug.measures.gap_mm, plug.measures.gap_line
    if gap is None or line is None:
        return
    strap, centre = np.array(line[:2]) * factor, np.array(line[2:]) * factor
    along = (centre - strap) / max(float(np.hypot(*(centre - strap))), 1e-6)
    stroke = FACE_STROKE_PX * np.array([-along[1], along[0]])
    for ink, width in ((SEAM, 4), (PAPER, 2)):
        for face in (strap, centre):
            cv2.line(canvas, _pixel(face - stroke), _pixel(face + stroke), ink, width, cv2.LINE_AA)
        cv2.line(canvas, _pixel(strap), _pixel(centre), ink, width // 2, cv2.LINE_AA)
    _write_beside(canvas, f"{gap.value:.2f} +- {gap.spread:.2f} mm", _pixel((strap + centre) / 2 + stroke * 1.6))


def _draw_reference(canvas: NDArray[np.uint8], photo: PhotoRead, factor: float) -> None:
    """Frame the paper, card or chart the light was taken from; the key names it."""
    if photo.white is None or photo.white.reference_box is None:
        return
    x, y, w, h = (round(v * factor) for v in photo.white.reference_box)
    cv2.rectangle(canvas, (x, y), (x + w, y + h), SEAM, 5)
    cv2.rectangle(canvas, (x, y), (x + w, y + h), INK["reference"], 2)


def _draw_scale(canvas: NDArray[np.uint8], photo: PhotoRead, factor: float) -> None:
    """Draw a bar of whole millimetres in the lower right corner, where one plug's thread gave a scale."""
    scales = [plug.measures.px_per_mm for plug in photo.plugs if plug.measures.px_per_mm]
    if len(photo.plugs) != 1 or not scales:
        return
    length_mm = next((mm for mm in SCALE_BARS_MM if mm * scales[0] * factor <= MOST_BAR_PX), SCALE_BARS_MM[-1])
    right, y = canvas.shape[1] - 24, canvas.shape[0] - 24
    left = right - round(length_mm * scales[0] * factor)
    for ink, width in ((SEAM, 6), (PAPER, 2)):
        cv2.line(canvas, (left, y), (right, y), ink, width, cv2.LINE_AA)
        for x in (left, right):
            cv2.line(canvas, (x, y - 9), (x, y + 9), ink, width, cv2.LINE_AA)
    _write_beside(canvas, f"{length_mm} mm", (left, y - 16))


def _key(photo: PhotoRead) -> dict[str, str]:
    """Return what each colour stands for, by name of the colour."""
    named = {name: name for name in INK if name != "reference"}
    white = photo.white
    return named | {"reference": white.detail} if white is not None and white.reference_box is not None else named


def _draw_key(canvas: NDArray[np.uint8], key: dict[str, str]) -> None:
    """Write in a corner which colour stands for what."""
    top = canvas.shape[0] - KEY_ROW_PX * len(key) - 12
    widest = max(cv2.getTextSize(text, cv2.FONT_HERSHEY_SIMPLEX, KEY_LETTERS, 2)[0][0] for text in key.values())
    canvas[top:, : 66 + widest] = canvas[top:, : 66 + widest] // 4
    for k, (name, text) in enumerate(key.items()):
        y = top + KEY_ROW_PX * k + 24
        cv2.line(canvas, (12, y), (44, y), INK[name], 5, cv2.LINE_AA)
        cv2.putText(canvas, text, (54, y + 8), cv2.FONT_HERSHEY_SIMPLEX, KEY_LETTERS, PAPER, 2, cv2.LINE_AA)


def _write_beside(canvas: NDArray[np.uint8], text: str, at: tuple[int, int]) -> None:
    """Write light letters with a dark rim, kept inside the picture."""
    (width, height), _ = cv2.getTextSize(text, cv2.FONT_HERSHEY_SIMPLEX, LETTERS, 2)
    place = (int(np.clip(at[0], 4, canvas.shape[1] - width - 4)), int(np.clip(at[1], height + 4, canvas.shape[0] - 8)))
    for ink, wide in ((SEAM, 6), (PAPER, 2)):
        cv2.putText(canvas, text, place, cv2.FONT_HERSHEY_SIMPLEX, LETTERS, ink, wide, cv2.LINE_AA)


def _below(end: FiringEnd, factor: float) -> tuple[int, int]:
    x, y, w, h = end.nose_box
    return round((x + w + 0.3 * w) * factor), round((y + h) * factor)


def _pixel(point: NDArray[np.float64]) -> tuple[int, int]:
    return round(float(point[0])), round(float(point[1]))


def _write(path: Path, picture: NDArray[np.uint8]) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        _, data = cv2.imencode(path.suffix, picture)
        path.write_bytes(bytes(data))
    except (OSError, cv2.error) as problem:
        raise PhotoError(f"{path}: could not be written ({problem})", "choose a folder you may write to") from problem
