"""Stand-ins for the slow parts behind the page, so that its own behaviour can be tested alone and quickly.

They read a photo by its name and mean colour: "refuse" in the name refuses it, "unsure" makes it unsure, "rowN" shows N plugs.
"""

from __future__ import annotations

import io
import re
import time
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
from PIL import Image

from plugread import pipeline
from plugread.colour import linear_srgb_to_lab, srgb_decode
from plugread.engine import Engine
from plugread.records import (
    Case,
    CauseRank,
    CheckAdvice,
    Comparison,
    Diagnosis,
    Explained,
    FiringEnd,
    Line,
    Measured,
    PartMap,
    PhotoRead,
    PlugMeasures,
    PlugRead,
    Quality,
    Ranking,
    Reading,
    Reason,
    Verdict,
    White,
)

READ_S = 0.05
NONE_LISTED = 0.1


def install() -> None:
    """Put the stand-ins in the place of the real stages."""
    pipeline.read_photo = read_photo  # type: ignore[assignment]
    pipeline.diagnose_case = diagnose_case  # type: ignore[assignment]
    pipeline.list_causes = list_causes  # type: ignore[assignment]
    pipeline.explain_picture = explain_picture  # type: ignore[assignment]
    pipeline.close_ups = close_ups  # type: ignore[assignment]


def read_photo(
    source: bytes, *, name: str | None = None, nose_box: Any = None, expected: int | None = None, **_: Any
) -> PhotoRead:
    """Read a photo by its name and mean colour."""
    time.sleep(READ_S)
    label = name or "photo"
    try:
        picture = Image.open(io.BytesIO(source)).convert("RGB")
    except OSError:
        return PhotoRead(label, "refused", f"{label}: not a picture; save it as JPEG", None, None, ())
    found = re.search(r"row(\d+)", label)
    count = int(found.group(1)) if found else 1
    if "refuse" in label:
        return PhotoRead(label, "refused", "no firing end found; fill the frame with the plug", picture.size, None, ())
    w, h = picture.size
    boxes = [(int((k + 0.42) * w / count), int(h * 0.4), int(0.16 * w / count), int(h * 0.3)) for k in range(count)]
    plugs = tuple(_plug(picture, nose_box or box, "unsure" in label) for box in boxes)
    white = White("paper", "white paper", np.ones(3), np.ones(3), np.eye(3), True, (2.0, 1.0, 1.0))
    return PhotoRead(label, plugs[0].reading.status, None, picture.size, white, plugs, count > 1)


def _plug(picture: Image.Image, box: tuple[int, int, int, int], unsure: bool) -> PlugRead:
    x, y, w, h = box
    rgb = np.asarray(picture.crop((x, y, x + w, y + h)), float).mean((0, 1)) / 255
    light, a, b = (float(v) for v in linear_srgb_to_lab(srgb_decode(rgb)))
    sooty = light < 58
    top = "carbon_fouled" if sooty else "normal"
    reading = Reading(
        "unsure" if unsure else "read",
        "too dark to tell soot from oil" if unsure else None,
        {top: 1.0},
        {top: 0.85, "oil_fouled": 0.1},
        top,
    )
    measures = PlugMeasures(
        Measured(light, 3, "", "photo"), Measured(a, 2, "", "photo"), Measured(b, 2, "", "photo"), None, None, None,
        None if sooty else Measured(0.8 + a / 100, 0.06, "mm", "photo"),
        {"gap": "the gap is hidden behind the strap"} if sooty else {},
    )  # fmt: skip
    end = FiringEnd(box, "oblique", {"oblique": 1.0}, PartMap(np.zeros((9, 2, 2), np.float32), 0, 0, 1), {}, 0.9, 0.9)
    return PlugRead(reading, measures, Quality(2.0, 0.5, 0.0, 20.0), end)


def explain_picture(source: bytes, photo: PhotoRead) -> Explained:
    """Return the picture itself, as if the nose, the strap and a sheet in the far corner were outlined on it."""
    noses = [Line("nose", (255, 176, 0), (), plug.end.nose_box) for plug in photo.plugs if plug.end]
    straps = [Line("strap", (86, 180, 233), (6.0, 3.0), plug.end.nose_box) for plug in photo.plugs if plug.end]
    lines = (*noses, *straps, Line("reference", (240, 228, 66), (), (0, 0, 8, 8)))
    return Explained(_jpeg(Image.open(io.BytesIO(source)).convert("RGB"), 1200), lines)


def close_ups(source: bytes, photo: PhotoRead) -> tuple[bytes, ...]:
    """Return squares round the noses."""
    picture = Image.open(io.BytesIO(source)).convert("RGB")
    out = []
    for plug in photo.plugs:
        assert plug.end is not None
        x, y, w, h = plug.end.nose_box
        r, cx, cy = 1.3 * max(w, h), x + w / 2, y + h / 2
        out.append(_jpeg(picture.crop((int(cx - r), int(cy - r), int(cx + r), int(cy + r))), 192))
    return tuple(out)


def _jpeg(picture: Image.Image, side: int) -> bytes:
    picture.thumbnail((side, side))
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=85)
    return out.getvalue()


def _causes(odd: tuple[int, ...], p: float) -> tuple[CauseRank, ...]:
    if not odd:
        return (CauseRank("short_trip_running", "engine", (), 0.12, (Reason("rough_idle", None, -0.4),), band=(0.05, 0.2)),)
    at = odd[:1]
    first = (Reason("carbon_fouled", odd[0], 2.0), Reason("rough_idle", None, 0.8), Reason("misfire_under_load", None, -0.5))
    band = (p - 0.2, min(0.98, p + 0.15))
    return (
        CauseRank("injector_leaking", "cylinder", at, p, first, 0.9, (0.86, 0.93), band, group=("valve_leak",)),
        CauseRank("coil_fault", "cylinder", at, 0.2, first[:1], band=(0.1, 0.35)),
        CauseRank("lead_or_boot_fault", "cylinder", at, 0.08, (), band=(0.03, 0.15)),
        CauseRank("valve_leak", "cylinder", at, 0.05, (), band=(0.02, 0.12)),
    )


def diagnose_case(
    case: Case,
    *,
    reads: Mapping[int, PlugRead] | None = None,
    on_ranking: Callable[[Ranking], None] | None = None,
    **_: Any,
) -> Diagnosis:
    """Name the plugs whose nose is dark, or that were ticked, and something to do."""
    reads = reads or {}
    engine = Engine(case.engine)
    dark = [n for n, plug in reads.items() if plug.measures.lab and plug.measures.lab[0] < 58]
    ticked = [p.cylinder for p in case.plugs if set(p.seen) - {"normal"}]
    odd = tuple(sorted({*dark, *ticked})) if len({*dark, *ticked}) < engine.spec.cylinders else ()
    delta = {n: 30.0 if n in odd else 1.5 for n in reads}
    causes = _causes(odd, min(0.95, 0.62 + 0.1 * len(case.checks)))
    checks = tuple(
        CheckAdvice(
            c, odd[:1], m, v, "it tells a fault that stays in its cylinder from one that moves with the part", ("hot_parts",), ()
        )
        for c, m, v in (("swap_plug", 15, 30.0), ("compression_dry", 40, 22.0), ("cylinder_drop", 10, 10.0))
    )
    comparison = Comparison(
        delta,
        {},
        odd,
        "one plug differs from the rest" if odd else "all plugs look alike",
        (),
        "a fault that all cylinders share" if odd else "",
        (70, 2, 8),
    )
    if on_ranking is not None:
        on_ranking(Ranking(comparison, causes, NONE_LISTED))
    verdict = Verdict(
        "investigate" if odd else "carry_on",
        "one cylinder burns badly; driving on may harm the catalyst" if odd else "nothing points to a fault",
        False,
    )
    return Diagnosis(
        comparison,
        {},
        causes,
        NONE_LISTED,
        verdict,
        checks if odd else (),
        ("engine_cold",),
        ("the rule base is a set of judgements",),
        dict(reads),
        {},
    )


def list_causes(case: Case, reads: Mapping[int, PlugRead]) -> tuple[tuple[CauseRank, ...], float]:
    """Return the causes alone."""
    found = diagnose_case(case, reads=reads)
    return found.causes, found.none_listed
