"""Cutting: the one place that imports manifold3d, and only when something is cut.

manifold3d answers bad input with an empty mesh instead of an exception, re-orders vertices and faces, and drops
degenerate faces anywhere in the part. `Cutter` therefore checks every step, and takes over only what the tools
touched: all other faces and vertices of the part stay the very ones that went in, with their indices.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from ventplanner.errors import DrillError, MeshError
from ventplanner.geometry.solid import FloatArray, IntArray

Mesh = tuple[FloatArray, IntArray]
BoolArray = NDArray[np.bool_]

_BOXES_PER_WORD = 10

_REPAIR = "Mend the part (ventplanner mend), or export it again from its source."
_REASONS = {
    "NonFiniteVertex": "a vertex has no finite coordinates",
    "NotManifold": "its skin is open or its faces do not fit together",
    "VertexOutOfBounds": "a face names a vertex that does not exist",
    "ResultTooLarge": "the result has too many triangles",
}


@dataclass(frozen=True, eq=False)
class Cut:
    """What a cut changes in the mesh that went in (n vertices, m faces).

    kept: (m,) bool, the faces that stay as they are. new_vertices: (k, 3) float64. new_faces: (j, 3) int32; indices
    below n name vertices that went in, the others `new_vertices[index - n]`. origin: (j,) int32, the face that went
    in of which the new one is a piece, or -1 - t for a piece of tool t.
    """

    kept: BoolArray
    new_vertices: FloatArray
    new_faces: IntArray
    origin: IntArray


class Cutter:
    """A closed mesh made ready for cutting once, to be cut as often as wanted."""

    def __init__(self, vertices: FloatArray, faces: IntArray) -> None:
        """vertices: (n, 3) float64; faces: (m, 3) int32, closed and oriented. Raises MeshError."""
        self._vertices, self._faces = vertices, faces
        used = np.zeros(len(vertices), dtype=bool)
        used[faces] = True
        if used.all():
            manifold = _manifold(vertices, faces)
        else:
            manifold = _manifold(vertices[used], (np.cumsum(used, dtype=np.int32) - 1)[faces])
        self._id, self._manifold = manifold
        reason = _failure(self._manifold)
        if reason:
            raise MeshError(f"The part cannot be cut: {reason}.", _REPAIR)

    def cut(self, tools: Sequence[Mesh]) -> Cut:
        """Take all tools away in one boolean. Raises DrillError when the result is not the part minus the tools."""
        from manifold3d import Manifold, OpType

        made = [_manifold(*tool) for tool in tools]
        for index, (_, tool) in enumerate(made):
            reason = _failure(tool)
            if reason:
                raise DrillError(f"Tool {index + 1} is no closed mesh: {reason}.")
        result = Manifold.batch_boolean([self._manifold, *(tool for _, tool in made)], OpType.Subtract)
        if _status(result) != "NoError":
            raise DrillError(f"The cut failed: {_reason(_status(result))}.", _REPAIR)
        if result.num_tri() == 0:
            raise DrillError("Nothing is left of the part after the cut.", "Make the vents smaller or fewer.")
        owner = {self._id: 0} | {tool_id: -1 - t for t, (tool_id, _) in enumerate(made)}
        vertices, faces, origin = _unpack(result, owner)
        boxes = np.array([[tool[0].min(axis=0), tool[0].max(axis=0)] for tool in tools]).reshape(-1, 2, 3)
        return _splice(self._vertices, self._faces, vertices, faces, origin, boxes)


def _manifold(vertices: FloatArray, faces: IntArray) -> tuple[int, Any]:
    """(own id, Manifold). Every face carries its index, which also keeps manifold3d from merging coplanar faces."""
    from manifold3d import Manifold, Mesh64

    own_id = Manifold.reserve_ids(1)
    mesh = Mesh64(  # wants arrays that are writable: copies
        np.array(vertices, dtype=np.float64, order="C"),
        np.array(faces, dtype=np.uint64, order="C"),
        run_index=np.array([0, faces.size], dtype=np.uint64),
        run_original_id=np.array([own_id], dtype=np.uint32),
        face_id=np.arange(len(faces), dtype=np.uint64),
    )
    return own_id, Manifold(mesh)


def _status(manifold: Any) -> str:
    return str(manifold.status()).rsplit(".", maxsplit=1)[-1]


def _reason(status: str) -> str:
    return _REASONS.get(status, f"manifold3d says {status}")


def _failure(manifold: Any) -> str:
    """Why the mesh was not accepted, or ""."""
    if _status(manifold) != "NoError":
        return _reason(_status(manifold))
    return "it has no volume" if manifold.num_tri() == 0 else ""


def _unpack(result: Any, owner: dict[int, int]) -> tuple[FloatArray, NDArray[np.uint64], NDArray[np.int64]]:
    """Vertices, faces, and for each face the part's face index or -1 - tool."""
    mesh = result.to_mesh64()
    origin = np.array(mesh.face_id, dtype=np.int64)
    bounds = np.array(mesh.run_index, dtype=np.int64) // 3
    for run, own_id in enumerate(mesh.run_original_id):
        if own_id not in owner:
            raise DrillError("The cut returned faces of unknown origin.")
        if owner[own_id] < 0:
            origin[bounds[run] : bounds[run + 1]] = owner[own_id]
    return mesh.vert_properties[:, :3], mesh.tri_verts, origin


def _splice(
    vertices: FloatArray,
    faces: IntArray,
    out_vertices: FloatArray,
    out_faces: NDArray[np.uint64],
    origin: NDArray[np.int64],
    boxes: FloatArray,
) -> Cut:
    """Read the result of a boolean as a change of the mesh that went in.

    Where manifold3d has tidied up degenerate faces right at a cut that may leave gaps; then its result is taken whole.
    """
    near = faces_near(vertices, faces, boxes)
    ring = np.zeros(len(vertices), dtype=bool)
    ring[faces[near]] = True
    # The faces around the near ones tell which vertex is which; if they do not, look at all faces.
    for watched in (near | ring[faces].any(axis=1), np.ones(len(faces), dtype=bool)):
        rows = np.flatnonzero((origin < 0) | watched[np.maximum(origin, 0)])
        cut = _change(vertices, faces, watched, out_vertices, out_faces[rows].astype(np.int64), origin[rows], boxes)
        if _fits(faces[~cut.kept], cut.new_faces):
            return cut
    whole = (out_faces.astype(np.int64) + len(vertices)).astype(np.int32)
    return Cut(np.zeros(len(faces), dtype=bool), out_vertices.copy(), whole, origin.astype(np.int32))


def faces_near(vertices: FloatArray, faces: IntArray, boxes: FloatArray) -> BoolArray:
    """(m,) bool: faces whose bounds meet one of the boxes ((t, 2, 3) mm); nothing inside those touches the others."""
    near = np.zeros(len(faces), dtype=bool)
    columns = [np.ascontiguousarray(vertices[:, axis]) for axis in range(3)]
    for first in range(0, len(boxes), _BOXES_PER_WORD):
        # Six bits for each box: beyond its low or high side along an axis. A face is clear of a box if all three
        # corners have a bit in common (Cohen and Sutherland's outcodes).
        some = boxes[first : first + _BOXES_PER_WORD]
        code = np.zeros(len(vertices), dtype=np.uint64)
        for box in some:
            own = np.zeros(len(vertices), dtype=np.uint8)
            for column, low, high in zip(columns, *box, strict=True):
                for beyond in (column < low, column > high):
                    own = (own << np.uint8(1)) | beyond.view(np.uint8)
            code = (code << np.uint64(6)) | own
        common = code[faces[:, 0]] & code[faces[:, 1]] & code[faces[:, 2]]
        # The lowest bit of each six becomes 1 where any of them is.
        common |= common >> np.uint64(3)
        common |= (common >> np.uint64(1)) | (common >> np.uint64(2))
        lowest = np.uint64(sum(1 << 6 * i for i in range(len(some))))
        near |= (common & lowest) != lowest
    return near


def _fits(gone: IntArray, came: IntArray) -> bool:
    """Whether new faces close the gap that old ones leave: both have the same directed boundary."""
    edges = np.vstack([*(gone[:, [k, (k + 1) % 3]] for k in range(3)), *(came[:, [k, (k + 1) % 3]] for k in range(3))])
    weight = np.repeat([1, -1], [3 * len(gone), 3 * len(came)]) * np.where(edges[:, 0] < edges[:, 1], 1, -1)
    _, edge = np.unique(np.sort(edges, axis=1), axis=0, return_inverse=True)
    return not np.bincount(edge.reshape(-1), weight).any()


def _change(
    vertices: FloatArray,
    faces: IntArray,
    watched: BoolArray,
    out_vertices: FloatArray,
    out_faces: NDArray[np.int64],
    origin: NDArray[np.int64],
    boxes: FloatArray,
) -> Cut:
    """The change among the watched faces ((m,) bool), from the faces of the result that come from them or a tool."""
    kept, same, vertex_of = _match(vertices, faces, out_vertices, out_faces, origin)
    kept |= ~watched
    rows = np.flatnonzero(~same)
    gone = np.flatnonzero(~kept)
    names = np.where(vertex_of >= 0, vertex_of, len(vertices) + np.arange(len(out_vertices)))
    cut_gone, cut_rows = _patches_cut(vertices, faces, gone, names[out_faces[rows]], origin[rows], boxes)
    kept[gone[~cut_gone]] = True
    rows = rows[cut_rows]
    corners = out_faces[rows]
    is_new = np.zeros(len(out_vertices), dtype=bool)
    is_new[corners] = True
    is_new &= vertex_of < 0
    index = vertex_of.copy()
    index[is_new] = len(vertices) + np.arange(np.count_nonzero(is_new))
    return Cut(kept, out_vertices[is_new], index[corners].astype(np.int32), origin[rows].astype(np.int32))


def _match(
    vertices: FloatArray,
    faces: IntArray,
    out_vertices: FloatArray,
    out_faces: NDArray[np.int64],
    origin: NDArray[np.int64],
) -> tuple[BoolArray, BoolArray, NDArray[np.int64]]:
    """Which faces came through unchanged: (m,) bool of the input, (m',) bool of `out_faces`; and for each vertex of
    the result the input vertex that it is, known from those faces, else -1. manifold3d may rotate a face's corners.
    """
    rows = np.flatnonzero(origin >= 0)
    pieces = np.bincount(origin[rows], minlength=len(faces))
    rows = rows[pieces[origin[rows]] == 1]
    before, after = faces[origin[rows]], out_faces[rows]
    for _ in range(2):
        differs = np.flatnonzero((out_vertices[after[:, 0]] != vertices[before[:, 0]]).any(axis=1))
        after[differs] = np.roll(after[differs], -1, axis=1)
    equal = (out_vertices[after] == vertices[before]).all(axis=(1, 2))
    kept = np.zeros(len(faces), dtype=bool)
    same = np.zeros(len(out_faces), dtype=bool)
    kept[origin[rows[equal]]] = True
    same[rows[equal]] = True
    vertex_of = np.full(len(out_vertices), -1, dtype=np.int64)
    vertex_of[after[equal]] = before[equal]
    return kept, same, vertex_of


def _patches_cut(
    vertices: FloatArray,
    faces: IntArray,
    gone: NDArray[np.int64],
    came: NDArray[np.int64],
    origin: NDArray[np.int64],
    boxes: FloatArray,
) -> tuple[BoolArray, BoolArray]:
    """Which changes a tool made, (j,) bool of the faces that are gone and (j',) of those that came ((j', 3), vertices
    of the input by their index). The others are degenerate faces that manifold3d tidies up.

    Faces that changed are gathered into patches, across shared edges and with the pieces that they became. A patch
    without a face of a tool is no cut, unless it vanished as a whole inside a tool.
    """
    corners = np.vstack([faces[gone].astype(np.int64), came])
    ends = np.sort(np.stack([corners, np.roll(corners, -1, axis=1)], axis=2).reshape(-1, 2), axis=1)
    _, edge = np.unique(ends, axis=0, return_inverse=True)
    of_tool = origin < 0
    pieces = np.flatnonzero(~of_tool)
    first_source = int(edge.max(initial=-1)) + 1
    place = np.arange(len(corners))
    face = np.concatenate([np.repeat(place, 3), place[: len(gone)], len(gone) + pieces])
    link = np.concatenate([edge.reshape(-1), first_source + gone, first_source + origin[pieces]])
    size = (len(corners), first_source + len(faces))
    graph = coo_matrix((np.ones(len(face), dtype=np.int32), (face, link)), shape=size).tocsr()
    count, label = connected_components(graph @ graph.T, directed=False)
    of_gone, of_came = label[: len(gone)], label[len(gone) :]
    cut = np.zeros(count, dtype=bool)
    cut[of_came[of_tool]] = True
    vanished = np.ones(count, dtype=bool)
    vanished[of_came] = False
    points = vertices[faces[gone, 0]]
    inside = np.zeros(len(gone), dtype=bool)
    for low, high in boxes:
        inside |= ((points >= low) & (points <= high)).all(axis=1)
    cut[of_gone[inside & vanished[of_gone]]] = True
    return cut[of_gone], cut[of_came]


def triangulated(polygon: FloatArray) -> IntArray:
    """Triangles (k, 3) between the corners (n, 2) of a simple polygon that runs counter-clockwise."""
    from manifold3d import triangulate

    return np.asarray(triangulate([np.ascontiguousarray(polygon)]), dtype=np.int32).reshape(-1, 3)


def by_winding(bodies: Sequence[Mesh], hollows: Sequence[Mesh]) -> tuple[FloatArray, IntArray, IntArray]:
    """Where more bodies than hollows are: vertices (n, 3), faces (m, 3), and the number of the mesh each face is of.

    Each is a closed mesh that does not go through itself, hollows turned like bodies; hollows are numbered after the
    bodies. With P_k where at least k bodies are and N_k the same of hollows it is the union of all P_k less N_k.
    Raises MeshError when a mesh is not accepted.
    """
    made = [_manifold(*one) for one in (*bodies, *hollows)]
    for _, one in made:
        reason = _failure(one)
        if reason:
            raise MeshError(f"Overlapping bodies cannot be made one: {reason}.", _REPAIR)
    solid = [one for _, one in made[: len(bodies)]]
    void = [one for _, one in made[len(bodies) :]]
    result = _at_least(solid, void)
    if _status(result) != "NoError":
        raise MeshError(f"Overlapping bodies cannot be made one: {_reason(_status(result))}.", _REPAIR)
    mesh = result.to_mesh64()
    of = {own_id: number for number, (own_id, _) in enumerate(made)}
    ends = np.array(mesh.run_index, dtype=np.int64)
    run = np.array([of.get(int(own_id), 0) for own_id in mesh.run_original_id], dtype=np.int32)
    owner = np.repeat(run, (ends[1:] - ends[:-1]) // 3)
    return np.array(mesh.vert_properties[:, :3]), np.array(mesh.tri_verts, dtype=np.int32).reshape(-1, 3), owner


def with_patches(mesh: Mesh, boxes: Sequence[FloatArray], patches: Sequence[Mesh]) -> Mesh | None:
    """A mesh whose inside is that of a patch wherever it lies in the box of that patch; None if it cannot be had.

    mesh: closed, may go through itself within boxes, not on their sides. boxes: (2, 3) mm, apart from each other; each
    patch, closed, is what shall be in the box of the same number, and may reach beyond it.
    """
    from manifold3d import Manifold, OpType

    _, whole = _manifold(*mesh)
    blocks = [Manifold.cube((high - low).tolist()).translate(low.tolist()) for low, high in boxes]
    pieces = [block ^ _manifold(*patch)[1] for block, patch in zip(blocks, patches, strict=True) if len(patch[1])]
    rest = Manifold.batch_boolean([whole, *blocks], OpType.Subtract)
    result = Manifold.batch_boolean([rest, *pieces], OpType.Add)
    if any(_failure(one) for one in (whole, *pieces)) or _failure(result):
        return None
    made = result.to_mesh64()
    return np.array(made.vert_properties[:, :3]), np.array(made.tri_verts, dtype=np.int32).reshape(-1, 3)


def simplified(mesh: Mesh, tolerance: float) -> Mesh:
    """A closed mesh with fewer triangles, nowhere moved by more than a tolerance; itself if that cannot be had."""
    _, whole = _manifold(*mesh)
    if _failure(whole):
        return mesh
    # Without their numbers: faces of different ones are never joined.
    made = whole.as_original().simplify(tolerance)
    if _failure(made):
        return mesh
    found = made.to_mesh64()
    return np.array(found.vert_properties[:, :3]), np.array(found.tri_verts, dtype=np.int32).reshape(-1, 3)


def _at_least(solid: Sequence[Any], void: Sequence[Any]) -> Any:
    from manifold3d import Manifold, OpType

    if not void:
        return Manifold.batch_boolean(list(solid), OpType.Add)
    result = Manifold()
    for bodies, hollows in zip(_levels(solid), [*_levels(void), *[None] * len(solid)], strict=False):
        result += bodies if hollows is None else bodies - hollows
    return result


def _levels(parts: Sequence[Any]) -> list[Any]:
    """Where at least 1, 2, ... of the parts are."""
    levels: list[Any] = []
    for part in parts:
        above = part
        for k, level in enumerate(levels):
            both = level ^ above
            levels[k] = level + above
            above = both
            if above.num_tri() == 0:
                break
        else:
            levels.append(above)
    return levels
