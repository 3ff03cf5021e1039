"""Whelk shell on a bed of sand: already drilled, but the holes sit above the pocket start."""

from __future__ import annotations

import numpy as np

from samples.meshing import Box, Skin, drill, economical, hollow_of, hollowed, skin_of
from samples.modelling import (
    Curve,
    Distances,
    Points,
    around,
    ellipsoid,
    fade,
    limb,
    moved,
    ripple,
    smooth_common,
    smooth_cut,
    smooth_union,
    tube,
    turned,
)

BOX: Box = ((-34, -36, -3), (34, 34, 82))
WALL = 2.5
HOLE = 2.4
APEX, GROWTH, WHORLS = 66.0, 1.56, 6
# At full size: how far the whorl's middle is from the axis and below the apex, and its two half widths.
MIDDLE_OUT, MIDDLE_DOWN, HALF_OUT, HALF_UP = 10.5, 43.0, 12.8, 17.5
LEAN, TWIST, LIFT = 9.0, -62.0, -0.5
COLUMELLA = Curve([(2.5, 3, 21), (4.5, 1, 12), (8.5, -1.5, 5.5), (13, -3, 1.5)])


def _local(p: Points) -> Points:
    return turned(turned(moved(p, (0, 0, LIFT)), LEAN, "y"), TWIST, "z")


def _whorls(q: Points, sculpted: bool) -> Distances:
    """Whorls of a logarithmic spiral about z, each GROWTH times smaller than the one before, down to the mouth."""
    rho = np.hypot(q[0], q[1])
    turn = np.arctan2(q[1], q[0]) / np.float32(2 * np.pi)
    best = np.full(q.shape[1], np.float32(50))
    for n in range(WHORLS + 1):
        phase = turn + np.float32(n)
        size = np.float32(GROWTH) ** -phase
        lip = 1 + 0.10 * fade(phase, 0.10, 0.0)
        out, up = HALF_OUT * size * lip, HALF_UP * size * lip
        u, v = rho - MIDDLE_OUT * size, q[2] - (APEX - MIDDLE_DOWN * size)
        near = np.hypot(u / out, v / up)
        d = near * (near - 1) / np.maximum(np.hypot(u / out**2, v / up**2), 1e-4)
        if sculpted:
            d = d - _sculpture(phase, np.arctan2(v / up, u / out), size)
        depth = phase * np.float32(2 * np.pi) * np.maximum(rho, 4)
        d = np.maximum(d, -depth).astype(np.float32)
        if n == 0:
            d = _with_mouth(d, u, v, depth)
        best = smooth_union(best, np.maximum(d, -30), 0.9 if sculpted else 2.0)
    tip = limb(q, (0, 0, APEX - 6.5), (0, 0, APEX - 2.2), 2.4, 1.5)
    return smooth_union(best, tip, 1.0)


def _sculpture(phase: Distances, round_: Distances, size: Distances) -> Distances:
    """Ribs across the whorl, cords along it, and fine growth lines; smaller on the smaller whorls."""
    ribs = (0.5 + 0.5 * np.cos(2 * np.pi * (13 * phase + 0.09 * round_))) ** 1.6
    ribs = 1.35 * ribs * fade(round_, -0.75, 0.1) * fade(round_, 1.75, 1.0) * fade(phase, 0.02, 0.16)
    cords = 0.34 * np.abs(np.cos(17 * round_)) ** 0.8
    growth = 0.10 * np.cos(2 * np.pi * 71 * phase)
    return ((ribs + cords + growth - 0.2) * np.minimum(size * 1.15, 1.1)).astype(np.float32)


def shell(p: Points) -> Distances:
    """The whorls and the columella without sculpture: what is hollowed."""
    q = _local(p)
    return smooth_union(_whorls(q, False), tube(q, COLUMELLA, [8, 5.6, 4.2, 3.4]), 5)


def _with_mouth(d: Distances, u: Distances, v: Distances, depth: Distances) -> Distances:
    """The last whorl with a thick lip and the hollow of its mouth; `depth` is the way into the whorl from its end."""
    narrow = 1 - 0.045 * np.clip(depth, 0, 12)
    out, up = (HALF_OUT - 1.2) * narrow, (HALF_UP - 1.8) * narrow
    near = np.hypot((u - 0.6) / out, v / up)
    slope = np.maximum(np.hypot((u - 0.6) / out**2, v / up**2), 1e-4)
    inside = near * (near - 1) / slope
    lip = np.hypot(inside - 1.0, depth) - 1.7
    d = smooth_union(d, lip.astype(np.float32), 1.2)
    return smooth_cut(d, np.maximum(inside, depth - 9.5).astype(np.float32), 1.2)


def _bed(p: Points) -> Distances:
    """Rippled sand with a starfish and pebbles."""
    sand = ellipsoid(p, (0, 0, 0), (31, 28, 6.5))
    wave = np.sin(0.95 * (p[1] + 2.2 * np.sin(p[0] * 0.16) + 0.25 * p[0]))
    d = sand - np.float32(0.42) * wave * fade(p[2], 0.5, 2.5) - np.float32(0.1) * ripple(p, 1.6, 2)
    # A mound under the shell, which would otherwise leave a pocket that nobody can clean.
    d = smooth_union(d, ellipsoid(p, (11.0, 1.5, 4.0), (8.0, 7.0, 5.2)), 3.0)
    star = around(moved(turned(turned(p, 14, "x", (-15, -19, 4)), -12, "y", (-15, -19, 4)), (-15.5, -18.5, 4.6)), 5, 20)
    arm = limb(star, (0, 0, 0), (7.2, 0, -0.4), 2.3, 0.9)
    knob = np.mod(star[0], 1.3) - np.float32(0.65)
    arm = np.minimum(
        arm, np.sqrt(knob**2 + star[1] ** 2 + (star[2] - 1.9 + 0.19 * star[0]) ** 2) - 0.42 + 20 * (star[0] > 7.5)
    )
    d = smooth_union(d, arm.astype(np.float32), 0.5)
    for x, y, r in ((20, -14, 2.4), (23.5, -10.5, 1.6), (16.5, 19, 2.8), (-24, 8, 2.0), (-21.5, 11, 1.4), (24, 6, 1.5)):
        d = smooth_union(d, ellipsoid(p, (x, y, 3.4), (r * 1.25, r, r * 0.8)), 0.5)
    return d


def outside(p: Points) -> Distances:
    """The finished shell on its bed."""
    q = _local(p)
    d = smooth_union(_whorls(q, True), tube(q, COLUMELLA, [8, 5.6, 4.2, 3.4]), 4)
    d = smooth_union(d, _bed(p), 1.4)
    return smooth_common(d, -p[2], 0.8)


def make(step: float) -> dict[str, Skin]:
    """The part as named skins with triangles of about `step` mm at their finest."""
    skin = skin_of(outside, BOX, step)
    cavity = hollow_of(lambda p: smooth_common(shell(p), 3.5 - p[2], 1), BOX, WALL, 0.6, skin)
    # Made by somebody who wanted them out of sight: 7 and 13 mm above the lowest point of the cavity.
    holes = [drill((23.8, 9.6, 14), (-0.8, -0.6, 0), HOLE, 16), drill((-8.4, 10.9, 20), (0.9, -0.43, 0), HOLE, 16)]
    return {"whelk": hollowed(economical(skin, outside), [cavity], holes)}
