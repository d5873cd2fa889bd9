"""Composes a scene: plugs, table, light, reference, clutter and camera from one request; whatever is not asked for is drawn.

The table's highest plane is z = 0 and z points up, except for a plug held in the hand: there the plane stands somewhere
behind it. Each concern has its own stream of random numbers, so that asking for another lamp leaves the plug as it was.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from sample_images.render import backgrounds, clutter, families, lights, placing, sheets
from sample_images.render.camera import Camera, frame
from sample_images.render.draw import Rng, chance, ratio, uniform, weighted
from sample_images.render.mesh import Mesh, MeshBuilder
from sample_images.render.placing import PlacedPlug
from sample_images.render.plug.build import build_plug
from sample_images.render.plug.spec import PlugSpec, random_spec

Array = NDArray[np.float64]

LAYOUTS = ("none", "one", "row", "scatter")
POSES = ("lie", "stand", "held")
VIEWS = ("side", "oblique", "end", "whole", "back", "any")
MOST_PLUGS = 8
ROW_COUNTS = (0.07, 0.08, 0.25, 0.12, 0.21, 0.07, 0.20)
"""Shares of rows of 2 to 8 plugs: engines of four, six and eight are the common ones."""
ROW_DETAIL = 0.62
"""Mesh density of each of several plugs, against one alone: each is smaller in the picture."""
DARK = frozenset({"carbon_fouled", "oil_fouled", "fuel_wet"})
"""Coats that make a nose as dark as its surroundings: such plugs are shown side-on more often."""
GROUND_CELLS, FINE_CELLS = 600, 1150
"""Edge of the table's grid in cells at detail 1."""


class RequestError(ValueError):
    """A scene that cannot be was asked for."""


@dataclass(frozen=True)
class Request:
    """What a scene must have; None is drawn from the seed and its family.

    Parameters
    ----------
    seed : decides everything not given.
    setting_seed : decides table, light and lens instead of `seed`: pictures of one engine share it.
    specs : the plugs, in order along the row.
    facing : side of a single plug that the lens sees in an oblique view, radians about its axis.
    view : of the first plug; "whole" shows a lying plug from hex to strap, "back" hex and
        upper insulator with the firing end out of the picture, "any" is drawn.
    references : of `sheets.KINDS`; empty for none.
    things : kinds of clutter; empty for none.
    width_mm : width of the view at the target.
    detail : mesh density, 0.5 for training, 1 for a picture 1600 px wide.
    """

    seed: int
    setting_seed: int | None = None
    layout: str | None = None
    count: int | None = None
    specs: tuple[PlugSpec, ...] | None = None
    pose: str | None = None
    view: str | None = None
    facing: float | None = None
    background: str | None = None
    light: str | None = None
    references: tuple[str, ...] | None = None
    things: tuple[str, ...] | None = None
    width_mm: float | None = None
    fov_deg: float | None = None
    aperture_mm: float | None = None
    roll_deg: float | None = None
    detail: float = 0.5
    size_px: tuple[int, int] = (512, 384)
    tidy: bool = False
    """No odd framing, no dirt in the way: for pictures that people look at."""

    def __post_init__(self) -> None:
        """Refuse the impossible in one line."""
        _known("layout", self.layout, LAYOUTS)
        _known("pose", self.pose, POSES)
        _known("view", self.view, VIEWS)
        _known("background", self.background, tuple(backgrounds.PATTERNS))
        _known("light", self.light, tuple(lights.RECIPES))
        for kind in self.references or ():
            _known("reference", kind, sheets.KINDS)
        for kind in self.things or ():
            _known("thing", kind, tuple(clutter.MAKERS))
        number = len(self.specs) if self.specs is not None else self.count
        if number is not None and not 0 <= number <= MOST_PLUGS:
            raise RequestError(f"scene with {number} plugs cannot be composed; ask for 0 to {MOST_PLUGS}")
        if self.layout == "none" and number:
            raise RequestError(f"layout 'none' holds no plug, {number} asked for; leave out the plugs or the layout")
        if self.view == "whole" and self.pose not in (None, "lie"):
            raise RequestError(f"view 'whole' shows a lying plug, pose {self.pose!r} asked for; use pose 'lie'")
        families.split_of(self.seed)


@dataclass(frozen=True, eq=False)
class Scene:
    """A composed scene, ready to render, and what it was made of."""

    request: Request
    mesh: Mesh
    camera: Camera
    light: lights.Light
    plugs: tuple[PlacedPlug, ...]
    sheets: tuple[sheets.Sheet, ...]
    kinds: dict[str, object] = field(default_factory=dict)

    @property
    def family(self) -> str:
        """Name of the family the scene was drawn from."""
        return families.family_of(self.request.seed).name


@dataclass(frozen=True, eq=False)
class _Stage:
    """Plugs and camera in place, table still bare."""

    layout: str
    pose: str
    view: str
    placed: list[PlacedPlug]
    aim: placing.Aim
    camera: Camera
    plane: placing.Plane
    hero: tuple[str, Mesh] | None


def compose(request: Request) -> Scene:
    """Return the scene a request asks for; the same request always gives the same scene."""
    family = families.family_of(request.seed)
    setting = request.seed if request.setting_seed is None else request.setting_seed
    stage = _staged(request, family, setting)
    background, table = _table(request, family, setting, stage)
    light = _light(request, family, setting, stage)
    papers = _papers(_stream(request.seed, 13), request, stage.aim, stage.plane, stage.placed)
    things = _things(_stream(request.seed, 14), request, family, stage)
    builder = MeshBuilder()
    for piece in (table, *(s.mesh for s in papers), *(m for _, m in things), *(p.mesh for p in stage.placed)):
        builder.extend(piece)
    kinds: dict[str, object] = {
        "layout": stage.layout, "pose": stage.pose, "view": stage.view, "background": background, "light": light.kind,
        "things": [k for k, _ in things], "references": [s.kind for s in papers], "width_mm": round(stage.aim.width_mm, 1),
    }  # fmt: skip
    return Scene(request, builder.join(), stage.camera, light, tuple(stage.placed), tuple(papers), kinds)


def _staged(request: Request, family: families.Family, setting: int) -> _Stage:
    main, tidy = request.seed, request.tidy
    layout, specs = _plugs_wanted(_stream(main, 1), request, family)
    pose = _pose(_stream(main, 2), request, layout)
    view = request.view or _view(_stream(main, 3), layout, pose, dark=any(DARK & set(s.readings) for s in specs))
    models = [build_plug(s, request.detail * (1.0 if len(specs) == 1 else ROW_DETAIL)) for s in specs]
    placed = placing.arranged(
        _stream(main, 4), models, specs, layout=layout, pose=pose, view=view, tidy=tidy, facing=request.facing
    )
    hero = _hero(_stream(main, 15), request, family) if not specs else None
    width = request.width_mm or _hero_width(_stream(main, 16), hero)
    aim = placing.aimed(
        _stream(main, 6), placed, layout=layout, pose=pose, view=view, width_mm=width, tidy=tidy, facing=request.facing
    )
    camera = placing.camera_for(
        _stream(main, 7),
        aim,
        fov_deg=request.fov_deg or uniform(_stream(setting, 5), *family.fov_deg),
        size_px=request.size_px,
        roll_deg=request.roll_deg,
        aperture_mm=request.aperture_mm,
    )
    plane = placing.plane_for(_stream(main, 8), aim, camera, pose if placed else "lie")
    return _Stage(layout, pose, view, placing.numbered(placed, camera, layout), aim, camera, plane, hero)


def _table(request: Request, family: families.Family, setting: int, stage: _Stage) -> tuple[str, Mesh]:
    kind = request.background or weighted(_stream(setting, 9), family.backgrounds)
    cells = int((FINE_CELLS if request.tidy else GROUND_CELLS) * request.detail)
    table = backgrounds.ground(_stream(setting, 10), kind, view_mm=stage.aim.width_mm, cells=cells)
    rng = _stream(setting, 17)
    if request.tidy:
        table = backgrounds.muted(table)
    elif chance(rng, 0.25):
        table = backgrounds.darkened(table, ratio(rng, 0.06, 0.5))
    return kind, table.placed(stage.plane.rotation, stage.plane.origin_mm)


def _light(request: Request, family: families.Family, setting: int, stage: _Stage) -> lights.Light:
    kind = request.light or weighted(_stream(setting, 11), family.lights)
    rows = 160 if request.detail < 0.8 else 320
    return lights.make_light(_stream(setting, 12), kind, -stage.camera.forward, stage.plane.up, rows=rows)


def _known(what: str, value: str | None, names: tuple[str, ...]) -> None:
    if value is not None and value not in names:
        raise RequestError(f"{what} {value!r} is not known; use one of: {', '.join(names)}")


def _stream(seed: int, concern: int) -> Rng:
    return np.random.default_rng([seed, concern])


def _plugs_wanted(rng: Rng, request: Request, family: families.Family) -> tuple[str, tuple[PlugSpec, ...]]:
    layout = request.layout or weighted(rng, {"one": 0.50, "row": 0.27, "scatter": 0.08, "none": 0.15})
    if request.specs is not None:
        layout = request.layout or ("none", "one", "row")[min(len(request.specs), 2)]
        return layout, request.specs
    if request.layout is None and request.count is not None:
        layout = ("none", "one", "row")[min(request.count, 2)]
    in_row = int(rng.choice(np.arange(2, MOST_PLUGS + 1), p=ROW_COUNTS))
    count = {"none": 0, "one": 1, "row": in_row, "scatter": int(rng.integers(2, 6))}[layout]
    count = count if request.count is None else request.count
    if layout == "row" and count and chance(rng, 0.75):
        return layout, _engine_row(rng, count, family)
    return layout, tuple(random_spec(rng, family=family.plug_family) for _ in range(count))


def _engine_row(rng: Rng, count: int, family: families.Family) -> tuple[PlugSpec, ...]:
    """Plugs of one make: one shape, each with its own wear and coat; half the rows share the coat but for one plug."""
    shape = random_spec(rng, family=family.plug_family)
    others = [random_spec(rng, family=family.plug_family, thread=shape.thread) for _ in range(count)]
    odd_one = int(rng.integers(count)) if chance(rng, 0.5) else -1
    own = [k == odd_one or odd_one < 0 for k in range(count)]
    return tuple(
        replace(shape, seed=o.seed, wear=o.wear, readings=o.readings, gap_mm=o.gap_mm) if mine else replace(shape, seed=o.seed)
        for o, mine in zip(others, own, strict=True)
    )


def _pose(rng: Rng, request: Request, layout: str) -> str:
    if request.pose:
        return request.pose
    if request.view == "whole":
        return "lie"
    share = {"one": (0.48, 0.20, 0.32), "row": (0.76, 0.24, 0.0), "scatter": (0.85, 0.15, 0.0), "none": (0.8, 0.0, 0.2)}[layout]
    return weighted(rng, dict(zip(POSES, share, strict=True)))


def _view(rng: Rng, layout: str, pose: str, *, dark: bool) -> str:
    if layout in ("row", "scatter", "none"):
        return "any"
    if dark and pose != "stand" and chance(rng, 0.45):
        return "side"
    if pose == "lie":
        return weighted(rng, {"side": 0.38, "oblique": 0.30, "end": 0.08, "whole": 0.16, "any": 0.08})
    if pose == "stand":
        return weighted(rng, {"side": 0.2, "oblique": 0.35, "end": 0.4, "any": 0.05})
    return weighted(rng, {"side": 0.36, "oblique": 0.26, "end": 0.28, "any": 0.10})


def _hero(rng: Rng, request: Request, family: families.Family) -> tuple[str, Mesh] | None:
    """The thing in the middle of a picture without a plug; None where the table is asked to be bare."""
    if request.things is not None and not request.things:
        return None
    kind = request.things[0] if request.things else weighted(rng, family.clutter)
    return kind, clutter.laid(rng, kind)


def _hero_width(rng: Rng, hero: tuple[str, Mesh] | None) -> float | None:
    if hero is None or chance(rng, 0.15):
        return None
    return float(np.ptp(hero[1].vertices, axis=0).max()) * ratio(rng, 0.9, 3.5)


def _papers(rng: Rng, request: Request, aim: placing.Aim, plane: placing.Plane, placed: list[PlacedPlug]) -> list[sheets.Sheet]:
    kinds = request.references
    if kinds is None:
        kinds = {
            "none": (), "paper": ("paper",), "card": ("card",), "both": ("paper", "card"), "chart": ("chart",),
        }[weighted(rng, {"none": 0.52, "paper": 0.24, "card": 0.10, "both": 0.09, "chart": 0.05})]  # fmt: skip
    made: list[sheets.Sheet] = []
    taken: list[tuple[Array, float]] = []
    for k, kind in enumerate(kinds):
        large = 0.26 if kind == "chart" else 0.40
        scale = aim.width_mm * (uniform(rng, 0.6 * large, large) if request.tidy else ratio(rng, 0.12, 1.6))
        shape = (1.45, 1.0) if kind == "chart" else (ratio(rng, 0.6, 1.7), 1.0)
        sheet = sheets.make_sheet(rng, kind, scale * shape[0], scale * shape[1], clean=request.tidy)
        under = kind == "paper" and not request.tidy and chance(rng, 0.3)
        reach = 0.5 * scale * max(shape)
        spot = aim.on_plane(plane) if under else placing.spot_beside(rng, aim, plane, placed, reach, taken, tidy=request.tidy)
        taken.append((spot, reach))
        turn = uniform(rng, -0.35, 0.35) if request.tidy else uniform(rng, 0, 6.28)
        local = frame(np.array([0.0, 0, 1]), turn + plane.turn)
        made.append(sheet.placed(plane.rotation @ local, spot + plane.up * 0.1 * k))
    return made


def _things(rng: Rng, request: Request, family: families.Family, stage: _Stage) -> list[tuple[str, Mesh]]:
    placed, aim, plane = stage.placed, stage.aim, stage.plane
    kinds = request.things
    if kinds is None:
        most = (14 if chance(rng, 0.15) else 7) if placed else 9
        count = 0 if placed and chance(rng, 0.35) else int(rng.integers(1, most))
        kinds = tuple(weighted(rng, family.clutter) for _ in range(count))
    out: list[tuple[str, Mesh]] = []
    if stage.hero is not None:
        out.append((stage.hero[0], stage.hero[1].placed(plane.rotation, aim.on_plane(plane))))
    room_mm = float((aim.focus_mm - plane.origin_mm) @ plane.up) - 8.0 if plane.is_behind and request.tidy else np.inf
    for kind in kinds if placed else kinds[1:]:
        thing = clutter.laid(rng, kind)
        if float(np.ptp(thing.vertices[:, 2])) > room_mm:  # would stand between a held plug and the lens
            continue
        reach = float(np.ptp(thing.vertices[:, :2], axis=0).max()) / 2
        spot = placing.free_spot(rng, aim, plane, placed, stage.camera, reach, tidy=request.tidy)
        if spot is not None:
            out.append((kind, thing.placed(plane.rotation, spot)))
    if placed and plane.is_behind and (request.things is None and chance(rng, 0.45)):
        out += [
            ("finger", placing.gripping(rng, clutter.make_clutter(rng, "finger"), placed[0]))
            for _ in range(int(rng.integers(1, 4)))
        ]
    return out
