"""Faces of a skin chosen by what is at hand: under a brush, up to the creases around, or all that is seen from a side.

Lengths and limits without a named source are own judgement.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from threading import Lock

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.face_mask import BoolArray, FaceMask
from ventplanner.geometry.marking_kernels import paint_depth, spread
from ventplanner.geometry.solid import FloatArray, IntArray, Solid
from ventplanner.geometry.topology import face_neighbours

ShortArray = NDArray[np.float32]

CREASE_DEG = 30.0
"""A flood stops at edges where the skin bends by more than this: above what fine round shapes have between triangles,
below the edges that a maker sees."""

TURNED_AWAY = -0.17
"""A brush reaches no face that is turned away from the one under it by more than 100 degrees: it paints one side of a
thin wall, also near its rim."""

SEEN_PIXELS = 2048
"""What is seen is looked at with so many pixels along the longer side of the part."""

_STEEPEST = 5.0
_ANY_TURN, _ANY_BEND = -2.0, 1e9


class _Bench:
    """Work space for walks over the skin, one at a time."""

    def __init__(self, faces: int) -> None:
        self.lock = Lock()
        self.stamps, self.found, self.stamp = np.zeros(faces, np.int32), np.empty(faces, np.int32), 0


@dataclass(frozen=True, eq=False)
class Surface:
    """The skin of a part made ready for marking.

    vertices: (n, 3) mm; faces: (m, 3). neighbours: (m, 3) face across each side, -1 for none. middle: (m, 3) float32
    mm. normal: (m, 3) float32 unit, 0 for a flat face. bend: (m, 3) float32 degrees by which the skin turns across each
    side, 0 where that is not known.
    """

    vertices: FloatArray
    faces: IntArray
    neighbours: IntArray
    middle: ShortArray
    normal: ShortArray
    bend: ShortArray
    _bench: _Bench = field(repr=False)

    @classmethod
    def of(cls, solid: Solid, vertices: FloatArray) -> Surface:
        """A part with its vertices as they are posed, (n, 3); about 1 s for a million faces."""
        neighbours, agrees = face_neighbours(solid, np.empty(0, np.int32))
        a, b, c = (vertices[solid.faces[:, k]] for k in range(3))
        across = np.cross(b - a, c - a)
        size = np.sqrt(np.einsum("ij,ij->i", across, across))
        normal = (across / np.where(size > 0.0, size, 1.0)[:, None]).astype(np.float32)
        bend = np.zeros(neighbours.shape, np.float32)
        for side in range(3):
            other = neighbours[:, side]
            known = (other >= 0) & (size > 0.0) & (size[other] > 0.0)
            turn = np.einsum("ij,ij->i", normal[known], normal[other[known]])
            turn = np.where(agrees[known, side], turn, -turn)
            bend[known, side] = np.degrees(np.arccos(np.clip(turn, -1.0, 1.0)))
        middle = ((a + b + c) / 3.0).astype(np.float32)
        return cls(vertices, solid.faces, neighbours, middle, normal, bend, _Bench(len(solid.faces)))

    def brush(self, face: int, point: FloatArray, radius: float) -> IntArray:
        """The faces under a round brush, (k,) int32: the one that is touched, and those that hang together with it over
        the skin, have their middle within the radius (mm) of the point, and are not turned away."""
        return self._walk(face, point, radius, TURNED_AWAY, _ANY_BEND)

    def flood(self, face: int, crease_deg: float = CREASE_DEG) -> IntArray:
        """The faces around one, (k,) int32, up to the edges where the skin bends by more than an angle."""
        return self._walk(face, np.zeros(3), np.inf, _ANY_TURN, crease_deg)

    def _walk(self, face: int, point: FloatArray, radius: float, turned: float, bent: float) -> IntArray:
        bench, centre = self._bench, np.array(point, dtype=np.float64)
        with bench.lock:
            bench.stamp += 1
            skin = self.neighbours, self.middle, self.normal, self.bend
            count = spread(*skin, face, centre, radius, turned, bent, bench.stamps, bench.stamp, bench.found)
            return bench.found[:count].copy()

    def seen(self, axes: FloatArray, pixels: int = SEEN_PIXELS) -> FaceMask:
        """The faces that are seen in a parallel view, with the whole part in the way: those of which the middle of a
        pixel is seen, or their own.

        axes: (3, 3) unit vectors to the right, upwards and towards the viewer. pixels: along the longer side; what is
        seen of less than a pixel may be missed.
        """
        placed = self.vertices @ axes.T
        low, high = placed.min(axis=0), placed.max(axis=0)
        scale = (pixels - 2) / max(float((high - low)[:2].max()), 1e-12)
        stretch, shift = np.array([scale, scale, 1.0]), np.array([1.0 - low[0] * scale, 1.0 - low[1] * scale, 0.0])
        width, height = (int(x) + 2 for x in (high - low)[:2] * scale + 1.0)
        depth = np.full((height, width), -np.inf, np.float32)
        owner = np.full((height, width), -1, np.int32)
        paint_depth(placed * stretch + shift, self.faces, depth, owner)
        towards = self.normal @ axes[2].astype(np.float32)
        found = self._middles_seen(axes, (stretch, shift), depth, towards)
        found[owner[owner >= 0]] = True
        return FaceMask.of(found & (towards > 0.0))

    def _middles_seen(
        self, axes: FloatArray, fitting: tuple[FloatArray, FloatArray], depth: ShortArray, towards: ShortArray
    ) -> BoolArray:
        """(m,) whether the middle of each face is the first thing there: nothing lies before it by more than its own
        slope makes within a pixel."""
        stretch, shift = (x.astype(np.float32) for x in fitting)
        x, y, z = ((self.middle @ axes[k].astype(np.float32)) * stretch[k] + shift[k] for k in range(3))
        there = depth[y.astype(np.int32).clip(0, len(depth) - 1), x.astype(np.int32).clip(0, depth.shape[1] - 1)]
        slope = np.sqrt(np.maximum(1.0 - towards**2, 0.0)) / np.maximum(towards, np.float32(1e-6))
        return np.asarray(z >= there - (np.float32(0.25) + np.minimum(slope, np.float32(_STEEPEST))) / stretch[0])
