"""What one plug is: its shape, wear and readings, and which plugs cannot be."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from importlib import resources
from types import MappingProxyType

FIRING_END = (
    *("normal", "carbon_fouled", "oil_fouled", "fuel_wet", "coolant_wet", "coolant_crust", "additive_stain"),
    *("loose_powder", "ash_crust", "glazed", "lead_fouled", "lean_white", "overheated", "preignition_melt"),
    *("detonation_damage", "metal_specks", "worn", "gap_bridged", "splash_fouled", "nose_cracked"),
    *("nose_piece_missing", "struck"),
)
OUTSIDE = (
    *("corona_stain", "flashover_track", "oil_in_well", "water_in_well", "gas_past_seat", "gas_past_insulator"),
    *("body_cracked", "thread_damaged"),
)
READINGS = (*FIRING_END, *OUTSIDE)
"""Readings the generator can draw; the rest of the trade's readings cannot be seen on a plug alone."""

SEATS = ("gasket", "taper")
CENTRES = ("nickel", "fine_wire")
STRAPS = ("j", "short", "multi", "surface")
FAMILIES = ("train", "test")
GAP_LIMITS_MM = (0.3, 2.2)
LOWEST_TIP_MM = {"j": 0.1, "short": 0.1, "multi": 0.9, "surface": -3.0}
"""Lowest centre tip above the shell's end face, by strap: a strap cannot lie in the rim."""

SHUT_GAP_MM = 0.05
"""Smallest gap of a struck plug: hammered shut, yet not one body."""


class SpecError(ValueError):
    """A plug that cannot exist was asked for."""


@dataclass(frozen=True)
class ThreadSize:
    """Thread and the hexes and reaches that go with it, mm."""

    major_mm: float
    pitch_mm: float
    hex_af_mm: tuple[float, ...]
    gasket_reach_mm: tuple[float, ...]
    taper_reach_mm: tuple[float, ...]

    @property
    def minor_mm(self) -> float:
        """Root diameter of the external thread, ISO 68-1 basic profile with a rounded root (0.6134 P deep)."""
        return self.major_mm - 2 * 0.6134 * self.pitch_mm


@lru_cache(maxsize=1)
def thread_sizes() -> Mapping[str, ThreadSize]:
    """Return the known threads by name, from `sizes.toml`."""
    text = resources.files(__package__).joinpath("sizes.toml").read_text(encoding="utf-8")
    rows = tomllib.loads(text)["thread"]
    made = {name: ThreadSize(**{k: tuple(v) if isinstance(v, list) else v for k, v in row.items()}) for name, row in rows.items()}
    return MappingProxyType(made)


@dataclass(frozen=True)
class Nose:
    """Ceramic nose. Radii and lengths in mm; `slope` is the growth of the radius per mm of depth."""

    tip_radius_mm: float = 2.4
    protrusion_mm: float = 1.5
    depth_mm: float = 9.0
    slope: float = 0.07
    edge_radius_mm: float = 0.35
    shoulder_mm: float = 0.0
    shoulder_at_mm: float = 4.0
    style: str = "cone"


@dataclass(frozen=True)
class Centre:
    """Centre electrode: diameter at the tip, length out of the nose, edge radius, all mm."""

    kind: str = "nickel"
    diameter_mm: float = 2.5
    stand_out_mm: float = 1.2
    edge_radius_mm: float = 0.15
    style: str = "flat"


@dataclass(frozen=True)
class Strap:
    """Ground strap: section, bend radius, how far it reaches past the axis (mm), taper of its end, direction."""

    kind: str = "j"
    width_mm: float = 2.6
    thickness_mm: float = 1.35
    bend_mm: float = 1.6
    reach_past_mm: float = 1.1
    end_width_share: float = 1.0
    count: int = 1
    angle: float = 0.0
    slant: float = 0.0
    pad: bool = False
    style: str = "bar"


@dataclass(frozen=True)
class Body:
    """Seat, hex and upper insulator: lengths in mm."""

    skirt_mm: float = 5.0
    hex_height_mm: float = 8.0
    upper_length_mm: float = 24.0
    upper_radius_mm: float = 5.2
    ribs: int = 5
    hex_points: int = 6
    terminal: str = "nut"
    lead_in_mm: float = 1.0
    run_out_mm: float = 0.8
    rim_width_mm: float = 1.5
    chamfer_mm: float = 0.25


@dataclass(frozen=True)
class Odd:
    """Deliberate strangeness of a training plug: colours (linear RGB) that no engine leaves behind.

    `coat` covers everything when `coat_share` is near 1; `base` replaces the colour of ceramic, shell and electrodes.
    """

    coat: tuple[float, float, float] = (0.3, 0.3, 0.3)
    coat_share: float = 0.0
    coat_roughness: float = 0.8
    coat_gloss: float = 0.0
    base: tuple[tuple[float, float, float], ...] = ()


@dataclass(frozen=True)
class PlugSpec:
    """One plug. Readings map an id of `READINGS` to an amount, 0 = absent, 1 = as strong as it gets.

    `gap_mm` is the clearance a wire gauge finds, wear included; a bridged gap keeps its metal clearance here.
    """

    thread: str = "M14x1.25"
    reach_mm: float = 19.0
    seat: str = "gasket"
    hex_af_mm: float = 16.0
    nose: Nose = field(default_factory=Nose)
    centre: Centre = field(default_factory=Centre)
    strap: Strap = field(default_factory=Strap)
    body: Body = field(default_factory=Body)
    gap_mm: float = 0.8
    wear: float = 0.2
    readings: Mapping[str, float] = field(default_factory=dict)
    odd: Odd | None = None
    seed: int = 0
    family: str = "train"

    def __post_init__(self) -> None:
        """Refuse what cannot exist, in one line that says what and why."""
        _one_of("thread", self.thread, tuple(thread_sizes()))
        _one_of("seat", self.seat, SEATS)
        _one_of("centre kind", self.centre.kind, CENTRES)
        _one_of("strap kind", self.strap.kind, STRAPS)
        _one_of("family", self.family, FAMILIES)
        _within("reach_mm", self.reach_mm, 6.0, 40.0)
        _within("hex_af_mm", self.hex_af_mm, 12.0, 30.0)
        _within("gap_mm", self.gap_mm, SHUT_GAP_MM if self.amount("struck") else GAP_LIMITS_MM[0], GAP_LIMITS_MM[1])
        _within("wear", self.wear, 0.0, 1.0)
        for reading, amount in self.readings.items():
            _one_of("reading", reading, READINGS)
            _within(f"amount of {reading}", amount, 0.0, 1.0)
        self._refuse_misfits()

    def _refuse_misfits(self) -> None:
        bore = self.bore_radius_mm
        if self.nose.tip_radius_mm + 0.2 > bore:
            raise SpecError(
                f"nose tip radius {self.nose.tip_radius_mm} mm does not fit the bore of {self.thread} ({bore:.2f} mm)"
            )
        if self.centre.diameter_mm / 2 + 0.15 > self.nose.tip_radius_mm:
            raise SpecError(f"centre of {self.centre.diameter_mm} mm does not fit a nose of {self.nose.tip_radius_mm} mm radius")

        tip = self.nose.protrusion_mm + self.centre.stand_out_mm
        if tip < LOWEST_TIP_MM[self.strap.kind] - 1e-6:
            lowest = LOWEST_TIP_MM[self.strap.kind]
            raise SpecError(f"centre tip at {tip:.2f} mm leaves no room for a {self.strap.kind} strap, lowest {lowest} mm")

    @property
    def size(self) -> ThreadSize:
        """The thread's sizes."""
        return thread_sizes()[self.thread]

    @property
    def rim_outer_mm(self) -> float:
        """Outer radius of the shell's end face before its chamfer."""
        return self.size.minor_mm / 2 - 0.08

    @property
    def bore_radius_mm(self) -> float:
        """Radius of the shell's bore at the firing end."""
        return self.rim_outer_mm - self.body.rim_width_mm

    @property
    def open_side(self) -> float:
        """Angle (radians about z) opposite the strap: where a nose is best seen, and where its damage is put."""
        return self.strap.angle + math.pi

    def amount(self, reading: str) -> float:
        """Return the amount of a reading, 0 when it is not listed."""
        return float(self.readings.get(reading, 0.0))


def _one_of(what: str, value: str, known: tuple[str, ...]) -> None:
    if value not in known:
        raise SpecError(f"{what} {value!r} is not known; use one of: {', '.join(known)}")


def _within(what: str, value: float, low: float, high: float) -> None:
    if not low <= value <= high:
        raise SpecError(f"{what} = {value} is outside {low} to {high}")
