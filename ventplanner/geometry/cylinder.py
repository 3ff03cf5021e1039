"""Round tools as closed triangle meshes."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from ventplanner.errors import ParameterError
from ventplanner.geometry.solid import FloatArray, IntArray

CHORD_MM = 0.01
"""Largest distance between the true circle and the polygon that stands for it, before the polygon is sized."""

PHASE = 0.37
"""Where the first polygon corner lies, in steps: off the axes, so that corners rarely fall on a model's edges."""


def segments_for(radius: float) -> int:
    """Even number of polygon corners, 24 to 96, that keeps the sagitta r (1 - cos(pi / n)) within `CHORD_MM`."""
    if radius <= CHORD_MM:
        return 24
    needed = math.pi / math.acos(1.0 - CHORD_MM / radius)
    return min(96, max(24, 2 * math.ceil(needed / 2.0)))


def corner_radius(radius: float, segments: int) -> float:
    """Radius through the corners of the regular polygon whose area is pi r^2: r sqrt((2 pi / n) / sin(2 pi / n))."""
    step = 2.0 * math.pi / segments
    return radius * math.sqrt(step / math.sin(step))


def across(axis: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Two unit vectors u, v with (u, v, axis) right-handed; (3,) each, a smooth rule without a special case.

    Duff et al. 2017, "Building an orthonormal basis, revisited", J. Computer Graphics Techniques 6(1), listing 3.
    """
    x, y, z = (float(c) for c in axis)
    sign = math.copysign(1.0, z)
    a = -1.0 / (sign + z)
    b = x * y * a
    return np.array([1.0 + sign * x * x * a, sign * b, -sign * x]), np.array([b, sign + y * y * a, -y])


def cylinder(
    start: ArrayLike, end: ArrayLike, radius: float, segments: int | None = None
) -> tuple[FloatArray, IntArray]:
    """A closed cylinder from `start` to `end` ((3,) each, mm) with its faces outward.

    The polygon has the AREA of the true circle, so straight through a flat wall exactly pi r^2 times the wall is
    removed; its sides lie up to `CHORD_MM` inside or outside the circle. The same arguments give the same bits.

    Returns vertices (2 n + 2, 3) float64 (start ring, end ring, start centre, end centre) and faces (4 n, 3) int32
    (two triangles for each of the n sides, then the start cap, then the end cap). Raises ParameterError.
    """
    p, q = np.asarray(start, dtype=np.float64), np.asarray(end, dtype=np.float64)
    length = float(np.linalg.norm(q - p))
    if not (np.isfinite(length) and length > 0.0 and math.isfinite(radius) and radius > 0.0):
        raise ParameterError(
            f"A tool of length {length:g} mm and radius {radius:g} mm is no tool.", "Both must be greater than 0."
        )
    n = segments_for(radius) if segments is None else segments
    if n < 3:
        raise ParameterError(f"A tool with {n} sides is no tool.", "Give 3 or more.")
    u, v = across((q - p) / length)
    angle = (np.arange(n) + PHASE) * (2.0 * math.pi / n)
    ring = corner_radius(radius, n) * (np.cos(angle)[:, None] * u + np.sin(angle)[:, None] * v)
    vertices = np.vstack([p + ring, q + ring, p, q])
    i = np.arange(n, dtype=np.int32)
    j = (i + 1) % n
    first, second = np.full(n, 2 * n, np.int32), np.full(n, 2 * n + 1, np.int32)
    sides = np.stack([np.stack([i, j, j + n], axis=1), np.stack([i, j + n, i + n], axis=1)], axis=1).reshape(-1, 3)
    caps = [np.stack([first, j, i], axis=1), np.stack([second, i + n, j + n], axis=1)]
    return vertices, np.ascontiguousarray(np.vstack([sides, *caps]), dtype=np.int32)
