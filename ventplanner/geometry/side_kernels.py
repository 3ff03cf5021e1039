"""Compiled loops of mending: which windings agree, and which corners at a vertex are of one fan of faces."""

from __future__ import annotations

from typing import Any

from ventplanner.geometry.jit import I8, IN_I4_1, IN_I4_2, IN_U1_2, OUT_I4_1, OUT_U1_1, kernel


@kernel(I8(IN_I4_2, IN_U1_2, OUT_I4_1, OUT_U1_1, OUT_U1_1, OUT_I4_1))
def label_sides(neighbour: Any, agrees: Any, piece: Any, over: Any, twisted: Any, stack: Any) -> int:
    """Flood the faces across sides, and carry the winding along; returns the number of pieces.

    neighbour: (m, 3), -1 for none; agrees: (m, 3), whether the windings there agree. Fills piece (m,), given as -1,
    numbered by first faces; over (m,), given as 0: 1 where a face is wound against the first one of its piece; twisted
    (m,), given as 0: for each piece 1 if no choice of windings agrees everywhere. stack: (m,) work space.
    """
    n = 0
    for seed in range(piece.shape[0]):
        if piece[seed] >= 0:
            continue
        piece[seed] = n
        stack[0] = seed
        top = 1
        while top > 0:
            top -= 1
            f = stack[top]
            for k in range(3):
                g = neighbour[f, k]
                if g < 0:
                    continue
                side = over[f] if agrees[f, k] != 0 else 1 - over[f]
                if piece[g] < 0:
                    piece[g] = n
                    over[g] = side
                    stack[top] = g
                    top += 1
                elif over[g] != side:
                    twisted[n] = 1
        n += 1
    return n


@kernel(I8(IN_I4_1, IN_I4_1, OUT_I4_1, OUT_I4_1))
def label_fans(mate: Any, start: Any, fan: Any, stack: Any) -> int:
    """Flood the corners at each vertex across the edges that meet there; returns the number of fans.

    mate: (3 m,) the half-edge across, or -1; start: (3 m,) vertex of each corner, at which its half-edge begins. Fills
    fan (3 m,), given as -1, numbered by first corners. stack: (3 m,) work space.
    """
    n = 0
    for seed in range(fan.shape[0]):
        if fan[seed] >= 0:
            continue
        fan[seed] = n
        stack[0] = seed
        top = 1
        while top > 0:
            top -= 1
            corner = stack[top]
            f = corner // 3
            for k in (0, 2):
                other = mate[3 * f + (corner - 3 * f + k) % 3]
                if other < 0:
                    continue
                if start[other] != start[corner]:
                    g = other // 3
                    other = 3 * g + (other - 3 * g + 1) % 3
                if fan[other] < 0:
                    fan[other] = n
                    stack[top] = other
                    top += 1
        n += 1
    return n
