"""Rope cleat on a plank: its hollow legs end deep inside thick material, behind turns of rope."""

from __future__ import annotations

import numpy as np

from samples.meshing import Box, Skin, economical, hollow_of, hollowed, skin_of
from samples.modelling import (
    Curve,
    Distances,
    Points,
    block,
    fade,
    limb,
    only_near,
    ripple,
    rope,
    smooth_common,
    smooth_cut,
    smooth_union,
    sphere,
    tube,
)

BOX: Box = ((-46, -24, -3), (46, 24, 60))
WALL, ROPE, LAY = 2.4, 3.1, 17.0
PLANK_TOP = 12.0
BAR = Curve([(-38, 0, 44.5), (-30, 0, 40.5), (-18, 0, 37), (0, 0, 35.5), (18, 0, 37), (30, 0, 40.5), (38, 0, 44.5)])
# The lead on the plank, two round turns about the legs, a figure of eight over the horns, and the end on the plank.
LEAD = [(44, -13.6, 15.1), (34, -14.2, 15.1), (22, -13.0, 15.6), (8, -11.6, 17.6)]
TURNS = [
    (radius_x * np.cos(a), radius_y * np.sin(a), 18.2 + 6.2 * (a - 4.5) / (2 * np.pi))
    for radius_x, radius_y in [(20.3, 10.6)]
    for a in np.arange(4.5, 4.5 - 4 * np.pi - 0.2, -np.pi / 5) + 0.0
]
EIGHT = [
    (15, -11.5, 31.5),
    (8, -8.0, 40.5),
    (0, 0, 45.2),
    (-8, 8.0, 43.8),
    (-17, 10.8, 37.5),
    (-25, 6.4, 30.9),
    (-27, 0, 29.6),
    (-25, -6.4, 30.9),
    (-17, -10.4, 38.5),
    (-8, -7.0, 47.0),
    (0, 0, 51.2),
    (8, 7.0, 48.6),
    (17, 10.4, 39.5),
    (25, 6.4, 31.3),
    (27, 0, 29.6),
    (26, -6.6, 28.4),
    (24.5, -12.5, 24.5),
    (20.0, -17.0, 19.0),
    (10, -18.2, 15.4),
    (-4, -17.6, 15.2),
    (-18, -15.8, 15.2),
    (-30, -14.8, 15.2),
    (-36, -14.0, 15.2),
]


def _bar(p: Points) -> Distances:
    return tube(
        p * np.float32([[1], [1], [1.12]]), Curve(BAR.points[::40] * [1, 1, 1.12]), [3.6, 5.2, 6.6, 7.2, 6.6, 5.2, 3.6]
    )


def cleat(p: Points) -> Distances:
    """Horns, bar and legs without rope and plank: what is hollowed."""
    q = np.stack([np.abs(p[0]), p[1], p[2]])
    legs = limb(q, (9.0, 0, 34), (10.8, 0, 14.0), 5.8, 6.0)
    return smooth_union(_bar(p), legs, 5.0)


def _plank(p: Points) -> Distances:
    """A weathered plank: grain along x that bends round two knots, rounded edges, a crack at one end."""
    bend = 3.2 * np.exp(-((p[0] + 26) ** 2 + (p[1] - 12) ** 2) / 40) + 2.6 * np.exp(
        -((p[0] - 31) ** 2 + (p[1] + 2) ** 2) / 50
    )
    wander = p[1] + 0.9 * np.sin(p[0] * 0.09 + 1) + 0.35 * np.sin(p[0] * 0.23) + bend + 0.35 * p[2]
    grain = np.abs(np.sin(1.55 * wander + 0.5 * np.sin(0.7 * wander))) ** 0.7
    edge = np.abs(np.sin(1.25 * p[2] + 0.9 * np.sin(p[0] * 0.11) + 0.4 * np.sin(p[0] * 0.31 + p[1])))
    side = fade(np.abs(p[1]), 18.2, 19.4)
    grain = (1 - side) * grain + side * edge**0.7
    d = block(p, (0, 0, PLANK_TOP / 2), (42, 20, PLANK_TOP / 2), 1.6) + np.float32(0.42) * (1 - grain) * fade(
        p[2], 0.5, 2
    )
    crack = limb(np.stack([p[0], p[1] - 0.4 * np.sin(p[0]), p[2]]), (-44, 8, 13), (-31, 7.2, 13), 1.6, 0.3)
    return smooth_cut(d.astype(np.float32), crack, 0.6)


def _foot(p: Points, d: Distances) -> Distances:
    q = np.stack([np.abs(p[0]), np.abs(p[1]), p[2]])
    plate = block(p, (0, 0, 13.2), (25.5, 9.2, 2.0), 1.0)
    corner = np.hypot(np.maximum(q[0] - 16.5, 0), q[1]) - np.float32(9.2)
    d = smooth_union(d, smooth_common(plate, corner, 1.0), 0.6)
    bolt = np.stack([p[0], p[1], p[2]])
    head = np.max(
        [np.abs(np.cos(a) * (np.abs(bolt[0]) - 22.2) + np.sin(a) * bolt[1]) for a in np.radians((15, 75, 135))], axis=0
    )
    head = smooth_common((head - 2.0).astype(np.float32), np.abs(p[2] - 15.6) - np.float32(1.5), 0.5)
    return smooth_union(d, head, 0.3)


def _line(p: Points) -> Distances:
    """The rope, with a whipping on its end."""
    path = Curve([*LEAD, *TURNS, *EIGHT])
    d = rope(p, path, ROPE, LAY)
    _, _, s = path.seen_from(p)
    end = smooth_common(path.length - 7.0 - s, s - (path.length - 1.5), 0.4)
    thread = tube(p, path, [ROPE + 0.15, ROPE + 0.15]) + np.float32(0.25) * np.abs(np.sin(s * np.float32(3.6)))
    d = smooth_union(d, np.maximum(thread, end), 0.2)
    return np.maximum(d, np.maximum(s - np.float32(path.length - 0.2), 0.2 - s))


def outside(p: Points) -> Distances:
    """The finished cleat with its rope."""
    d = only_near(p, _plank(p), (0, 0, 15), 30, _foot)
    iron = cleat(p)
    iron = smooth_union(iron, sphere(np.stack([np.abs(p[0]), p[1], p[2]]), (38, 0, 44.5), 4.0), 1.5)
    iron = iron + np.float32(0.10) * ripple(p, 2.4, 5)
    q = np.stack([np.abs(p[0]), p[1], p[2]])
    iron = smooth_union(iron, limb(q, (10.8, 0, 20.5), (11.0, 0, 14.0), 6.4, 7.0), 1.0)
    d = smooth_union(d, iron, 1.6)
    d = smooth_union(d, _line(p), 0.35)
    return smooth_common(d, -p[2], 0.6)


def make(step: float) -> dict[str, Skin]:
    """The part as named skins with triangles of about `step` mm at their finest."""
    skin = skin_of(outside, BOX, step)
    return {"rope cleat": hollowed(economical(skin, outside), [hollow_of(cleat, BOX, WALL, 0.6, skin)])}
