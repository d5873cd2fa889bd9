"""Writes what was found: the nose mask, and a picture that explains the reading."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.errors import PhotoError
from plugread.photo.decode import open_photo
from plugread.photo.outlines import PAPER, SEAM, STYLES, draw
from plugread.records import PARTS, Explained, FiringEnd, Line, PhotoRead, PlugRead

LINEUP_STEP = 10
"""Mask value of the k-th nose of a line-up is k times this."""
EXPLAIN_SIDE_PX = 1600
LEAST_OUTLINE_PX = 30
"""Smaller islands of a part are not outlined: they hide more than they show."""
NOSE_PER_LINE, MOST_LINE_PX = 75, 4
"""The longer side of the nose is so many line widths, so that lines and dashes look alike wherever the nose fills the view."""
KEY_ROW_PX, KEY_TEXT_PX, KEY_LETTERS, LETTERS = 32, 84, 0.75, 0.9
KEY_POINT_SURE, FACE_STROKE_PX = 0.3, 26
SCALE_BARS_MM, MOST_BAR_PX = (10, 5, 2, 1), 420
OUTLINED = ("thread", "rim", "strap", "centre", "nose")


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


def explained(source: str | Path | bytes, photo: PhotoRead) -> Explained:
    """Return the explaining picture without a key on it, as JPEG bytes, and the lines drawn."""
    canvas, lines = _drawn(source, photo)
    ok, data = cv2.imencode(".jpg", canvas[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 88])
    if not ok:
        raise PhotoError(f"{photo.file}: the explaining picture could not be made")
    return Explained(bytes(data), tuple(lines))


def explanation(source: str | Path | bytes, photo: PhotoRead) -> NDArray[np.uint8]:
    """Return uint8 RGB of shape (h, w, 3), at most 1600 px long, with everything found drawn on it and a key to the lines."""
    canvas, lines = _drawn(source, photo)
    if lines:
        _draw_key(canvas, _key(photo, lines))
    return canvas


def _drawn(source: str | Path | bytes, photo: PhotoRead) -> tuple[NDArray[np.uint8], list[Line]]:
    """Return the photo with everything found drawn on it, and the lines."""
    opened = open_photo(source, name=photo.file, at_least_px=EXPLAIN_SIDE_PX)
    rgb = opened.rgb if opened.rgb.dtype == np.uint8 else (opened.rgb // 257).astype(np.uint8)
    factor = EXPLAIN_SIDE_PX / max(opened.size)
    size = (round(opened.size[0] * factor), round(opened.size[1] * factor))
    canvas = np.array(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    lines: list[Line] = []
    for number, plug in enumerate(photo.plugs, 1):
        if plug.end is not None:
            lines += [
                *_draw_parts(canvas, plug.end, factor),
                *_draw_axis(canvas, plug.end, factor),
                *_draw_gap(canvas, plug, factor),
            ]
            if len(photo.plugs) > 1:
                _write_beside(canvas, f"{number}", _below(plug.end, factor))
    lines += _draw_reference(canvas, photo, factor)
    _draw_scale(canvas, photo, factor)
    return canvas, sorted(lines, key=lambda line: list(STYLES).index(line.name))


def _line(name: str, paths: Sequence[NDArray[np.int32]], factor: float) -> Line:
    """Return the record of a line that runs along `paths` on the canvas."""
    x, y, w, h = cv2.boundingRect(np.concatenate(list(paths)))
    box = (round(x / factor), round(y / factor), round(w / factor), round(h / factor))
    return Line(name, STYLES[name].ink, STYLES[name].dash, box)


def _draw_parts(canvas: NDArray[np.uint8], end: FiringEnd, factor: float) -> Iterator[Line]:
    """Outline the parts where the finder is sure of them, smoothly, as thick as suits the nose."""
    parts, height, width = end.parts, *canvas.shape[:2]
    step = parts.step * factor
    line_px = int(np.clip(round(max(end.nose_box[2:]) * factor / NOSE_PER_LINE), 1, MOST_LINE_PX))
    to_canvas = np.array([[step, 0, parts.x0 * factor + step / 2], [0, step, parts.y0 * factor + step / 2]])
    for name in OUTLINED:
        chance = np.ascontiguousarray(parts.probability[PARTS.index(name)], np.float32)
        sure = (cv2.warpAffine(chance, to_canvas, (width, height)) > 0.5).astype(np.uint8)
        found, _ = cv2.findContours(sure, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        shown = [path[:, 0].astype(np.int32) for path in found if cv2.contourArea(path) > LEAST_OUTLINE_PX]
        if shown:
            draw(canvas, shown, STYLES[name], line_px, closed=True)
            yield _line(name, shown, factor)


def _draw_axis(canvas: NDArray[np.uint8], end: FiringEnd, factor: float) -> Iterator[Line]:
    points = {
        name: (round(x * factor), round(y * factor)) for name, (x, y, sure) in end.key_points.items() if sure > KEY_POINT_SURE
    }
    if {"axis_front", "axis_back"} <= points.keys():
        path = np.array([points["axis_back"], points["axis_front"]], np.int32)
        draw(canvas, [path], STYLES["axis"], 1, closed=False)
        yield _line("axis", [path], factor)


def _draw_gap(canvas: NDArray[np.uint8], plug: PlugRead, factor: float) -> Iterator[Line]:
    """Draw the two faces of the gap as short strokes, the distance between them, and its width in words."""
    gap, line = plug.measures.gap_mm, plug.measures.gap_line
    if gap is None or line is None:
        return
    strap, centre = np.array(line[:2]) * factor, np.array(line[2:]) * factor
    along = (centre - strap) / max(float(np.hypot(*(centre - strap))), 1e-6)
    stroke = FACE_STROKE_PX * np.array([-along[1], along[0]])
    faces = [np.array([_pixel(face - stroke), _pixel(face + stroke)], np.int32) for face in (strap, centre)]
    across = np.array([_pixel(strap), _pixel(centre)], np.int32)
    for paths, width in ((faces, 2), ([across], 1)):
        draw(canvas, paths, STYLES["gap"], width, closed=False)
    _write_beside(canvas, f"{gap.value:.2f} +- {gap.spread:.2f} mm", _pixel((strap + centre) / 2 + stroke * 1.6))
    yield _line("gap", [*faces, across], factor)


def _draw_reference(canvas: NDArray[np.uint8], photo: PhotoRead, factor: float) -> Iterator[Line]:
    """Frame the paper, card or chart the light was taken from; the key names it."""
    if photo.white is None or photo.white.reference_box is None:
        return
    x, y, w, h = (round(v * factor) for v in photo.white.reference_box)
    frame = np.array([(x, y), (x + w, y), (x + w, y + h), (x, y + h)], np.int32)
    draw(canvas, [frame], STYLES["reference"], 2, closed=True)
    yield _line("reference", [frame], factor)


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


def _key(photo: PhotoRead, lines: Sequence[Line]) -> dict[str, str]:
    """Return what each line drawn stands for, by its name."""
    named = {line.name: line.name for line in lines}
    return named | {"reference": photo.white.detail} if photo.white is not None and "reference" in named else named


def _draw_key(canvas: NDArray[np.uint8], key: dict[str, str]) -> None:
    """Write in a corner which line stands for what."""
    top = canvas.shape[0] - KEY_ROW_PX * len(key) - 12
    widest = max(cv2.getTextSize(text, cv2.FONT_HERSHEY_SIMPLEX, KEY_LETTERS, 2)[0][0] for text in key.values())
    canvas[top:, : KEY_TEXT_PX + 12 + widest] = canvas[top:, : KEY_TEXT_PX + 12 + widest] // 4
    for k, (name, text) in enumerate(key.items()):
        y = top + KEY_ROW_PX * k + 24
        draw(canvas, [np.array([(12, y), (KEY_TEXT_PX - 12, y)], np.int32)], STYLES[name], 3, closed=False)
        cv2.putText(canvas, text, (KEY_TEXT_PX, y + 8), cv2.FONT_HERSHEY_SIMPLEX, KEY_LETTERS, PAPER, 2, cv2.LINE_AA)


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
