"""A visit as it is being entered: engine, photos, ticks, checks. Every change hands back a new draft; nothing is overwritten."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from plugread.records import Box, Case, CheckEntry, EngineSpec, PlugEntry, PlugType

Spot = tuple[float, float]
"""Where a nose is, as shares (0-1) of the upright picture's width and height."""

TOKENS_KEPT = 40


@dataclass(frozen=True)
class Shot:
    """One kept photo. `cylinder` None = not placed yet; `spot` = where the user pointed, overriding the finder."""

    digest: str
    name: str
    cylinder: int | None = None
    spot: Spot | None = None


@dataclass(frozen=True)
class Row:
    """One photo of all plugs; `cylinders` from left to right as they lie."""

    digest: str
    name: str
    cylinders: tuple[int, ...]


@dataclass(frozen=True)
class Draft:
    """Everything entered so far.

    `shown` is True once the photos' own readings have been shown: ticks given later count for less.
    `received` holds the tokens of pictures already taken in, so that one sent twice is taken once.
    """

    engine: EngineSpec
    plugs: tuple[PlugEntry, ...] = ()
    shots: tuple[Shot, ...] = ()
    row: Row | None = None
    signs_seen: tuple[str, ...] = ()
    signs_not_seen: tuple[str, ...] = ()
    checks: tuple[CheckEntry, ...] = ()
    shown: bool = False
    picked: int = 1
    received: tuple[str, ...] = ()
    sample: str = ""

    @property
    def cylinders(self) -> tuple[int, ...]:
        """Cylinder numbers of the engine."""
        return tuple(range(1, self.engine.cylinders + 1))

    @property
    def empty(self) -> bool:
        """Return whether nothing but the engine has been entered."""
        return not (self.shots or self.row or self.plugs or self.checks or self.signs_seen or self.signs_not_seen)

    @property
    def answer_may_show(self) -> bool:
        """Return whether the photos' own readings, and what follows from them, may be shown."""
        return self.shown or not any(self.pictured(number) for number in self.cylinders)

    def entry(self, cylinder: int) -> PlugEntry:
        """Return what was entered for a cylinder; an empty entry if nothing was."""
        return next((plug for plug in self.plugs if plug.cylinder == cylinder), PlugEntry(cylinder))

    def shot(self, cylinder: int) -> Shot | None:
        """Return the photo placed at a cylinder, if there is one of its own."""
        return next((shot for shot in self.shots if shot.cylinder == cylinder), None)

    def pictured(self, cylinder: int) -> bool:
        """Return whether a photo shows this cylinder's plug."""
        return self.shot(cylinder) is not None or (self.row is not None and cylinder in self.row.cylinders)

    def looked(self, cylinder: int) -> bool:
        """Return whether the plug was ticked, or looked at with nothing found."""
        entry = self.entry(cylinder)
        return bool(entry.seen or entry.not_seen)


# ---- engine ----------------------------------------------------------------------------------------------


def with_engine(draft: Draft, engine: EngineSpec) -> Draft:
    """Return the draft for another engine; photos of cylinders it lacks become unplaced, their ticks go."""
    fits = set(range(1, engine.cylinders + 1))
    shots = tuple(shot if shot.cylinder in fits else replace(shot, cylinder=None) for shot in draft.shots)
    row = draft.row
    if row is not None and set(row.cylinders) != fits:
        row = replace(row, cylinders=tuple(sorted(fits)))
    return replace(
        draft,
        engine=engine,
        shots=shots,
        row=row,
        plugs=tuple(plug for plug in draft.plugs if plug.cylinder in fits),
        checks=tuple(check for check in draft.checks if check.cylinder is None or check.cylinder in fits),
        picked=draft.picked if draft.picked in fits else 1,
    )


# ---- photos ----------------------------------------------------------------------------------------------


def place(draft: Draft, photos: Sequence[tuple[str, str]], first: int) -> Draft:
    """Return the draft with new photos, as (digest, name) pairs in the order they were chosen.

    One photo goes to cylinder `first` and replaces what was there. Several go to `first` and the free cylinders after it, in
    order; those left over stay unplaced. A photo already in the draft is not taken twice.
    """
    new = [Shot(digest, name) for digest, name in dict(photos).items() if digest not in _digests(draft)]
    if len(new) == 1:
        kept = tuple(shot for shot in draft.shots if shot.cylinder != first)
        return replace(draft, shots=(*kept, replace(new[0], cylinder=first)))
    order = [*range(first, draft.engine.cylinders + 1), *range(1, first)]
    free = [number for number in order if draft.shot(number) is None]
    targets = [*free, *[None] * len(new)]
    return replace(draft, shots=(*draft.shots, *(replace(shot, cylinder=at) for shot, at in zip(new, targets, strict=False))))


def next_without_photo(draft: Draft) -> Draft:
    """Return the draft with the next cylinder that has no photo picked, so that plug follows plug; unchanged if all have one."""
    order = [*range(draft.picked, draft.engine.cylinders + 1), *range(1, draft.picked)]
    free = next((number for number in order if not draft.pictured(number)), None)
    return draft if free is None else replace(draft, picked=free)


def on_from_photo(before: Draft, after: Draft) -> Draft:
    """Return the draft with the plug picked that comes next after photos came in.

    The next one without a photo; once the last gap is filled, the first plug that was not looked at; else all stays as it is.
    """
    if all(after.pictured(number) for number in after.cylinders):
        filled = not all(before.pictured(number) for number in before.cylinders)
        first = next((number for number in after.cylinders if not after.looked(number)), None)
        return replace(after, picked=first) if filled and first is not None else after
    return next_without_photo(after)


def repeated(draft: Draft, digests: Iterable[str]) -> tuple[Shot, ...]:
    """Return the photos already in the draft that were chosen again."""
    again = set(digests)
    return tuple(shot for shot in draft.shots if shot.digest in again)


def move(draft: Draft, shot: Shot, cylinder: int | None) -> Draft:
    """Return the draft with one photo moved to another cylinder; a photo already there takes its old place."""

    def moved(other: Shot) -> Shot:
        if other == shot:
            return replace(other, cylinder=cylinder)
        return replace(other, cylinder=shot.cylinder) if cylinder is not None and other.cylinder == cylinder else other

    return replace(draft, shots=tuple(moved(other) for other in draft.shots))


def drop(draft: Draft, shot: Shot) -> Draft:
    """Return the draft without one photo."""
    return replace(draft, shots=tuple(other for other in draft.shots if other != shot))


def point(draft: Draft, cylinder: int, spot: Spot | None) -> Draft:
    """Return the draft with the nose of one plug pointed at; None goes back to what the finder found."""
    shot = draft.shot(cylinder)
    if shot is not None:
        from_row = draft.row is not None and shot.digest == draft.row.digest
        without = drop(draft, shot)
        return without if spot is None and from_row else replace(without, shots=(*without.shots, replace(shot, spot=spot)))
    if draft.row is None or cylinder not in draft.row.cylinders or spot is None:
        return draft
    return replace(draft, shots=(*draft.shots, Shot(draft.row.digest, draft.row.name, cylinder, spot)))


def with_row(draft: Draft, digest: str, name: str) -> Draft:
    """Return the draft with one photo of all plugs, taken to lie from 1 upwards, left to right."""
    return replace(without_row(draft), row=Row(digest, name, draft.cylinders))


def without_row(draft: Draft) -> Draft:
    """Return the draft without its row photo and the spots pointed at in it."""
    if draft.row is None:
        return draft
    gone = draft.row.digest
    return replace(draft, row=None, shots=tuple(shot for shot in draft.shots if shot.digest != gone))


def order_row(draft: Draft, cylinders: Sequence[int]) -> Draft:
    """Return the draft with the row lying in another order; spots pointed at go, for they belonged to a place in the row."""
    if draft.row is None:
        return draft
    gone = draft.row.digest
    shots = tuple(shot for shot in draft.shots if shot.digest != gone)
    return replace(draft, row=replace(draft.row, cylinders=tuple(cylinders)), shots=shots)


def swap_in_row(draft: Draft, place: int, cylinder: int) -> Draft:
    """Return the draft with `cylinder` lying at `place` (0 = leftmost) of the row, changing places with the one there."""
    if draft.row is None:
        return draft
    order = list(draft.row.cylinders)
    other = order.index(cylinder)
    order[place], order[other] = order[other], order[place]
    return order_row(draft, order)


def took(draft: Draft, token: str) -> Draft:
    """Return the draft that remembers a picture's token."""
    return replace(draft, received=(*draft.received, token)[-TOKENS_KEPT:])


def _digests(draft: Draft) -> set[str]:
    return {shot.digest for shot in draft.shots}


# ---- ticks and checks ------------------------------------------------------------------------------------


def tick(draft: Draft, cylinder: int, seen: Iterable[str], asked: Iterable[str]) -> Draft:
    """Return the draft with what is seen among the findings `asked`; what else was said about the plug stays."""
    old, ids = draft.entry(cylinder), set(asked)
    new_seen = tuple(seen)
    kept = tuple(i for i in old.seen if i not in ids and not (i == "normal" and new_seen))
    taken_back = tuple(i for i in old.seen if i in ids and i not in new_seen and i != "normal") if old.not_seen else ()
    not_seen = tuple(i for i in (*old.not_seen, *taken_back) if i not in new_seen)
    now_seen = (*kept, *new_seen) or (("normal",) if not_seen else ())
    return _with_entry(draft, replace(old, seen=now_seen, not_seen=not_seen))


def nothing_else(draft: Draft, cylinder: int, asked: Iterable[str]) -> Draft:
    """Return the draft with every finding `asked` that was not ticked marked as looked for and not there."""
    old = draft.entry(cylinder)
    absent = tuple(i for i in asked if i not in old.seen and i != "normal")
    not_seen = tuple(dict.fromkeys((*old.not_seen, *absent)))
    return _with_entry(draft, replace(old, seen=old.seen or ("normal",), not_seen=not_seen))


def show_if_all_looked(draft: Draft) -> Draft:
    """Return the draft with the photos' readings shown once every plug that has a photo was looked at."""
    pictured = [n for n in draft.cylinders if draft.pictured(n)]
    return replace(draft, shown=True) if pictured and all(draft.looked(n) for n in pictured) else draft


def on_to_the_next(draft: Draft) -> Draft:
    """Return the draft with the next plug picked that has a photo and was not looked at; with none left, the readings show."""
    if draft.shown:
        return draft
    order = [*range(draft.picked + 1, draft.engine.cylinders + 1), *range(1, draft.picked)]
    left = next((n for n in order if draft.pictured(n) and not draft.looked(n)), None)
    return show_if_all_looked(draft) if left is None else replace(draft, picked=left)


def unlook(draft: Draft, cylinder: int) -> Draft:
    """Return the draft with nothing said about one plug's looks."""
    return _with_entry(draft, replace(draft.entry(cylinder), seen=(), not_seen=()))


def gauge(draft: Draft, cylinder: int, gap_mm: float | None) -> Draft:
    """Return the draft with a gap measured by gauge, in millimetres."""
    return _with_entry(draft, replace(draft.entry(cylinder), gap_mm=gap_mm), looking=False)


def sign(draft: Draft, seen: Iterable[str], not_seen: Iterable[str]) -> Draft:
    """Return the draft with what was said about how the engine runs."""
    seen = tuple(seen)
    return replace(draft, signs_seen=seen, signs_not_seen=tuple(i for i in not_seen if i not in seen))


def record(draft: Draft, check: CheckEntry) -> Draft:
    """Return the draft with a check's result; an earlier one of the same check and cylinder is replaced."""
    return replace(draft, checks=(*without_check(draft, check.id, check.cylinder).checks, check))


def without_check(draft: Draft, check_id: str, cylinder: int | None) -> Draft:
    """Return the draft without one check's result."""
    return replace(draft, checks=tuple(c for c in draft.checks if (c.id, c.cylinder) != (check_id, cylinder)))


def told(check: CheckEntry) -> bool:
    """Return whether a check has a result; a lead's length or a book value typed ahead of it is none."""
    return check.outcome is not None or bool(check.values) or check.value is not None


def _with_entry(draft: Draft, entry: PlugEntry, *, looking: bool = True) -> Draft:
    if looking:
        entry = replace(
            entry, tick_after_photo=draft.shown and draft.pictured(entry.cylinder) and bool(entry.seen or entry.not_seen)
        )
    others = [plug for plug in draft.plugs if plug.cylinder != entry.cylinder]
    said = entry.seen or entry.not_seen or entry.gap_mm is not None
    return replace(draft, plugs=tuple(sorted([*others, entry] if said else others, key=lambda plug: plug.cylinder)))


# ---- to a case, to text and back ---------------------------------------------------------------------------


def to_case(draft: Draft) -> Case:
    """Return the case the draft describes; the photos are handed over beside it, already read."""
    checks = tuple(check for check in draft.checks if told(check))
    return Case(draft.engine, draft.plugs, draft.signs_seen, draft.signs_not_seen, checks)


def to_text(draft: Draft) -> str:
    """Return the draft as one JSON document."""
    return json.dumps(asdict(draft), separators=(",", ":"))


def from_text(text: str) -> Draft:
    """Return the draft written by `to_text`."""
    data = json.loads(text)
    engine = _tuples(data.pop("engine"))
    engine["plug"] = PlugType(**engine["plug"])
    row = data.pop("row")
    return Draft(
        engine=EngineSpec(**engine),
        plugs=tuple(PlugEntry(**_tuples(plug)) for plug in data.pop("plugs")),
        shots=tuple(Shot(**_tuples(shot)) for shot in data.pop("shots")),
        row=Row(**_tuples(row)) if row else None,
        checks=tuple(_check(check) for check in data.pop("checks")),
        **_tuples(data),
    )


def _check(data: Mapping[str, Any]) -> CheckEntry:
    by_cylinder = {key: {int(n): v for n, v in data[key].items()} for key in ("values", "lengths_m", "where")}
    return CheckEntry(**{**_tuples(data), **by_cylinder})


def _tuples(value: Any) -> Any:
    if isinstance(value, list):
        return tuple(_tuples(item) for item in value)
    return {key: _tuples(item) for key, item in value.items()} if isinstance(value, dict) else value


# ---- where the nose is -------------------------------------------------------------------------------------

HAND_BOX_SHARE = 0.12
"""Side of the box round a spot pointed at, as a share of the picture's short side, where no nose was found before."""


def box_at(spot: Spot, size: tuple[int, int], like: Box | None) -> Box:
    """Return the pixel box round a spot in a picture of `size` (w, h), as large as the nose found before, inside the picture."""
    side = round(HAND_BOX_SHARE * min(size))
    w, h = (like[2], like[3]) if like else (side, side)
    x = min(max(0, round(spot[0] * size[0] - w / 2)), max(0, size[0] - w))
    y = min(max(0, round(spot[1] * size[1] - h / 2)), max(0, size[1] - h))
    return x, y, w, h


def window_round(box: Box, size: tuple[int, int], sides: float = 4.0, shape: float = 1.5) -> tuple[float, float, float, float]:
    """Return the part of a picture round a nose box as shares x0, y0, x1, y1; `shape` is width to height, inside the picture."""
    height = min(sides * max(box[2], box[3]), size[1], size[0] / shape)
    width = shape * height
    x0 = min(max(0.0, box[0] + box[2] / 2 - width / 2), size[0] - width)
    y0 = min(max(0.0, box[1] + box[3] / 2 - height / 2), size[1] - height)
    return x0 / size[0], y0 / size[1], (x0 + width) / size[0], (y0 + height) / size[1]


def middle_of(box: Box, size: tuple[int, int]) -> Spot:
    """Return the middle of a pixel box as shares of the picture."""
    return (box[0] + box[2] / 2) / size[0], (box[1] + box[3] / 2) / size[1]
