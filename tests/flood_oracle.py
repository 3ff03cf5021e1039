"""A flood fill of any mesh, layer by layer: what the states that the product tells are held against.

Nothing here uses columns, join trees or rays of the product; only the direction to the plate is taken from the pose.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import ndimage
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from ventplanner.geometry.pose import On, Pose
from ventplanner.geometry.solid import Solid

Array = np.ndarray


def frame_of(pose: Pose) -> Array:
    """(3, 3) some rotation to axes whose third points away from the plate."""
    up = -np.array(pose.to_plate)
    other = np.eye(3)[np.argmin(np.abs(up))]
    x = np.cross(other, up)
    x /= np.linalg.norm(x)
    return np.array([x, np.cross(up, x), up])


@dataclass(frozen=True)
class Flood:
    """A part as voxels (x, y, z in build axes, the lowest layer first): `filled`, and what was `sealed` when its layer
    was the last one printed. origin: (3,) middle of voxel 0; turn: file to build axes."""

    filled: Array
    sealed: Array
    origin: Array
    step: float
    turn: Array

    def late_volumes(self, late_mm: float = 0.5, late_mm3: float = 20.0) -> list[float]:
        """mm3 of every sealed region that is larger and higher than may be."""
        label, _ = ndimage.label(self.sealed)
        volumes = []
        for k, box in enumerate(ndimage.find_objects(label), start=1):
            volume = float(np.count_nonzero(label[box] == k)) * self.step**3
            height = (box[2].stop - box[2].start) * self.step
            if volume > late_mm3 and height > late_mm + 2.0 * self.step:
                volumes.append(volume)
        return volumes

    def sealed_at(self, point: Sequence[float], reach: int = 1) -> bool:
        """Whether the voxels about a point (file axes) were sealed when they were printed."""
        i, j, k = np.round((self.turn @ np.asarray(point) - self.origin) / self.step).astype(int)
        near = self.sealed[i - reach : i + reach + 1, j - reach : j + reach + 1, max(k, 0) : k + reach + 1]
        return bool(near.any())


def flood(solid: Solid, pose: Pose, step: float) -> Flood:
    """Voxels by winding number along x (the product looks along z), flood-filled layer by layer (scipy)."""
    turn = frame_of(pose)
    points = solid.vertices @ turn.T
    low, high = points.min(axis=0), points.max(axis=0)
    # Off round places, so that no ray meets an edge of a constructed part.
    origin = low - step * np.array([1.37, 1.41, -0.5])
    shape = np.ceil((high - origin) / step + np.array([1.4, 1.4, 0.0])).astype(int)
    origin[2] += 1e-4 * step
    filled = _raster(points[solid.faces], origin, step, shape)
    return Flood(filled, _sealed(filled, pose.on), origin, step, turn)


def _raster(corners: Array, origin: Array, step: float, shape: Array) -> Array:
    turns = np.zeros(shape + 1, dtype=np.int32)
    u = (corners - origin) / step
    (_, ay, az), (_, by, bz), (_, cy, cz) = u.transpose(1, 2, 0)
    det = (by - ay) * (cz - az) - (cy - ay) * (bz - az)
    low, high = np.maximum(np.ceil(u.min(axis=1)), 0).astype(int), np.floor(u.max(axis=1)).astype(int)
    rows, layers = (np.maximum(high[:, a] - low[:, a] + 1, 0) for a in (1, 2))
    # Every triangle with every voxel's line in the box round it.
    lines = np.where(det == 0.0, 0, rows * layers)
    face = np.repeat(np.arange(len(u)), lines)
    number = np.arange(len(face)) - np.repeat(np.cumsum(lines) - lines, lines)
    j, k = low[face, 1] + number // layers[face], low[face, 2] + number % layers[face]
    y, z, det = j - ay[face], k - az[face], det[face]
    v = (y * (cz - az)[face] - (cy - ay)[face] * z) / det
    w = ((by - ay)[face] * z - y * (bz - az)[face]) / det
    met = (v > 0) & (w > 0) & (v + w < 1) & (k < shape[2])
    ax, bx, cx = u[face[met], :, 0].T
    x = ax + v[met] * (bx - ax) + w[met] * (cx - ax)
    first = np.clip(np.ceil(x).astype(int), 0, shape[0])
    np.add.at(turns, (first, j[met], k[met]), np.where(det[met] > 0, -1, 1))
    return np.cumsum(turns, axis=0)[:-1, :-1, :-1] > 0


def _sealed(filled: Array, on: On) -> Array:
    """Free voxels that no free way through this and earlier layers leads out of.

    Each layer falls into patches that touch by their sides (scipy); which of them hang together up to a layer is asked
    anew for every layer.
    """
    below = int(on == "supports")
    free = np.pad(~filled, ((1, 1), (1, 1), (below, 0)), constant_values=True)
    flat = np.zeros((3, 3, 3), dtype=bool)
    flat[:, 1, 1] = flat[1, :, 1] = True
    patch, count = ndimage.label(free, flat, output=np.int64)
    layer = np.zeros(count + 1, dtype=int)
    layer[patch] = np.arange(patch.shape[2])
    lower, upper = patch[:, :, :-1], patch[:, :, 1:]
    both = (lower > 0) & (upper > 0)
    touch = np.array(np.divmod(np.unique(lower[both] * (count + 1) + upper[both]), count + 1))
    sealed = np.zeros_like(filled)
    for k in range(filled.shape[2]):
        a, b = touch[:, layer[touch[1]] <= k + below]
        _, whole = connected_components(
            coo_array((np.ones(len(a)), (a, b)), shape=(count + 1, count + 1)), directed=False
        )
        top = patch[1:-1, 1:-1, k + below]
        sealed[:, :, k] = (top != 0) & (whole[top] != whole[patch[0, 0, 0]])
    return sealed
