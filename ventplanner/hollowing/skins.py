"""The skins of the hollow: drawn from the grid, brought to the exact wall, and proved to keep it everywhere."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from ventplanner.geometry.closest import Nearest
from ventplanner.geometry.solid import FloatArray, IntArray, box_of

TOLERANCE_MM = 0.02
"""A wall may be under what was asked by this much at most."""

SNAP_MM = 0.01
"""What a skin is farther than the wall by this is the grid's error, and taken away; three times that is on purpose."""

_ROUNDS = 12

Share = Callable[[float], None]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Skins:
    """Skins of the hollow, build axes. vertices: (n, 3). faces: (m, 3), normals towards the void. skin: (m,) number of
    the skin of each face. volumes: (k,) mm3 of void that each encloses, negative for an island of material."""

    vertices: FloatArray
    faces: IntArray
    skin: IntArray
    volumes: FloatArray

    @classmethod
    def of(cls, vertices: FloatArray, faces: IntArray) -> Skins:
        """Tell the skins apart."""
        n = len(vertices)
        edges = (np.concatenate((faces[:, 0], faces[:, 1])), np.concatenate((faces[:, 1], faces[:, 2])))
        graph = coo_array((np.ones(len(edges[0]), dtype=np.int8), edges), shape=(n, n))
        count, label = connected_components(graph, directed=False)
        skin = label[faces[:, 0]].astype(np.int32)
        a, b, c = (vertices[faces[:, k]] for k in range(3))
        six = np.einsum("ij,ij->i", a, np.cross(b, c))
        return cls(vertices, faces, skin, -np.bincount(skin, six, minlength=count) / 6.0)

    def chosen(self, keep: Bools) -> Skins:
        """Those of the skins that are kept ((k,) bool), numbered anew in the same order."""
        if keep.all():
            return self
        stays = keep[self.skin]
        faces = self.faces[stays]
        used = np.zeros(len(self.vertices), dtype=bool)
        used[faces] = True
        number = np.cumsum(used, dtype=np.int32) - 1
        again = np.cumsum(keep, dtype=np.int32) - 1
        return Skins(self.vertices[used], number[faces], again[self.skin[stays]], self.volumes[keep])

    def area_above(self, height: float) -> float:
        """mm2 of the faces whose middles are above a build height."""
        a, b, c = (self.vertices[self.faces[:, k]] for k in range(3))
        high = a[:, 2] + b[:, 2] + c[:, 2] > 3.0 * height
        return float(0.5 * np.linalg.norm(np.cross(b - a, c - a)[high], axis=1).sum())

    def large_enough(self, least_mm3: float) -> tuple[Skins, int]:
        """Without hollows below a volume, and islands that lie in none of what is left; how many hollows went."""
        keep = self.volumes >= max(least_mm3, 1e-9)
        gone = int(np.count_nonzero((self.volumes > 0.0) & ~keep))
        islands = np.flatnonzero(self.volumes <= 0.0)
        holes = [self._box(s) for s in np.flatnonzero(keep)] if len(islands) else []
        for s in islands:
            low, high = self._box(s)
            keep[s] = any((hole[0] <= low).all() and (hole[1] >= high).all() for hole in holes)
        return self.chosen(keep), gone

    def _box(self, skin: np.intp) -> FloatArray:
        return box_of(self.vertices[self.faces[self.skin == skin].reshape(-1)])


@dataclass(frozen=True, eq=False)
class Fitted:
    """Skins at the exact wall. least_mm: no point of them is nearer to the outer skin, proved. mean_mm, share: mean
    wall where nothing but the wall decides, and the share of their vertices of which that is true."""

    vertices: FloatArray
    least_mm: float
    mean_mm: float
    share: float


def fit(skins: Skins, outer: Nearest, wall: float, share: Share) -> Fitted | None:
    """Bring vertices to the exact wall, then push what is too near; None if a wall too thin is left.

    A vertex that is d from the outer skin and moved by s towards it is at least d - s from it: bringing one nearer to
    the wall needs no second look. outer: the part's skin, build axes.
    """
    points, reach = skins.vertices.copy(), wall + 4.0 * SNAP_MM
    away, feet = outer.points(points, reach, lambda done: share(0.6 * done))
    beyond = away - wall
    # Fully up to SNAP_MM, then less and less: no step is left in the skin.
    weight = np.clip((3.0 * SNAP_MM - beyond) / (2.0 * SNAP_MM), 0.0, 1.0)
    pull = np.where(beyond > 0.0, weight * beyond, 0.0)
    points -= (pull / away)[:, None] * (points - feet)
    away = away - pull
    for _ in range(3):
        low = np.flatnonzero(away < wall - 1e-4)
        if not len(low):
            break
        _push(points, low, wall - away[low], away[low], feet[low])
        away[low], feet[low] = outer.points(points[low], reach)
    bound = _proved(points, skins.faces, away, outer, wall, share)
    if bound is None:
        return None
    even = away < wall + 3.0 * SNAP_MM
    mean = float(away[even].mean()) if even.any() else wall
    return Fitted(points, bound, mean, float(even.mean()))


def _push(points: FloatArray, which: NDArray[np.int64], by: FloatArray, away: FloatArray, feet: FloatArray) -> None:
    """Move some points away from their feet, in place."""
    points[which] += (by / np.maximum(away, 1e-9))[:, None] * (points[which] - feet)


def _proved(
    points: FloatArray, faces: IntArray, away: FloatArray, outer: Nearest, wall: float, share: Share
) -> float | None:
    """The least distance of any point of the faces to the outer skin, at least; vertices are pushed in place until that
    is within the tolerance, None if it does not get there.

    For a point x in a face and any point q, the mean of the squared distances of q to the corners, with the weights of
    x, is |x - q|^2 plus the mean of |x - corner|^2 (parallel axes; Leibniz). With q the nearest point of the skin to x:
    d(x)^2 >= least d(corner)^2 - r^2, r the radius of the smallest circle round the face. Faces for which that is not
    enough are divided in four, and their new corners measured.
    """
    least = np.inf
    for turn in range(_ROUNDS):
        bound = _bounds(points[faces], away[faces])
        doubtful = np.flatnonzero(bound < wall - TOLERANCE_MM)
        least = float(np.delete(bound, doubtful).min(initial=np.inf))
        corners, at = points[faces[doubtful]], away[faces[doubtful]]
        owner, worst = doubtful, np.zeros(len(doubtful))
        for _level in range(3):
            if not len(owner):
                break
            corners, at, owner = _divided(corners, at, owner, outer)
            part = _bounds(corners, at)
            passed = part >= wall - TOLERANCE_MM
            least = min(least, float(part[passed].min(initial=np.inf)))
            corners, at, owner = corners[~passed], at[~passed], owner[~passed]
            worst = part[~passed]
        if not len(owner):
            return least
        # A push of all its corners by what is missing brings a face away from a smooth skin.
        need = np.zeros(len(points))
        for k in range(3):
            np.maximum.at(need, faces[owner, k], wall - TOLERANCE_MM - worst + 0.1 * TOLERANCE_MM)
        moved = np.flatnonzero(need > 0.0)
        near, feet = outer.points(points[moved], 2.0 * wall + 1.0)
        _push(points, moved, need[moved] * (1.0 + 0.5 * turn), near, feet)
        away[moved] = outer.points(points[moved], 2.0 * wall + 1.0)[0]
        share(0.6 + 0.4 * turn / _ROUNDS)
    return None


def _bounds(corners: FloatArray, away: FloatArray) -> FloatArray:
    """(m,) least distance of each face to the skin, at least. corners: (m, 3, 3); away: (m, 3) of its corners."""
    square = [((corners[:, k] - corners[:, (k + 1) % 3]) ** 2).sum(axis=1) for k in range(3)]
    a, b, c = np.sort(np.stack(square), axis=0)
    # Acute: round all corners, R^2 = abc / (2ab + 2bc + 2ca - a^2 - b^2 - c^2) in squares; else over the longest edge.
    below = 2.0 * (a * b + b * c + c * a) - a * a - b * b - c * c
    with np.errstate(divide="ignore", invalid="ignore"):
        radius = np.where((a + b > c) & (below > 0.0), a * b * c / below, 0.25 * c)
    return np.asarray(np.sqrt(np.maximum(away.min(axis=1) ** 2 - radius, 0.0)))


def _divided(
    corners: FloatArray, away: FloatArray, owner: NDArray[np.int64], outer: Nearest
) -> tuple[FloatArray, FloatArray, NDArray[np.int64]]:
    """Each face in four at the middles of its edges, with the distances there."""
    middles = 0.5 * (corners + corners[:, [1, 2, 0]])
    most = float(away.max()) + 1.0
    near = outer.points(np.ascontiguousarray(middles.reshape(-1, 3)), most)[0].reshape(-1, 3)
    picks = ((0, 3, 5), (3, 1, 4), (5, 4, 2), (3, 4, 5))
    points, gaps = np.concatenate((corners, middles), axis=1), np.concatenate((away, near), axis=1)
    return (
        np.concatenate([points[:, pick] for pick in picks]),
        np.concatenate([gaps[:, pick] for pick in picks]),
        np.tile(owner, 4),
    )
