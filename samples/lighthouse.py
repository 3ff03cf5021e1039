"""Lighthouse on a rock: cavities that do not connect (rock and tower, gallery, lamp room, keeper's cottage)."""

from __future__ import annotations

import numpy as np

from samples.meshing import Box, Skin, economical, hollow_of, hollowed, skin_of
from samples.modelling import (
    Distances,
    Lathe,
    Points,
    around,
    block,
    fade,
    limb,
    mirrored,
    moved,
    only_near,
    ring,
    ripple,
    rock,
    smooth_common,
    smooth_cut,
    smooth_union,
    sphere,
    turned,
)

BOX: Box = ((-29, -27, -3), (27, 26, 105))
WALL = 2.4
TOWER = Lathe([(0, 6), (12.6, 6), (12.3, 16), (10.9, 26), (9.7, 38), (8.7, 50), (8.1, 62), (8.0, 66), (0, 66)])
GALLERY = Lathe([(0, 60), (8.1, 60), (8.5, 62.5), (10.2, 65.5), (12.6, 67.5), (14.0, 69.2), (14.2, 73.5), (0, 73.5)])
DECK = Lathe([(0, 73.2), (14.9, 73.2), (14.9, 74.6), (0, 74.6)])
LAMP = Lathe([(0, 70), (8.6, 70), (8.6, 76.6), (7.5, 77.2), (7.5, 87), (0, 87)])
ROOF = Lathe(
    [
        (0, 86),
        (9.4, 86.4),
        (9.5, 87.4),
        (8.4, 88.4),
        (7.2, 90.8),
        (5.2, 93.0),
        (2.6, 94.4),
        (1.5, 94.9),
        (1.2, 95.8),
        (0, 95.8),
    ]
)
RING_ROOM = Lathe([(7.6, 68.3), (8.6, 67.6), (10.9, 69.4), (11.5, 70.6), (11.4, 71.2), (7.6, 71.2)])
BAND, COURSE, BRICKS = 10.0, 2.5, 20
# Windows up the tower: (degrees about the axis, height of the sill, radius of the tower there).
WINDOWS = [(-62.0, 30.0, 10.1), (28.0, 41.0, 9.3), (118.0, 52.0, 8.5), (-105.0, 52.0, 8.5)]
COTTAGE, COTTAGE_TURN = (-16.2, -3.0, 21.6), -8.0


def _ground(p: Points) -> Distances:
    low = rock(p, (0, 0, 2), (26, 23.5, 17), 5, 22)
    ledge = block(p, (-14, -3.5, 12), (9.0, 8.5, 4.2), 2.2) + np.float32(0.3) * ripple(p, 4.0, 3)
    return smooth_common(smooth_union(low, ledge, 3.0), -p[2], 1.2)


def _cottage_local(p: Points) -> Points:
    return turned(moved(p, COTTAGE), COTTAGE_TURN, "z")


def _cottage_body(q: Points, grow: float = 0.0) -> Distances:
    """House with its ridge along y: walls 11 x 13 mm, eaves 6 mm above the floor."""
    walls = block(q, (0, 0, -1.5), (5.6 + grow, 6.6 + grow, 8.0 + grow))
    slope = (np.abs(q[0]) * np.float32(0.68) + (q[2] - np.float32(8.4 + grow)) * np.float32(0.735)).astype(np.float32)
    return np.maximum(walls, slope)


def base(p: Points) -> Distances:
    """Rock and tower: what the largest cavity follows."""
    return smooth_union(_ground(p), TOWER(p), 3.0)


def cottage(p: Points) -> Distances:
    """The cottage alone."""
    return _cottage_body(_cottage_local(p))


def lamp_room(p: Points) -> Distances:
    """Lamp room and its roof."""
    return smooth_union(LAMP(p), ROOF(p), 0.8)


def _bricks(p: Points) -> Distances:
    """Depth of the joints between bricks, 0 to 1, in every other band of the tower."""
    row = np.floor(p[2] / COURSE)
    up = np.abs(p[2] / COURSE - row - 0.5) * COURSE
    angle = np.arctan2(p[1], p[0]) / (2 * np.pi) * BRICKS + 0.5 * np.mod(row, 2)
    side = np.abs(angle - np.floor(angle) - 0.5) * np.float32(2 * np.pi / BRICKS) * np.hypot(p[0], p[1])
    half = np.float32(np.pi / BRICKS) * np.hypot(p[0], p[1])
    joint = np.maximum(fade(up, COURSE / 2 - 0.5, COURSE / 2 - 0.1), fade(side - half, -0.5, -0.1))
    return joint.astype(np.float32)


def _arch(y: Distances, z: Distances, half: float, tall: float) -> Distances:
    """Distance in a plane to a window: straight sides from z = 0 to `tall`, a half circle on top."""
    top = np.hypot(y, np.maximum(z - np.float32(tall), 0)) - np.float32(half)
    return np.maximum(np.where(z > tall, top, np.abs(y) - np.float32(half)), -z)


def _opening(p: Points, d: Distances, degrees: float, sill: float, half: float, tall: float) -> Distances:
    """A framed window or door in the tower, its glass divided by bars."""
    q = turned(p, degrees, "z")
    y, z = q[1], q[2] - np.float32(sill)
    front = np.where(q[0] > 0, np.float32(0), np.float32(9))
    skin, arch = TOWER(p) + front, _arch(y, z, half, tall)
    frame = smooth_common(skin - 0.75, np.abs(arch - 0.35) - 0.6, 0.3)
    stone = block(np.stack([skin, y, z]), (0.3, 0, -0.5), (0.95, half + 1.5, 0.55), 0.25)
    d = smooth_union(d, np.minimum(frame, stone), 0.3)
    d = smooth_cut(d, np.maximum(-(skin + 0.85), arch), 0.2)
    bars = np.minimum(np.abs(y), np.abs(z - np.float32(tall * 0.62))) - np.float32(0.3)
    return np.minimum(d, np.maximum(np.maximum(bars, arch), skin + 0.2))


def _tower(p: Points) -> Distances:
    band = np.mod(p[2] - 16.0, 2 * BAND)
    raised = fade(np.abs(band - 1.5 * BAND), BAND / 2 + 0.25, BAND / 2 - 0.25)
    d = TOWER(p) - np.float32(0.45) * raised + np.float32(0.42) * raised * _bricks(p)
    for degrees, sill, radius in WINDOWS:
        at = (radius * np.cos(np.radians(degrees)), radius * np.sin(np.radians(degrees)), sill + 2.5)
        d = only_near(p, d, at, 6, lambda q, e, a=degrees, s=sill: _opening(q, e, a, s, 1.5, 3.0))
    return only_near(p, d, (0, -12, 21), 9, lambda q, e: _opening(q, e, -90, 17.2, 2.2, 4.2))


def _top(p: Points) -> Distances:
    """Gallery with brackets and rail, lamp room with panes, roof with ball and rod."""
    d = smooth_union(GALLERY(p), DECK(p) - 0.1, 0.5)
    s = around(p, 14)
    bracket = np.maximum(limb(s, (8.6, 0, 60.5), (13.0, 0, 68.6), 1.0, 1.0), np.abs(s[1]) - np.float32(0.8))
    d = smooth_union(d, bracket, 0.6)
    rail = np.minimum(ring(p, (0, 0, 79.2), 13.6, 0.72), ring(p, (0, 0, 76.9), 13.6, 0.55))
    posts = np.minimum(limb(s, (13.6, 0, 74), (13.6, 0, 79.4), 0.62, 0.62), sphere(s, (13.6, 0, 79.6), 0.98))
    d = smooth_union(d, smooth_union(rail, posts, 0.4), 0.4)
    lamp = lamp_room(p)
    pane = around(p, 10)
    glass = block(np.stack([pane[0], pane[1], pane[2]]), (8.3, 0, 81.6), (1.45, 1.75, 3.9), 0.5)
    lamp = smooth_cut(lamp, glass, 0.25)
    cross = np.minimum(np.abs(pane[1] - 0.45 * (pane[2] - 81.6)), np.abs(pane[1] + 0.45 * (pane[2] - 81.6))) - 0.32
    lamp = np.minimum(lamp, np.maximum(np.maximum(cross * np.float32(0.85), lamp_room(p) + 0.25), glass - 0.2))
    ribs = around(p, 10, 18)
    lamp = smooth_union(lamp, np.maximum(ROOF(p) - 0.35, np.abs(ribs[1]) - 0.45), 0.3)
    lamp = smooth_union(lamp, sphere(p, (0, 0, 96.8), 1.75), 0.6)
    return np.minimum(d, smooth_union(lamp, limb(p, (0, 0, 97), (0, 0, 101.4), 0.8, 0.55), 0.5))


def _cottage_outside(p: Points, d: Distances) -> Distances:
    q = _cottage_local(p)
    house = _cottage_body(q)
    pitch = (np.abs(q[0]) * np.float32(0.68) + (q[2] - np.float32(8.4)) * np.float32(0.735)).astype(np.float32)
    tiles = np.mod(q[2] + 0.1, 1.3) / 1.3
    slab = np.maximum(np.abs(pitch - 0.35) - 0.5 - 0.3 * (1 - tiles), np.abs(q[1]) - np.float32(7.5))
    slab = np.maximum(slab, np.maximum(np.abs(q[0]) - np.float32(6.9), np.float32(2) - q[2]))
    house = np.minimum(house, slab.astype(np.float32))
    chimney = block(q, (0.9, 3.6, 8.6), (1.4, 1.4, 3.4), 0.25)
    house = np.minimum(house, np.minimum(chimney, block(q, (0.9, 3.6, 11.6), (1.75, 1.75, 0.5), 0.2)))
    m = mirrored(q)
    for y in (-3.4, 3.4):
        frame, glass = block(m, (5.6, y, 0.6), (0.5, 1.75, 2.0), 0.2), block(m, (6.4, y, 0.6), (1.3, 1.2, 1.45), 0.15)
        bars = np.minimum(np.abs(m[1] - np.float32(y)), np.abs(m[2] - np.float32(0.6))) - np.float32(0.25)
        house = smooth_cut(np.minimum(house, frame), glass, 0.15)
        house = np.minimum(house, np.maximum(np.maximum(bars, glass), m[0] - np.float32(5.7)))
    door = block(q, (0, -6.6, -1.2), (1.9, 0.5, 3.7), 0.2)
    panel = block(q, (0, -7.6, -1.0), (1.35, 1.3, 3.1), 0.15)
    house = smooth_cut(np.minimum(house, door), panel, 0.15)
    return smooth_union(d, house, 0.35)


def _steps(p: Points, d: Distances) -> Distances:
    """Stairs from the waterline up to the door."""
    for k in range(7):
        tread = block(p, (0.4 * k, -23.6 + 1.75 * k, 2.6 + 1.15 * k + 1.0), (3.4, 1.9, 2.4 + 1.0), 0.3)
        d = smooth_union(d, tread, 0.3)
    return d


def outside(p: Points) -> Distances:
    """The finished lighthouse."""
    tower = smooth_union(_tower(p), _top(p), 0.4)
    ground = _ground(p) + np.float32(0.18) * np.abs(ripple(p, 1.9, 8)) * fade(p[2], 1.0, 3.0)
    ground = only_near(p, ground, (-16, -3, 22), 19, _cottage_outside)
    ground = only_near(p, ground, (0, -18, 8), 16, _steps)
    d = smooth_union(ground, tower, 1.2)
    return smooth_common(d, -p[2], 0.8)


def _cavities(step: float, outer: Skin) -> list[Skin]:
    low: Box = ((-29, -27, -3), (27, 26, 70))
    tower = hollow_of(base, low, WALL, step, outer, lambda p: p[2] - np.float32(62.2))
    high: Box = ((-12, -12, 68), (12, 12, 99))
    lamp = hollow_of(lamp_room, high, WALL, step * 0.7, outer, lambda p: np.float32(75.4) - p[2])
    gallery = skin_of(lambda p: RING_ROOM(p) - np.float32(0.3), ((-15, -15, 64), (15, 15, 75)), step * 0.7)
    side: Box = ((-28, -15, 8), (-4, 10, 36))
    house = hollow_of(cottage, side, 2.0, step * 0.6, outer, lambda p: np.float32(17.9) - p[2])
    return [tower, gallery, lamp, house]


def make(step: float) -> dict[str, Skin]:
    """The part as named skins with triangles of about `step` mm at their finest."""
    skin = skin_of(outside, BOX, step)
    return {"lighthouse": hollowed(economical(skin, outside), _cavities(0.6, skin))}


def make_fine() -> dict[str, Skin]:
    """The same with a million even triangles, for timing."""
    skin = skin_of(outside, BOX, 0.205)
    sparse = (skin[0][::4], skin[1])
    return {"lighthouse": hollowed(skin, _cavities(0.33, sparse), tolerance=0.0)}
