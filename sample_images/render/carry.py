"""Trim the renderer's wheels to what one GPU run needs and pack them, for a machine without internet.

    python -m sample_images.render.carry --out .whl

writes ``.whl/render.tar.xz``: mitsuba with its ``cuda_ad_rgb`` variant and the plugins `renderer.py` names,
drjit, and OpenImageDenoise for the CPU with its HDR filters only. On the other machine (Python 3.12):

    mkdir -p /tmp/site && tar -xJf .whl/render.tar.xz -C /tmp/site && export PYTHONPATH=/tmp/site

The wheels come from PyPI; nothing in them is changed but for weights of filters that are never called, which are blanked.
"""

from __future__ import annotations

import argparse
import shutil
import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

WHEELS = ("mitsuba==3.9.1", "drjit==1.5.0", "pyoidn==2.5.1.0", "cffi", "pycparser")
PLATFORMS = ("manylinux_2_28_x86_64", "manylinux_2_27_x86_64", "manylinux_2_17_x86_64", "manylinux2014_x86_64")
VARIANT = "cuda_ad_rgb"
PLUGINS = frozenset(
    [
        "path",
        "aov",
        "principled",
        "twosided",
        "diffuse",
        "envmap",
        "area",
        "thinlens",
        "perspective",
        "hdrfilm",
        "independent",
        "gaussian",
        "box",
        "tent",
        "merge",
        "mesh_attribute",
        "ply",
        "bitmap",
        "srgb",
        "uniform",
        "d65",
        "constant",
        "regular",
        "irregular",
        "rawconstant",
    ]
)
DENOISER_FILTERS = ("rt_hdr", "rt_hdr_alb", "rt_hdr_alb_nrm", "rt_hdr_calb_cnrm")
DENOISER_LIBRARIES = frozenset(
    [
        "libOpenImageDenoise.so",
        "libOpenImageDenoise.so.2",
        "libOpenImageDenoise.so.2.5.1",
        "libOpenImageDenoise_core.so.2.5.1",
        "libOpenImageDenoise_device_cpu.so.2.5.1",
        "libtbb.so.12",
    ]
)


def download(folder: Path) -> None:
    """Fetch the wheels for Python 3.12 on x86-64 Linux into `folder`."""
    command = [sys.executable, "-m", "pip", "download", "-q", "--no-deps", "--only-binary=:all:", "--python-version", "3.12"]
    command += ["--implementation", "cp", "-d", str(folder), *WHEELS]
    for platform in PLATFORMS:
        command += ["--platform", platform]
    subprocess.run(command, check=True)


def is_needed(name: str) -> bool:
    """Say whether a file of the wheels is used by a `cuda_ad_rgb` render."""
    path = Path(name)
    if path.suffix in {".pyi", ".h", ".pat", ".a"} or {"cmake", "include", "bin", "data"} & set(path.parts):
        return False
    if path.parts[:2] == ("mitsuba", "plugins"):
        return path.stem in PLUGINS
    if path.parts[0] == "mitsuba" and path.name.startswith(("llvm_", "cuda_", "scalar_")):
        return path.name.startswith(VARIANT + ".")
    if path.parts[:3] == ("pyoidn", "oidn", "lib"):
        return path.name in DENOISER_LIBRARIES
    return True


def blank_unused_filters(core: Path) -> None:
    """Overwrite with zeros, in the denoiser's core library, the weights of every filter but `DENOISER_FILTERS`."""
    kept = {f"_ZN4oidn5blobs7weights{len(name)}{name}E" for name in DENOISER_FILTERS}
    table = subprocess.run(["nm", "-DS", "--defined-only", str(core)], check=True, capture_output=True, text=True).stdout
    data = bytearray(core.read_bytes())
    for line in table.splitlines():
        fields = line.split()
        if len(fields) == 4 and "blobs7weights" in fields[3] and fields[3] not in kept:
            start, size = int(fields[0], 16), int(fields[1], 16)
            data[start : start + size] = bytes(size)
    core.write_bytes(data)


def unpack(wheels: Path, tree: Path) -> None:
    """Unpack the needed files of all wheels in `wheels` into `tree`."""
    for wheel in sorted(wheels.glob("*.whl")):
        with zipfile.ZipFile(wheel) as archive:
            archive.extractall(tree, [n for n in archive.namelist() if not n.endswith("/") and is_needed(n)])
    library = tree / "pyoidn/oidn/lib"
    shutil.copy(library / "libOpenImageDenoise.so.2.5.1", library / "libOpenImageDenoise.so")
    blank_unused_filters(library / "libOpenImageDenoise_core.so.2.5.1")


def main(arguments: list[str] | None = None) -> int:
    """Pack the trimmed tree as ``render.tar.xz`` and say its size."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, default=Path(".whl"))
    out = parser.parse_args(arguments).out
    out.mkdir(parents=True, exist_ok=True)
    target = out / "render.tar.xz"
    with tempfile.TemporaryDirectory() as scratch:
        wheels, tree = Path(scratch, "wheels"), Path(scratch, "tree")
        download(wheels)
        unpack(wheels, tree)
        subprocess.run(["tar", "-C", str(tree), "-I", "xz -6 -T2", "-cf", str(target), "."], check=True)
    print(f"{target}: {target.stat().st_size / 2**20:.1f} MiB")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
