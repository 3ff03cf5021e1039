"""Puffin drying its wings: one cavity with cups of its own in both wing tips and in the beak."""

from __future__ import annotations

import numpy as np

from samples.meshing import Box, Skin, economical, hollow_of, hollowed, skin_of
from samples.modelling import (
    Curve,
    Distances,
    Points,
    Sheet,
    ellipsoid,
    fade,
    limb,
    mirrored,
    only_near,
    ripple,
    rock,
    seen_along,
    smooth_common,
    smooth_cut,
    smooth_union,
    sphere,
    tube,
    turned,
)

BOX: Box = ((-40, -38, -3), (40, 32, 84))
WALL = 2.2
SPINE = Curve([(0, 5, 19), (0, 4, 31), (0, 1, 44), (0, -2, 56), (0, -4, 63)])
NOD = 15.0
# The beak from the side, (y, z), before the bird bows its head by NOD degrees.
_TOP = ((-6, 79), (-13, 77.5), (-19, 75), (-24.5, 70.8), (-28.8, 65), (-31, 59))
_BOTTOM = ((-30.6, 57.2), (-27, 57.6), (-21, 57.4), (-14, 57.6), (-6, 58))
BEAK = Sheet([*_TOP, *_BOTTOM])
GAPE = Curve([(0, -12, 65.2), (0, -18, 64.4), (0, -25, 62.2), (0, -33, 58.4)])
SHOULDER, WING_TIP, WING_SIDE = (15.5, 2, 54), (30, 7, 18), (1.0, -0.25, 0.3)


def _bowed(p: Points) -> Points:
    return turned(p, NOD, "x", (0, -2, 62))


def _beak(q: Points) -> Distances:
    """Deep from the side and narrow from above, the way a puffin's beak is."""
    thick = np.float32(5.3) - np.float32(0.06) * np.clip(-q[1] - 12, 0, 16)
    return smooth_common(BEAK(q), np.abs(q[0]) - thick, 3.6)


def _head(q: Points) -> Distances:
    return smooth_union(ellipsoid(q, (0, -3.5, 66.5), (13.2, 13.6, 12.8)), ellipsoid(q, (0, -7, 64), (12.6, 9, 9)), 3)


def _wing(q: Points) -> Distances:
    """One wing held away from the body, in limb axes: across, along the chord, along the wing."""
    w = seen_along(q, SHOULDER, WING_TIP, WING_SIDE)
    return ellipsoid(w, (0, 0, 20), (5.4, 10.0, 21.5))


def base(p: Points) -> Distances:
    """Rock, body, head, beak and wings: what is hollowed."""
    q = mirrored(p)
    d = tube(p, SPINE, [11.5, 17.3, 15.8, 12.5, 11.5])
    d = smooth_union(d, _head(_bowed(p)), 3)
    d = smooth_union(d, limb(q, (8, 1, 52), (17, 2.5, 50), 7.5, 6.2), 4)
    d = smooth_union(d, _wing(q), 3)
    d = smooth_union(d, _beak(_bowed(p)), 2.0)
    return smooth_common(smooth_union(d, _stone(p), 4), -p[2], 1.5)


def _stone(p: Points) -> Distances:
    return rock(p, (0, -1, 1), (31, 29, 12.5), 33, 14)


def _feathered_wing(q: Points) -> Distances:
    d = _wing(q)
    x, y, z = seen_along(q, SHOULDER, WING_TIP, WING_SIDE)
    # Coverts: columns of scales, each rising to its rounded tip and then dropping; below them long flight feathers.
    cell = y / np.float32(3.3)
    bow = (2 * (cell - np.floor(cell)) - 1) ** 2
    step = z / np.float32(4.6) + np.float32(0.42) * bow + np.float32(0.5) * np.mod(np.floor(cell), 2)
    scale = step - np.floor(step)
    coverts = np.float32(0.55) * (scale - fade(scale, 0.8, 1.0))
    quill = y / (np.float32(2.4) * (1 - 0.012 * (z - 22)))
    vane = np.abs(quill - np.floor(quill) - 0.5) * 2
    flight = np.float32(0.5) * (1 - vane**3) - 0.25
    lower = fade(z + 0.05 * y * y, 21, 24)
    edge = fade(np.abs(y), 9.8, 8.0) * fade(z, 1, 6)
    relief = ((1 - lower) * coverts + lower * flight) * edge
    # The long feathers end in a row of round points.
    d = smooth_cut(d, limb(np.stack([x, np.abs(y) - 3.4, z]), (-20, 0, 44.2), (20, 0, 44.2), 1.0, 1.0), 0.6)
    return d - relief.astype(np.float32)


def _face(p: Points, d: Distances) -> Distances:
    """White cheeks a little proud, the eye in its coloured triangle, the crease behind it."""
    q = mirrored(p)
    cheek = ellipsoid(q, (9.5, -8.5, 67.0), (9, 8.4, 8.6))
    d = d - np.float32(0.45) * fade(cheek, 0.35, -0.35)
    eye = (9.6, -9.4, 69.3)
    patch = smooth_union(sphere(q, eye, 4.3), limb(q, (10.4, -9.6, 71.5), (8.0, -9.0, 77.4), 2.6, 0.5), 1.5)
    d = d - np.float32(0.4) * fade(patch, 0.3, -0.3)
    d = d + np.float32(0.5) * np.exp(-((sphere(q, eye, 3.35) / np.float32(0.42)) ** 2))
    d = smooth_union(d, sphere(q, eye, 2.95), 0.2)
    crease = Curve([(12.9, -8.2, 69.4), (13.4, -4.5, 68.4), (13.2, -0.5, 66.2), (12.0, 3.5, 63.0)])
    d = smooth_cut(d, tube(q, crease, [0.3, 0.6, 0.6, 0.2]), 0.7)
    return smooth_union(d, ellipsoid(q, (6.6, -13.2, 63.6), (1.6, 2.3, 2.3)), 0.7)


def _beak_outside(q: Points) -> Distances:
    """Curved ridges across the outer half, the raised border at the root, the line between the two halves."""
    d = _beak(q)
    ahead = np.hypot(q[1] + 3.0, q[2] - 66.0)
    for at in (19.4, 22.2, 25.0):
        d = d + np.float32(0.42) * np.exp(-(((ahead - at) / 0.55) ** 2))
    d = d - np.float32(0.6) * np.exp(-(((ahead - 14.9) / 0.9) ** 2))
    fold = GAPE.seen_from(q * np.float32([[0], [1], [1]]))
    return (d + np.float32(0.6) * np.exp(-((fold[0] ** 2 + fold[1] ** 2) / 0.45**2))).astype(np.float32)


def _feet(q: Points) -> Distances:
    leg = limb(q, (6.5, -1, 18), (7, -9.5, 13.6), 3.4, 1.9)
    d = leg
    for toe in ((3.6, -18.5, 10.4), (8.0, -19.8, 10.2), (12.2, -17.5, 10.2)):
        d = smooth_union(d, limb(q, (7, -9.8, 13.2), toe, 1.7, 1.25), 0.8)
        d = smooth_union(d, limb(q, toe, (toe[0] * 1.03, toe[1] - 1.4, toe[2] - 0.7), 1.0, 0.45), 0.3)
    return smooth_union(d, ellipsoid(q, (7.8, -14.6, 11.2), (4.2, 4.4, 0.9)), 1.2)


def outside(p: Points) -> Distances:
    """The finished bird on its rock."""
    q = mirrored(p)
    body = tube(p, SPINE, [11.5, 17.3, 15.8, 12.5, 11.5])
    down = ripple(p * np.float32([[1], [1], [0.4]]), 2.2, 4, 14) * fade(p[2], 56, 50)
    belly = fade(p[1] + 0.01 * q[0] ** 2, 1, -1.5)
    # The dark back stands a little proud of the white front.
    body = body + np.float32(0.17) * down * belly - np.float32(0.5) * (1 - belly) * fade(p[2], 18, 24)
    d = smooth_union(body, _head(_bowed(p)), 3)
    d = smooth_union(d, limb(q, (8, 1, 52), (17, 2.5, 50), 7.5, 6.2), 4)
    d = only_near(p, d, (0, -8, 67), 19, lambda r, e: _face(_bowed(r), e))
    d = only_near(q, d, (23, 5, 36), 28, lambda r, e: smooth_union(e, _feathered_wing(r), 2.4))
    d = only_near(p, d, (0, -22, 63), 22, lambda r, e: smooth_union(e, _beak_outside(_bowed(r)), 1.0))
    tail = seen_along(p, (0, 14, 24), (0, 28, 13), (1, 0, 0))
    fan = np.abs(np.mod(np.abs(tail[0]) / 2.2, 1) - 0.5)
    fan = ellipsoid(tail, (0, 0, 8), (6.6, 2.6, 10)) + np.float32(0.6) * fade(fan, 0.34, 0.5) * fade(tail[2], 4, 9)
    d = smooth_union(d, fan.astype(np.float32), 2.5)
    stone = smooth_union(d, _stone(p) + np.float32(0.15) * np.abs(ripple(p, 2.0, 6)), 1.0)
    d = only_near(q, stone, (8, -12, 13), 14, lambda r, e: smooth_union(e, _feet(r), 0.5))
    return smooth_common(d, -p[2], 0.8)


def make(step: float) -> dict[str, Skin]:
    """The part as named skins with triangles of about `step` mm at their finest."""
    skin = skin_of(outside, BOX, step)
    return {"puffin": hollowed(economical(skin, outside), [hollow_of(base, BOX, WALL, 0.6, skin)])}
