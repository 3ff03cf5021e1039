"""Which triangles come near a straight round tool, exactly: from its axis to what of each lies between its ends."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.bore import Bore
from ventplanner.geometry.solid import FloatArray


def from_axis(bore: Bore, corners: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Distances in mm from a tool's axis to triangles, as far as they lie between its two ends.

    corners: (k, 3, 3) mm. Returns (k,) mm, inf for a triangle that lies wholly beyond an end, and (k, 3) the nearest
    point of each, in the axes of the corners (of a triangle that is inf, anything). A triangle cuts the tool when its
    distance is less than the radius.

    Between the ends a triangle is a convex polygon, bounded by stretches of its sides and by its two cuts with the
    planes of the ends. The nearest of its points to the axis is on one of these, or where the axis goes through it.
    """
    placed = bore.place(corners)
    starts, ways, low, high = _sides(placed, bore.length)
    for height in (0.0, bore.length):
        more = _cuts(placed, height)
        starts, ways = np.concatenate((starts, more[0]), axis=1), np.concatenate((ways, more[1]), axis=1)
        low, high = np.concatenate((low, more[2]), axis=1), np.concatenate((high, more[3]), axis=1)
    square = np.maximum((ways[..., :2] ** 2).sum(axis=-1), 1e-300)
    kept = low <= high
    nearest_at = -(starts[..., :2] * ways[..., :2]).sum(axis=-1) / square
    at = np.where(kept, np.clip(nearest_at, low, np.where(kept, high, low)), 0.0)
    points = starts + at[..., None] * ways
    away = np.where(kept, np.hypot(points[..., 0], points[..., 1]), np.inf)
    best = away.argmin(axis=1)
    rows = np.arange(len(placed))
    distance, nearest = away[rows, best], points[rows, best]
    through, height_there = _on_axis(placed)
    through &= (height_there >= 0.0) & (height_there <= bore.length)
    distance[through] = 0.0
    nearest[through] = np.stack((np.zeros(len(rows)), np.zeros(len(rows)), height_there), axis=1)[through]
    return distance, nearest @ bore.axes + np.asarray(bore.start)


def nearest_to(bore: Bore, corners: FloatArray, reach: float) -> FloatArray:
    """(3,) the point of triangles (k, 3, 3) that is nearest to a tool's axis, of those between its ends; where none of
    these comes within `reach` mm, of those up to `reach` beyond an end, too."""
    away, at = from_axis(bore, corners)
    if away.min() >= reach:
        start, end = np.asarray(bore.start), np.asarray(bore.end)
        more = reach / max(bore.length, 1e-12) * (end - start)
        (a, b, c), (d, e, f) = (start - more).tolist(), (end + more).tolist()
        away, at = from_axis(Bore((a, b, c), (d, e, f), bore.radius), corners)
    return np.asarray(at[int(away.argmin())])


def _sides(placed: FloatArray, length: float) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """(k, 3, …) starts and ways of the sides, and from where to where along each it is between the ends."""
    ways = np.roll(placed, -1, axis=1) - placed
    z, rise = placed[..., 2], ways[..., 2]
    level = rise == 0.0
    slope = np.where(level, 1.0, rise)
    one, other = -z / slope, (length - z) / slope
    inside = (z >= 0.0) & (z <= length)
    low = np.where(level, np.where(inside, 0.0, np.inf), np.maximum(np.minimum(one, other), 0.0))
    high = np.where(level, np.where(inside, 1.0, -np.inf), np.minimum(np.maximum(one, other), 1.0))
    return placed, ways, low, high


def _cuts(placed: FloatArray, height: float) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """(k, 1, …) where each triangle is cut by the plane at a height: like a side of its own; high < low for none."""
    ways = np.roll(placed, -1, axis=1) - placed
    z = placed[..., 2] - height
    crossed = (z > 0.0) != (np.roll(z, -1, axis=1) > 0.0)  # two sides of a triangle, or none
    at = np.where(crossed, -z / np.where(crossed, ways[..., 2], 1.0), 0.0)
    points = placed + at[..., None] * ways
    order = np.argsort(~crossed, axis=1, kind="stable")[:, :2, None]
    ends = np.take_along_axis(points, order, axis=1)
    none = ~crossed.any(axis=1, keepdims=True)
    return ends[:, :1], ends[:, 1:] - ends[:, :1], np.where(none, np.inf, 0.0), np.where(none, -np.inf, 1.0)


def _on_axis(placed: FloatArray) -> tuple[NDArray[np.bool_], FloatArray]:
    """(k,) whether the axis goes through each triangle, and at which height along it."""
    flat, after = placed[..., :2], np.roll(placed[..., :2], -1, axis=1)
    turn = flat[..., 0] * after[..., 1] - flat[..., 1] * after[..., 0]  # of the side from each corner to the next
    whole = turn.sum(axis=1)
    through = (whole != 0.0) & ((turn >= 0.0).all(axis=1) | (turn <= 0.0).all(axis=1))
    share = np.roll(turn, -1, axis=1) / np.where(whole == 0.0, 1.0, whole)[:, None]
    return through, (share * placed[..., 2]).sum(axis=1)
