"""From a picture to what the graphics library draws: made off the GUI thread, then only handed over.

The filters of the graphics library and numpy release the interpreter lock, so the window goes on answering meanwhile.
A part of many triangles gets a coarse stand-in for each surface, which is drawn while anything moves.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from vtkmodules.util import numpy_support
from vtkmodules.vtkCommonCore import vtkPoints
from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData
from vtkmodules.vtkFiltersCore import vtkBinnedDecimation, vtkTriangleMeshPointNormals

from ventplanner.geometry.rays import Target
from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.ui.picture import Mesh, Picture
from ventplanner.ui.view.groups import BORE, SKIN, Groups, carried_over, groups_of

_bridge: Any = numpy_support  # it has no types

COARSE_ABOVE = 150_000
"""Parts of more triangles get stand-ins of about this many: a frame of it takes some 30 ms without a graphics card."""

_SMALL_GROUP = 2_000
"""Surfaces of fewer triangles stay as they are in the stand-in."""


@dataclass(frozen=True, eq=False)
class Surface:
    """Triangles to draw in full and as a stand-in (the same where there is none), and the group of each point."""

    full: vtkPolyData
    coarse: vtkPolyData
    group_full: Groups
    group_coarse: Groups

    @property
    def has_stand_in(self) -> bool:
        """True when the stand-in is coarser."""
        return self.coarse is not self.full


@dataclass(frozen=True, eq=False)
class Shapes:
    """What is drawn of one picture. skin: the outer skin. inner: surfaces of cavities and walls of drilled holes.

    target: the mesh ready for rays; group: (m,) the group of each of its faces. whole: the closed mesh, to be cut.
    low, high: (3,) corners of its box, mm. key: what it was made from.
    """

    key: tuple[object, ...]
    skin: Surface
    inner: Surface
    whole: Surface
    target: Target
    group: Groups
    low: FloatArray
    high: FloatArray

    @property
    def has_stand_in(self) -> bool:
        """True when moving pictures are coarser than resting ones."""
        return self.whole.has_stand_in


def shapes_key(picture: Picture) -> tuple[object, ...]:
    """Same key, same shapes: the meshes and the faces of each cavity."""
    drilled = picture.drilled.key if picture.drilled else ""
    return (picture.part.key, drilled, tuple((c.id, id(c.faces)) for c in picture.cavities))


def make_shapes(picture: Picture) -> Shapes:
    """Sort the faces into surfaces and make their stand-ins. Slow for large parts: call it off the GUI thread."""
    group = groups_of(picture.part, [c.faces for c in picture.cavities])
    mesh = picture.part
    if picture.drilled is not None:
        group, mesh = carried_over(mesh, group, picture.drilled), picture.drilled
    faces, order = _in_space_order(mesh)
    group = group[order]
    size = _bin_size(mesh.vertices, faces)
    skin = _surface(mesh.vertices, [(SKIN, faces[group == SKIN])], size)
    inner = _surface(mesh.vertices, [(int(g), faces[group == g]) for g in np.unique(group) if g != SKIN], size)
    whole = _surface(mesh.vertices, [(SKIN, faces)], size, with_normals=False)
    used = mesh.vertices if len(mesh.vertices) else np.zeros((1, 3))
    target = Target.of(np.ascontiguousarray(mesh.vertices), faces)
    return Shapes(shapes_key(picture), skin, inner, whole, target, group, used.min(axis=0), used.max(axis=0))


def _in_space_order(mesh: Mesh) -> tuple[IntArray, NDArray[np.int64]]:
    """Faces in the order of a Morton curve (Morton 1966) through their middles: rays bound runs of faces by boxes."""
    if not len(mesh.faces):
        return np.asarray(mesh.faces, dtype=np.int32), np.zeros(0, dtype=np.int64)
    middle = mesh.vertices[mesh.faces[:, 0]]
    low = middle.min(axis=0)
    span = max(float((middle.max(axis=0) - low).max()), 1e-9)
    cell = ((middle - low) * (1023.0 / span)).astype(np.uint64)
    code = np.zeros(len(cell), dtype=np.uint64)
    for k in range(3):
        spread = cell[:, k]
        for shift, mask in ((16, 0x30000FF), (8, 0x300F00F), (4, 0x30C30C3), (2, 0x9249249)):
            spread = (spread | (spread << np.uint64(shift))) & np.uint64(mask)
        code |= spread << np.uint64(k)
    order = np.argsort(code, kind="stable")
    return np.ascontiguousarray(mesh.faces[order], dtype=np.int32), order


def _bin_size(vertices: FloatArray, faces: IntArray) -> float:
    """Width in mm of the bins that bring the mesh down to about `COARSE_ABOVE` triangles; 0 leaves it as it is."""
    if len(faces) <= COARSE_ABOVE:
        return 0.0
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    area = 0.5 * float(np.linalg.norm(np.cross(b - a, c - a), axis=1).sum())
    # A surface of area A meets about 1.2 A / s^2 bins of width s, and each makes two triangles.
    return float(np.sqrt(2.4 * area / COARSE_ABOVE))


def _surface(
    vertices: FloatArray, pieces: list[tuple[int, IntArray]], bin_size: float, with_normals: bool = True
) -> Surface:
    fulls, coarses = [], []
    for number, faces in pieces:
        full = _compact(vertices, faces)
        fulls.append((number, full))
        coarses.append((number, _coarse(*full, bin_size) if bin_size and len(faces) > _SMALL_GROUP else full))
    full_data, full_group = _joined(fulls, with_normals)
    if not bin_size:
        return Surface(full_data, full_data, full_group, full_group)
    return Surface(full_data, *_swapped(_joined(coarses, with_normals), full_group))


def _swapped(coarse: tuple[vtkPolyData, Groups], full_group: Groups) -> tuple[vtkPolyData, Groups, Groups]:
    return coarse[0], full_group, coarse[1]


_Piece = tuple[NDArray[np.float32], IntArray]


def _compact(vertices: FloatArray, faces: IntArray) -> _Piece:
    """Only the vertices that these faces use, in single precision."""
    if len(faces) * 8 < len(vertices):
        used, index = np.unique(faces, return_inverse=True)
        return vertices[used].astype(np.float32), index.reshape(-1, 3).astype(np.int32)
    marked = np.zeros(len(vertices), dtype=bool)
    marked[faces] = True
    number = np.cumsum(marked, dtype=np.int32) - 1
    return vertices[marked].astype(np.float32), np.asarray(number[faces], dtype=np.int32)


def _coarse(points: NDArray[np.float32], faces: IntArray, bin_size: float) -> _Piece:
    """The stand-in: points that share a bin become one (Rossignac & Borrel 1993, vertex clustering)."""
    low = points.min(axis=0)
    counts = np.maximum(1, np.ceil((points.max(axis=0) - low) / bin_size)).astype(int)
    decimation = vtkBinnedDecimation()
    decimation.SetInputData(poly_data(points, faces))
    decimation.AutoAdjustNumberOfDivisionsOff()
    decimation.SetNumberOfDivisions(*(int(n) for n in counts))
    decimation.SetPointGenerationModeToBinAverages()
    decimation.Update()
    out = decimation.GetOutput()
    if not out.GetNumberOfCells():
        return points, faces
    connectivity = _bridge.vtk_to_numpy(out.GetPolys().GetConnectivityArray()).reshape(-1, 3)
    return _bridge.vtk_to_numpy(out.GetPoints().GetData()).astype(np.float32), connectivity.astype(np.int32)


def _joined(pieces: list[tuple[int, _Piece]], with_normals: bool) -> tuple[vtkPolyData, Groups]:
    """One mesh of all pieces, with smooth normals, and the group of each of its points."""
    counts = np.array([len(points) for _, (points, _) in pieces], dtype=np.int64)
    start = np.concatenate(([0], np.cumsum(counts)))[:-1] if len(counts) else counts
    points = np.concatenate([np.zeros((0, 3), np.float32), *(p for _, (p, _) in pieces)])
    faces = [np.zeros((0, 3), np.int32), *(f + int(s) for (_, (_, f)), s in zip(pieces, start, strict=True))]
    data = poly_data(points, np.concatenate(faces).astype(np.int32), with_normals=with_normals)
    return data, np.repeat(np.array([g for g, _ in pieces], dtype=np.int16), counts)


def poly_data(points: NDArray[Any], faces: IntArray, with_normals: bool = False) -> vtkPolyData:
    """A mesh of the graphics library with these (n, 3) points and (m, 3) faces, smooth normals if wanted."""
    data = vtkPolyData()
    place = vtkPoints()
    place.SetData(_bridge.numpy_to_vtk(np.ascontiguousarray(points), deep=1))
    cells = vtkCellArray()
    offsets = np.arange(0, 3 * len(faces) + 1, 3, dtype=np.int32)
    flat = np.ascontiguousarray(faces).reshape(-1)
    cells.SetData(_bridge.numpy_to_vtk(offsets, deep=1), _bridge.numpy_to_vtk(flat, deep=1))
    data.SetPoints(place)
    data.SetPolys(cells)
    if not with_normals or not len(points):
        return data
    normals = vtkTriangleMeshPointNormals()
    normals.SetInputData(data)
    normals.Update()
    smooth: vtkPolyData = normals.GetOutput()
    return smooth


def colour_points(group: Groups, of_cavity: NDArray[np.uint8], bore: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """(n, 3) colour of each point from (c, 3) colours of the cavities and (3,) of drilled walls."""
    table = np.concatenate((of_cavity.reshape(-1, 3), bore.reshape(1, 3), bore.reshape(1, 3)))
    return table[np.where(group == BORE, len(table) - 1, group)]
