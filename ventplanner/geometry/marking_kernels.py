"""The compiled loops of `marking`: over the skin from face to face, and what is in front, pixel by pixel."""

from __future__ import annotations

from typing import Any

import numpy as np

from ventplanner.geometry.jit import (
    F8,
    I4,
    I8,
    IN_F4_2,
    IN_F8_1,
    IN_F8_2,
    IN_I4_2,
    OUT_F4_2,
    OUT_I4_1,
    OUT_I4_2,
    VOID,
    kernel,
)


@kernel(I8(IN_I4_2, IN_F4_2, IN_F4_2, IN_F4_2, I8, IN_F8_1, F8, F8, F8, OUT_I4_1, I4, OUT_I4_1))
def spread(
    neighbours: Any,
    middles: Any,
    normals: Any,
    bends: Any,
    start: int,
    centre: Any,
    radius: float,
    most_turned: float,
    most_bent: float,
    stamps: Any,
    stamp: int,
    found: Any,
) -> int:
    """From a face over the skin, across sides bent by no more than `most_bent` (degrees), to faces with their middle
    within a radius of the centre, whose normals make a product of at least `most_turned` with that of the start.

    found: (m,) out, the faces in the order in which they are reached; returns how many. stamps: (m,) out, work space
    that keeps `stamp` where a face was looked at; no earlier call may have used the same one.
    """
    found[0], stamps[start] = start, stamp
    head, tail = 0, 1
    while head < tail:
        face = found[head]
        head += 1
        for side in range(3):
            other = neighbours[face, side]
            if other < 0 or stamps[other] == stamp or bends[face, side] > most_bent:
                continue
            away, turn = 0.0, 0.0
            for k in range(3):
                away += (middles[other, k] - centre[k]) ** 2
                turn += normals[other, k] * normals[start, k]
            if away <= radius * radius and turn >= most_turned:
                stamps[other] = stamp
                found[tail] = other
                tail += 1
    return tail


@kernel(VOID(IN_F8_2, IN_I4_2, OUT_F4_2, OUT_I4_2))
def paint_depth(points: Any, faces: Any, depth: Any, owner: Any) -> None:
    """Paint triangles into a depth picture: in each pixel the nearest one at its centre stays.

    points: (n, 3) pixels to the right and upwards, and mm towards the viewer. depth, owner: (height, width) out, given
    as -inf and -1: the highest third coordinate, and the face that has it. The centre of pixel [j, i] is at (i + 0.5,
    j + 0.5). Edge functions after Pineda 1988, "A parallel algorithm for polygon rasterization"; a centre on a shared
    edge may be painted by both faces.
    """
    height, width = depth.shape
    for f in range(faces.shape[0]):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        ax, ay, az = points[a, 0], points[a, 1], points[a, 2]
        bx, by, bz = points[b, 0], points[b, 1], points[b, 2]
        cx, cy, cz = points[c, 0], points[c, 1], points[c, 2]
        area = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
        if area == 0.0:
            continue
        first, last = max(0, int(np.ceil(min(ax, bx, cx) - 0.5))), min(width - 1, int(np.floor(max(ax, bx, cx) - 0.5)))
        low, high = max(0, int(np.ceil(min(ay, by, cy) - 0.5))), min(height - 1, int(np.floor(max(ay, by, cy) - 0.5)))
        for j in range(low, high + 1):
            y = j + 0.5
            for i in range(first, last + 1):
                x = i + 0.5
                u = ((bx - x) * (cy - y) - (by - y) * (cx - x)) / area
                v = ((cx - x) * (ay - y) - (cy - y) * (ax - x)) / area
                w = 1.0 - u - v
                if u >= 0.0 and v >= 0.0 and w >= 0.0:
                    z = u * az + v * bz + w * cz
                    if z > depth[j, i]:
                        depth[j, i] = z
                        owner[j, i] = f
