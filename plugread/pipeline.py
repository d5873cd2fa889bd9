"""The one module that knows the order: photo -> parts -> measures -> reading -> comparison -> causes -> checks -> verdict."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from plugread.engine import Engine
from plugread.errors import PhotoError
from plugread.pixels import overlap
from plugread.records import (
    Box,
    Case,
    CauseRank,
    Diagnosis,
    EngineSpec,
    Evidence,
    Explained,
    FiringEnd,
    Photo,
    PhotoRead,
    PlugMeasures,
    PlugRead,
    PlugType,
    Quality,
    Ranking,
    Reading,
    ReadStatus,
    White,
)
from plugread.rules.tables import Losses, Rules

if TYPE_CHECKING:
    from plugread.diagnose.network import Network
    from plugread.diagnose.posterior import Posterior
    from plugread.measure.plug import MeasuredPlug
    from plugread.reading.model import Model
    from plugread.reading.portrait import Portrait

NETWORKS_KEPT = 2
"""Engines whose network stays in memory: the one on the bench and the one before."""
SAME_NOSE = 0.3
"""Overlap (IoU) of two boxes from which they stand for the same nose."""
_QUICK_PX = 1500
"""A quick look unpacks a JPEG reduced, with at least so many pixels on its longer side (our own choice)."""
_NOSE_PX = 160
"""A nose so many pixels wide shows colour, gloss, crust and specks as well as a larger one (24 pixels per mm)."""


@cache
def default_rules() -> Rules:
    """Return the package's own rule base, loaded once."""
    from plugread.rules.load import load_rules

    return load_rules()


@cache
def default_model() -> Model | None:
    """Return the shipped model where it reads better than the colour rules, else None; raises `ModelError` if it is damaged."""
    from plugread.reading.by_classifier import shipped

    return shipped()


# ---- photos ----------------------------------------------------------------------------------------------


def read_photo(
    source: str | Path | bytes,
    *,
    name: str | None = None,
    nose_box: Box | None = None,
    expected: int | None = None,
    quick: bool = False,
    plug: PlugType | None = None,
    model: Model | None = None,
) -> PhotoRead:
    """Measure and read the firing end(s) in one photo.

    Parameters
    ----------
    source : a file name or the bytes of a JPEG, PNG, WebP or AVIF picture.
    name : what to call it in messages; the file name by default.
    nose_box : x, y, width, height of the nose in the upright full-size picture; overrides the finder.
    expected : how many plugs a line-up should show; a different count is reported, not hidden.
    quick : look at a reduced decode with smaller looks; the gap is then not measured.
    plug : what is known of the plug: its thread is the scale for the gap, a gap far above the book's counts as wear.
    model : a taught model that takes the place of the colour rules for the firing ends it knows.

    Returns
    -------
    PhotoRead
        `status` is "refused", with the reason in `why`, for anything that cannot be read; no photo raises. `size` is None
        only where the file could not be opened as a picture.
    """
    label = name or (Path(source).name if isinstance(source, str | Path) else "photo")
    try:
        photo = _opened(source, label, quick=quick)
    except PhotoError as problem:
        return PhotoRead(label, "refused", str(problem), None, None, ())
    try:
        ends = _found(photo, nose_box, expected, quick)
    except PhotoError as problem:
        return PhotoRead(label, "refused", str(problem), photo.size, None, ())
    white, plugs = _read_ends(photo, ends, plug or PlugType(), model, quick=quick)
    lineup = nose_box is None and (len(plugs) > 1 or (expected or 0) > 1)
    status, why = _photo_status(plugs, expected)
    return PhotoRead(label, status, why, photo.size, white, plugs, lineup, photo.notes)


def _opened(source: str | Path | bytes, label: str, *, quick: bool = False) -> Photo:
    from plugread.photo.decode import open_photo

    return open_photo(source, name=label, at_least_px=_QUICK_PX if quick else None)


def _half(photo: Photo) -> Photo:
    """Return the photo at half size if that is still large: light and large noses need no more, and cost a quarter."""
    from plugread.pixels import shrunk

    return shrunk(photo, 2) if max(photo.rgb.shape[:2]) >= 2 * _QUICK_PX else photo


def _found(photo: Photo, nose_box: Box | None, expected: int | None, quick: bool) -> tuple[FiringEnd, ...]:
    if nose_box is not None:
        from plugread.photo.by_hand import end_from_box

        return (end_from_box(photo, nose_box),)
    from plugread.photo.finding import find_ends

    return find_ends(photo, expected=expected, quick=quick)


def _read_ends(
    photo: Photo, ends: tuple[FiringEnd, ...], plug: PlugType, model: Model | None = None, *, quick: bool = False
) -> tuple[White, tuple[PlugRead, ...]]:
    """Return the light and what each firing end shows in it; gaps need no light and are measured in a thread beside the rest."""
    from plugread.measure.plug import gap_not_asked, measure_plug, shipped_gap
    from plugread.photo.quality import judge
    from plugread.photo.white import find_white

    half = _half(photo)
    surfaces = [half if min(end.nose_box[2:]) >= _NOSE_PX * half.scale else photo for end in ends]
    bare = [replace(end, sheets=None) for end in ends]  # a large map for the light alone; each read would keep it
    seen = [(end, surface, judge(surface, end)) for end, surface in zip(bare, surfaces, strict=True)]
    with ThreadPoolExecutor(1) as beside:
        gaps = [
            gap_not_asked if quick or quality.refusal else beside.submit(shipped_gap, photo, end, quality, plug.thread).result
            for end, _, quality in seen
        ]
        white = find_white(half, ends)
        measured = [
            None if quality.refusal else measure_plug(surface, end, white, quality, gap)
            for (end, surface, quality), gap in zip(seen, gaps, strict=True)
        ]
    return white, tuple(
        _refused(end, quality) if found is None else _read_end(photo, end, quality, white, found, plug, model)
        for (end, _, quality), found in zip(seen, measured, strict=True)
    )


def _refused(end: FiringEnd, quality: Quality) -> PlugRead:
    why = "; ".join((str(quality.refusal), *quality.advice))
    nothing = PlugMeasures(None, None, None, None, None, None, None, {"all": why})
    return PlugRead(Reading("refused", why, {}, {}, None), nothing, quality, end)


def _read_end(
    photo: Photo, end: FiringEnd, quality: Quality, white: White, measured: MeasuredPlug, plug: PlugType, model: Model | None
) -> PlugRead:
    from plugread.reading.by_rules import read

    reading = read(measured.measures, quality, end, gap_spec_mm=plug.gap_mm)
    if model is not None:
        from plugread.reading import by_classifier

        reading = by_classifier.read(model, photo, end, white, measured.measures, reading)
    return PlugRead(reading, measured.measures, quality, end, measured.nose_mask, measured.mask_box)


def _photo_status(plugs: tuple[PlugRead, ...], expected: int | None) -> tuple[ReadStatus, str | None]:
    states = [plug.reading.status for plug in plugs]
    status: ReadStatus = "read" if "read" in states else "unsure" if "unsure" in states else "refused"
    if expected is not None and len(plugs) != expected:
        return status, f"{len(plugs)} firing ends found, {expected} expected; check which plug is missing or counted twice"
    return status, plugs[0].reading.why if len(plugs) == 1 else None


def portrait(source: str | Path | bytes, nose_box: Box | None = None) -> Portrait:
    """Return one training photo as the learner sees it; never raises, the reason stands in `why`.

    Parameters
    ----------
    nose_box : which firing end is meant, where the photo shows several or the finder misses it.
    """
    from plugread.reading.features import feature_vector
    from plugread.reading.portrait import Portrait, fingerprint

    try:
        photo = _opened(source, source.name if isinstance(source, Path) else "photo")
        end = _meant(photo, nose_box)
    except PhotoError as problem:
        return Portrait(None, None, {}, None, str(problem))
    white, (plug,) = _read_ends(photo, (end,), PlugType())
    if plug.reading.status == "refused":
        return Portrait(None, None, {}, None, plug.reading.why)
    vector = feature_vector(photo, end, white, plug.measures)
    return Portrait(vector, fingerprint(photo, end), plug.reading.likelihood, white.method)


def _meant(photo: Photo, nose_box: Box | None) -> FiringEnd:
    """Return the one firing end of a training photo: the one found on `nose_box`, or what lies in it where none was found."""
    if nose_box is None:
        ends = _found(photo, None, 1, quick=False)
        if len(ends) != 1:
            raise PhotoError(f"{len(ends)} firing ends in the photo of one plug", "crop it, or give the box of the nose")
        return ends[0]
    try:
        near = [end for end in _found(photo, None, None, quick=False) if overlap(end.nose_box, nose_box) > SAME_NOSE]
    except PhotoError:
        near = []
    return near[0] if near else _found(photo, nose_box, None, quick=False)[0]


def teach(folder: Path, out: Path, progress: Callable[[int, int], None] | None = None) -> Mapping[str, Any]:
    """Learn from a folder of confirmed photos, write the model to `out`, and return its card.

    Parameters
    ----------
    progress : called with (photos measured, photos in all).

    Raises
    ------
    ModelError
        one line, if there is too little to learn from; a model that was there stays as it was.
    """
    from plugread.reading.training.train import train

    return train(folder, out, portrait, jobs=2, about="plugs confirmed on the page", progress=progress)


def taught_model(folder: Path) -> Model:
    """Return the model in a folder; raises `ModelError`, one line, if it is missing, damaged, foreign or newer."""
    from plugread.reading.by_classifier import load

    return load(folder)


def taught_report(card: Mapping[str, Any]) -> tuple[str, Mapping[str, str], tuple[str, str]]:
    """Return whether to trust a model, its figures in words, and two pictures (SVG): what it mixes up, how it grew."""
    from plugread.reading.training.drawings import confusion_svg, curve_svg
    from plugread.reading.training.report import figures, verdict

    return verdict(card), figures(card), (confusion_svg(card), curve_svg(card))


# ---- the whole case --------------------------------------------------------------------------------------


def read_case_photos(case: Case, model: Model | None = None) -> tuple[dict[int, PlugRead], dict[int, str]]:
    """Read the photos a case names; return plugs by cylinder, and by cylinder why a photo gave nothing."""
    reads: dict[int, PlugRead] = {}
    problems: dict[int, str] = {}
    known = case.engine.plug
    if case.lineup is not None:
        photo = read_photo(Path(case.base_dir) / case.lineup.photo, expected=len(case.lineup.cylinders), plug=known, model=model)
        if len(photo.plugs) == len(case.lineup.cylinders):
            reads.update(zip(case.lineup.cylinders, photo.plugs, strict=True))
        else:
            problems.update(dict.fromkeys(case.lineup.cylinders, photo.why or "the plugs in the row could not be told apart"))
    for entry in case.plugs:
        if entry.photo is None:
            continue
        photo = read_photo(Path(case.base_dir) / entry.photo, plug=known, model=model)
        if len(photo.plugs) == 1:
            reads[entry.cylinder] = photo.plugs[0]
            problems.pop(entry.cylinder, None)
        else:
            problems[entry.cylinder] = (
                photo.why or f"{len(photo.plugs)} plugs in the photo of one cylinder; crop it or use a line-up"
            )
    refused = {number: plug.reading.why or "refused" for number, plug in reads.items() if plug.reading.status == "refused"}
    return reads, problems | refused


def diagnose_case(  # noqa: PLR0913 - the one door to the reasoning
    case: Case,
    *,
    reads: Mapping[int, PlugRead] | None = None,
    rules: Rules | None = None,
    losses: Losses | None = None,
    model: Model | None = None,
    shakes: int = 200,
    on_ranking: Callable[[Ranking], None] | None = None,
    between: Callable[[], None] | None = None,
) -> Diagnosis:
    """Join photos, ticks and checks, compare the cylinders, rank causes and next checks, and decide.

    Parameters
    ----------
    reads : plugs already read, by cylinder; None = open the photos the case names.
    rules, losses : another rule base or loss table than the package's own.
    model : a taught model for the photos the case names.
    shakes : how many shaken rule bases stand behind the robustness figures; 0 leaves them out.
    on_ranking : called with the ranked causes as soon as they stand, before checks and verdict are worked out.
    between : called again and again while that lasts; what it raises ends the work, whose answer is then no longer wanted.

    Raises
    ------
    CaseError
        The ticks or check values contradict themselves; one line.
    """
    from plugread.diagnose.compare import compare
    from plugread.diagnose.diagnosis import diagnose

    rules = rules or default_rules()
    plugs, problems = (dict(reads), {}) if reads is not None else read_case_photos(case, model)
    posterior = _posterior(case, plugs, rules)
    comparison = compare(Engine(case.engine), {n: p.measures for n, p in plugs.items()}, posterior.readings, rules)
    answer = diagnose(posterior, comparison, losses=losses, shakes=shakes, on_ranking=on_ranking, between=between)
    causes, none_listed, verdict, checks, cautions, notes = answer
    return Diagnosis(comparison, posterior.readings, causes, none_listed, verdict, checks, cautions, notes, plugs, problems)


def list_causes(case: Case, reads: Mapping[int, PlugRead]) -> tuple[tuple[CauseRank, ...], float]:
    """Return the bare causes of a case whose photos are read, best first, and the chance that none is present; soon done."""
    posterior = _posterior(case, reads, default_rules())
    causes = (CauseRank(one.cause, one.scope, one.cylinders, chance) for one, chance in posterior.ranked)
    return tuple(causes), posterior.none_listed


def check_outcomes(case: Case) -> Mapping[tuple[str, int | None], str]:
    """Return what came out of each check done, by check and cylinder; measured values go through the tables of the rules."""
    from plugread.diagnose.evidence import add_checks

    return add_checks(Evidence({}), Engine(case.engine), case.checks, default_rules()).outcomes


def _posterior(case: Case, plugs: Mapping[int, PlugRead], rules: Rules) -> Posterior:
    engine = Engine(case.engine)
    return _network(engine, rules).solve(gather(case, engine, plugs, rules))


def _network(engine: Engine, rules: Rules) -> Network:
    """Return the network of an engine; under the package's own rules it is built once for all cases of that engine."""
    from plugread.diagnose.network import Network

    return _own_network(replace(engine.spec, plug=PlugType())) if rules is default_rules() else Network(rules, engine)


@lru_cache(maxsize=NETWORKS_KEPT)
def _own_network(spec: EngineSpec) -> Network:
    from plugread.diagnose.network import Network

    return Network(default_rules(), Engine(spec))


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


def explain_picture(source: str | Path | bytes, photo: PhotoRead) -> Explained:
    """Return the photo with the found parts, axis, gap edges and reference drawn on it, and which line is which."""
    from plugread.photo.pictures import explained

    return explained(source, photo)


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
