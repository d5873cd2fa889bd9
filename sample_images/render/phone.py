"""From linear light to a phone's photo: white balance, exposure, tone, blur, noise, sharpening, JPEG, colour profile, turn.

Every step is what phones do; the amounts are our estimates. The photo's truth follows it: `Photo.turn` says how pixels
are stored, and masks are saved upright.
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms

from sample_images.render.colour import RGB_TO_P3, encode
from sample_images.render.contact_sheet import PART_COLOURS
from sample_images.render.draw import Rng, chance, ratio, uniform

Floats = NDArray[np.float32]
Pixels = NDArray[np.uint8]

FAULTS = ("motion_blur", "blown_out", "too_dark", "out_of_focus")
"""Ways to spoil a photo until it cannot be read, on request."""

ORIENTATIONS: Mapping[int, int] = {1: 0, 8: 1, 3: 2, 6: 3}
"""EXIF orientation -> quarter turns anticlockwise that make the stored pixels upright."""


class PhoneError(ValueError):
    """A photo that cannot be was asked for."""


@dataclass(frozen=True)
class Phone:
    """A phone's settings for one photo; see `random_phone` for their usual ranges.

    Parameters
    ----------
    gains : red, green, blue multipliers of white balance, green 1.
    exposure : mean level aimed at, linear, 0.18 = middle grey.
    highlight : level, linear, that the brightest 3 % of the picture may not pass on average metering; inf for no such care.
    contrast, saturation : strength of the tone curve (0 none) and of colours (1 as they are).
    local_tone : 0-0.5, how far dark places are lifted against bright ones.
    vignette : loss of light in the corners, 0-0.6.
    blur_px : standard deviation of the lens and sensor blur.
    motion_px, motion_deg : length and direction of a shake.
    shot_noise, read_noise : noise at full scale, linear; chroma_noise : blotches of colour, 0-1.
    sharpen : halo strength, 0-1.5.
    quality : JPEG quality, 30-98.
    display_p3 : save in Display P3 with its profile.
    orientation : EXIF orientation of the stored pixels: 1, 3, 6 or 8.
    """

    gains: tuple[float, float, float] = (1.0, 1.0, 1.0)
    exposure: float = 0.18
    highlight: float = 0.8
    contrast: float = 0.35
    saturation: float = 1.05
    local_tone: float = 0.15
    vignette: float = 0.1
    blur_px: float = 0.6
    motion_px: float = 0.0
    motion_deg: float = 0.0
    shot_noise: float = 0.004
    read_noise: float = 0.002
    chroma_noise: float = 0.3
    sharpen: float = 0.4
    quality: int = 88
    display_p3: bool = False
    orientation: int = 1
    seed: int = 0

    def __post_init__(self) -> None:
        """Refuse what no phone writes."""
        if self.orientation not in ORIENTATIONS:
            raise PhoneError(
                f"EXIF orientation {self.orientation} is not written here; use one of: {', '.join(map(str, ORIENTATIONS))}"
            )
        if not 1 <= self.quality <= 100:
            raise PhoneError(f"JPEG quality {self.quality} is outside 1-100")


@dataclass(frozen=True, eq=False)
class Photo:
    """A finished photo: upright 8-bit pixels before JPEG, and the file's bytes."""

    upright: Pixels
    jpeg: bytes


def random_phone(rng: Rng, light_colour: NDArray[np.floating], *, tidy: bool = False) -> Phone:
    """Return settings of a plausible photo.

    Parameters
    ----------
    light_colour : linear sRGB of the light on the subject, (3,); white balance removes most of it.
    tidy : a good photo for people to look at: small errors, little noise.
    """
    scale = 0.4 if tidy else 1.0
    colour = np.asarray(light_colour, float) / max(float(light_colour[1]), 1e-6)
    kept = uniform(rng, 0.0, 0.25 if tidy else 0.5)
    gains = colour ** -(1 - kept) * np.exp(rng.normal(0, 0.06 * scale, 3))
    return Phone(
        gains=(float(gains[0] / gains[1]), 1.0, float(gains[2] / gains[1])),
        exposure=float((0.25 if tidy else 0.19) * np.exp(rng.normal(0, 0.35 * scale * scale))),
        highlight=uniform(rng, 0.62, 0.78) if tidy else ratio(rng, 0.6, 1.6),
        contrast=uniform(rng, 0.4, 0.8) if tidy else uniform(rng, 0.1, 0.8),
        saturation=uniform(rng, 0.9, 1.25),
        local_tone=uniform(rng, 0.0, 0.35),
        vignette=uniform(rng, 0.0, 0.3),
        blur_px=ratio(rng, 0.45, 0.9 if tidy else 1.8),
        motion_px=0.0 if tidy or chance(rng, 0.75) else ratio(rng, 1.5, 7),
        motion_deg=uniform(rng, 0, 180),
        shot_noise=ratio(rng, 0.0015, 0.004 if tidy else 0.03),
        read_noise=ratio(rng, 0.0005, 0.0015 if tidy else 0.01),
        chroma_noise=uniform(rng, 0.1, 0.7),
        sharpen=uniform(rng, 0.2, 0.6 if tidy else 1.3),
        quality=int(rng.integers(84, 94) if tidy else rng.integers(45, 96)),
        display_p3=chance(rng, 0.3),
        orientation=int(rng.choice(list(ORIENTATIONS), p=[0.7, 0.08, 0.07, 0.15])),
        seed=int(rng.integers(2**31)),
    )


def spoiled(phone: Phone, fault: str, rng: Rng, width_px: int) -> Phone:
    """Return the settings with one of `FAULTS` so bad that the photo cannot be read."""
    if fault == "motion_blur":
        return replace(phone, motion_px=width_px * uniform(rng, 0.05, 0.10))
    if fault == "blown_out":
        return replace(phone, exposure=uniform(rng, 3.0, 7.0), highlight=np.inf, local_tone=0.0)
    if fault == "too_dark":
        return replace(phone, exposure=ratio(rng, 0.0006, 0.0022), local_tone=0.0, shot_noise=0.03, read_noise=0.006)
    if fault == "out_of_focus":
        return replace(phone, blur_px=width_px * uniform(rng, 0.012, 0.03))
    raise PhoneError(f"fault {fault!r} is not known; use one of: {', '.join(FAULTS)}")


def photograph(linear: Floats, phone: Phone) -> Photo:
    """Return the photo of a linear sRGB picture (h, w, 3) taken with `phone`."""
    upright = tone_mapped(exposed(linear, phone), phone)
    return Photo(upright, jpeg_of(upright, phone))


def exposed(linear: Floats, phone: Phone) -> Floats:
    """Return sensor light: balanced, exposed, vignetted, blurred, noisy; linear, 1 = white."""
    image = np.asarray(linear, np.float32) * np.asarray(phone.gains, np.float32)
    luminance = image.mean(-1)
    metered = float(np.minimum(luminance, 4 * np.median(luminance) + 1e-4).mean())
    bright = float(np.quantile(luminance, 0.97))
    image = image * np.float32(min(phone.exposure / max(metered, 1e-6), phone.highlight / max(bright, 1e-6)))
    image = image * _vignette(image.shape[:2], phone.vignette)[..., None]
    image = _shaken(cv2.GaussianBlur(np.clip(image, 0, 12), (0, 0), phone.blur_px), phone.motion_px, phone.motion_deg)
    return np.clip(_noisy(image, phone), 0, None)


def tone_mapped(sensor: Floats, phone: Phone) -> Pixels:
    """Return 8-bit code values (of sRGB, or of Display P3) of sensor light."""
    image = sensor
    if phone.local_tone > 0:
        base = cv2.GaussianBlur(image.mean(-1), (0, 0), image.shape[1] / 28)
        image = image * (((base + 0.02) / 0.2) ** -phone.local_tone)[..., None]
    image = np.where(image > 0.75, 0.75 + 0.25 * np.tanh((image - 0.75) / 0.25), image)
    if phone.display_p3:
        image = np.clip(image @ RGB_TO_P3.T.astype(np.float32), 0, 1)
    code = np.asarray(encode(image), np.float32)
    code = code - phone.contrast * np.sin(2 * np.pi * code) / (2 * np.pi) * 0.5
    grey = code @ np.array([0.2126, 0.7152, 0.0722], np.float32)
    code = grey[..., None] + (code - grey[..., None]) * phone.saturation
    code = code + phone.sharpen * (code - cv2.GaussianBlur(code, (0, 0), 1.3))
    return (np.clip(code, 0, 1) * 255).round().astype(np.uint8)


def jpeg_of(upright: Pixels, phone: Phone) -> bytes:
    """Return the JPEG file: pixels stored turned as `orientation` says, with profile and EXIF tag."""
    stored = np.rot90(upright, -ORIENTATIONS[phone.orientation])
    exif = Image.Exif()
    exif[0x0112] = phone.orientation
    extra = {"icc_profile": display_p3_profile()} if phone.display_p3 else {}
    out = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(stored)).save(out, "JPEG", quality=phone.quality, exif=exif, **extra)
    return out.getvalue()


def light_enough(upright: Pixels, phone: Phone, most_bytes: int, *, least_quality: int = 62) -> bytes:
    """Return the JPEG at the highest quality, from the phone's down to `least_quality`, that stays under `most_bytes`."""
    for quality in range(phone.quality, least_quality, -3):
        data = jpeg_of(upright, replace(phone, quality=quality))
        if len(data) <= most_bytes:
            return data
    return jpeg_of(upright, replace(phone, quality=least_quality))


def save_mask(mask: Pixels, path: Path, palette: NDArray[np.uint8] | None = None) -> None:
    """Write an upright label map (h, w) as a small 8-bit palette PNG whose pixel values are the labels."""
    image = Image.frombytes("P", (mask.shape[1], mask.shape[0]), np.ascontiguousarray(mask, np.uint8).tobytes())
    colours = PART_COLOURS if palette is None else palette
    image.putpalette(np.ascontiguousarray(colours, np.uint8).ravel().tolist())
    image.save(path, optimize=True)


def display_p3_profile() -> bytes:
    """Return an ICC profile of Display P3: sRGB's curve, P3 primaries brought to D50, written from scratch (ICC.1 v2)."""
    import struct

    from sample_images.render.colour import RGB_TO_XYZ

    d65_to_d50 = np.linalg.inv(np.array([[0.9555, -0.0231, 0.0632], [-0.0283, 1.0099, 0.0210], [0.0123, -0.0205, 1.3302]]))
    columns = d65_to_d50 @ RGB_TO_XYZ @ np.linalg.inv(RGB_TO_P3)
    fixed = lambda v: struct.pack(">i", round(float(v) * 65536))  # noqa: E731
    xyz = lambda v: b"XYZ \0\0\0\0" + b"".join(fixed(x) for x in v)  # noqa: E731
    curve = (
        b"para\0\0\0\0"
        + struct.pack(">HH", 3, 0)
        + b"".join(fixed(v) for v in (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045))
    )
    name = b"Display P3\0"
    desc = b"desc\0\0\0\0" + struct.pack(">I", len(name)) + name + bytes(12 + 67)
    tags = {
        b"desc": desc, b"cprt": b"text\0\0\0\0" + b"free to use\0", b"wtpt": xyz((0.9642, 1.0, 0.8249)),
        b"rXYZ": xyz(columns[:, 0]), b"gXYZ": xyz(columns[:, 1]), b"bXYZ": xyz(columns[:, 2]), b"rTRC": curve, b"gTRC": curve,
        b"bTRC": curve,
    }  # fmt: skip
    table, body, start = b"", b"", 128 + 4 + 12 * len(tags)
    for tag, data in tags.items():
        data += bytes(-len(data) % 4)
        table += tag + struct.pack(">II", start + len(body), len(data))
        body += data
    size = start + len(body)
    head = struct.pack(">I4sI4s4s4s12s4s4s", size, bytes(4), 0x02400000, b"mntr", b"RGB ", b"XYZ ", bytes(12), b"acsp", bytes(4))
    head = head.ljust(68, b"\0") + fixed(0.9642) + fixed(1.0) + fixed(0.8249)
    return head.ljust(128, b"\0") + struct.pack(">I", len(tags)) + table + body


def profile_opens(profile: bytes) -> bool:
    """Say whether LittleCMS reads the profile."""
    return ImageCms.getProfileName(ImageCms.ImageCmsProfile(io.BytesIO(profile))) is not None


def _vignette(shape: tuple[int, int], amount: float) -> Floats:
    y, x = np.meshgrid(np.linspace(-1, 1, shape[0]), np.linspace(-1, 1, shape[1]), indexing="ij")
    return (1 - amount * (x**2 + y**2) / 2).astype(np.float32)


def _shaken(image: Floats, length_px: float, angle_deg: float) -> Floats:
    if length_px < 1.0:
        return image
    n = int(np.ceil(length_px)) | 1
    kernel = np.zeros((n, n), np.float32)
    half = length_px / 2 * np.array([np.cos(np.deg2rad(angle_deg)), np.sin(np.deg2rad(angle_deg))])
    for t in np.linspace(-1, 1, 4 * n):
        x, y = n / 2 - 0.5 + half * t
        kernel[int(np.clip(round(y), 0, n - 1)), int(np.clip(round(x), 0, n - 1))] += 1
    return np.asarray(cv2.filter2D(image, -1, kernel / kernel.sum()), np.float32)


def _noisy(image: Floats, phone: Phone) -> Floats:
    rng = np.random.default_rng(phone.seed)
    h, w = image.shape[:2]
    fine = rng.standard_normal((h, w, 1), np.float32) + phone.chroma_noise * rng.standard_normal((h, w, 3), np.float32)
    coarse = cv2.resize(rng.standard_normal((h // 3 + 1, w // 3 + 1, 3), np.float32), (w, h), interpolation=cv2.INTER_CUBIC)
    spread = np.sqrt(np.maximum(image, 0) * phone.shot_noise**2 + phone.read_noise**2)
    return image + (fine + phone.chroma_noise * coarse) * spread


def plug_palette() -> NDArray[np.uint8]:
    """Return colours for a mask of ``part + 16 * plug``: the part's colour, a little darker from plug to plug."""
    palette = np.zeros((256, 3), np.uint8)
    for plug in range(15):
        shade = 1.0 - 0.05 * (plug % 8)
        palette[16 * plug : 16 * plug + len(PART_COLOURS)] = (PART_COLOURS * shade).astype(np.uint8)
    return palette
