"""Bust of a fisherman, open at its base, with eyes as a second object that are buried in the head."""

from __future__ import annotations

import numpy as np

from samples.meshing import Box, Skin, economical, hollow_of, hollowed, manifold_of, skin_of, skin_of_manifold
from samples.modelling import (
    Curve,
    Distances,
    Points,
    ellipsoid,
    fade,
    limb,
    mirrored,
    only_near,
    ring,
    ripple,
    smooth_common,
    smooth_cut,
    smooth_union,
    sphere,
    tube,
    turned,
)

BOX: Box = ((-34, -33, -3), (34, 36, 88))
WALL = 2.6
EYE, EYE_RADIUS = (5.6, -12.4, 51.2), 3.3
NECK = Curve([(0, 3, 16), (0, 2.5, 28), (0, 1, 42)])


def _coat(p: Points) -> Distances:
    q = mirrored(p)
    chest = ellipsoid(p, (0, 2, 3), (22, 16.5, 23))
    shoulder = limb(q, (9, 3, 16), (21, 4, 8), 9.5, 9.0)
    return smooth_union(chest, smooth_union(shoulder, limb(q, (21, 4, 8), (23, 4, -8), 9, 9.5), 3), 5)


def _skull(p: Points) -> Distances:
    d = smooth_union(ellipsoid(p, (0, 1, 53), (14.0, 15.6, 16.0)), ellipsoid(p, (0, -4, 43), (12.0, 12.0, 11.0)), 5)
    return smooth_union(d, ellipsoid(mirrored(p), (7.6, -9.0, 46.5), (5.0, 5.2, 4.6)), 3)


def _beard(p: Points) -> Distances:
    d = smooth_union(
        ellipsoid(p, (0, -9, 37.5), (12.6, 10.0, 11.0)), limb(p, (0, -11.5, 35), (0, -17.0, 27.0), 8.0, 5.2), 5
    )
    return smooth_union(d, ellipsoid(mirrored(p), (11.2, -2.5, 42.5), (4.2, 7.0, 9.0)), 3)


def _hat_local(p: Points) -> Points:
    return turned(p, -7, "x", (0, 1, 59))


def _crown(p: Points) -> Distances:
    q = _hat_local(p)
    return smooth_common(ellipsoid(q, (0, 1.5, 60), (17.2, 18.4, 18.0)), np.float32(57.5) - q[2], 2.5)


def base(p: Points) -> Distances:
    """Coat, neck, head, beard and the crown of the hat: what is hollowed."""
    d = smooth_union(_coat(p), tube(p, NECK, [12.5, 11, 11]), 5)
    d = smooth_union(d, _skull(p), 3)
    d = smooth_union(d, _beard(p), 3)
    return smooth_union(d, _crown(p), 2.5)


def _brim(p: Points) -> Distances:
    """The brim of a sou'wester: short in front, turned up there, long and low over the neck."""
    q = _hat_local(p)
    back = fade(q[1], -14, 22)
    droop = 59.2 - 7.5 * fade(q[1], 2, 33) + 1.6 * fade(-q[1], 12, 22) - 0.006 * q[0] ** 2 * (1 + back)
    rim = ellipsoid(np.stack([q[0], q[1], 0 * q[2]]), (0, 5.5, 0), (22.5, 27.0, 40))
    sheet = np.abs(q[2] - droop) * np.float32(0.9) - np.float32(1.15)
    d = smooth_common(sheet.astype(np.float32), rim, 1.6)
    hem = np.hypot(rim + 0.8, (q[2] - droop) * 0.9) - np.float32(1.35)
    return smooth_union(d, hem.astype(np.float32), 0.8)


def _hat(p: Points) -> Distances:
    q = _hat_local(p)
    angle = np.arctan2(q[0], q[1] - 1.5)
    seam = np.abs(np.mod(angle / (2 * np.pi) * 6 + 0.5, 1) - 0.5) * 2 * np.pi / 6 * np.hypot(q[0], q[1] - 1.5)
    crown = (
        _crown(p) - np.float32(0.42) * np.exp(-((seam / 0.8) ** 2)) + np.float32(0.3) * np.exp(-((seam / 0.25) ** 2))
    )
    band = smooth_common(_crown(p) - 0.9, np.abs(q[2] - 62.4) - np.float32(1.5), 0.5)
    d = smooth_union(smooth_union(crown.astype(np.float32), band, 0.4), _brim(p), 1.2)
    return smooth_union(d, ellipsoid(q, (0, 1.5, 78), (2.4, 2.4, 1.3)), 0.6)


def _hair(p: Points) -> Distances:
    """Waves of the beard, combed down and forward."""
    flow = np.stack([p[0] + 0.8 * np.sin(p[2] * 0.55 + p[0] * 0.3), p[1] * 0.8, p[2] * np.float32(0.22)]).astype(
        np.float32
    )
    return ripple(flow, 2.3, 17, 12) + np.float32(0.5) * np.sin(2.6 * flow[0])


def _face(p: Points, d: Distances) -> Distances:
    q = mirrored(p)
    nose = limb(p, (0, -14.2, 53.5), (0, -18.6, 47.4), 1.9, 2.9)
    nose = smooth_union(nose, ellipsoid(q, (2.6, -16.6, 46.9), (1.9, 2.3, 1.8)), 1.0)
    d = smooth_union(d, nose, 1.4)
    d = smooth_cut(d, limb(q, (1.5, -19.0, 44.6), (1.6, -17.0, 46.4), 0.8, 0.6), 0.5)
    d = smooth_cut(d, ellipsoid(q, (5.7, -15.6, 51.2), (3.5, 2.6, 2.2)), 1.6)
    d = smooth_union(d, limb(q, (2.6, -13.8, 54.0), (9.0, -11.8, 53.6), 2.0, 1.7), 0.8)
    lids = Curve([(2.2, -14.6, 50.6), (4.0, -15.6, 52.6), (6.4, -15.4, 52.8), (9.2, -13.0, 50.8)])
    bags = Curve([(2.6, -14.6, 50.4), (4.4, -15.3, 49.2), (6.8, -15.0, 49.2), (9.0, -13.0, 50.4)])
    d = smooth_union(d, np.minimum(tube(q, lids, [0.5, 0.95, 0.95, 0.5]), tube(q, bags, [0.5, 0.8, 0.8, 0.5])), 0.6)
    brow = tube(
        q,
        Curve([(1.8, -16.2, 54.4), (5.0, -16.6, 56.2), (8.8, -14.2, 56.0), (11.2, -11.2, 54.0)]),
        [1.3, 1.9, 1.6, 0.7],
    )
    d = smooth_union(d, brow + np.float32(0.35) * ripple(p * np.float32([[1], [0.5], [0.7]]), 1.3, 3), 0.8)
    for k in range(3):
        line = Curve([(10.6, -12.4, 51.0), (12.0, -10.0, 51.6 - 1.4 * k + 0.6), (12.9, -7.4, 52.2 - 2.4 * k)])
        d = smooth_cut(d, tube(q, line, [0.2, 0.45, 0.2]), 0.4)
    moustache = tube(
        q,
        Curve([(0.2, -17.8, 43.8), (4.2, -18.0, 42.6), (8.6, -15.4, 39.2), (11.2, -13.2, 36.2)]),
        [2.0, 3.0, 2.3, 0.8],
    )
    d = smooth_union(d, moustache + np.float32(0.3) * _hair(p), 0.7)
    lip = ellipsoid(p, (0, -18.4, 39.6), (3.0, 1.6, 1.0))
    return smooth_union(d, lip, 0.5)


def _pipe(p: Points) -> Distances:
    stem = tube(p, Curve([(3.4, -17.5, 40.0), (7.5, -23.0, 38.6), (10.5, -26.6, 37.6)]), [0.95, 1.1, 1.5])
    bowl = limb(p, (10.8, -26.8, 37.4), (10.8, -26.8, 41.6), 2.9, 3.3)
    bowl = smooth_common(bowl, p[2] - np.float32(43.2), 0.7)
    return smooth_union(stem, bowl, 0.8)


def _clothes(p: Points) -> Distances:
    d = _coat(p)
    q = mirrored(p)
    angle = np.arctan2(p[0], p[1] - 2.5)
    knit = np.float32(0.38) * np.abs(np.sin(20 * angle))
    roll = ring(p * np.float32([[1], [1], [0.8]]), (0, 2.6, 21.6), 11.8, 3.5) + knit
    edge = Curve([(10.8, -4.5, 24.5), (10.2, -11, 18), (8.0, -15.5, 10), (6.4, -17.5, 3), (6.0, -18, -6)])
    lapel = smooth_common(tube(q, edge, [2.4, 3.6, 3.4, 2.6, 2.4]), _coat(p) - np.float32(1.9), 1.2)
    behind = Curve([(10.8, -4.5, 24.5), (13.2, 4, 25.2), (8, 13.6, 24.6), (0, 16, 24.4)])
    collar = smooth_union(lapel, tube(q, behind, [2.4, 2.8, 2.8, 2.8]), 1)
    d = smooth_union(d, collar, 1.2)
    d = smooth_union(d, roll.astype(np.float32), 0.6)
    front = np.where(p[1] < 0, np.float32(0), np.float32(9)) + _coat(p)
    placket = smooth_common(front - 0.7, np.abs(p[0] + 0.6 + 0.05 * p[2]) - np.float32(3.6), 0.4)
    d = smooth_union(d, np.maximum(placket, p[2] - 9.0).astype(np.float32), 0.3)
    for z in (3.6, 9.6):
        disc = np.hypot(p[0] + 2.6, p[2] - z)
        button = smooth_common(front - 1.7, disc - np.float32(1.8), 0.6)
        d = smooth_union(d, np.maximum(button, 0.9 - disc).astype(np.float32), 0.2)
    return d


def outside(p: Points) -> Distances:
    """The finished bust without the eyes."""
    d = smooth_union(_clothes(p), tube(p, NECK, [12, 10.6, 11]), 2)
    d = smooth_union(d, _skull(p), 2)
    beard = _beard(p) + np.float32(0.5) * _hair(p) * fade(p[2], 53, 46)
    d = smooth_union(d, beard, 1.2)
    d = d + np.float32(0.4) * _hair(p) * fade(p[1], -1, 2) * fade(p[2], 36, 40) * fade(p[2], 60, 56)
    ear = ellipsoid(turned(mirrored(p), 12, "z", (14, 0, 49)), (14.2, 0.5, 49.5), (1.7, 3.4, 5.0))
    ear = smooth_cut(ear, ellipsoid(mirrored(p), (16.2, 0.0, 49.8), (1.1, 1.9, 3.2)), 0.6)
    d = smooth_union(d, ear, 1.0)
    d = only_near(p, d, (0, -14, 47), 18, _face)
    d = smooth_union(d, _hat(p), 0.8)
    d = only_near(p, d, (8, -22, 40), 12, lambda q, e: smooth_union(e, _pipe(q), 0.4))
    return smooth_common(d, -1.5 - p[2], 0.5)


def make(step: float) -> dict[str, Skin]:
    """The bust and the eyes as two objects."""
    deep: Box = ((*BOX[0][:2], -14.0), BOX[1])
    skin = skin_of(outside, BOX, step)
    above = (skin[0][skin[0][:, 2] > 1.0], skin[1])
    cavity = hollow_of(base, deep, WALL, 0.6, above, lambda p: -12.0 - p[2])
    bust = skin_of_manifold(manifold_of(hollowed(economical(skin, outside), [cavity])).trim_by_plane((0, 0, 1), 0.0))
    small: Box = ((-10, -17, 46), (10, -8, 56))
    eyes = [skin_of(lambda p, s=side: sphere(p, (s * EYE[0], *EYE[1:]), EYE_RADIUS), small, 0.4) for side in (1, -1)]
    return {
        "bust": bust,
        "eyes": skin_of_manifold(manifold_of(eyes[0]).simplify(0.02) + manifold_of(eyes[1]).simplify(0.02)),
    }
