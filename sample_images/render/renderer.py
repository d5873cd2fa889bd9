"""Path tracing with mitsuba: one mesh, one surface, one environment, so that one compiled kernel serves every scene.

Everything that differs between scenes is data (vertex attributes, the environment map, the lens), made opaque to the
compiler. A surface is `principled` with its parameters read from the vertices, see `mesh.MATERIAL`.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sample_images.render.camera import Camera
from sample_images.render.mesh import MATERIAL, Mesh

VARIANTS = ("cuda_ad_rgb", "llvm_ad_rgb", "scalar_rgb")
LLVM_LIBRARIES = tuple(f"/usr/lib/x86_64-linux-gnu/{name}" for name in ("libLLVM.so.19.1", "libLLVM.so.20.1", "libLLVM.so.18.1"))
"""The compiler of the CPU variant. LLVM 15 and older lack an instruction it needs (fminimum) and abort the process."""
MAX_DEPTH = 6
"""Light bounces followed: enough for a nose lit by way of the bore."""

MOST_PATHS = 32_000_000
"""Light paths followed at once: a larger picture is rendered in passes."""

Floats = NDArray[np.float32]


class RendererMissingError(RuntimeError):
    """Mitsuba or a usable variant of it is not installed."""


class RenderFailedError(RuntimeError):
    """A picture could not be rendered, twice."""


@dataclass(frozen=True, eq=False)
class Labels:
    """What each pixel's centre ray meets: `part` and `plug`, both uint8 (h, w), and `depth_mm` (0 = nothing)."""

    part: NDArray[np.uint8]
    plug: NDArray[np.uint8]
    depth_mm: Floats


def mitsuba(variant: str | None = None) -> Any:
    """Return the mitsuba module, set to `variant`, else to the one in use, else to the first of `VARIANTS` that works."""
    for library in filter(os.path.exists, LLVM_LIBRARIES):
        os.environ.setdefault("DRJIT_LIBLLVM_PATH", library)
    try:
        import mitsuba as mi
    except ImportError as error:
        raise RendererMissingError("no picture rendered: the package mitsuba is not installed; pip install mitsuba") from error
    if variant is None and mi.variant() is not None:
        return mi
    for name in (variant,) if variant else VARIANTS:
        if name in mi.variants() and _runs_here(name):
            try:
                mi.set_variant(name)
            except ImportError:  # listed, but trimmed from this installation
                continue
            return mi
    raise RendererMissingError(
        f"no picture rendered: none of {variant or ', '.join(VARIANTS)} runs here; mitsuba has {mi.variants()}"
    )


def _runs_here(variant: str) -> bool:
    import drjit

    if variant.startswith("scalar"):
        return True
    if variant.startswith("llvm"):
        drjit.set_thread_count(int(os.environ.get("OMP_NUM_THREADS", "0")) or os.cpu_count() or 1)
        return "DRJIT_LIBLLVM_PATH" in os.environ and bool(drjit.has_backend(drjit.JitBackend.LLVM))
    return bool(drjit.has_backend(drjit.JitBackend.CUDA))


def render(
    mesh: Mesh, environment: Floats, camera: Camera, *, spp: int, seed: int = 0, denoise: bool = False
) -> tuple[Floats, Labels]:
    """Return `picture` and `labels` of one scene, loading it once."""
    scene, lens, pinhole = _load(mesh, environment, camera, pixel_filter="box" if denoise else "gaussian")
    return _traced(scene, lens, spp, seed, denoise), _labelled(scene, pinhole, mesh, seed)


def picture(mesh: Mesh, environment: Floats, camera: Camera, *, spp: int, seed: int = 0, denoise: bool = False) -> Floats:
    """Return the linear sRGB picture of shape (h, w, 3), float32.

    Parameters
    ----------
    environment : radiance by direction, (h, w, 3), see `lights.directions`.
    spp : light paths a pixel.
    denoise : pass the picture through OpenImageDenoise, guided by albedo and normals.

    Raises
    ------
    RenderFailedError : if more than one pixel in a thousand is not finite, twice.
    """
    scene, lens, _ = _load(mesh, environment, camera, pixel_filter="box" if denoise else "gaussian")
    return _traced(scene, lens, spp, seed, denoise)


def labels(mesh: Mesh, camera: Camera, environment: Floats | None = None, *, seed: int = 0) -> Labels:
    """Return what stands in each pixel, from one ray through each pixel of the pinhole picture; light does not matter."""
    sky = np.ones((4, 8, 3), np.float32) if environment is None else environment
    scene, _, pinhole = _load(mesh, sky, camera)
    return _labelled(scene, pinhole, mesh, seed)


def _traced(scene: Any, lens: Any, spp: int, seed: int, denoise: bool) -> Floats:
    for attempt in range(2):
        image = _in_passes(scene, lens, _integrator(denoise), spp, seed + 7919 * attempt)
        if np.isfinite(image[..., :3]).mean() > 0.999:
            break
    else:
        raise RenderFailedError(f"picture of seed {seed} not rendered: more than 0.1 % of its pixels are not finite, twice")
    image = np.nan_to_num(image, posinf=0.0, neginf=0.0).astype(np.float32)
    if denoise:
        return denoised(image[..., :3], image[..., -6:-3], image[..., -3:])
    return np.ascontiguousarray(image[..., :3])


def _labelled(scene: Any, pinhole: Any, mesh: Mesh, seed: int) -> Labels:
    image = np.array(mitsuba().render(scene, sensor=pinhole, integrator=_labeller(), spp=1, seed=seed))
    face = np.clip(np.rint(np.nan_to_num(image[..., -2])).astype(np.int64), 0, len(mesh.faces) - 1)
    depth = np.nan_to_num(image[..., -1])
    hit = depth > 0
    return Labels(np.where(hit, mesh.part[face], 0).astype(np.uint8), np.where(hit, mesh.plug[face], 0).astype(np.uint8), depth)


def denoised(colour: Floats, albedo: Floats, normal: Floats) -> Floats:
    """Return `colour` (h, w, 3) after OpenImageDenoise on the CPU; unchanged where pyoidn is not installed."""
    try:
        import pyoidn
    except ImportError:
        return colour
    guides = {"albedo": np.clip(albedo, 0, 1), "normal": normal}
    arrays = {name: np.ascontiguousarray(a, np.float32) for name, a in guides.items()}
    out = pyoidn.denoise(np.ascontiguousarray(colour, np.float32), hdr=True, **arrays)
    return np.maximum(np.asarray(out, np.float32), 0.0)


@cache
def _integrator(guides: bool) -> Any:
    path = {"type": "path", "max_depth": MAX_DEPTH, "rr_depth": 4}
    if not guides:
        return mitsuba().load_dict(path)
    return mitsuba().load_dict({"type": "aov", "aovs": "al:albedo,no:sh_normal", "img": path})


@cache
def _labeller() -> Any:
    return mitsuba().load_dict({"type": "aov", "aovs": "face:prim_index,depth:depth"})


@cache
def _surface() -> Any:
    read = {name: {"type": "mesh_attribute", "name": f"vertex_{name}"} for name in ("colour", *MATERIAL)}
    bsdf = {"type": "principled", "base_color": read.pop("colour"), "specular": 0.5, "clearcoat_gloss": 0.9, **read}
    return mitsuba().load_dict({"type": "twosided", "bsdf": bsdf})


def _in_passes(scene: Any, sensor: Any, integrator: Any, spp: int, seed: int) -> Floats:
    """Render in passes that fit the device's memory and return their mean."""
    mi = mitsuba()
    width, height = sensor.film().size()
    passes = max(1, -(-int(width) * int(height) * spp // MOST_PATHS))
    total: Any = 0.0
    for k in range(passes):
        total = total + np.array(
            mi.render(scene, sensor=sensor, integrator=integrator, spp=-(-spp // passes), seed=seed + 104729 * k)
        )
    return np.asarray(total / passes, np.float32)


def _load(mesh: Mesh, environment: Floats, camera: Camera, pixel_filter: str = "box") -> tuple[Any, Any, Any]:
    mi = mitsuba()
    sky = {"type": "envmap", "bitmap": mi.Bitmap(np.ascontiguousarray(environment, np.float32))}
    scene = mi.load_dict({"type": "scene", "mesh": _shape(mesh), "sky": sky})
    lens, pinhole = _sensors(camera, pixel_filter)
    _hide_values(scene, lens, pinhole)
    return scene, lens, pinhole


def _shape(mesh: Mesh) -> Any:
    mi = mitsuba()
    properties = mi.Properties()
    properties["bsdf"] = _surface()
    shape = mi.Mesh("scene", len(mesh.vertices), len(mesh.faces), has_vertex_normals=True, props=properties)
    shape.add_attribute("vertex_colour", 3, _furnace_true(mesh).ravel())
    for k, name in enumerate(MATERIAL):
        shape.add_attribute(f"vertex_{name}", 1, np.ascontiguousarray(mesh.material[:, k]))
    values = mi.traverse(shape)
    values["vertex_positions"] = mesh.vertices.ravel()
    values["faces"] = mesh.faces.ravel()
    values.update()
    return shape


def _furnace_true(mesh: Mesh) -> Floats:
    """Return vertex colours set so that white light from all sides comes back as the stated reflectance.

    The principled surface gives back 0.98-1.03 of its base colour, and less with flatness; the lines below were fitted
    to renders of a ball in white light (roughness 0.2-1, flatness 0-1; within 0.4 %). Metals are left alone.
    """
    roughness, metallic, flatness = (mesh.material[:, MATERIAL.index(n)] for n in ("roughness", "metallic", "flatness"))
    share = (1 - flatness) * (0.981 + 0.0505 * roughness) + flatness * (0.846 + 0.0115 * roughness)
    share = metallic + (1 - metallic) * share
    return np.ascontiguousarray(np.clip(mesh.colour / share[:, None], 0, 0.98), np.float32)


def _sensors(camera: Camera, pixel_filter: str) -> tuple[Any, Any]:
    """The lens of the picture and the pinhole of the labels; the denoiser wants pixels that share no light: a box filter."""
    mi = mitsuba()
    place = mi.ScalarTransform4f().look_at(
        origin=camera.origin_mm.tolist(), target=camera.target_mm.tolist(), up=(-camera.axes()[1]).tolist()
    )
    common = {"to_world": place, "fov": camera.fov_deg, "near_clip": 0.5, "far_clip": 1e4, "sampler": {"type": "independent"}}
    film = {"type": "hdrfilm", "width": camera.width_px, "height": camera.height_px, "pixel_format": "rgb"}
    lens = {"aperture_radius": max(camera.aperture_mm, 1e-4), "focus_distance": max(camera.focus_mm, 1.0)}
    soft, hard = film | {"rfilter": {"type": pixel_filter}}, film | {"rfilter": {"type": "box"}}
    return (
        mi.load_dict({"type": "thinlens", "film": soft, **lens, **common}),
        mi.load_dict({"type": "perspective", "film": hard, **common}),
    )


def _hide_values(*objects: Any) -> None:
    """Keep the compiler from baking numbers into the kernel: a changed lens would otherwise compile anew."""
    if mitsuba().variant().startswith("scalar"):
        return
    import drjit

    for thing in objects:
        values = mitsuba().traverse(thing)
        for key in values.keys():  # noqa: SIM118 - not a dict
            drjit.make_opaque(values[key])
