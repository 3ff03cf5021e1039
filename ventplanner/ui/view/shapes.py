"""From a picture to what the graphics library draws: made off the GUI thread, then only handed over.

The filters of the graphics library and numpy release the interpreter lock, so the window goes on answering meanwhile.
A part of many triangles gets a coarse stand-in for each surface, which is drawn while anything moves.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyvista as pv
from numpy.typing import NDArray
from vtkmodules.vtkFiltersCore import vtkBinnedDecimation, vtkTriangleMeshPointNormals

from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.ui.picture import Mesh, Picture
from ventplanner.ui.view.groups import BORE, SKIN, Groups, carried_over, groups_of

COARSE_ABOVE, COARSE = 120_000, 60_000
"""Parts of more triangles than the first get stand-ins of about the second: quick also without a graphics card."""

FINE_ABOVE, FINE = 2_500_000, 1_500_000
"""Parts of more triangles than the first are drawn with about the second also at rest: what is picked, measured and cut
is always the part itself."""

_SAMPLED = 50_000
_NEAR_SHARE = 0.05

_Piece = tuple[NDArray[np.float32], IntArray]
"""Points and faces of one group."""

_SMALL_GROUP = 2_000
"""Surfaces of fewer triangles stay as they are in the stand-in."""


@dataclass(frozen=True, eq=False)
class Surface:
    """Triangles to draw at rest and as a stand-in (the same where there is none), and the group of each point."""

    full: pv.PolyData
    coarse: pv.PolyData
    group_full: Groups
    group_coarse: Groups


@dataclass(frozen=True, eq=False)
class Grouped:
    """A mesh with the group of each face: (n, 3) float64 vertices, (m, 3) faces, (m,) groups."""

    vertices: FloatArray
    faces: IntArray
    group: Groups


@dataclass(frozen=True, eq=False)
class Shapes:
    """What is drawn of one picture. skin: the outer skin. inner: surfaces of cavities and walls of drilled holes.

    full, coarse: the mesh and its stand-in with groups, to be cut. low, high: (3,) corners of the mesh's box, mm. key:
    what it was made from.
    """

    key: tuple[object, ...]
    skin: Surface
    inner: Surface
    full: Grouped
    coarse: Grouped
    low: FloatArray
    high: FloatArray

    @property
    def has_stand_in(self) -> bool:
        """True when moving pictures are coarser than resting ones."""
        return self.coarse is not self.full


def shapes_key(picture: Picture) -> tuple[object, ...]:
    """Same key, same shapes: the meshes and the faces of each cavity."""
    drilled = picture.drilled.key if picture.drilled else ""
    cavities = tuple((c.id, len(c.faces), zlib.crc32(np.ascontiguousarray(c.faces).data)) for c in picture.cavities)
    return (picture.part.key, drilled, cavities)


def have_same_shapes(one: Picture | None, other: Picture) -> bool:
    """True when two pictures are made of the very same pieces: quicker than comparing keys."""
    return (
        one is not None and one.part is other.part and one.drilled is other.drilled and have_same_cavities(one, other)
    )


def have_same_cavities(one: Picture, other: Picture) -> bool:
    """True when the cavities of two pictures are the same by number and name, with the very same faces."""
    return len(one.cavities) == len(other.cavities) and all(
        a.id == b.id and a.faces is b.faces for a, b in zip(one.cavities, other.cavities, strict=True)
    )


def make_shapes(picture: Picture) -> Shapes:
    """Sort the faces into surfaces and make their stand-ins. Slow for large parts: call it off the GUI thread."""
    group = groups_of(picture.part, [c.faces for c in picture.cavities])
    mesh = picture.part
    if picture.drilled is not None:
        carried = carried_over(mesh, group, picture.drilled)
        if carried is not None:
            group, mesh = carried, picture.drilled
    faces, order = _in_space_order(mesh)
    group = group[order]
    size, fine = bin_size(mesh.vertices, faces), bin_size(mesh.vertices, faces, FINE_ABOVE, FINE)
    pieces = [(int(g), faces[group == g]) for g in np.unique(group)]
    fulls = _coarsened([(g, compacted(mesh.vertices, f)) for g, f in pieces], fine)
    coarses = _coarsened(fulls, size)
    full = Grouped(np.ascontiguousarray(mesh.vertices), faces, group)
    return Shapes(
        shapes_key(picture),
        _surface(_chosen(fulls, skin=True), _chosen(coarses, skin=True), size > 0),
        _surface(_chosen(fulls, skin=False), _chosen(coarses, skin=False), size > 0),
        full,
        _grouped(coarses) if size else full,
        *_box(mesh.vertices),
    )


def _box(vertices: FloatArray) -> tuple[FloatArray, FloatArray]:
    columns = [vertices[:, k] for k in range(3)] if len(vertices) else [np.zeros(1)] * 3
    return np.array([c.min() for c in columns]), np.array([c.max() for c in columns])


def _in_space_order(mesh: Mesh) -> tuple[IntArray, NDArray[np.int64]]:
    """Faces in the order of a Morton curve (Morton 1966) through their middles: rays bound runs of faces by boxes."""
    if not len(mesh.faces):
        return np.asarray(mesh.faces, dtype=np.int32), np.zeros(0, dtype=np.int64)
    middle = mesh.vertices[mesh.faces[:, 0]]
    low = _box(middle)[0]
    span = max(float((_box(middle)[1] - low).max()), 1e-9)
    # Most files have neighbours side by side already: then this is not worth its time.
    jump = np.abs(np.diff(middle[: min(len(middle), _SAMPLED)], axis=0)).max(axis=1)
    if float(jump.mean()) < _NEAR_SHARE * span:
        return np.ascontiguousarray(mesh.faces, dtype=np.int32), np.arange(len(mesh.faces))
    cell = ((middle - low) * (1023.0 / span)).astype(np.uint64)
    code = np.zeros(len(cell), dtype=np.uint64)
    for k in range(3):
        spread = cell[:, k]
        for shift, mask in ((16, 0x30000FF), (8, 0x300F00F), (4, 0x30C30C3), (2, 0x9249249)):
            spread = (spread | (spread << np.uint64(shift))) & np.uint64(mask)
        code |= spread << np.uint64(k)
    order = np.argsort(code, kind="stable")
    return np.ascontiguousarray(mesh.faces[order], dtype=np.int32), order


def _coarsened(pieces: list[tuple[int, _Piece]], size: float) -> list[tuple[int, _Piece]]:
    return [(g, coarsened(*piece, size) if len(piece[1]) > _SMALL_GROUP else piece) for g, piece in pieces]


def bin_size(vertices: FloatArray, faces: IntArray, above: int = COARSE_ABOVE, count: int = COARSE) -> float:
    """Width in mm of the bins that bring a mesh of more than `above` triangles down to about `count`, else 0."""
    if len(faces) <= above:
        return 0.0
    # A sample of the triangles tells the area well enough.
    step = -(-len(faces) // _SAMPLED)
    a, b, c = (vertices[faces[::step, k]] for k in range(3))
    area = step * 0.5 * float(np.linalg.norm(np.cross(b - a, c - a), axis=1).sum())
    # A surface of area A meets about 1.2 A / s^2 bins of width s, and each makes two triangles.
    return float(np.sqrt(2.4 * area / count))


def _chosen(pieces: list[tuple[int, _Piece]], skin: bool) -> list[tuple[int, _Piece]]:
    return [p for p in pieces if (p[0] == SKIN) == skin]


def _surface(fulls: list[tuple[int, _Piece]], coarses: list[tuple[int, _Piece]], is_coarser: bool) -> Surface:
    full, group_full = _joined(fulls)
    coarse, group_coarse = _joined(coarses) if is_coarser else (full, group_full)
    return Surface(full, coarse, group_full, group_coarse)


def _grouped(pieces: list[tuple[int, _Piece]]) -> Grouped:
    points, faces, _ = _stacked(pieces)
    group = np.repeat(np.array([g for g, _ in pieces], dtype=np.int16), [len(f) for _, (_, f) in pieces])
    return Grouped(points.astype(np.float64), faces, group)


def compacted(vertices: FloatArray, faces: IntArray) -> _Piece:
    """Only the vertices that these faces use, in single precision."""
    if len(faces) * 8 < len(vertices):
        used, index = np.unique(faces, return_inverse=True)
        return vertices[used].astype(np.float32), index.reshape(-1, 3).astype(np.int32)
    marked = np.zeros(len(vertices), dtype=bool)
    marked[faces] = True
    number = np.cumsum(marked, dtype=np.int32) - 1
    return vertices[marked].astype(np.float32), np.asarray(number[faces], dtype=np.int32)


def coarsened(points: NDArray[np.float32], faces: IntArray, bin_size: float) -> _Piece:
    """The stand-in: points that share a bin become one (Rossignac & Borrel 1993, vertex clustering)."""
    if not bin_size:
        return points, faces
    low = points.min(axis=0)
    counts = np.maximum(1, np.ceil((points.max(axis=0) - low) / bin_size)).astype(int)
    decimation = vtkBinnedDecimation()
    decimation.SetInputData(poly_data(points, faces))
    decimation.AutoAdjustNumberOfDivisionsOff()
    decimation.SetNumberOfDivisions(*(int(n) for n in counts))
    decimation.SetPointGenerationModeToBinAverages()
    decimation.Update()
    out = pv.PolyData(decimation.GetOutput())
    if not out.n_cells:
        return points, faces
    return np.asarray(out.points, dtype=np.float32), out.regular_faces.astype(np.int32)


def _joined(pieces: list[tuple[int, _Piece]]) -> tuple[pv.PolyData, Groups]:
    """One mesh of all pieces, with smooth normals, and the group of each of its points."""
    points, faces, counts = _stacked(pieces)
    group = np.repeat(np.array([g for g, _ in pieces], dtype=np.int16), counts)
    return poly_data(points, faces, with_normals=True), group


def _stacked(pieces: list[tuple[int, _Piece]]) -> tuple[NDArray[np.float32], IntArray, list[int]]:
    """All points, all faces, and the number of points of each piece."""
    counts = [len(points) for _, (points, _) in pieces]
    starts = np.concatenate(([0], np.cumsum(counts)))[: len(counts)].astype(np.int32)
    points = np.concatenate([np.zeros((0, 3), np.float32), *(p for _, (p, _) in pieces)])
    faces = [np.zeros((0, 3), np.int32), *(f + s for (_, (_, f)), s in zip(pieces, starts, strict=True))]
    return points, np.concatenate(faces).astype(np.int32), counts


def poly_data(points: NDArray[Any], faces: IntArray, with_normals: bool = False) -> pv.PolyData:
    """A mesh of the graphics library with these (n, 3) points and (m, 3) faces, smooth normals if wanted."""
    if not len(points):
        return pv.PolyData()
    corners: Any = faces  # typed for the platform's own integers only
    data: pv.PolyData = pv.PolyData.from_regular_faces(points, corners)
    if not with_normals:
        return data
    normals = vtkTriangleMeshPointNormals()
    normals.SetInputData(data)
    normals.Update()
    return pv.PolyData(normals.GetOutput())


def colour_points(group: Groups, of_cavity: NDArray[np.uint8], bore: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """(n, 3) colour of each point from (c, 3) colours of the cavities and (3,) of drilled walls."""
    table = np.concatenate((of_cavity.reshape(-1, 3), bore.reshape(1, 3), bore.reshape(1, 3)))
    return table[np.where(group == BORE, len(table) - 1, group)]
