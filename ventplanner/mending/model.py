"""The values of mending: the mesh between two steps, the steps by name, and the record that each one leaves."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.solid import Body, FloatArray, IntArray, Solid

if TYPE_CHECKING:
    from ventplanner.mending.edges import Edges

LongArray = NDArray[np.int64]
Flags = NDArray[np.bool_]
Place = tuple[float, float, float]

THROUGH_ITSELF: Final = "faces that go through their own skin"

HAIR_MM: Final = 0.002
"""Faces that go through others by no more than this are left alone: no printer shows it, and parted skins may."""

MOST_PLACES: Final = 20


@dataclass(frozen=True, eq=False)
class Mesh:
    """vertices (n, 3) float64 mm; faces (m, 3) int32; body (m,) int32, the body of the file that each face is of."""

    vertices: FloatArray
    faces: IntArray
    body: IntArray

    @classmethod
    def of(cls, solid: Solid) -> Mesh:
        """The mesh of a solid; a face that no body claims is of the first one."""
        body = np.zeros(len(solid.faces), np.int32)
        for number, one in enumerate(solid.bodies):
            body[one.start : one.stop] = number
        return cls(solid.vertices, solid.faces, body)

    @cached_property
    def edges(self) -> Edges:
        """Its half-edges."""
        from ventplanner.mending.edges import Edges  # compiled loops: not before the window is shown

        return Edges.of(self.faces, len(self.vertices))

    def keeping(self, kept: Flags) -> Mesh:
        """Without the faces that are not kept."""
        return Mesh(self.vertices, self.faces[kept], self.body[kept])

    def adding(self, vertices: FloatArray, faces: IntArray, body: IntArray) -> Mesh:
        """With more vertices and faces; indices from n on name the new vertices."""
        return Mesh(
            np.vstack([self.vertices, vertices]),
            np.vstack([self.faces, faces]).astype(np.int32),
            np.concatenate([self.body, body]).astype(np.int32),
        )

    def solid(self, like: Solid) -> Solid:
        """As a solid with the source and the bodies of another one, without the vertices that no face uses."""
        order = np.argsort(self.body, kind="stable")
        ends = np.searchsorted(self.body[order], np.arange(len(like.bodies) + 1))
        runs = zip(like.bodies, pairwise(ends.tolist()), strict=True)
        bodies = tuple(Body(one.name, start, stop) for one, (start, stop) in runs if stop > start)
        return like.with_mesh(self.vertices, self.faces[order], bodies).compact()


def corners_of(mesh: Mesh, faces: NDArray[np.integer]) -> FloatArray:
    """(k, 3) mm: the middle of each of the given faces."""
    return np.asarray(mesh.vertices[mesh.faces[faces]].mean(axis=1))


@dataclass(frozen=True)
class Loss:
    """What is no longer as it was.

    distance_mm: the largest one between old and new surface. volume_mm3: material gained, below 0 if lost; None where
    the old surface enclosed nothing. detail_mm: what is finer may be gone; None where nothing is. doubt_mm3: how much
    volume depends on how gaps are spanned.
    """

    distance_mm: float
    volume_mm3: float | None
    detail_mm: float | None = None
    doubt_mm3: float = 0.0

    def with_(self, other: Loss | None) -> Loss:
        """Of two changes in different places."""
        if other is None:
            return self
        volumes = [x.volume_mm3 for x in (self, other) if x.volume_mm3 is not None]
        details = [x.detail_mm for x in (self, other) if x.detail_mm is not None]
        return Loss(
            max(self.distance_mm, other.distance_mm),
            sum(volumes) if volumes else None,
            max(details, default=None),
            self.doubt_mm3 + other.doubt_mm3,
        )


@dataclass(frozen=True)
class Record:
    """What a step did: its name, what was changed, how often, and up to 20 places in mm in the file's axes.

    loss: what that cost, of steps that draw a surface anew.
    """

    step: str
    what: str
    count: int
    places_mm: tuple[Place, ...] = ()
    loss: Loss | None = None


def record(step: str, what: str, points: FloatArray, loss: Loss | None = None) -> tuple[Record, ...]:
    """One record of changes at (k, 3) points; none where k is 0."""
    if not len(points):
        return ()
    shown = tuple((float(x), float(y), float(z)) for x, y, z in points[:MOST_PLACES])
    return (Record(step, what, len(points), shown, loss),)


def merged(records: tuple[Record, ...]) -> tuple[Record, ...]:
    """Those of the same step that tell the same as one, in the order of their first."""
    kept: dict[tuple[str, str], Record] = {}
    for one in records:
        known = kept.get((one.step, one.what))
        if known is None:
            kept[one.step, one.what] = one
            continue
        places = (*known.places_mm, *one.places_mm)[:MOST_PLACES]
        loss = one.loss if known.loss is None else known.loss.with_(one.loss)
        kept[one.step, one.what] = Record(one.step, one.what, known.count + one.count, places, loss)
    return tuple(kept.values())
