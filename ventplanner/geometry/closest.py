"""The nearest point of a mesh, exactly, for many points; and the signed distance to it on a grid.

Work goes to one thread for each core; the loops hold no interpreter lock.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.closest_kernels import (
    BLOCK,
    LEAF,
    NODE,
    bound_nodes,
    closest_points,
    gather_corners,
    offset_blocks,
    split_faces,
)
from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.geometry.spatial_order import morton_order

Flags = NDArray[np.uint8]
Values = NDArray[np.float32]
Share = Callable[[float], None]

_PIECES = 32


def _nobody(_share: float) -> None: ...


@dataclass(frozen=True, eq=False)
class Nearest:
    """A mesh made ready for many questions. corners: (m, 9), faces in spatial order; bounds: their tree of boxes."""

    corners: FloatArray
    bounds: FloatArray

    @classmethod
    def of(cls, vertices: FloatArray, faces: IntArray) -> Nearest:
        """Order and bound the faces ((m, 3), m > 0); 130 to 190 bytes a face are kept."""
        leaves = 1
        while leaves * LEAF < len(faces):
            leaves *= 2
        # In a spatial order first: dividing goes through memory in long strides otherwise.
        order = morton_order(vertices, faces)
        ordered = faces[order]
        centres = (vertices[ordered[:, 0]] + vertices[ordered[:, 1]] + vertices[ordered[:, 2]]) / 3.0
        half = leaves * LEAF // 2
        split_faces(centres, order, 2 * half, 2 * half)
        halves = (slice(0, half), slice(half, len(order)))
        _in_threads(lambda part: split_faces(centres[part], order[part], half, 2 * LEAF), halves, _nobody)
        faces = faces[order]
        bounds, corners = np.empty((2 * leaves - 1, NODE)), np.empty((len(faces), 9))
        _in_threads(
            lambda part: gather_corners(vertices, faces[part], corners[part]), _slices(len(faces)), _nobody
        )  # fmt: skip
        bound_nodes(corners, bounds)
        return cls(corners, bounds)

    def points(
        self, points: FloatArray, most: float = 1e9, share: Share = _nobody
    ) -> tuple[FloatArray, FloatArray]:  # fmt: skip
        """(k,) mm to the nearest point of the mesh and (k, 3) where it is; `most` mm and the point itself beyond that.

        points: (k, 3), best in an order in which neighbours follow each other. share: is told how much is done.
        """
        away, feet = np.empty(len(points)), np.empty((len(points), 3))

        def work(part: slice) -> None:
            closest_points(self.corners, self.bounds, points[part], most, away[part], feet[part])

        _in_threads(work, _slices(len(points)), share)
        return away, feet

    def offset(
        self, level: float, origin: FloatArray, step: float, inside: Flags, share: Share = _nobody
    ) -> Values:  # fmt: skip
        """Signed distance (mm, positive inside) less a level at the nodes of a grid, exact where it is below a step.

        What is beyond two steps is cut off there. inside: (nz, ny, nx) uint8; origin: x, y, z of the first node.
        """
        out = np.empty(inside.shape, dtype=np.float32)
        nodes = np.stack(np.meshgrid(*(np.arange(0, n, BLOCK, dtype=np.int32) for n in inside.shape), indexing="ij"))
        blocks = np.ascontiguousarray(nodes.reshape(3, -1).T)

        def work(part: slice) -> None:
            offset_blocks(blocks[part], origin, step, inside, level, self.corners, self.bounds, out)

        _in_threads(work, _slices(len(blocks)), share)
        return out


def _slices(count: int) -> list[slice]:
    ends = np.linspace(0, count, min(_PIECES, max(count, 1)) + 1).astype(int).tolist()
    return [slice(a, b) for a, b in pairwise(ends)]


def in_threads(work: Callable[[slice], None], count: int, share: Share = _nobody) -> None:
    """Work on `count` rows, a slice at a time, in as many threads as there are cores."""
    _in_threads(work, _slices(count), share)


def _in_threads(work: Callable[[slice], None], parts: Sequence[slice], share: Share) -> None:
    """All parts, in as many threads as there are cores; `share` may raise to cancel."""
    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        waiting = [pool.submit(work, part) for part in parts]
        try:
            for n, done in enumerate(as_completed(waiting)):
                done.result()
                share((n + 1) / len(parts))
        except BaseException:
            pool.shutdown(cancel_futures=True)
            raise
