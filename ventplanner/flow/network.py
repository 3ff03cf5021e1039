"""The network at one height: rooms are nodes, ways are conductors, the lift draws from every room in the layer.

While a layer is lifted off the film, each room that reaches down to it must take in area times speed; what it takes in
comes through the ways that are printed so far, so the pressures solve a sparse linear system (Kirchhoff). Inertia makes
the resistances grow with the flow; they are put in again until nothing changes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ventplanner.flow.ways import Way
from ventplanner.geometry.solid import FloatArray
from ventplanner.physics.ducts import Section, loss_coefficient
from ventplanner.physics.fluids import AIR_DENSITY, AIR_VISCOSITY

ROUNDS = 12

LEAST_RESISTANCE, MOST_RESISTANCE = 1e6, 1e17
"""Pa s/m3. Ways that resist less cost next to nothing (1 Pa at 1 mL/s) and count as this; ways that resist more let
through a mL in years and count as closed. So the equations stay well enough conditioned for double precision."""


@dataclass(frozen=True)
class Liquid:
    """Pa s and kg/m3."""

    viscosity: float
    density: float


AIR = Liquid(AIR_VISCOSITY, AIR_DENSITY)


@dataclass(frozen=True, eq=False)
class Pressures:
    """pressure: (n,) Pa below the outside (suction), inf where nothing can get in; fed: (n,) bool, rooms that hang
    together with the outside; flow: (m,) m3/s through each way; reynolds: (m,) Reynolds number of each."""

    pressure: FloatArray
    fed: NDArray[np.bool_]
    flow: FloatArray
    reynolds: FloatArray


def solve(
    ways: tuple[Way, ...],
    sections: Sequence[Section],
    liquids: Sequence[Liquid],
    taken: FloatArray,
    seep: FloatArray | None = None,
) -> Pressures:
    """Pressures when `taken` ((n,) m3/s, index 0 the outside) is drawn from the rooms.

    sections: what of each way is printed. liquids: what each way carries. seep: (n,) m3/(s Pa), what else lets in from
    outside (the rim).
    """
    n = len(taken)
    creeping = np.array(
        [s.resistance(0.001 * w.length, q.viscosity) for s, w, q in zip(sections, ways, liquids, strict=True)]
    )
    creeping = np.maximum(creeping, LEAST_RESISTANCE)
    open_ = np.flatnonzero(creeping <= MOST_RESISTANCE).tolist()
    a = np.array([ways[k].a for k in open_], dtype=np.int64)
    b = np.array([ways[k].b for k in open_], dtype=np.int64)
    leak = np.zeros(n) if seep is None else np.where(seep >= 1.0 / MOST_RESISTANCE, seep, 0.0)
    fed = _fed(n, a, b, leak)
    resistance, flow = creeping[open_], np.zeros(len(open_))
    inertia = np.array([_inertia(sections[k].area, ways[k], liquids[k]) for k in open_])
    pressure = np.zeros(n)
    for _ in range(ROUNDS):
        pressure = _linear(n, a, b, 1.0 / (resistance + inertia * np.abs(flow)), leak, np.where(fed, taken, 0.0), fed)
        new = (pressure[a] - pressure[b]) / (resistance + inertia * np.abs(flow))
        settled = np.allclose(new, flow, rtol=1e-4, atol=1e-15)
        # Half way to the new flow: the full step would swing where inertia rules.
        flow = new if settled or not inertia.any() else 0.5 * (new + flow) if flow.any() else new
        if settled:
            break
    full = np.zeros(len(ways))
    full[open_] = flow
    pressure = np.where(fed | (taken <= 0.0), pressure, np.inf)
    return Pressures(pressure, fed, full, _reynolds(full, sections, liquids))


def _fed(n: int, a: NDArray[np.int64], b: NDArray[np.int64], leak: FloatArray) -> NDArray[np.bool_]:
    """Rooms that hang together with the outside."""
    fed = leak > 0.0
    fed[0] = True
    while True:
        more = fed.copy()
        np.logical_or.at(more, a, fed[b])
        np.logical_or.at(more, b, fed[a])
        if np.array_equal(more, fed):
            return np.asarray(fed)
        fed = more


def _linear(
    n: int, a: NDArray[np.int64], b: NDArray[np.int64], conductance: FloatArray, leak: FloatArray, taken: FloatArray,
    fed: NDArray[np.bool_],
) -> FloatArray:  # fmt: skip
    matrix = np.diag(leak.astype(np.float64))
    np.add.at(matrix, (a, a), conductance)
    np.add.at(matrix, (b, b), conductance)
    np.add.at(matrix, (a, b), -conductance)
    np.add.at(matrix, (b, a), -conductance)
    pressure = np.zeros(n)
    use = np.flatnonzero(fed[1:]) + 1
    if len(use):
        pressure[use] = np.linalg.solve(matrix[np.ix_(use, use)], taken[use])
    return pressure


def _inertia(area: float, way: Way, liquid: Liquid) -> float:
    """Pa s2/m6: what, times flow squared, is lost at the mouths."""
    return 0.5 * loss_coefficient(way.length, max(way.width, 1e-6)) * liquid.density / area**2 if area > 0.0 else 0.0


def _reynolds(flow: FloatArray, sections: Sequence[Section], liquids: Sequence[Liquid]) -> FloatArray:
    """(m,) Reynolds number of each way, by the diameter of the circle of equal area."""
    area = np.array([max(s.area, 1e-30) for s in sections])
    across = 2.0 * np.sqrt(area / np.pi)
    thinness = np.array([q.density / q.viscosity for q in liquids])
    return np.asarray(thinness * np.abs(flow) / area * across)
