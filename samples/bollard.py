"""Mooring bollard with a rope round its post, solid: to be hollowed before it is vented."""

from __future__ import annotations

import numpy as np

from samples.meshing import Box, Skin, economical, skin_of
from samples.modelling import (
    Curve,
    Distances,
    Points,
    around,
    block,
    ellipsoid,
    fade,
    limb,
    only_near,
    ripple,
    rope,
    smooth_common,
    smooth_union,
)

BOX: Box = ((-31, -31, -3), (31, 31, 66))
ROPE, LAY = 2.6, 14.0
POST, TURNS = 13.4, 3.25
# The end that lies on the base, then up in turns round the post, and the other end tucked down at the back.
ANGLES = np.arange(0.0, 2 * np.pi * TURNS + 0.1, np.pi / 6)
COIL = [(POST * np.cos(a), POST * np.sin(a), 14.6 + 4.9 * a / (2 * np.pi)) for a in ANGLES]
LEAD = [(24.0, -21.0, 12.2), (20.0, -13.0, 12.4), (16.0, -6.0, 13.2)]
TAIL = [(6.0, POST + 1.9, 27.6), (11.0, POST + 2.6, 22.0), (15.0, POST + 3.4, 15.4), (20.0, POST + 5.0, 12.2)]


def _base(p: Points) -> Distances:
    """A square plate on a kerb stone, worn at its edges, with a bolt in each corner."""
    stone = block(p, (0, 0, 3.6), (29, 29, 5.6), 2.2) + np.float32(0.3) * ripple(p, 7.0, 3) * fade(p[2], 1, 3)
    d = smooth_union(stone.astype(np.float32), block(p, (0, 0, 9.0), (24, 24, 2.0), 1.4), 0.8)
    q = np.stack([np.abs(p[0]), np.abs(p[1]), p[2]])
    return smooth_union(d, ellipsoid(q, (19.5, 19.5, 11.0), (3.0, 3.0, 2.2)), 0.5)


def _post(p: Points) -> Distances:
    """Post and mushroom head, with a rim of small scallops where hands and ropes have polished it."""
    d = smooth_union(limb(p, (0, 0, 8), (0, 0, 40), 13.2, 10.8), ellipsoid(p, (0, 0, 48.0), (19.0, 19.0, 8.5)), 7.0)
    d = smooth_union(d, ellipsoid(p, (0, 0, 55.0), (9.0, 9.0, 4.2)), 3.0)
    scallop = ellipsoid(around(p, 16), (18.6, 0, 47.5), (1.4, 2.2, 2.6))
    return smooth_union(d, scallop, 0.9)


def _line(p: Points) -> Distances:
    path = Curve([*LEAD, *COIL, *TAIL])
    _, _, s = path.seen_from(p)
    return smooth_common(rope(p, path, ROPE, LAY), np.maximum(s - (path.length - 0.3), 0.3 - s), 0.4)


def outside(p: Points) -> Distances:
    """The finished bollard."""
    d = smooth_union(_base(p), _post(p), 3.0)
    d = only_near(p, d, (4, 0, 20), 42, lambda q, e: smooth_union(e, _line(q), 1.0))
    # Where the end hangs over the turns it is pressed upon them: no pocket stays behind it.
    d = smooth_union(d, ellipsoid(p, (8.4, 13.2, 22.3), (2.8, 2.8, 3.0)), 0.8)
    return smooth_common(d, -p[2], 0.6)


def make(step: float) -> dict[str, Skin]:
    """The part as one named skin with triangles of about `step` mm at their finest."""
    return {"bollard": economical(skin_of(outside, BOX, step), outside)}
