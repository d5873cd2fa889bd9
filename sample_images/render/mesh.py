"""One triangle mesh with part ids and per-vertex material: what every scene is made of.

Lengths are millimetres. A plug stands in its own frame: the z axis is the plug's axis, z = 0 the end
face of the shell, +z towards the strap, the thread at negative z. Colours are linear sRGB reflectances.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

PARTS = ("background", "nose", "centre", "strap", "rim", "thread", "hex", "upper", "sheet")
"""Part of each pixel, by index: rim = rim and bore, hex = hex and seat, sheet = white or grey reference."""

MATERIAL = ("roughness", "metallic", "clearcoat", "sheen", "flatness")
"""Columns of `Mesh.material`, each 0-1, read by one principled surface for all scenes.

Sheen makes soot velvety; flatness stands for light that enters ceramic and leaves nearby; clearcoat is oil, glaze or water.
"""


@dataclass(frozen=True, eq=False)
class Mesh:
    """Triangles with part, plug number and material.

    Parameters
    ----------
    vertices : float32 of shape (n, 3), mm.
    faces : uint32 of shape (m, 3).
    part : uint8 of shape (m,), index into `PARTS`.
    plug : uint8 of shape (m,), 0 = not a plug, k = k-th plug of the scene.
    colour : float32 of shape (n, 3), linear sRGB reflectance, 0-1.
    material : float32 of shape (n, 5), see `MATERIAL`.
    """

    vertices: NDArray[np.float32]
    faces: NDArray[np.uint32]
    part: NDArray[np.uint8]
    plug: NDArray[np.uint8]
    colour: NDArray[np.float32]
    material: NDArray[np.float32]

    def placed(self, rotation: NDArray[np.float64], shift_mm: NDArray[np.float64], plug: int | None = None) -> Mesh:
        """Return the mesh turned by `rotation` (3, 3), then moved; `plug` overrides the plug number of all faces."""
        moved = (self.vertices @ np.asarray(rotation).T + shift_mm).astype(np.float32)
        number = self.plug if plug is None else np.full_like(self.plug, plug)
        return Mesh(moved, self.faces, self.part, number, self.colour, self.material)


@dataclass
class MeshBuilder:
    """Collects surfaces and joins them into one `Mesh`."""

    pieces: list[Mesh] = field(default_factory=list)

    def add(
        self,
        vertices: NDArray[np.floating],
        faces: NDArray[np.integer],
        part: str,
        colour: NDArray[np.floating] | tuple[float, float, float],
        *,
        roughness: NDArray[np.floating] | float = 0.6,
        metallic: NDArray[np.floating] | float = 0.0,
        clearcoat: NDArray[np.floating] | float = 0.0,
        sheen: NDArray[np.floating] | float = 0.0,
        flatness: NDArray[np.floating] | float = 0.0,
    ) -> None:
        """Add one surface; scalars are spread over its vertices."""
        n, m = len(vertices), len(faces)
        columns = (roughness, metallic, clearcoat, sheen, flatness)
        self.pieces.append(
            Mesh(
                np.asarray(vertices, np.float32),
                np.asarray(faces, np.uint32),
                np.full(m, PARTS.index(part), np.uint8),
                np.zeros(m, np.uint8),
                np.broadcast_to(np.asarray(colour, np.float32), (n, 3)),
                np.stack([np.broadcast_to(np.asarray(c, np.float32), (n,)) for c in columns], -1),
            )
        )

    def extend(self, mesh: Mesh) -> None:
        """Add a finished mesh as it stands."""
        self.pieces.append(mesh)

    def join(self) -> Mesh:
        """Return all surfaces as one mesh, face indices shifted."""
        starts = np.cumsum([0] + [len(p.vertices) for p in self.pieces[:-1]])
        return Mesh(
            np.concatenate([p.vertices for p in self.pieces]),
            np.concatenate([p.faces + np.uint32(s) for p, s in zip(self.pieces, starts, strict=True)]),
            np.concatenate([p.part for p in self.pieces]),
            np.concatenate([p.plug for p in self.pieces]),
            np.concatenate([p.colour for p in self.pieces]),
            np.concatenate([p.material for p in self.pieces]),
        )
