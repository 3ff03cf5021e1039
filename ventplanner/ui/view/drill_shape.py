"""The shape of a drill: as triangles, and as its outline in the view. Numpy only."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from ventplanner.geometry.outline import turn_of, turned_outline
from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.plan.model import Point
from ventplanner.ui.picture import ShownVent
from ventplanner.ui.view.eye import Eye, across

_AROUND = 40

_FLAT = 1e-3
"""Rings with less area than this share of their square are seen edge on."""


@lru_cache(maxsize=256)
def rims(vent: ShownVent) -> tuple[FloatArray, FloatArray]:
    """(k, 3) build points round the outer and round the inner end."""
    if not vent.outline.is_round:
        first, last = vent.bore.rings
        return first, last
    start, end = np.asarray(vent.start), np.asarray(vent.end)
    along = end - start
    length = float(np.linalg.norm(along))
    axis = along / length if length > 1e-9 else np.array([0.0, 0.0, 1.0])
    angle = np.linspace(0.0, 2.0 * np.pi, _AROUND, endpoint=False)
    ring = 0.5 * vent.diameter * np.column_stack((np.cos(angle), np.sin(angle))) @ across(axis)
    return start + ring, end + ring


def cylinder(vent: ShownVent) -> tuple[FloatArray, IntArray]:
    """Vertices and faces of the closed drill and of its countersink; ends have vertices of their own, so that edges
    stay sharp."""
    body = _closed(*rims(vent))
    if vent.flare is None:
        return body
    points, faces = _closed(*vent.flare.rings)
    return np.concatenate((body[0], points)), np.concatenate((body[1], (faces + len(body[0])).astype(np.int32)))


def _closed(outer: FloatArray, inner: FloatArray) -> tuple[FloatArray, IntArray]:
    k = len(outer)
    here, after = np.arange(k), (np.arange(k) + 1) % k
    wall = np.concatenate((np.column_stack((here, here + k, after)), np.column_stack((after, here + k, after + k))))
    fan = np.arange(1, k - 1)
    caps = np.concatenate(
        (
            2 * k + np.column_stack((np.zeros_like(fan), fan, fan + 1)),
            3 * k + np.column_stack((np.zeros_like(fan), fan + 1, fan)),
        )
    )
    return np.concatenate((outer, inner, outer, inner)), np.concatenate((wall, caps)).astype(np.int32)


@lru_cache(maxsize=128)
def outline(vent: ShownVent, eye: Eye) -> FloatArray:
    """(k, 2) pixels of the outline of the drill in the view; kept, as all vents are painted again while one is dragged.

    Both rims are the same convex ring, apart by the drill's length: the outline goes round the one and round the other
    on the halves that face away from each other.
    """
    outer, inner = (eye.to_screen(rim)[:, :2] for rim in rims(vent))
    apart = inner[0] - outer[0]
    along = np.roll(outer, -1, axis=0) - outer
    ring = outer - outer[0]
    turn = ring[:, 0] * np.roll(ring[:, 1], -1) - ring[:, 1] * np.roll(ring[:, 0], -1)
    if abs(turn.sum()) < _FLAT * float(np.ptp(outer, axis=0).max()) ** 2:
        # Edge on a ring is a line, and between two lines lies a rectangle.
        place = ring @ ring[int(np.abs(ring).sum(axis=1).argmax())]
        low, high = int(place.argmin()), int(place.argmax())
        return np.array([outer[low], outer[high], inner[high], inner[low]])
    way = 1.0 if turn.sum() >= 0 else -1.0
    is_inner = way * (along[:, 1] * apart[0] - along[:, 0] * apart[1]) > 0
    change = np.flatnonzero(is_inner & ~np.roll(is_inner, 1))
    if len(change) != 1:
        return hull(np.concatenate((outer, inner)))
    order = np.roll(np.arange(len(outer)), -int(change[0]))
    count = int(is_inner.sum())
    # Edges `order[:count]` are those of the inner rim; the points where the rims change belong to both.
    near = np.concatenate((order[count:], order[:1]))
    return np.concatenate((inner[order[: count + 1]], outer[near]))


@lru_cache(maxsize=128)
def outlines(vent: ShownVent, eye: Eye) -> tuple[FloatArray, ...]:
    """The outline of the drill, and that of its countersink if it has one, (k, 2) pixels each."""
    if vent.flare is None:
        return (outline(vent, eye),)
    return (outline(vent, eye), hull(eye.to_screen(vent.flare.rings.reshape(-1, 3))[:, :2]))


def mouth(vent: ShownVent, eye: Eye) -> FloatArray:
    """(k, 2) pixels of the rim of the outer end."""
    ring = rims(vent)[0] if vent.flare is None else vent.flare.rings[0]
    return eye.to_screen(ring)[:, :2]


def carried(vent: ShownVent, entry: FloatArray) -> ShownVent:
    """The drill with its entry moved to another place, its axis as it was."""
    by = entry - np.asarray(vent.entry)
    flare = vent.flare
    if flare is not None:
        flare = replace(flare, start=_point(flare.start + by), end=_point(flare.end + by))
    return replace(vent, start=_point(vent.start + by), end=_point(vent.end + by), entry=_point(entry), flare=flare)


def upright(vent: ShownVent, entry: FloatArray, normal: FloatArray) -> ShownVent:
    """The drill moved to another place and turned square to the skin there."""
    before = float(np.linalg.norm(np.asarray(vent.start) - np.asarray(vent.entry)))
    inside = float(np.linalg.norm(np.asarray(vent.end) - np.asarray(vent.entry)))
    start, end = entry + before * normal, entry - inside * normal
    outwards = (np.asarray(vent.start) - np.asarray(vent.end)) / max(before + inside, 1e-9)
    turn = turn_of(vent.outline, outwards)
    lies = turned_outline(vent.outline.shape, vent.outline.length_mm, turn, normal)
    flare = vent.flare
    if flare is not None:
        deep = flare.length - before
        wide = turned_outline(flare.outline.shape, flare.outline.length_mm, turn, normal)
        flare = replace(flare, start=_point(start), end=_point(entry - deep * normal), outline=wide)
    return replace(vent, start=_point(start), end=_point(end), entry=_point(entry), outline=lies, flare=flare)


def _point(p: FloatArray) -> Point:
    return (float(p[0]), float(p[1]), float(p[2]))


def hull(points: FloatArray) -> FloatArray:
    """Convex hull of (n, 2) points, in order (Andrew 1979, monotone chain)."""
    ordered = np.unique(points, axis=0)
    if len(ordered) < 3:
        return ordered

    def half(rows: FloatArray) -> list[FloatArray]:
        chain: list[FloatArray] = []
        for p in rows:
            while len(chain) > 1 and _turn(chain[-2], chain[-1], p) <= 0:
                chain.pop()
            chain.append(p)
        return chain[:-1]

    return np.array(half(ordered) + half(ordered[::-1]))


def _turn(a: FloatArray, b: FloatArray, c: FloatArray) -> float:
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))
