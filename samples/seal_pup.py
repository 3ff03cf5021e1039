"""Seal pup: one plain sealed hollow."""

from __future__ import annotations

import numpy as np

from samples.meshing import Box, Skin, economical, hollow_of, hollowed, skin_of
from samples.modelling import (
    Curve,
    Distances,
    Points,
    Triple,
    ellipsoid,
    fade,
    limb,
    mirrored,
    only_near,
    ripple,
    seen_along,
    smooth_common,
    smooth_cut,
    smooth_union,
    sphere,
    tube,
    turned,
)

BOX: Box = ((-36, -50, -3), (36, 58, 58))
WALL = 2.6
SMILE = Curve([(0.0, -43.2, 29.3), (1.6, -42.6, 27.6), (4.4, -40.9, 27.2), (7.4, -37.8, 28.6), (9.2, -35.0, 30.2)])
SPINE = Curve([(0, -17, 22), (0, -2, 19.5), (0, 14, 16), (0, 30, 11.5), (0, 41, 9)])


def trunk(p: Points) -> Distances:
    """Body, neck, head and muzzle, without anything small: what is hollowed."""
    q = mirrored(p)
    body = tube(p * np.float32([[0.93], [1], [1]]), SPINE, [16.5, 18.5, 15.5, 9.5, 5.2])
    head = ellipsoid(p, (0, -26, 36), (14.6, 14.4, 13.6))
    d = smooth_union(body, limb(p, (0, -14, 20), (0, -23, 31), 15, 11.5), 9)
    d = smooth_union(d, head, 5)
    muzzle = ellipsoid(q, (3.4, -37.2, 31.0), (5.6, 5.6, 4.8))
    chin = ellipsoid(p, (0, -36.2, 27.6), (4.8, 4.4, 3.6))
    d = smooth_union(d, smooth_union(muzzle, chin, 1.5), 3.0)
    return smooth_common(d, -p[2], 1.5)


def _paddle(p: Points, root: Triple, tip: Triple, width: float, thick: float, fingers: int) -> Distances:
    """A flat flipper from root to tip that widens, with a scalloped end and grooves between the fingers."""
    length = float(np.linalg.norm(np.subtract(tip, root)))
    w, v, u = seen_along(p, root, tip, (0, 0, 1))
    t = np.clip(u / np.float32(length), 0, 1)
    half = np.float32(width) * (0.5 + 0.5 * np.sqrt(t))
    fan = np.clip(v / np.maximum(half, 1), -1, 1)
    finger = np.abs(np.cos(fan * np.float32(np.pi * fingers / 2)))
    reach = np.float32(length) * (1 - 0.3 * fan * fan) - 1.1 * (1 - np.sqrt(finger)) * fade(t, 0.3, 1)
    d = smooth_common(np.abs(v) - half, smooth_common(u - reach, -u - 2, 1), 4.0)
    sheet = np.abs(w) - np.float32(thick) * (1 - 0.45 * t) + 0.75 * fade(t, 0.25, 0.9) * (1 - finger) ** 2
    return smooth_common(d, sheet, 1.6)


def _flippers(p: Points) -> Distances:
    q = mirrored(p)
    fore = _paddle(q, (11, -15, 9), (31, -6, 2.6), 7.0, 3.6, 5)
    hind = _paddle(turned(q, 38, "y", (3, 42, 9)), (2.5, 40, 9.3), (8.5, 56.5, 12), 5.8, 2.6, 5)
    return np.minimum(fore, hind)


def _face(p: Points, d: Distances) -> Distances:
    q = mirrored(p)
    d = smooth_cut(d, sphere(q, (6.6, -40.0, 38.6), 3.5), 1.4)
    d = np.minimum(d, sphere(q, (6.2, -36.9, 38.2), 3.1))
    lid = tube(
        q, Curve([(3.0, -39.2, 38.2), (4.6, -39.2, 41.0), (7.4, -38.2, 41.6), (9.8, -36.2, 39.6)]), [0.3, 0.7, 0.7, 0.3]
    )
    d = smooth_union(d, lid, 0.7)
    nose = smooth_union(
        ellipsoid(p, (0, -42.2, 34.6), (3.0, 2.2, 1.9)), ellipsoid(p, (0, -42.6, 33.2), (1.2, 1.6, 1.4)), 1.0
    )
    d = smooth_union(d, nose, 0.6)
    d = smooth_cut(d, limb(q, (1.1, -45.2, 34.4), (2.0, -44.0, 35.2), 0.5, 0.4), 0.5)
    d = smooth_cut(d, tube(q, SMILE, [0.55, 0.55, 0.5, 0.2]), 0.5)
    d = smooth_cut(d, limb(p, (0, -44, 32.2), (0, -43.4, 29.2), 0.4, 0.45), 0.5)
    for y, z in [(-42.0, 31.9), (-41.3, 30.0), (-40.6, 32.9), (-39.9, 31.0), (-39.0, 32.4), (-38.6, 30.2)]:
        x = 3.6 + 1.6 * (42.0 + y)
        aim = np.array([x - 3.4, y + 37.2, z - 31.0])
        aim *= 1 / np.linalg.norm(aim / [5.6, 5.6, 4.8])
        d = smooth_union(d, sphere(q, np.add(aim, (3.4, -37.2, 31.0)), 0.5), 0.4)
    ear = ellipsoid(q, (13.6, -22.5, 38.5), (1.1, 1.0, 1.5))
    return smooth_cut(d, ear, 1.0)


def outside(p: Points) -> Distances:
    """The finished pup with flippers, face and fur."""
    d = smooth_union(trunk(p), _flippers(p), 2.4)
    tuft = p * np.float32([[1.0], [0.32], [0.75]])
    coat = ripple(tuft, 2.6, 11, 14)
    bare = fade(p[1], -30, -20) * fade(p[2], 1.5, 5) * fade(-np.abs(p[0]), -21, -17) * fade(-p[1], -42, -36)
    d = d + np.float32(0.26) * coat * bare
    d = only_near(p, d, (0, -38, 34), 20, _face)
    return smooth_common(d, -p[2], 0.8)


def make(step: float) -> dict[str, Skin]:
    """The part as named skins with triangles of about `step` mm at their finest."""
    skin = skin_of(outside, BOX, step)
    return {"seal pup": hollowed(economical(skin, outside), [hollow_of(trunk, BOX, WALL, 0.7, skin)])}
