"""Edges of a part within a tube along an axis, and how outlines lie in the frame of rays."""

from __future__ import annotations

import numpy as np

from ventplanner.analysis.scene import Scene
from ventplanner.geometry.bore import clip
from ventplanner.geometry.outline import Outline
from ventplanner.geometry.rays import square_to
from ventplanner.geometry.solid import FloatArray


def in_ray_frame(flat: FloatArray, direction: FloatArray, outline: Outline) -> FloatArray:
    """Points (k, 2) in the frame of an outline in that in which rays are told (`square_to`)."""
    if outline.is_round:
        return flat
    return flat @ outline.frame(direction) @ square_to(direction).T


def edges_in_tube(
    scene: Scene,
    origin: FloatArray,
    direction: FloatArray,
    wide: tuple[float, Outline],
    span: tuple[float, float],
) -> FloatArray:
    """(k, 3) both ends of every stretch of an edge inside a tube along the axis: two across, one along it. Edges of
    faces that are nowhere within the span are left out."""
    radius, outline = wide
    frame = np.vstack((square_to(direction), direction))
    ends, reach = origin + np.array(span)[:, None] * direction, outline.far(radius)
    faces = scene.ray_target.near(ends.min(axis=0) - reach, ends.max(axis=0) + reach)
    corners = (scene.vertices[scene.solid.faces[faces]] - origin) @ frame.T
    # Most of the skin that the drill enters by lies before the span.
    along = corners[:, :, 2]
    corners = corners[(along.max(axis=1) > span[0] - 1e-9) & (along.min(axis=1) < span[1] + 1e-9)]
    a, way = corners.reshape(-1, 3), (np.roll(corners, -1, axis=1) - corners).reshape(-1, 3)
    if not outline.is_round:
        normals, offsets = outline.sides(radius)
        turned = in_ray_frame(normals, direction, outline)
        since, until, _, _ = clip(a[:, :2], way[:, :2], turned, offsets)
        first, last = np.clip(since, 0.0, 1.0), np.clip(until, 0.0, 1.0)
        inside = first < last
        return np.concatenate([(a + t[:, None] * way)[inside] for t in (first, last)])
    # |a + t way| = radius across the axis: a quadratic in t; an edge along the axis is in or out as a whole.
    square, half = (way[:, :2] ** 2).sum(axis=1), (a[:, :2] * way[:, :2]).sum(axis=1)
    rest = half**2 - square * ((a[:, :2] ** 2).sum(axis=1) - radius**2)
    met = (square > 1e-18) & (rest > 0)
    a, way, half, square, root = a[met], way[met], half[met], square[met], np.sqrt(rest[met])
    first, last = np.clip((-half - root) / square, 0.0, 1.0), np.clip((-half + root) / square, 0.0, 1.0)
    inside = first < last
    return np.concatenate([(a + t[:, None] * way)[inside] for t in (first, last)])
