"""The only door for image bytes: a file or its bytes become an upright `Photo`, or a `PhotoError` that says what to do.

Headers are read first (size, turn, profile, kind of pixels), so that nothing is unpacked that must not be measured. The codes
stay as they are in the file; what they mean travels beside them (`to_srgb`, `curve`).
"""

from __future__ import annotations

import io
import struct
import warnings
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from plugread.errors import PhotoError
from plugread.photo.profile import Profile, ProfileError, read_profile
from plugread.pixels import crop_linear
from plugread.records import Photo

__all__ = ["crop_linear", "open_photo"]

Codes = NDArray[np.uint8] | NDArray[np.uint16]

# Limits of this program, chosen so that one photo stays below about 0.6 GB: our own.
_MAX_BYTES, _MAX_SIDE_PX, _MIN_SIDE_PX = 150_000_000, 20_000, 48
_FULL_DECODE_PX = 50_000_000
_MAX_PX = {"JPEG": 210_000_000, "PNG": 120_000_000}
_MAX_PX_OTHERS = 60_000_000
# Deflate cannot shrink more than 1032:1 (RFC 1951, from memory) and JPEG and WebP photos never come near it.
_MAX_PX_PER_BYTE = 1200
_REDUCED = {2: cv2.IMREAD_REDUCED_COLOR_2, 4: cv2.IMREAD_REDUCED_COLOR_4, 8: cv2.IMREAD_REDUCED_COLOR_8}
_EXIF_ORIENTATION = 0x0112  # Exif 2.32 (JEITA CP-3451), table 4

# What Pillow's header readers are known to raise on damaged files.
_HEADER_FAULTS = (
    *(OSError, SyntaxError, ValueError, TypeError, KeyError, IndexError, AttributeError, struct.error),
    *(EOFError, OverflowError, RuntimeError, MemoryError, ZeroDivisionError),
)

_READERS = {
    "JPEG": ("PIL.JpegImagePlugin", "JpegImageFile"),
    "PNG": ("PIL.PngImagePlugin", "PngImageFile"),
    "WebP": ("PIL.WebPImagePlugin", "WebPImageFile"),
    "AVIF": ("PIL.AvifImagePlugin", "AvifImageFile"),
    "TIFF": ("PIL.TiffImagePlugin", "TiffImageFile"),
    "BMP": ("PIL.BmpImagePlugin", "BmpImageFile"),
}
_EXPORT = "export the picture as JPEG and try again"
_AGAIN = "copy the file from the phone or camera again"


@dataclass(frozen=True)
class _Header:
    """What the file says about itself before any pixel is unpacked."""

    kind: str
    mode: str
    size: tuple[int, int]
    turn: int
    icc: bytes | None
    has_alpha: bool


def open_photo(source: str | Path | bytes, *, name: str | None = None, at_least_px: int | None = None) -> Photo:
    """Return the picture upright, as encoded RGB.

    Parameters
    ----------
    source : path of the file, or its bytes.
    name : name to show; the file's own name if not given.
    at_least_px : enough pixels on the longer side; a JPEG is then unpacked at 1/2, 1/4 or 1/8 where that still suffices.

    Raises
    ------
    PhotoError
        if the file is no picture, is damaged, too large, or holds no colour; nothing else is raised.
    """
    label = name or (Path(source).name if not isinstance(source, bytes) else "picture")
    data = source if isinstance(source, bytes) else _read_bytes(Path(source), label)
    header = _read_header(data, label)
    _check_header(header, label)
    _check_room(header, len(data), label)
    scale = _scale(header, at_least_px)
    codes, valid = _unpack(data, header, scale, label)
    codes, profile, notes = _profiled(codes, header)
    photo = Photo(
        name=label,
        rgb=_turned(codes, header.turn),
        scale=scale,
        size=header.size if header.turn < 5 else header.size[::-1],
        to_srgb=np.eye(3) if profile is None else profile.to_srgb,
        valid=None if valid is None else _turned(valid, header.turn),
        notes=(*notes, *_decode_notes(header, scale, valid)),
        curve=None if profile is None else profile.curve,
    )
    _refuse_grey(photo)
    return photo


# ---- bytes and header ------------------------------------------------------------------------------------


def _read_bytes(path: Path, label: str) -> bytes:
    try:
        if path.stat().st_size > _MAX_BYTES:
            raise PhotoError(f"{label} is larger than {_MAX_BYTES // 1_000_000} MB", "give a smaller copy of it")
        return path.read_bytes()
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or str(fault)
        raise PhotoError(f"{label} could not be opened: {reason}", "check the path") from None


def _kind(data: bytes, label: str) -> str:
    """Return the file format by its first bytes; the name's ending is never trusted."""
    if not data:
        raise PhotoError(f"{label} is empty (0 bytes)", _AGAIN)
    if len(data) > _MAX_BYTES:
        raise PhotoError(f"{label} is larger than {_MAX_BYTES // 1_000_000} MB", "give a smaller copy of it")
    starts = {"JPEG": b"\xff\xd8\xff", "PNG": b"\x89PNG\r\n\x1a\n", "BMP": b"BM"}
    for kind, start in starts.items():
        if data.startswith(start):
            return kind
    if data[:4] in (b"II*\0", b"MM\0*"):
        return "TIFF"
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "WebP"
    if data[4:8] == b"ftyp":
        return _boxed_kind(data, label)
    raise PhotoError(f"{label} is not a picture in a known format", "give a JPEG, PNG or WebP photo")


def _boxed_kind(data: bytes, label: str) -> str:
    brands = data[8:12] + data[16 : max(16, min(int.from_bytes(data[:4], "big"), 64))]
    if b"avif" in brands or b"avis" in brands:
        return "AVIF"
    if any(brand in brands for brand in (b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1")):
        advice = "export it as JPEG, or set the camera to 'most compatible'"
        raise PhotoError(f"{label} is a HEIC photo, which cannot be read here", advice)
    raise PhotoError(f"{label} is a film or an unknown container, not a photo", "give a JPEG, PNG or WebP photo")


def _read_header(data: bytes, label: str) -> _Header:
    kind = _kind(data, label)
    module, reader = _READERS[kind]
    bomb = import_module("PIL.Image").DecompressionBombError
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            picture = getattr(import_module(module), reader)(io.BytesIO(data))
            return _header_of(picture, kind)
        except bomb:
            raise PhotoError(f"{label} claims far more pixels than a photo has", "give a smaller copy of it as JPEG") from None
        except _HEADER_FAULTS:
            raise PhotoError(f"{label} is a damaged {kind} file: its header cannot be read", _AGAIN) from None


def _header_of(picture: Any, kind: str) -> _Header:
    icc = picture.info.get("icc_profile")
    return _Header(
        kind=kind,
        mode=str(picture.mode),
        size=(int(picture.size[0]), int(picture.size[1])),
        turn=_turn_of(picture, kind),
        icc=icc if isinstance(icc, bytes) and icc else None,
        has_alpha=picture.mode in ("RGBA", "PA", "RGBa") or "transparency" in picture.info,
    )


def _turn_of(picture: Any, kind: str) -> int:
    """Return the EXIF orientation, 1-8; OpenCV turns TIFF by itself, whatever it is told, so there it is 1."""
    if kind == "TIFF":
        return 1
    try:
        turn = picture.getexif().get(_EXIF_ORIENTATION, 1)
    except _HEADER_FAULTS:
        return 1
    return turn if isinstance(turn, int) and 1 <= turn <= 8 else 1


def _check_header(header: _Header, label: str) -> None:
    width, height = header.size
    if header.mode in ("CMYK", "LAB", "HSV", "YCCK"):
        raise PhotoError(f"{label} is a {header.mode} print picture; its colours mean nothing", "give the camera's RGB file")
    if header.mode in ("1", "L", "LA", "La", "I", "F") or header.mode.startswith("I;"):
        raise PhotoError(f"{label} is a black-and-white picture: there is no colour to measure", "give the colour original")
    if max(header.size) > _MAX_SIDE_PX:
        raise PhotoError(f"{label} is {width} x {height} px, more than {_MAX_SIDE_PX} on a side", "give a smaller copy of it")
    if min(header.size) < _MIN_SIDE_PX:
        raise PhotoError(f"{label} is only {width} x {height} px", "give the original photo, not a thumbnail")
    limit = _MAX_PX.get(header.kind, _MAX_PX_OTHERS)
    if width * height > limit:
        found = f"{width * height // 1_000_000} million pixels, more than {limit // 1_000_000} million"
        raise PhotoError(f"{label} has {found}", "give a smaller copy of it as JPEG")


def _check_room(header: _Header, size_bytes: int, label: str) -> None:
    """Refuse a header that claims more pixels than the file can hold: a bomb, or a damaged one."""
    width, height = header.size
    if width * height > _MAX_PX_PER_BYTE * size_bytes:
        raise PhotoError(f"{label} claims {width} x {height} px in {size_bytes} bytes, more than it can hold", _AGAIN)


def _scale(header: _Header, at_least_px: int | None) -> int:
    """Return 1, 2, 4 or 8: how far the file is unpacked reduced. TIFF, WebP, AVIF and BMP gain nothing by it."""
    if header.kind not in ("JPEG", "PNG") or header.has_alpha:
        return 1
    wanted = [s for s in (2, 4, 8) if at_least_px and header.kind == "JPEG" and max(header.size) // s >= at_least_px]
    needed = [s for s in (1, 2, 4, 8) if header.size[0] * header.size[1] <= _FULL_DECODE_PX * s * s]
    return max(needed[0], *wanted) if wanted else needed[0]


# ---- pixels ----------------------------------------------------------------------------------------------


def _unpack(data: bytes, header: _Header, scale: int, label: str) -> tuple[Codes, NDArray[np.bool_] | None]:
    """Return RGB codes as stored (not turned) and where they are opaque (None = everywhere)."""
    if header.has_alpha:
        pixels = _imdecode(data, cv2.IMREAD_UNCHANGED, label)
        return _split_alpha(pixels, label)
    if scale > 1:
        pixels = _imdecode(data, _REDUCED[scale] | cv2.IMREAD_IGNORE_ORIENTATION, label)
        cv2.cvtColor(pixels, cv2.COLOR_BGR2RGB, pixels)
    else:
        pixels = _imdecode(data, cv2.IMREAD_COLOR_RGB | cv2.IMREAD_ANYDEPTH | cv2.IMREAD_IGNORE_ORIENTATION, label)
    if pixels.dtype not in (np.uint8, np.uint16) or pixels.ndim != 3:
        raise PhotoError(f"{label} holds {pixels.dtype} pixels, which are not a photo's", _EXPORT)
    return pixels, None


def _imdecode(data: bytes, flags: int, label: str) -> Any:
    try:
        pixels = cv2.imdecode(np.frombuffer(data, np.uint8), flags)
    except (cv2.error, MemoryError):
        pixels = None
    if pixels is None or pixels.size == 0:
        raise PhotoError(f"{label} is damaged or cut short: its pixels cannot be unpacked", _AGAIN)
    return pixels


def _split_alpha(pixels: Any, label: str) -> tuple[Codes, NDArray[np.bool_] | None]:
    if pixels.ndim != 3 or pixels.dtype not in (np.uint8, np.uint16):
        raise PhotoError(f"{label} holds no RGB pixels", _EXPORT)
    rgb = np.ascontiguousarray(pixels[..., 2::-1])
    if pixels.shape[2] < 4:
        return rgb, None
    opaque = pixels[..., 3] == np.iinfo(pixels.dtype).max
    if not opaque.any():
        raise PhotoError(f"{label} is transparent all over", "give the original photo")
    return rgb, None if opaque.all() else opaque


def _turned(pixels: Any, turn: int) -> Any:
    """Return the array upright for an EXIF orientation of 1-8."""
    if turn >= 5:
        pixels = np.swapaxes(pixels, 0, 1)
    if turn in (2, 3, 6, 7):
        pixels = pixels[:, ::-1]
    if turn in (3, 4, 7, 8):
        pixels = pixels[::-1]
    return np.ascontiguousarray(pixels)


def _refuse_grey(photo: Photo) -> None:
    """Refuse a colour file that holds a black-and-white picture: three equal channels in every pixel looked at."""
    step = max(1, min(photo.rgb.shape[:2]) // 256)
    sample = photo.rgb[::step, ::step]
    if (sample.max(-1) == sample.min(-1)).all():
        raise PhotoError(f"{photo.name} is a black-and-white picture: there is no colour to measure", "give the colour original")


# ---- profile ---------------------------------------------------------------------------------------------


def _profiled(codes: Codes, header: _Header) -> tuple[Codes, Profile | None, tuple[str, ...]]:
    """Return the codes, the file's matrix profile (None = sRGB), and remarks; a table profile is converted here."""
    if header.icc is None:
        return codes, None, ("no colour profile in the file: taken as sRGB",)
    try:
        profile = read_profile(header.icc, 256 if codes.dtype == np.uint8 else 65536)
    except ProfileError as fault:
        return codes, None, (f"the file's colour profile cannot be used ({fault}): taken as sRGB",)
    if profile is None:
        return _converted(codes, header.icc)
    plain = profile.curve is None and np.array_equal(profile.to_srgb, np.eye(3))
    return codes, profile, () if plain else ("colours converted from the file's own profile",)


def _converted(codes: Codes, icc: bytes) -> tuple[Codes, None, tuple[str, ...]]:
    """Return 8 bit sRGB codes through the colour engine, for profiles that hold tables."""
    if codes.dtype != np.uint8:
        return codes, None, ("the file's colour profile holds tables, not read at 16 bit: taken as sRGB",)
    image, cms = import_module("PIL.Image"), import_module("PIL.ImageCms")
    try:
        own = cms.ImageCmsProfile(io.BytesIO(icc))
        turned = cms.profileToProfile(image.fromarray(codes), own, cms.createProfile("sRGB"), renderingIntent=1)
    except (cms.PyCMSError, *_HEADER_FAULTS):
        return codes, None, ("the file's colour profile is damaged: taken as sRGB",)
    return np.asarray(turned), None, ("colours converted from the file's own table profile",)


def _decode_notes(header: _Header, scale: int, valid: NDArray[np.bool_] | None) -> tuple[str, ...]:
    notes = []
    if header.turn != 1:
        notes.append("turned upright as the camera noted")
    if scale > 1:
        notes.append(f"read at 1/{scale} of its size")
    if valid is not None:
        notes.append("transparent parts left out")
    return tuple(notes)
