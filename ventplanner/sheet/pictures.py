"""Pictures of a mesh in grey, made of rays: no screen, no graphics card, the same everywhere. One module for all."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.rays import Target, material_along, square_to
from ventplanner.geometry.sight import Sight
from ventplanner.geometry.solid import FloatArray

Grey = NDArray[np.uint8]

FINE = 2
"""Rays each way for a pixel: their mean smooths the edges."""

LIGHT = np.array([-0.35, 0.55, 0.76])
"""Where the light comes from, in the viewer's axes: right, up, towards the viewer."""

STEEP = 0.02
"""An edge is drawn where depth jumps by more than this share of the picture's height."""

MATERIAL, VOID = 178, 255


@dataclass(frozen=True, eq=False)
class Eye:
    """A level, parallel look. towards: unit vector from the viewer to the part; right, up: unit; middle: (3,) what is
    in the middle of the picture; scale: pixels for each mm; width, height: pixels."""

    towards: FloatArray
    right: FloatArray
    up: FloatArray
    middle: FloatArray
    scale: float
    width: int
    height: int

    @classmethod
    def at(cls, points: FloatArray, towards: FloatArray, width: int, height: int, upwards: FloatArray) -> Eye:
        """The look in this direction that has all points in it. upwards: what is up in the picture, about."""
        towards = towards / np.linalg.norm(towards)
        right = np.cross(towards, upwards)
        if np.linalg.norm(right) < 1e-6:  # straight from above or below
            right = np.cross(towards, np.array([0.0, 1.0, 0.0]))
        right = right / np.linalg.norm(right)
        up = np.cross(right, towards)
        flat = points @ np.stack((right, up), axis=1)
        low, high = flat.min(axis=0), flat.max(axis=0)
        scale = 0.94 * min(width / max(high[0] - low[0], 1e-6), height / max(high[1] - low[1], 1e-6))
        centre = 0.5 * (low + high)
        depth = points @ towards
        middle = centre[0] * right + centre[1] * up + 0.5 * (depth.min() + depth.max()) * towards
        return cls(towards, right, up, middle, float(scale), width, height)

    def pixel(self, points: FloatArray) -> FloatArray:
        """(k, 2) pixels, y downwards, of (k, 3) points."""
        apart = np.atleast_2d(points) - self.middle
        x, y = apart @ self.right, apart @ self.up
        return np.stack((0.5 * self.width + self.scale * x, 0.5 * self.height - self.scale * y), axis=1)

    def rays(self, reach: float) -> FloatArray:
        """(height * FINE * width * FINE, 3) where the rays start, row by row, `reach` mm before the middle."""
        x = ((np.arange(self.width * FINE) + 0.5) / FINE - 0.5 * self.width) / self.scale
        y = (0.5 * self.height - (np.arange(self.height * FINE) + 0.5) / FINE) / self.scale
        across = x[None, :, None] * self.right + y[:, None, None] * self.up
        return np.asarray(across + self.middle - reach * self.towards).reshape(-1, 3)


def shaded(sight: Sight, eye: Eye) -> Grey:
    """The part in light grey with its edges drawn: (height, width) uint8, 255 where nothing is."""
    vertices, faces = sight.target.vertices, sight.target.faces
    reach = float(np.ptp(vertices @ eye.towards)) + 1.0
    starts = eye.rays(reach)
    along, face = sight.first(starts, np.broadcast_to(eye.towards, starts.shape))
    rows, columns = eye.height * FINE, eye.width * FINE
    depth, hit = along.reshape(rows, columns), (face >= 0).reshape(rows, columns)
    order = np.empty(len(faces), dtype=np.int64)
    order[sight.target.number] = np.arange(len(faces))
    met = faces[order[np.maximum(face, 0)]]
    a, b, c = (vertices[met[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    length = np.linalg.norm(normal, axis=1)
    normal /= np.where(length > 0.0, length, 1.0)[:, None]
    light = LIGHT[0] * eye.right + LIGHT[1] * eye.up - LIGHT[2] * eye.towards
    bright = np.clip(normal @ (light / np.linalg.norm(light)), 0.0, 1.0).reshape(rows, columns)
    grey = np.where(hit, 140.0 + 108.0 * bright, 255.0)
    grey = np.where(_edges(np.where(hit, depth, np.inf), eye.height * STEEP / eye.scale), 15.0, grey)
    return _smaller(grey)


def _edges(depth: FloatArray, jump: float) -> NDArray[np.bool_]:
    """Where the skin ends before something farther away: outlines and the rims of holes, on both sides of the jump."""
    edge = np.zeros(depth.shape, dtype=bool)
    for axis in (0, 1):
        with np.errstate(invalid="ignore"):  # nothing beside nothing
            jumps = np.abs(np.diff(depth, axis=axis)) > jump
        here, beyond = ((slice(a, b), slice(None)) for a, b in ((None, -1), (1, None)))
        edge[here if axis == 0 else here[::-1]] |= jumps
        edge[beyond if axis == 0 else beyond[::-1]] |= jumps
    return edge


def cut(target: Target, eye: Eye) -> Grey:
    """The material in the plane through the eye's middle, square to its look: (height, width) uint8."""
    rows = eye.height * FINE
    half = 0.5 * eye.width / eye.scale
    y = (0.5 * eye.height - (np.arange(rows) + 0.5) / FINE) / eye.scale
    start = eye.middle - half * eye.right
    frame = square_to(eye.right)
    offsets = (y[:, None] * eye.up) @ frame.T
    stretches = material_along(target, start, eye.right, offsets)
    edge = np.zeros((rows, eye.width * FINE + 1))
    for place, sign in ((stretches.begin, 1.0), (stretches.end, -1.0)):
        column = np.clip(np.rint(place * eye.scale * FINE), 0, eye.width * FINE).astype(np.int64)
        np.add.at(edge, (stretches.ray, column), sign)
    inside = np.cumsum(edge, axis=1)[:, :-1] > 0.5
    return _smaller(np.where(inside, float(MATERIAL), float(VOID)))


def _smaller(fine: FloatArray) -> Grey:
    rows, columns = fine.shape
    mean = fine.reshape(rows // FINE, FINE, columns // FINE, FINE).mean(axis=(1, 3))
    return np.asarray(np.rint(mean), dtype=np.uint8)
