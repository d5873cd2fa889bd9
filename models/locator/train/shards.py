"""Rendered pictures, held whole in the memory of the training device.

A shard is an npz of about 50 pictures made by `sample_images.render`:
`image` float16 (n, h, w, 3) linear sRGB, exposure normalised; `parts` uint8 (n, h, w), index into `PARTS`; `plug` uint8
(n, h, w), 0 = no plug; `keys` float32 (n, 8, 4, 2) pixels, nan = absent; `view` uint8 (n, 8), index into `VIEWS`;
`count`, `seed`, `family`, `split` (n,).
"""

from __future__ import annotations

import concurrent.futures
import zipfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Generic, NamedTuple, TypeVar

import numpy as np
import torch
from torch import Tensor

from models.locator.train.targets import KEPT_PLUGS, NOSE

BRIGHTEST = 64.0
"""Linear values above this (mirror images of lamps) are cut: far beyond what any camera holds."""

READERS = 6
"""Shards read at a time (80 MB each)."""

NOSE_PIXELS = 12
"""A nose with fewer visible pixels has its centre taken from the point on the axis instead."""


class Scenes(NamedTuple):
    """Pictures and what they show, on one device; `keys` carries the nose centre as a fifth point."""

    image: Tensor
    """float16 (n, 3, h, w), linear."""
    parts: Tensor
    plug: Tensor
    keys: Tensor
    """float32 (n, 8, 5, 2), pixels (x, y), nan = absent."""
    view: Tensor


Batch = TypeVar("Batch", bound=NamedTuple)
"""Tensors of n pictures each, by name."""
Arrays = Mapping[str, np.ndarray]
Unpack = Callable[[Arrays, np.ndarray], tuple[Batch, np.ndarray]]


class Store(Generic[Batch]):
    """Grows as shards appear, up to `capacity` pictures, without copying what it holds.

    `unpack` makes of a shard and the pictures wanted of it what is held, and says which of them it kept; it may leave some out.
    """

    def __init__(
        self, folder: Path, splits: Sequence[str], unpack: Unpack[Batch], *, device: torch.device, capacity: int
    ) -> None:
        self.folder, self.splits, self.unpack, self.device, self.capacity = folder, tuple(splits), unpack, device, capacity
        self.count = 0
        self.tags: list[tuple[str, int]] = []
        """(family, seed) of each picture held."""
        self._read: set[Path] = set()
        self._coming: dict[Path, concurrent.futures.Future[tuple[Batch | None, list[tuple[str, int]]] | None]] = {}
        self._pool = concurrent.futures.ThreadPoolExecutor(READERS)
        self._held: Batch | None = None

    @property
    def scenes(self) -> Batch:
        """All pictures held so far."""
        if self._held is None:
            raise FileNotFoundError(f"no pictures of split {self.splits} in {self.folder}")
        return rows(self._held, slice(self.count))

    def known(self) -> dict[str, object]:
        """Return how many pictures are held, of which family, from which seeds."""
        families = sorted({family for family, _ in self.tags})
        seeds = [seed for _, seed in self.tags]
        return {"pictures": self.count, "families": families, "seeds": [min(seeds), max(seeds)] if seeds else []}

    def refresh(self) -> int:
        """Read all shards that have appeared since the last call; return how many pictures were added."""
        self._ask()
        concurrent.futures.wait(self._coming.values())
        return self._collect()

    def follow(self) -> int:
        """Take in what has been read meanwhile and have new shards read in the background; return the pictures added."""
        added = self._collect()
        self._ask()
        return added

    def _ask(self) -> None:
        for path in sorted(self.folder.glob("**/*.npz")):
            if path not in self._read and path not in self._coming and ".tmp" not in path.name:
                self._coming[path] = self._pool.submit(self._load, path)

    def _collect(self) -> int:
        before = self.count
        for path in [path for path, shard in self._coming.items() if shard.done()]:
            shard = self._coming.pop(path).result()
            if shard is not None:
                self._read.add(path)
                self._append(*shard)
        return self.count - before

    def _load(self, path: Path) -> tuple[Batch | None, list[tuple[str, int]]] | None:
        try:
            with np.load(path) as file:
                n = len(file["seed"])
                wanted = np.flatnonzero(np.isin(np.broadcast_to(file["split"], n).astype(str), self.splits))
                if not len(wanted):
                    return None, []
                held, kept = self.unpack(file, wanted)
                family = np.broadcast_to(file["family"], n).astype(str)
                return held, [(str(family[k]), int(file["seed"][k])) for k in kept]
        except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
            return None  # still being written: it is tried again at the next call

    def _append(self, shard: Batch | None, tags: list[tuple[str, int]]) -> None:
        n = min(len(tags), self.capacity - self.count)
        if shard is None or n <= 0:
            return
        if self._held is None:
            self._held = shard._make(torch.empty((self.capacity, *p.shape[1:]), dtype=p.dtype, device=self.device) for p in shard)
        for held, part in zip(self._held, shard, strict=True):
            held[self.count : self.count + n] = part[:n].to(self.device)
        self.tags += tags[:n]
        self.count += n


def rows(held: Batch, index: Tensor | slice) -> Batch:
    """Return the pictures of `index`."""
    return held._make(part[index] for part in held)


def batches(held: Batch, size: int) -> Iterator[Batch]:
    """Yield the pictures in order, `size` at a time."""
    for start in range(0, len(held[0]), size):
        yield rows(held, slice(start, start + size))


def light(image: np.ndarray) -> Tensor:
    """Return linear pictures (n, h, w, 3) as float16 (n, 3, h, w), what no camera holds cut."""
    picture = torch.from_numpy(image.astype(np.float16, copy=False)).permute(0, 3, 1, 2)
    return picture.nan_to_num(nan=0.0, posinf=BRIGHTEST, neginf=0.0).clamp(0.0, BRIGHTEST)


def scenes_of(file: Arrays, wanted: np.ndarray) -> tuple[Scenes, np.ndarray]:
    """Return pictures of a shard with all that the finder is to tell about them."""
    image, parts, plug, keys, view = (file[name][wanted] for name in ("image", "parts", "plug", "keys", "view"))
    keys = np.concatenate([keys, _nose_centres(parts, plug, keys)], axis=2).astype(np.float32)
    return Scenes(light(image), *(torch.from_numpy(a) for a in (parts, plug, keys, view))), wanted


def _nose_centres(parts: np.ndarray, plug: np.ndarray, keys: np.ndarray) -> np.ndarray:
    """Return float32 (n, 8, 1, 2): mean of the visible nose, or the point on the axis where hardly any shows."""
    centres = keys[:, :, 2:3].copy()
    for n, (picture, numbers) in enumerate(zip(parts, plug, strict=True)):
        row, column = np.nonzero(picture == NOSE)
        owner = numbers[row, column]
        total = np.bincount(owner, minlength=KEPT_PLUGS + 1).astype(float)
        for k in np.flatnonzero(total[1 : KEPT_PLUGS + 1] >= NOSE_PIXELS):
            mine = owner == k + 1
            centres[n, k, 0] = column[mine].mean() + 0.5, row[mine].mean() + 0.5
    return centres
