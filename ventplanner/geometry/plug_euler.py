"""How taking plugs out of a part changes the Euler number of its skin, foretold without any cutting.

Let M be the material, S its skin and K the inside of a convex tool. Euler numbers of disjoint parts add up (for cells
of dimension d that count (-1)^d; van den Dries 1998, "Tame topology and o-minimal structures", chapter 4), and the
skin of a solid has twice the Euler number of the solid. From both follows

    E(M in K) = (E(S in K) - E(M on the skin of K)) / 2,     and     skin of (M - K) = skin of M - 2 E(M in K).

Both terms come from signs alone. E(S in K) counts the vertices, edges and faces of the part that K meets: each meets a
convex K in one piece or not at all. E(M on the skin of K) is the sum of the critical points of a height on that
sphere (Banchoff 1967, "Critical points and curvature for embedded polyhedra", J. Differential Geometry 1): 1 at its
lowest and its highest point where they are in M; along the curves where S cuts it, with M on their left, 1 at each
lowest place where they turn left, -1 at each highest place where they turn right. Tools that overlap are taken by
inclusion and exclusion, since what they have in common is convex too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.bore import Bore, clip
from ventplanner.geometry.plug import Reach, winding_at
from ventplanner.geometry.solid import FloatArray, IntArray

LongArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

_UP = np.array([0.2672612419, 0.5345224838, 0.8017837257])
"""Any direction in which no edge of a tool or a part is level."""

_MOST_OVERLAPS = 500
_SAME = 1e-9
"""Planes of unit normals and mm that differ by less are one."""


def euler_taken(parts: Sequence[Reach]) -> int | None:
    """Euler number of what the bores of `parts` take out together of one closed piece; material is on the inner side
    of its faces. Skins that lie inside a bore as a whole count as taken.

    The skin of the piece then changes its Euler number by -2 times that. None where rounding leaves the answer open:
    walls of the tool that lie in faces of the part, or very many bores in one place.
    """
    total, count = 0, 0
    groups: list[tuple[int, ...]] = [(i,) for i in range(len(parts))]
    while groups:
        overlapping = set()
        for group in groups:
            tool = _Tool.of([parts[i].bore for i in group])
            if tool is None:
                continue
            taken = _taken(parts[group[0]], tool)
            count += 1
            if taken is None or count > _MOST_OVERLAPS:
                return None
            total += taken if len(group) % 2 else -taken
            overlapping.add(group)
        groups = _one_larger(overlapping, len(parts))
    return total


def _one_larger(groups: set[tuple[int, ...]], count: int) -> list[tuple[int, ...]]:
    """Groups with one member more, all of whose sub-groups of the given size are known to overlap."""
    return [
        (*group, i)
        for group in sorted(groups)
        for i in range(group[-1] + 1, count)
        if all((*group[:k], *group[k + 1 :], i) in groups for k in range(len(group)))
    ]


def _each_once(normals: FloatArray, offsets: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Planes without those that others repeat, as bores along one axis do: each edge would count several times."""
    rows = np.column_stack((normals, offsets))
    same = (np.abs(rows[:, None] - rows[None]) < _SAME).all(axis=2)
    first = np.argmax(same, axis=1) == np.arange(len(rows))
    return normals[first], offsets[first]


@dataclass(frozen=True, eq=False)
class _Tool:
    """A convex tool, in the frame of its first bore: the planes n . x = d around it with n outward ((f, 3), (f,)),
    and its edges as pairs of planes (e, 2) with their ends (e, 2, 3), running counter-clockwise about the first.
    """

    normals: FloatArray
    offsets: FloatArray
    planes_of_edge: LongArray
    ends: FloatArray

    @classmethod
    def of(cls, bores: Sequence[Bore]) -> _Tool | None:
        """What the bores have in common; None if that is nothing."""
        frame = bores[0]
        planes = [bore.planes(frame) for bore in bores]
        normals, offsets = _each_once(np.vstack([n for n, _ in planes]), np.concatenate([d for _, d in planes]))
        pairs = np.array(list(combinations(range(len(normals)), 2)))
        along = np.cross(normals[pairs[:, 0]], normals[pairs[:, 1]])
        square = np.einsum("ij,ij->i", along, along)
        pairs, along, square = (x[square > 1e-18] for x in (pairs, along, square))
        # The point of the line where two planes meet that is nearest to the origin.
        a, b = normals[pairs[:, 0]], normals[pairs[:, 1]]
        first, second = offsets[pairs[:, 0], None], offsets[pairs[:, 1], None]
        point = np.cross(first * b - second * a, along) / square[:, None]
        along = along / np.sqrt(square)[:, None]
        others = np.ones((len(pairs), len(normals)), dtype=bool)
        others[np.arange(len(pairs))[:, None], pairs] = False
        low, high = clip(point, along, normals, offsets, others)[:2]
        edge = np.flatnonzero(high - low > 1e-12)
        if len(edge) < 6:
            return None
        low, high = low[edge, None] * along[edge], high[edge, None] * along[edge]
        ends = np.stack([point[edge] + low, point[edge] + high], axis=1)
        return cls(normals, offsets, pairs[edge], ends)


def _taken(part: Reach, tool: _Tool) -> int | None:
    """Euler number of the material inside one convex tool, None when the count does not come out even."""
    low, high = tool.ends.min(axis=(0, 1)), tool.ends.max(axis=(0, 1))
    corners = part.vertices[part.faces]
    near = ((corners.min(axis=1) <= high) & (corners.max(axis=1) >= low)).all(axis=1)
    faces, corners = part.faces[near], corners[near]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    pierced, on_edges = _where_tool_edges_pierce(corners, normal, faces, tool)
    in_skin, at_skin_edges = _skin_inside(part.vertices, faces, normal, pierced, tool)
    extremes = tool.ends.reshape(-1, 3)
    heights = extremes @ _UP
    poles = extremes[[heights.argmin(), heights.argmax()]]
    on_wall = int(np.count_nonzero(winding_at(part, poles) > 0)) + on_edges + at_skin_edges
    return (in_skin - on_wall) // 2 if (in_skin - on_wall) % 2 == 0 else None


def _skin_inside(
    vertices: FloatArray, faces: IntArray, normal: FloatArray, pierced: BoolArray, tool: _Tool
) -> tuple[int, int]:
    """E of the skin inside the tool, and the critical points of the height where skin edges cross its walls."""
    sides = np.vstack([faces[:, [k, (k + 1) % 3]] for k in range(3)])
    owner = np.tile(np.arange(len(faces)), 3)
    first, second = np.sort(sides, axis=1).T
    since, until, enter, leave = clip(vertices[first], vertices[second] - vertices[first], tool.normals, tool.offsets)
    meets = np.maximum(since, 0.0) < np.minimum(until, 1.0)
    met = pierced.copy()
    met[owner[meets]] = True
    corners = np.unique(faces)
    inside = (vertices[corners] @ tool.normals.T < tool.offsets).all(axis=1)
    edges = len(np.unique(sides.min(axis=1)[meets] * np.int64(len(vertices)) + sides.max(axis=1)[meets]))
    euler = int(np.count_nonzero(inside)) - edges + int(np.count_nonzero(met))
    # Each crossing joins the curve pieces in the two faces of the edge. The one where the edge, run as that face runs
    # it, goes into the tool is where the curve goes on.
    forward = sides[:, 0] == first
    total = 0
    for crosses, plane, inward in ((meets & (since > 0.0), enter, True), (meets & (until < 1.0), leave, False)):
        rows = np.flatnonzero(crosses)
        key = first[rows] * np.int64(len(vertices)) + second[rows]
        onward = forward[rows] == inward
        out, back = rows[onward], rows[~onward]
        out, back = out[np.argsort(key[onward], kind="stable")], back[np.argsort(key[~onward], kind="stable")]
        if len(out) != len(back):
            return euler, 1 - euler % 2
        n_out, n_back, wall = normal[owner[out]], normal[owner[back]], tool.normals[plane[out]]
        turn = np.einsum("ij,ij->i", wall, np.cross(n_back, n_out))
        total += _critical(np.cross(wall, n_back), np.cross(wall, n_out), turn > 0.0, turn < 0.0)
    return euler, total


def _where_tool_edges_pierce(
    corners: FloatArray, normal: FloatArray, faces: IntArray, tool: _Tool
) -> tuple[BoolArray, int]:
    """(m,) bool of the faces that an edge of the tool pierces, and the critical points of the height there."""
    start, way = tool.ends[:, 0], tool.ends[:, 1] - tool.ends[:, 0]
    edge, face = np.divmod(_pierced_pairs(start, way, corners, faces), len(corners))
    pierced = np.zeros(len(corners), dtype=bool)
    pierced[face] = True
    skin, along = normal[face], way[edge]
    first, second = (tool.normals[tool.planes_of_edge[edge, k]] for k in (0, 1))
    # The edge runs counter-clockwise about its first wall, clockwise about its second. The curve goes on in that wall
    # about which the edge, run counter-clockwise, leaves the material.
    onward_first = np.einsum("ij,ij->i", skin, along) > 0.0
    out = np.where(onward_first[:, None], first, second)
    back = np.where(onward_first[:, None], second, first)
    # Seen from outside, the wall where the curve arrives is left of the edge run counter-clockwise about it. If the
    # edge rises, it comes from the left: at a lowest place it then turns left, at a highest one right.
    rises = np.where(onward_first, -(along @ _UP), along @ _UP)
    return pierced, _critical(np.cross(back, skin), np.cross(out, skin), rises > 0.0, rises > 0.0)


def _pierced_pairs(start: FloatArray, way: FloatArray, corners: FloatArray, faces: IntArray) -> LongArray:
    """edge * m + face for each segment start + t way, 0 < t < 1, that goes through a face ((m, 3, 3) corners)."""
    found = []
    count = len(corners)
    for edge in range(len(start)):
        w = way[edge]
        sides: list[BoolArray] = []
        for k in range(3):
            i, j = (k + 1) % 3, (k + 2) % 3
            ordered = faces[:, i] < faces[:, j]
            low = np.where(ordered[:, None], corners[:, i], corners[:, j]) - start[edge]
            high = np.where(ordered[:, None], corners[:, j], corners[:, i]) - start[edge]
            # The same product for both faces at an edge, so they agree on its side.
            sides.append((np.cross(low, high) @ w > 0.0) == ordered)
        hit = np.flatnonzero((sides[0] == sides[1]) & (sides[1] == sides[2]))
        normal = np.cross(corners[hit, 1] - corners[hit, 0], corners[hit, 2] - corners[hit, 0])
        before = np.einsum("ij,ij->i", normal, start[edge] - corners[hit, 0])
        after = np.einsum("ij,ij->i", normal, start[edge] + w - corners[hit, 0])
        found.append(edge * count + hit[(before > 0.0) != (after > 0.0)])
    return np.concatenate(found).astype(np.int64)


def _critical(arriving: FloatArray, leaving: FloatArray, left: BoolArray, right: BoolArray) -> int:
    """Lowest places of curves where they turn left less highest ones where they turn right, from the directions there
    ((c, 3)) and which way they would turn ((c,)).
    """
    falls_before, rises_after = arriving @ _UP < 0.0, leaving @ _UP > 0.0
    lowest, highest = falls_before & rises_after & left, ~falls_before & ~rises_after & right
    return int(np.count_nonzero(lowest)) - int(np.count_nonzero(highest))
