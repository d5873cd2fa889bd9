"""Records of one visit: the engine, its plugs, what was seen and which checks were done."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class PlugType:
    """The plug the engine takes; None = not told."""

    thread: str | None = None
    seat: str | None = None
    electrode: str | None = None
    gap_mm: float | None = None
    distance_km: float | None = None


@dataclass(frozen=True)
class EngineSpec:
    """The engine as the case file gives it; what is derived from it lives in `plugread.engine.Engine`."""

    layout: str
    cylinders: int
    firing_order: tuple[int, ...]
    induction: str
    ignition: str
    closed_loop: bool
    head: str | None = None
    banks: tuple[tuple[int, ...], ...] | None = None
    neighbours: tuple[tuple[int, int], ...] | None = None
    feeds: tuple[tuple[int, ...], ...] | None = None
    coils: tuple[tuple[int, ...], ...] | None = None
    plug: PlugType = PlugType()


@dataclass(frozen=True)
class PlugEntry:
    """What the user gave for one cylinder: photo, ticks, gauge."""

    cylinder: int
    photo: str | None = None
    seen: tuple[str, ...] = ()
    not_seen: tuple[str, ...] = ()
    gap_mm: float | None = None
    tick_after_photo: bool = False
    """The ticks were given after the photo's own reading was shown (they then count for less)."""


@dataclass(frozen=True)
class CheckEntry:
    """One check the user has done; measured values by cylinder, or one for the engine."""

    id: str
    cylinder: int | None = None
    outcome: str | None = None
    unit: str | None = None
    values: Mapping[int, float] = field(default_factory=dict)
    value: float | None = None
    spec: float | tuple[float, float] | None = None
    lengths_m: Mapping[int, float] = field(default_factory=dict)
    where: Mapping[int, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Lineup:
    """One photo of all plugs in a row; `cylinders` from left to right as they lie."""

    photo: str
    cylinders: tuple[int, ...]


@dataclass(frozen=True)
class Case:
    """Everything known about one visit."""

    engine: EngineSpec
    plugs: tuple[PlugEntry, ...] = ()
    signs_seen: tuple[str, ...] = ()
    signs_not_seen: tuple[str, ...] = ()
    checks: tuple[CheckEntry, ...] = ()
    lineup: Lineup | None = None
    base_dir: str = "."
    title: str = ""
