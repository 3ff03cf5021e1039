"""Implicit modelling in numpy: signed distance fields, blends and textures.

A field is a function of points `p`, a (3, n) float32 array in mm, that returns (n,) float32: about the distance to
the surface, negative inside. Distances need not be exact, but must not grow much faster than 1 mm per mm. The blends
are the polynomial ones and the primitives the usual ones of implicit modelling (J. C. Hart, "Sphere tracing", 1996).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline, PchipInterpolator
from scipy.ndimage import map_coordinates
from scipy.spatial import cKDTree

Points = NDArray[np.float32]
Distances = NDArray[np.float32]
Field = Callable[[Points], Distances]
Change = Callable[[Points, Distances], Distances]
Triple = Sequence[float]


# ---------------------------------------------------------------- moving points


def moved(p: Points, by: Triple) -> Points:
    """The points as seen from a body that was moved by `by`."""
    return p - np.asarray(by, np.float32)[:, None]


def turned(p: Points, degrees: float, axis: str, pivot: Triple = (0, 0, 0)) -> Points:
    """The points as seen from a body that was turned by `degrees` about the axis "x", "y" or "z" through `pivot`."""
    q = moved(p, pivot)
    c, s = np.float32(np.cos(np.radians(degrees))), np.float32(np.sin(np.radians(degrees)))
    i, j = {"x": (1, 2), "y": (2, 0), "z": (0, 1)}[axis]
    out = q.copy()
    out[i] = c * q[i] + s * q[j]
    out[j] = c * q[j] - s * q[i]
    return moved(out, [-v for v in pivot])


def seen_along(p: Points, origin: Triple, toward: Triple, side: Triple) -> Points:
    """The points in axes of a limb: nearest to `side`, across that, and from origin to toward."""
    along = np.subtract(toward, origin, dtype=float)
    along /= np.linalg.norm(along)
    across = np.asarray(side, float) - along * float(along @ np.asarray(side, float))
    across /= np.linalg.norm(across)
    axes = np.stack([across, np.cross(along, across), along]).astype(np.float32)
    return np.einsum("ij,jn->in", axes, moved(p, origin))


def mirrored(p: Points) -> Points:
    """The points folded onto the side x >= 0, so that one limb makes two."""
    q = p.copy()
    np.abs(q[0], out=q[0])
    return q


def around(p: Points, count: int, first_degrees: float = 0.0) -> Points:
    """The points folded into one of `count` equal sectors about the z axis, centred on +x."""
    sector = 2 * np.pi / count
    angle = np.arctan2(p[1], p[0]) - np.radians(first_degrees)
    angle -= sector * np.round(angle / sector)
    rho = np.hypot(p[0], p[1])
    return np.stack([rho * np.cos(angle), rho * np.sin(angle), p[2]]).astype(np.float32)


# ---------------------------------------------------------------- bodies


def sphere(p: Points, centre: Triple, radius: float) -> Distances:
    """A ball."""
    return np.sqrt((moved(p, centre) ** 2).sum(axis=0)) - np.float32(radius)


def ellipsoid(p: Points, centre: Triple, radii: Triple) -> Distances:
    """An ellipsoid along the axes (first-order distance)."""
    r = np.asarray(radii, np.float32)[:, None]
    q = moved(p, centre)
    near = np.sqrt(((q / r) ** 2).sum(axis=0))
    slope = np.sqrt(((q / (r * r)) ** 2).sum(axis=0))
    return near * (near - 1) / np.maximum(slope, np.float32(1e-6))


def limb(p: Points, start: Triple, end: Triple, r_start: float, r_end: float) -> Distances:
    """A straight limb with round ends and a radius that changes evenly."""
    a, b = np.asarray(start, np.float32), np.asarray(end, np.float32)
    q, ab = moved(p, start), b - a
    t = np.clip((ab[:, None] * q).sum(axis=0) / np.float32(ab @ ab), 0, 1)
    return np.sqrt(((q - ab[:, None] * t) ** 2).sum(axis=0)) - (np.float32(r_start) + np.float32(r_end - r_start) * t)


def block(p: Points, centre: Triple, half: Triple, rounding: float = 0.0) -> Distances:
    """A box along the axes with rounded edges; `half` are its half sizes."""
    q = np.abs(moved(p, centre)) - (np.asarray(half, np.float32)[:, None] - np.float32(rounding))
    outside = np.sqrt((np.maximum(q, 0) ** 2).sum(axis=0))
    return outside + np.minimum(q.max(axis=0), 0) - np.float32(rounding)


def ring(p: Points, centre: Triple, radius: float, thickness: float) -> Distances:
    """A torus about the z direction; `thickness` is the radius of its tube."""
    q = moved(p, centre)
    return np.hypot(np.hypot(q[0], q[1]) - np.float32(radius), q[2]) - np.float32(thickness)


class Sheet:
    """A flat shape: exact distance in the y-z plane to a polygon of (y, z) corners, from a table."""

    def __init__(self, corners: Sequence[tuple[float, float]], margin: float = 6.0, step: float = 0.1) -> None:
        outline = np.asarray(corners, float)
        self.low, self.step = outline.min(axis=0) - margin, step
        counts = np.ceil((np.ptp(outline, axis=0) + 2 * margin) / step).astype(int) + 1
        grid = np.stack(np.meshgrid(*(np.arange(n) * step for n in counts), indexing="ij"), axis=-1).reshape(-1, 2)
        self.table = _polygon_distance(grid + self.low, outline).reshape(counts).astype(np.float32)

    def __call__(self, p: Points) -> Distances:
        """Distance in the plane, the same for every x."""
        at = (p[1:] - self.low[:, None].astype(np.float32)) / self.step
        return map_coordinates(self.table, at, order=1, mode="nearest")


class Lathe:
    """A turned body: exact distance to a profile polygon of (radius, z) corners, from a table."""

    def __init__(self, profile: Sequence[tuple[float, float]], margin: float = 6.0, step: float = 0.1) -> None:
        corners = np.asarray(profile, float)
        self.low = np.array([0.0, corners[:, 1].min() - margin])
        size = np.array([corners[:, 0].max() + margin, np.ptp(corners[:, 1]) + 2 * margin])
        self.step = step
        counts = np.ceil(size / step).astype(int) + 1
        rho, z = (self.low[i] + step * np.arange(counts[i]) for i in (0, 1))
        grid = np.stack(np.meshgrid(rho, z, indexing="ij"), axis=-1).reshape(-1, 2)
        mirror = corners[::-1] * [-1, 1]
        self.table = _polygon_distance(grid, np.vstack([corners, mirror])).reshape(counts).astype(np.float32)

    def __call__(self, p: Points) -> Distances:
        """Distance to the turned body about the z axis."""
        rho = np.hypot(p[0], p[1]) / self.step
        z = (p[2] - np.float32(self.low[1])) / self.step
        return map_coordinates(self.table, np.stack([rho, z]), order=1, mode="nearest")


def _polygon_distance(points: NDArray[np.float64], corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """Signed distance (negative inside) of (n, 2) points to a closed polygon, even-odd rule."""
    best = np.full(len(points), np.inf)
    inside = np.zeros(len(points), bool)
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        ab, q = b - a, points - a
        length = float(ab @ ab)
        if length == 0:
            continue
        t = np.clip(q @ ab / length, 0, 1)
        best = np.minimum(best, ((q - t[:, None] * ab) ** 2).sum(axis=1))
        crosses = (a[1] > points[:, 1]) != (b[1] > points[:, 1])
        if a[1] != b[1]:
            inside ^= crosses & (points[:, 0] < ab[0] * q[:, 1] / ab[1] + a[0])
    return np.where(inside, -1, 1) * np.sqrt(best)


class Curve:
    """A smooth space curve through given points, with a frame that does not spin more than it must."""

    def __init__(self, through: Sequence[Triple], closed: bool = False, step: float = 0.15) -> None:
        knots = np.asarray(through, float)
        if closed:
            knots = np.vstack([knots, knots[:1]])
        chord = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(knots, axis=0), axis=1))])
        spline = CubicSpline(chord, knots, bc_type="periodic" if closed else "natural")
        self.points = spline(np.linspace(0, chord[-1], int(chord[-1] / step) + 2))
        self.length_at = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(self.points, axis=0), axis=1))])
        self.length = float(self.length_at[-1])
        tangents = np.gradient(self.points, self.length_at, axis=0)
        self.tangents = tangents / np.linalg.norm(tangents, axis=1)[:, None]
        self.sides = self._carried_sides()
        self._tree = cKDTree(self.points)

    def _carried_sides(self) -> NDArray[np.float64]:
        """A unit vector across the curve at each point, carried along by projection."""
        sides = np.empty_like(self.points)
        side = np.eye(3)[int(np.argmin(np.abs(self.tangents[0])))]
        for i, tangent in enumerate(self.tangents):
            side = side - tangent * (side @ tangent)
            side = side / np.linalg.norm(side)
            sides[i] = side
        return sides

    def seen_from(self, p: Points) -> tuple[Distances, Distances, Distances]:
        """For each point: its two offsets across the curve in mm, and the length along the curve in mm."""
        _, near = self._tree.query(p.T)
        q = p.T - self.points[near]
        tangent, side = self.tangents[near], self.sides[near]
        along = (q * tangent).sum(axis=1)
        beyond = ((near == 0) & (along < 0)) | ((near == len(self.points) - 1) & (along > 0))
        u = (q * side).sum(axis=1)
        v = (q * np.cross(tangent, side)).sum(axis=1)
        # Past an end the distance along the tangent counts too, so that the end is closed and round.
        u = np.where(beyond, np.copysign(np.hypot(u, along), u), u)
        return u.astype(np.float32), v.astype(np.float32), (self.length_at[near] + along).astype(np.float32)


def tube(p: Points, curve: Curve, radii: Sequence[float]) -> Distances:
    """A tube along a curve; `radii` are spread evenly over its length, smooth between."""
    u, v, s = curve.seen_from(p)
    radius = PchipInterpolator(np.linspace(0, curve.length, len(radii)), radii)(np.clip(s, 0, curve.length))
    return np.hypot(u, v) - radius.astype(np.float32)


def rope(p: Points, curve: Curve, radius: float, pitch: float, strands: int = 3) -> Distances:
    """A laid rope of twisted strands along a curve; `pitch` is the length of one full turn of a strand."""
    u, v, s = curve.seen_from(p)
    strand = radius / (1 + 1 / np.sin(np.pi / strands)) * 1.12
    best = np.full(len(u), np.float32(np.inf))
    for k in range(strands):
        angle = 2 * np.pi * (s / pitch + k / strands)
        centre = radius - strand
        d = np.hypot(u - centre * np.cos(angle), v - centre * np.sin(angle)) - strand
        best = smooth_union(best, d.astype(np.float32), 0.25) if k else d.astype(np.float32)
    return best


# ---------------------------------------------------------------- blends and textures


def smooth_union(a: Distances, b: Distances, width: float) -> Distances:
    """Union of two fields whose seam is rounded over about `width` mm."""
    near = np.maximum(np.float32(width) - np.abs(a - b), 0)
    return np.minimum(a, b) - near * near * np.float32(0.25 / width)


def smooth_common(a: Distances, b: Distances, width: float) -> Distances:
    """Intersection with a rounded edge."""
    return -smooth_union(-a, -b, width)


def smooth_cut(a: Distances, b: Distances, width: float) -> Distances:
    """`a` without `b`, with a rounded edge."""
    return -smooth_union(-a, b, width)


def only_near(p: Points, d: Distances, centre: Triple, reach: float, change: Change) -> Distances:
    """Lets `change(points, distances)` work only within `reach` mm of `centre`: saves time for small details."""
    near = (moved(p, centre) ** 2).sum(axis=0) < np.float32(reach * reach)
    if near.any():
        d = d.copy()
        d[near] = change(np.ascontiguousarray(p[:, near]), d[near])
    return d


def fade(x: Distances, start: float, end: float) -> Distances:
    """0 before `start`, 1 after `end`, smooth between (start > end fades the other way)."""
    t = np.clip((x - np.float32(start)) / np.float32(end - start), 0, 1)
    return t * t * (3 - 2 * t)


def ripple(p: Points, wavelength: float, seed: int, waves: int = 9) -> Distances:
    """Smooth noise, about -1 to 1: plane waves in directions drawn from `seed`."""
    draw = np.random.default_rng(seed)
    total = np.zeros(p.shape[1], np.float32)
    for _ in range(waves):
        direction = draw.normal(size=3)
        direction *= 2 * np.pi / (wavelength * np.linalg.norm(direction) * draw.uniform(0.7, 1.5))
        phase = np.float32(draw.uniform(0, 2 * np.pi))
        total += np.sin(direction.astype(np.float32) @ p + phase)
    return total / np.float32(np.sqrt(waves) * 1.2)


def rock(p: Points, centre: Triple, radii: Triple, seed: int, facets: int = 14) -> Distances:
    """A weathered boulder: an ellipsoid with flat faces broken off and a rough face."""
    draw = np.random.default_rng(seed)
    d = ellipsoid(p, centre, radii)
    q = moved(p, centre)
    for _ in range(facets):
        normal = draw.normal(size=3)
        normal[2] = abs(normal[2]) * 0.8
        normal /= np.linalg.norm(normal)
        reach = float(np.linalg.norm(normal * np.asarray(radii))) * draw.uniform(0.72, 0.9)
        d = smooth_common(d, normal.astype(np.float32) @ q - np.float32(reach), 1.6)
    return d + np.float32(0.28) * ripple(p, 5.0, seed + 1) + np.float32(0.12) * ripple(p, 2.2, seed + 2)
