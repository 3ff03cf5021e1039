"""The network at many heights: rooms are nodes, ways are conductors, the lift draws from every room in the layer.

While a layer is lifted off the film, each room that reaches down to it must take in area times speed; what it takes in
comes through the ways that are printed so far, so the pressures solve a linear system (Kirchhoff) at each height.
Inertia makes the resistances grow with the flow; they are put in again until nothing changes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.solid import FloatArray
from ventplanner.physics.fluids import AIR_DENSITY, AIR_VISCOSITY

ROUNDS = 12

LEAST_RESISTANCE, MOST_RESISTANCE = 1e6, 1e17
"""Pa s/m3. Ways that resist less cost next to nothing (1 Pa at 1 mL/s) and count as this; ways that resist more let
through a mL in three years at 1 kPa and count as closed. So the equations stay well enough conditioned for double
precision."""

Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Liquid:
    """Pa s and kg/m3."""

    viscosity: float
    density: float


AIR = Liquid(AIR_VISCOSITY, AIR_DENSITY)


@dataclass(frozen=True, eq=False)
class Pressures:
    """At k heights: pressure (k, n) Pa below the outside (suction), inf where nothing can get in; fed (k, n), rooms
    that hang together with the outside; flow (k, m) m3/s through each way."""

    pressure: FloatArray
    fed: Flags
    flow: FloatArray


def solve(
    ends: NDArray[np.int64],
    resistance: FloatArray,
    inertia: FloatArray,
    taken: FloatArray,
    seep: FloatArray | None = None,
) -> Pressures:
    """Pressures at k heights when `taken` ((k, n) m3/s, column 0 the outside) is drawn from the rooms.

    ends: (m, 2) rooms that each way joins. resistance: (k, m) Pa s/m3 of what of it is printed, inf where nothing is.
    inertia: (k, m) Pa s2/m6: what, times flow squared, is lost at its mouths. seep: (k, n) m3/(s Pa), what else lets in
    from outside (the rim).
    """
    heights, n = taken.shape
    open_ = resistance <= MOST_RESISTANCE
    creeping = np.where(open_, np.maximum(resistance, LEAST_RESISTANCE), np.inf)
    slowing = np.where(open_, inertia, 0.0)
    leak = np.zeros((heights, n)) if seep is None else np.where(seep >= 1.0 / MOST_RESISTANCE, seep, 0.0)
    fed = _fed(ends, open_, leak)
    drawn = np.where(fed, taken, 0.0)
    pressure, flow = np.zeros((heights, n)), np.zeros(open_.shape)
    todo = np.arange(heights)
    for _ in range(ROUNDS):
        before = flow[todo]
        conductance = 1.0 / (creeping[todo] + slowing[todo] * np.abs(before))
        pressure[todo] = found = _linear(ends, conductance, leak[todo], drawn[todo], fed[todo])
        new = (found[:, ends[:, 0]] - found[:, ends[:, 1]]) * conductance
        settled = (np.abs(new - before) <= 1e-15 + 1e-4 * np.abs(before)).all(axis=1)
        # Half way to the new flow: the full step would swing where inertia rules.
        whole = settled | ~slowing[todo].any(axis=1) | ~before.any(axis=1)
        flow[todo] = np.where(whole[:, None], new, 0.5 * (new + before))
        todo = todo[~settled]
        if not len(todo):
            break
    return Pressures(np.where(fed | (taken <= 0.0), pressure, np.inf), fed, flow)


def _fed(ends: NDArray[np.int64], open_: Flags, leak: FloatArray) -> Flags:
    """(k, n) rooms that hang together with the outside."""
    fed = leak > 0.0
    fed[:, 0] = True
    while True:
        more = fed.copy()
        for way, (a, b) in enumerate(ends.tolist()):
            either = open_[:, way] & (more[:, a] | more[:, b])
            more[:, a] |= either
            more[:, b] |= either
        if np.array_equal(more, fed):
            return fed
        fed = more


def _linear(
    ends: NDArray[np.int64], conductance: FloatArray, leak: FloatArray, taken: FloatArray, fed: Flags
) -> FloatArray:
    """(k, n) pressures for given conductances (k, m); 0 in the outside and in what is not fed."""
    heights, n = taken.shape
    along = np.zeros((len(ends), n))
    rows = np.arange(len(ends))
    along[rows, ends[:, 0]] += 1.0
    along[rows, ends[:, 1]] -= 1.0
    every = (along[:, :, None] * along[:, None, :]).reshape(len(ends), n * n)
    matrix: FloatArray = (conductance @ every).reshape(heights, n, n)
    inner = fed.copy()
    inner[:, 0] = False
    matrix *= (inner[:, :, None] & inner[:, None, :]).astype(np.float64)
    at = np.arange(n)
    matrix[:, at, at] += np.where(inner, leak, 1.0)
    drawn = np.where(inner, taken, 0.0)
    return np.asarray(np.linalg.solve(matrix, drawn[:, :, None])[:, :, 0], dtype=np.float64)
