"""Many places for a vent: straight ways through one wall from all over the skin of a cavity, met exactly by rays.

Lengths and limits without a named source are own judgement.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from ventplanner.analysis.cavities import Cavity
from ventplanner.analysis.findings import Findings
from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.plan.candidates import RIM_ROOM, SINK_MM, THIN_WALL_MM, height_lost, in_a_hollow
from ventplanner.plan.extras import in_cavity
from ventplanner.plan.fitting import PLATE_RIM_MM
from ventplanner.plan.views import normals_of

BAND_MM = 0.6
"""Places whose hole would open within this height of the start are looked for most densely."""

OFF_MM = 0.25
"""Rays start this far off the inner skin."""

TILT = np.radians(35.0)
"""Holes are also tried so far off the square, sideways and towards the plate."""

HIGHEST = 0.5
"""Steeper upwards than this (sine), a hole would open far above the start."""

CELL_MM = 1.5
"""Of entries in one cell of this size only the cheapest of each tilt is kept."""


@dataclass(frozen=True, eq=False)
class Spots:
    """Straight ways out. origin: (k, 3) build points in the hollow; direction: (k, 3) unit, outwards; inner, outer:
    (k,) mm along it where the wall begins and ends; lost: (k,) mm of height lost by the columns; entry: (k, 3) build
    points on the outer skin; normal: (k, 3) the skin's normal there."""

    origin: FloatArray
    direction: FloatArray
    inner: FloatArray
    outer: FloatArray
    lost: FloatArray
    entry: FloatArray
    normal: FloatArray

    @property
    def wall(self) -> FloatArray:
        """(k,) mm."""
        return self.outer - self.inner

    @property
    def end(self) -> FloatArray:
        """(k, 3) build points where the axes leave the hollow."""
        return np.asarray(self.origin + self.inner[:, None] * self.direction)

    def take(self, index: NDArray[np.int64]) -> Spots:
        """The spots of these numbers, in this order."""
        return Spots(*(getattr(self, f.name)[index] for f in fields(self)))

    def __len__(self) -> int:
        return len(self.outer)


def spots(
    findings: Findings,
    cavity: Cavity,
    start: float,
    radius: float,
    longest: float,
    count: int,
) -> Spots:
    """Ways out from all over a cavity, the densest just above a build height (mm), where a cup starts.

    radius, longest (wall): mm. count: samples of the skin; half near the start, half everywhere. Turns with the part
    about the build axis, apart from rounding: samples and directions follow the faces.
    """
    near = skin_samples(findings, cavity.faces, count // 2, (start - SINK_MM, start + BAND_MM + 2.0 * radius))
    anywhere = skin_samples(findings, cavity.faces, count - count // 2)
    centre = findings.scene.frame.to_build(cavity.bounds.mean(axis=0)[None])[0]
    found = []
    for samples, at_start in ((near, True), (near, False), (anywhere, True), (anywhere, False)):
        found.append(_rays(findings, samples, centre, start if at_start else None, radius))
    origin, direction = (np.concatenate([f[k] for f in found]) for k in range(2))
    met = _through(findings, cavity, origin, direction, radius, (start, longest))
    return met.take(_thinned(met))


def skin_samples(
    findings: Findings, faces: IntArray, count: int, band: tuple[float, float] | None = None
) -> tuple[FloatArray, FloatArray]:
    """(k, 3) points and normals, evenly by area over faces (of those that reach into a band of build heights).

    Systematic sampling: the faces in their order, one point each so many mm2, at places in the faces that follow the
    golden ratio. The same faces give the same places, however the part is turned.
    """
    corners = findings.scene.vertices[findings.scene.solid.faces[faces]]
    if band is not None and len(faces):
        z = corners[:, :, 2]
        inside = (z.max(axis=1) >= band[0]) & (z.min(axis=1) <= band[1])
        faces, corners = faces[inside], corners[inside]
    if not len(faces):
        return np.empty((0, 3)), np.empty((0, 3))
    area = 0.5 * np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
    summed = np.cumsum(area)
    k = np.arange(count)
    face = np.searchsorted(summed, (k + 0.5) / count * summed[-1])
    face = np.minimum(face, len(faces) - 1)
    u, v = np.sqrt((k * 0.7548776662466927 + 0.5) % 1.0), (k * 0.5698402909980532 + 0.5) % 1.0
    a, b, c = (corners[face, m] for m in range(3))
    points = (1.0 - u)[:, None] * a + (u * (1.0 - v))[:, None] * b + (u * v)[:, None] * c
    return points, normals_of(findings, faces[face])


def _rays(
    findings: Findings,
    samples: tuple[FloatArray, FloatArray],
    centre: FloatArray,
    start: float | None,
    radius: float,
) -> tuple[FloatArray, FloatArray]:
    """Origins off the skin and directions outwards: square to it, level, sideways and towards the plate.

    start: build height; the origins are moved along the skin so that the hole opens just there. None: as they are.
    """
    points, normals = samples
    out = -normals
    level, is_wall = _level(out)
    away, is_off = _level(points - centre)
    down = np.broadcast_to([0.0, 0.0, -1.0], out.shape)
    side = np.stack((-level[:, 1], level[:, 0], np.zeros(len(level))), axis=1)
    floor = out[:, 2] < -0.3
    c, s = np.cos(TILT), np.sin(TILT)
    ways = (
        (out, out[:, 2] <= HIGHEST),
        (level, is_wall & (np.abs(out[:, 2]) > 0.02)),
        (c * level + s * side, is_wall),
        (c * level - s * side, is_wall),
        (c * level + s * down, is_wall),
        (down, floor & (out[:, 2] > -0.999)),
        (c * away + s * down, floor & is_off),
        (s * away + c * down, floor & is_off),
        (away, floor & is_off),
    )
    origin, direction = [], []
    for way, use in ways:
        d, p, n = way[use], points[use], normals[use]
        if start is not None:
            flat = np.sqrt(np.maximum(0.0, 1.0 - d[:, 2] ** 2))
            height = np.full(len(d), start) + np.maximum(radius * flat - SINK_MM, 0.02)
            if findings.pose.on == "plate":
                height = np.maximum(height, RIM_ROOM * PLATE_RIM_MM + radius * flat)
            p = _at_height(p, n, height)
        origin.append(p + OFF_MM * n)
        direction.append(d)
    return np.concatenate(origin), np.concatenate(direction)


def _level(vectors: FloatArray) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Unit vectors along the horizontal part of vectors, and where that is enough to say a direction."""
    flat = vectors * (1.0, 1.0, 0.0)
    length = np.linalg.norm(flat, axis=1)
    return flat / np.maximum(length, 1e-12)[:, None], length > 0.2 * np.maximum(np.linalg.norm(vectors, axis=1), 1e-12)


def _at_height(points: FloatArray, normals: FloatArray, height: FloatArray) -> FloatArray:
    """Points moved along the plane of their skin to a build height; on a floor, straight up."""
    rise = np.array([0.0, 0.0, 1.0]) - normals * normals[:, 2:]
    steep = rise[:, 2] > 0.1
    step = np.where(steep[:, None], rise / np.where(steep, rise[:, 2], 1.0)[:, None], np.array([0.0, 0.0, 1.0]))
    return points + (height - points[:, 2])[:, None] * step


def _through(
    findings: Findings,
    cavity: Cavity,
    origin: FloatArray,
    direction: FloatArray,
    radius: float,
    limits: tuple[float, float],
) -> Spots:
    """Those rays that begin in the cavity and leave through one wall to the open outside."""
    start, longest = limits
    sight = findings.scene.sight
    inside = np.flatnonzero(in_cavity(findings, cavity, origin))
    origin, direction = origin[inside], direction[inside]
    inner, _ = sight.first(origin, direction)
    met = np.isfinite(inner)
    origin, direction, inner = origin[met], direction[met], inner[met]
    begin = origin + (inner + 1e-5)[:, None] * direction
    wall, face = sight.first(begin, direction, longest)
    outer = inner + 1e-5 + wall
    entry = begin + np.where(np.isfinite(wall), wall, 0.0)[:, None] * direction
    good = np.isfinite(wall) & (wall >= THIN_WALL_MM)
    good &= in_cavity(findings, cavity, begin - 0.5 * OFF_MM * direction)
    for further in (0.2, 0.2 + findings.scene.runs.grid.pitch):
        good &= ~in_a_hollow(findings, entry + further * direction)
    if findings.kept_clear is not None:
        good &= ~findings.kept_clear.is_near(entry, radius)
    index = np.flatnonzero(good)
    origin, direction, inner, outer = origin[index], direction[index], inner[index], outer[index]
    half = radius * np.sqrt(np.maximum(0.0, 1.0 - direction[:, 2] ** 2))
    walls = np.stack((inner, outer), axis=1)
    lost = height_lost(findings.cups.tree.runs, origin, direction, walls, half, start)
    return Spots(origin, direction, inner, outer, lost, entry[index], normals_of(findings, face[index]))


def _thinned(found: Spots) -> NDArray[np.int64]:
    """One way of each cell of entries and tilt: that with the least height lost and wall."""
    cost = 4.0 * found.lost + found.wall
    cell = np.floor(found.entry / CELL_MM).astype(np.int64)
    tilt = np.rint(2.0 * found.direction[:, 2]).astype(np.int64)
    order = np.lexsort((np.arange(len(found)), np.round(cost, 3)))
    keys = np.column_stack((cell, tilt))[order]
    _, first = np.unique(keys, axis=0, return_index=True)
    return np.asarray(order[np.sort(first)], dtype=np.int64)
