"""The one module that knows the order: photo -> parts -> measures -> reading -> comparison -> causes -> checks -> verdict."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path

from plugread.engine import Engine
from plugread.errors import PhotoError
from plugread.records import (
    Box,
    Case,
    Diagnosis,
    Evidence,
    FiringEnd,
    Photo,
    PhotoRead,
    PlugMeasures,
    PlugRead,
    PlugType,
    Reading,
    ReadStatus,
    White,
)
from plugread.rules.tables import Losses, Rules


@cache
def default_rules() -> Rules:
    """Return the package's own rule base, loaded once."""
    from plugread.rules.load import load_rules

    return load_rules()


# ---- photos ----------------------------------------------------------------------------------------------


def read_photo(
    source: str | Path | bytes,
    *,
    name: str | None = None,
    nose_box: Box | None = None,
    expected: int | None = None,
    quick: bool = False,
    plug: PlugType | None = None,
) -> PhotoRead:
    """Measure and read the firing end(s) in one photo.

    Parameters
    ----------
    source : a file name or the bytes of a JPEG, PNG, WebP or AVIF picture.
    name : what to call it in messages; the file name by default.
    nose_box : x, y, width, height of the nose in the upright full-size picture; overrides the finder.
    expected : how many plugs a line-up should show; a different count is reported, not hidden.
    quick : use the small locator.
    plug : what is known of the plug: its thread is the scale for the gap, a gap far above the book's counts as wear.

    Returns
    -------
    PhotoRead
        `status` is "refused", with the reason in `why`, for anything that cannot be read; no photo raises. `size` is None
        only where the file could not be opened as a picture.
    """
    label = name or (Path(source).name if isinstance(source, str | Path) else "photo")
    try:
        photo = _opened(source, label)
    except PhotoError as problem:
        return PhotoRead(label, "refused", str(problem), None, None, ())
    try:
        ends = _found(photo, nose_box, expected, quick)
    except PhotoError as problem:
        return PhotoRead(label, "refused", str(problem), photo.size, None, ())
    white = _light(photo, ends)
    plugs = tuple(_read_end(photo, end, white, plug or PlugType()) for end in ends)
    lineup = nose_box is None and (len(plugs) > 1 or (expected or 0) > 1)
    status, why = _photo_status(plugs, expected)
    return PhotoRead(label, status, why, photo.size, white, plugs, lineup, photo.notes)


def _opened(source: str | Path | bytes, label: str) -> Photo:
    from plugread.photo.decode import open_photo

    return open_photo(source, name=label)


def _found(photo: Photo, nose_box: Box | None, expected: int | None, quick: bool) -> tuple[FiringEnd, ...]:
    if nose_box is not None:
        from plugread.photo.by_hand import end_from_box

        return (end_from_box(photo, nose_box),)
    from plugread.photo.finding import find_ends

    return find_ends(photo, expected=expected, quick=quick)


def _light(photo: Photo, ends: tuple[FiringEnd, ...]) -> White:
    from plugread.photo.white import find_white

    return find_white(photo, ends)


def _read_end(photo: Photo, end: FiringEnd, white: White, plug: PlugType) -> PlugRead:
    from plugread.measure.plug import measure_plug
    from plugread.photo.quality import judge
    from plugread.reading.by_rules import read

    quality = judge(photo, end)
    if quality.refusal:
        why = "; ".join((quality.refusal, *quality.advice))
        nothing = PlugMeasures(None, None, None, None, None, None, None, {"all": why})
        return PlugRead(Reading("refused", why, {}, {}, None), nothing, quality, end)
    measured = measure_plug(photo, end, white, quality, plug.thread)
    reading = read(measured.measures, quality, end, gap_spec_mm=plug.gap_mm)
    return PlugRead(reading, measured.measures, quality, end, measured.nose_mask, measured.mask_box)


def _photo_status(plugs: tuple[PlugRead, ...], expected: int | None) -> tuple[ReadStatus, str | None]:
    states = [plug.reading.status for plug in plugs]
    status: ReadStatus = "read" if "read" in states else "unsure" if "unsure" in states else "refused"
    if expected is not None and len(plugs) != expected:
        return status, f"{len(plugs)} firing ends found, {expected} expected; check which plug is missing or counted twice"
    return status, plugs[0].reading.why if len(plugs) == 1 else None


# ---- the whole case --------------------------------------------------------------------------------------


def read_case_photos(case: Case) -> tuple[dict[int, PlugRead], dict[int, str]]:
    """Read the photos a case names; return plugs by cylinder, and by cylinder why a photo gave nothing."""
    reads: dict[int, PlugRead] = {}
    problems: dict[int, str] = {}
    known = case.engine.plug
    if case.lineup is not None:
        photo = read_photo(Path(case.base_dir) / case.lineup.photo, expected=len(case.lineup.cylinders), plug=known)
        if len(photo.plugs) == len(case.lineup.cylinders):
            reads.update(zip(case.lineup.cylinders, photo.plugs, strict=True))
        else:
            problems.update(dict.fromkeys(case.lineup.cylinders, photo.why or "the plugs in the row could not be told apart"))
    for entry in case.plugs:
        if entry.photo is None:
            continue
        photo = read_photo(Path(case.base_dir) / entry.photo, plug=known)
        if len(photo.plugs) == 1:
            reads[entry.cylinder] = photo.plugs[0]
            problems.pop(entry.cylinder, None)
        else:
            problems[entry.cylinder] = (
                photo.why or f"{len(photo.plugs)} plugs in the photo of one cylinder; crop it or use a line-up"
            )
    refused = {number: plug.reading.why or "refused" for number, plug in reads.items() if plug.reading.status == "refused"}
    return reads, problems | refused


def diagnose_case(
    case: Case,
    *,
    reads: Mapping[int, PlugRead] | None = None,
    rules: Rules | None = None,
    losses: Losses | None = None,
    shakes: int = 200,
) -> Diagnosis:
    """Join photos, ticks and checks, compare the cylinders, rank causes and next checks, and decide.

    Parameters
    ----------
    case : the visit.
    reads : plugs already read, by cylinder; None = open the photos the case names.
    rules, losses : another rule base or loss table than the package's own.
    shakes : how many shaken rule bases stand behind the robustness figures; 0 leaves them out.

    Raises
    ------
    CaseError
        The ticks or check values contradict themselves; one line.
    """
    from plugread.diagnose.compare import compare
    from plugread.diagnose.diagnosis import diagnose
    from plugread.diagnose.network import Network

    rules = rules or default_rules()
    engine = Engine(case.engine)
    plugs, problems = (dict(reads), {}) if reads is not None else read_case_photos(case)
    evidence = gather(case, engine, plugs, rules)
    network = Network(rules, engine)
    readings = network.solve(evidence).readings
    comparison = compare(engine, {n: p.measures for n, p in plugs.items()}, readings, rules)
    causes, none_listed, verdict, checks, cautions, notes = diagnose(
        engine, evidence, comparison, rules, losses=losses, shakes=shakes
    )
    return Diagnosis(comparison, readings, causes, none_listed, verdict, checks, cautions, notes, plugs, problems)


def gather(case: Case, engine: Engine, plugs: Mapping[int, PlugRead], rules: Rules) -> Evidence:
    """Return everything known about the case as evidence for the network."""
    from plugread.diagnose.evidence import add_checks
    from plugread.reading.from_numbers import distance_signs, gauge_findings
    from plugread.reading.join import join

    usable = {n: p.reading for n, p in plugs.items() if p.reading.status != "refused"}
    evidence = join(engine, case.plugs, usable, rules)
    told = distance_signs(case.engine.plug, rules) | gauge_findings(case.plugs, case.engine.plug, rules)
    signs: dict[tuple[str, int | None], bool] = {(sign, None): True for sign in case.signs_seen}
    signs |= {(sign, None): False for sign in case.signs_not_seen}
    evidence = replace(evidence, findings={**told, **evidence.findings, **signs})
    return add_checks(evidence, engine, case.checks, rules)


def explain_picture(source: str | Path | bytes, photo: PhotoRead) -> bytes:
    """Return JPEG bytes of the photo with the found parts, axis, gap edges and reference drawn on it."""
    from plugread.photo.pictures import explanation_bytes

    return explanation_bytes(source, photo)


def close_ups(source: str | Path | bytes, photo: PhotoRead) -> tuple[bytes, ...]:
    """Return one small square JPEG a plug of the photo, centred on its nose; empty bytes where its place is not known."""
    from plugread.photo.close_up import close_ups as cut

    return cut(source, photo)


def warm_up() -> None:
    """Load what the first photo and the first diagnosis would have to wait for: rule base, finder, the packages behind them."""
    from plugread.diagnose import diagnosis  # noqa: F401
    from plugread.measure import plug  # noqa: F401
    from plugread.photo.locate import load_locator

    default_rules()
    load_locator("fine")
