"""`Solid`: the one triangle mesh of this package."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ventplanner.errors import MeshError
from ventplanner.geometry.spatial_order import ordered

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int32]
Unit = Literal["mm", "cm", "inch", "m", "micron", "foot"]


@dataclass(frozen=True)
class Body:
    """A named run of faces `[start, stop)`: one object of the file (3MF build item, OBJ object), else the whole."""

    name: str
    start: int
    stop: int


@dataclass(frozen=True)
class Source:
    """Where a solid came from and what its file said.

    `mm_per_unit` is the factor from file units to mm. `unit_given` is the unit the file (or the user) stated, None
    if nothing did; `unit_assumed` is the unit in fact used. `unit_hint` is a sentence when the size suggests another
    unit, else "". `single_precision` tells that the file holds float32 coordinates (STL, binary PLY with floats).
    """

    path: str = ""
    format: str = ""
    unit_given: Unit | None = None
    unit_assumed: Unit = "mm"
    mm_per_unit: float = 1.0
    unit_hint: str = ""
    single_precision: bool = False
    notes: tuple[str, ...] = ()


def box_of(points: FloatArray) -> FloatArray:
    """(2, 3) float64: lowest and highest corner of (n, 3) points, n >= 1."""
    # Column by column: a reduction along the short rows of a (n, 3) array is ten times slower.
    return np.array([[points[:, k].min() for k in range(3)], [points[:, k].max() for k in range(3)]])


def _frozen(array: NDArray[np.generic]) -> None:
    array.flags.writeable = False


@dataclass(frozen=True, eq=False)
class Solid:
    """A triangle mesh in mm along the file's axes. Immutable; two solids are the same when their digests are.

    vertices: (n, 3) float64, read-only. faces: (m, 3) int32 vertex indices, counter-clockwise seen from outside
    (an inner skin therefore has its normals towards the void), read-only. Material is where the winding number is
    positive (positive-fill rule, 3MF Core 1.4.0 section 4.1.1). Raises MeshError for other shapes, faces that name
    no vertex, and coordinates that are not finite.
    """

    vertices: FloatArray
    faces: IntArray
    bodies: tuple[Body, ...] = ()
    source: Source = field(default_factory=Source)

    def __post_init__(self) -> None:
        vertices = np.ascontiguousarray(self.vertices, dtype=np.float64)
        faces = np.ascontiguousarray(self.faces, dtype=np.int32)
        if vertices.ndim != 2 or vertices.shape[1] != 3 or faces.ndim != 2 or faces.shape[1] != 3:
            raise MeshError("A solid needs (n, 3) vertices and (m, 3) faces.")
        if len(faces) and (faces.min() < 0 or faces.max() >= len(vertices)):
            raise MeshError("A face names a vertex that does not exist.", "The file is damaged; export it again.")
        if not np.isfinite(vertices).all():
            bad = int(np.flatnonzero(~np.isfinite(vertices).all(axis=1))[0])
            raise MeshError(
                f"Vertex {bad} is at {tuple(vertices[bad].tolist())}, which is no place.",
                "The file is damaged; export it again.",
            )
        if vertices is self.vertices and vertices.flags.writeable:
            vertices = vertices.view()
        if faces is self.faces and faces.flags.writeable:
            faces = faces.view()
        _frozen(vertices)
        _frozen(faces)
        object.__setattr__(self, "vertices", vertices)
        object.__setattr__(self, "faces", faces)
        if not self.bodies:
            object.__setattr__(self, "bodies", (Body("part", 0, len(faces)),))

    @cached_property
    def digest(self) -> str:
        """Content hash (BLAKE2b, 32 hex digits) of vertices and faces; names and source do not count."""
        h = hashlib.blake2b(digest_size=16)
        h.update(np.array([len(self.vertices), len(self.faces)], dtype=np.int64).tobytes())
        h.update(self.vertices.data)
        h.update(self.faces.data)
        return h.hexdigest()

    @cached_property
    def bounds(self) -> FloatArray:
        """(2, 3) float64: lowest and highest corner in mm of the vertices that faces use."""
        if len(self.faces) == 0:
            raise MeshError("The part has no triangles.")
        bounds = box_of(self.used_vertices)
        _frozen(bounds)
        return bounds

    @cached_property
    def used_vertices(self) -> FloatArray:
        """(k, 3) float64: the vertices that faces use, in mm and in order; all of them, as a rule."""
        used = self._used
        return self.vertices if used.all() else self.vertices[used]

    @cached_property
    def _used(self) -> NDArray[np.bool_]:
        used = np.zeros(len(self.vertices), dtype=bool)
        used[self.faces] = True
        return used

    @cached_property
    def in_order(self) -> tuple[IntArray, IntArray]:
        """(m, 3) the faces so that neighbours in number are neighbours in space, and (m,) the number of each in
        `faces`."""
        return ordered(self.vertices, self.faces)

    def compact(self) -> Solid:
        """The same faces in the same order, without the vertices that no face uses; itself if there are none."""
        used = self._used
        if used.all():
            return self
        number = (np.cumsum(used) - 1).astype(np.int32)
        return Solid(self.vertices[used], number[self.faces], self.bodies, self.source)

    @cached_property
    def volume(self) -> float:
        """Signed volume in mm3, V = sum of v0 . (v1 x v2) / 6 over all faces (divergence theorem)."""
        if not len(self.faces):
            return 0.0
        origin = self.used_vertices.mean(axis=0)
        a, b, c = (self.vertices[self.faces[:, i]] - origin for i in range(3))
        return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6.0)

    def with_mesh(self, vertices: FloatArray, faces: IntArray, bodies: tuple[Body, ...] = ()) -> Solid:
        """The same source with another mesh."""
        return Solid(vertices, faces, bodies, self.source)

    def flipped(self, chosen: NDArray[np.bool_]) -> Solid:
        """The same mesh with the winding of the chosen faces ((m,) bool) turned over."""
        faces = self.faces.copy()
        faces[chosen] = faces[chosen][:, ::-1]
        return replace(self, faces=faces)
