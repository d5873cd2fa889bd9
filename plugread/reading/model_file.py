"""A taught model on disk: a folder with `card.json` and the arrays it names by their own hash.

The card is written last and swapped in at one stroke, so a folder always holds either the old model or the new one, whole.
Nothing in a model file is ever executed: arrays of plain numbers, sizes checked before anything is unpacked.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import os
import re
import zipfile
import zlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from plugread.errors import ModelError
from plugread.reading.features import NAMES, VERSION
from plugread.reading.model import Model

Floats = NDArray[np.float64]

SCHEMA = 1
CARD = "card.json"
_CARD_BYTES, _ARRAY_BYTES = 2_000_000, 4_000_000
"""Largest card and largest unpacked array file; a model of 22 readings takes about a tenth of it."""
_AGAIN = "teach it again with `plugread train`"
_TRIAL = ".trial"


def array_file(sha256: str) -> str:
    """Return the name of the array file that has this hash."""
    return f"arrays-{sha256[:16]}.npz"


# ---- loading ---------------------------------------------------------------------------------------------


def load_model(folder: str | Path, known: tuple[str, ...]) -> Model:
    """Return the model in a folder (or of a card).

    Parameters
    ----------
    known : the reading ids this program has; a model of others is refused.

    Raises
    ------
    ModelError
        one line: the model is missing, damaged, foreign, or newer than this program.
    """
    card_path = Path(folder)
    card_path = card_path / CARD if card_path.is_dir() else card_path
    card = _card(card_path)
    readings = _readings(card, known, card_path)
    packed = _read(card_path.with_name(array_file(str(card["sha256"]))), _ARRAY_BYTES)
    if hashlib.sha256(packed).hexdigest() != card["sha256"]:
        raise ModelError(f"{card_path.parent}: the arrays are not those of the card", _AGAIN)
    arrays = _arrays(packed, _shapes(len(readings)), card_path.parent)
    _check(arrays, card_path.parent)
    farthest, doubt = float(arrays.pop("farthest")), float(arrays.pop("doubt"))
    return Model(readings, **arrays, farthest=farthest, doubt=doubt, card=card)


def _shapes(k: int) -> dict[str, tuple[int, ...]]:
    n = len(NAMES)
    features = dict.fromkeys(("mean", "scale", "used"), (n,))
    readings = dict.fromkeys(("bias", "share"), (k,))
    numbers = dict.fromkeys(("farthest", "doubt"), ())
    return {**features, **readings, **numbers, "weights": (k, n), "centres": (k, n), "precision": (n, n)}


def _read(path: Path, most: int) -> bytes:
    try:
        with path.open("rb") as file:
            content = file.read(most + 1)
    except OSError as problem:
        raise ModelError(f"no model at {path}: {problem.strerror or problem}", _AGAIN) from problem
    if len(content) > most:
        raise ModelError(f"{path} is larger than {most} bytes", "this is not a model of plugread")
    return content


def _card(path: Path) -> dict[str, Any]:
    try:
        card = json.loads(_read(path, _CARD_BYTES))
    except (ValueError, RecursionError) as problem:
        raise ModelError(f"{path} is no JSON: {problem}", _AGAIN) from problem
    missing = [] if isinstance(card, dict) else ["everything"]
    missing = missing or [name for name in ("schema", "features", "readings", "sha256") if name not in card]
    if missing:
        raise ModelError(f"{path} is no model card: {', '.join(missing)} missing", _AGAIN)
    if card["schema"] != SCHEMA or card["features"] != VERSION:
        found = f"schema {card['schema']}, features {card['features']}"
        raise ModelError(f"{path}: {found}; this program reads schema {SCHEMA}, features {VERSION}", _AGAIN)
    if not re.fullmatch("[0-9a-f]{64}", str(card["sha256"])):
        raise ModelError(f"{path}: sha256 must be 64 hexadecimal digits", _AGAIN)
    return dict(card)


def _readings(card: Mapping[str, Any], known: tuple[str, ...], path: Path) -> tuple[str, ...]:
    names = card["readings"]
    if not isinstance(names, dict) or not 2 <= len(names) <= len(known):
        raise ModelError(f"{path}: a model tells 2 to {len(known)} readings apart", _AGAIN)
    foreign = [name for name in names if name not in known]
    if foreign:
        raise ModelError(f"{path}: {', '.join(map(repr, foreign[:3]))} is no reading of this program", _AGAIN)
    return tuple(names)


def _arrays(packed: bytes, shapes: Mapping[str, tuple[int, ...]], where: Path) -> dict[str, Floats]:
    """Unpack the arrays one by one; none may be larger than its shape allows."""
    try:
        with zipfile.ZipFile(io.BytesIO(packed)) as archive:
            sizes = {info.filename: info.file_size for info in archive.infolist()}
            if sorted(sizes) != sorted(f"{name}.npy" for name in shapes) or sum(sizes.values()) > _ARRAY_BYTES:
                raise ModelError(f"{where}: the array file holds other arrays than a model has", _AGAIN)
            return {name: _array(archive.open(f"{name}.npy").read(_ARRAY_BYTES), shape) for name, shape in shapes.items()}
    except (zipfile.BadZipFile, zlib.error, ValueError, EOFError, OSError, NotImplementedError, RuntimeError) as problem:
        raise ModelError(f"{where}: the array file is damaged: {problem}", _AGAIN) from problem


def _array(content: bytes, shape: tuple[int, ...]) -> Floats:
    """Return one `.npy` of exactly this shape; the header is checked before anything is allocated."""
    head = io.BytesIO(content)
    np.lib.format.read_magic(head)
    found, _, kind = np.lib.format.read_array_header_1_0(head)
    if found != shape or kind != np.dtype(np.float64):
        raise ValueError(f"an array of shape {found} and type {kind} where {shape} of float64 belongs")
    return np.asarray(np.load(io.BytesIO(content), allow_pickle=False), np.float64)


def _check(arrays: Mapping[str, Floats], where: Path) -> None:
    faults = [name for name, values in arrays.items() if not np.isfinite(values).all()]
    faults += [name for name in ("scale", "share", "farthest") if not (arrays[name] > 0).all()]
    if faults:
        raise ModelError(f"{where}: {', '.join(faults)} must be finite, and scales, shares and distances above 0", _AGAIN)


# ---- keeping ---------------------------------------------------------------------------------------------


def save_model(folder: Path, model: Model, extras: Mapping[str, str]) -> None:
    """Write a model; the one that was there stays whole until the new card takes its place.

    Everything is written aside before anything is renamed, so a full disk is noticed while the old model stands.

    Parameters
    ----------
    model : what was learned; its card needs no hash yet.
    extras : further text files beside it (pictures), by name.

    Raises
    ------
    ModelError
        if the folder cannot be written (disk full, no permission); the old model is untouched.
    """
    packed = io.BytesIO()
    arrays = {name: np.asarray(getattr(model, name), np.float64) for name in _shapes(len(model.readings))}
    np.savez(packed, **arrays)  # type: ignore[arg-type] # its stubs take every keyword for allow_pickle
    sha256 = hashlib.sha256(packed.getvalue()).hexdigest()
    text = json.dumps({**model.card, "sha256": sha256}, indent=1, ensure_ascii=False) + "\n"
    texts = {name: content.encode() for name, content in (*extras.items(), (CARD, text))}
    make_folder(folder)
    try:
        _swap_in(folder, {array_file(sha256): packed.getvalue(), **texts})
    except OSError as problem:
        raise _unwritable(folder, problem) from problem
    _clear(folder, array_file(sha256))


def make_folder(folder: Path) -> None:
    """Make the folder of a model, so that a hopeless one is told before hours of measuring; raises `ModelError`."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        (folder / _TRIAL).touch()
        (folder / _TRIAL).unlink()
    except OSError as problem:
        raise _unwritable(folder, problem) from problem


def _unwritable(folder: Path, problem: OSError) -> ModelError:
    found = f"the model could not be written to {folder}: {problem.strerror or problem}"
    return ModelError(found, "a model that was there is untouched; make room or choose another folder")


def _swap_in(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write all files aside, then rename them in order: each is the old one or the new one, never half of it."""
    aside = {name: folder / f".{name}.new" for name in files}
    try:
        for name, content in files.items():
            with aside[name].open("wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
        for name, path in aside.items():
            path.replace(folder / name)
    finally:
        for path in aside.values():
            path.unlink(missing_ok=True)


def _clear(folder: Path, kept: str) -> None:
    """Remove the arrays of earlier models; those that cannot be removed do no harm."""
    for old in folder.glob("arrays-*.npz"):
        if old.name != kept:
            with contextlib.suppress(OSError):
                old.unlink()
