"""How long a hollow takes to empty by gravity through its holes, and what clings to its walls. SI units."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from ventplanner.physics.capillarity import GRAVITY, capillary_length
from ventplanner.physics.ducts import Section, circle, loss_coefficient
from ventplanner.physics.fluids import AIR_DENSITY

FloatArray = NDArray[np.float64]


def outflow(
    head: FloatArray,
    diameter: float,
    length: float,
    viscosity: float,
    density: float,
    loss: float | None = None,
    section: Section | None = None,
) -> FloatArray:
    """m3/s through a round hole under `head` (m) of liquid above its inner mouth, running downwards through it: the
    flow under rho g (h + L). loss, section: see `flow_under`."""
    fall = density * GRAVITY * (np.maximum(head, 0.0) + length)
    return flow_under(fall, diameter, length, viscosity, density, loss, section)


def flow_under(
    pressure: FloatArray,
    diameter: float,
    length: float,
    viscosity: float,
    density: float,
    loss: float | None = None,
    section: Section | None = None,
) -> FloatArray:
    """m3/s through a hole of some length under a pressure (Pa): the positive root of p = R Q + K rho Q^2 / (2 a^2), a
    its area. loss: K (None: by Idelchik). section: of a hole that is not round; diameter is its hydraulic one then."""
    hole = circle(diameter) if section is None else section
    k = loss_coefficient(length, diameter) if loss is None else loss
    resistance, inertia = hole.resistance(length, viscosity), k * density / (2.0 * hole.area**2)
    # The stable form of the root: both terms are positive.
    return np.asarray(2.0 * pressure / (resistance + np.sqrt(resistance**2 + 4.0 * inertia * pressure)))


def emptying_time(volume: FloatArray, flow: FloatArray) -> float:
    """s: the integral of A(h) dh / Q(h), as a sum of slices. volume: (k,) m3 of each slice; flow: (k,) m3/s while the
    surface is in it; inf if a slice that holds something does not run out."""
    full = volume > 0.0
    if (flow[full] <= 0.0).any():
        return math.inf
    return float((volume[full] / flow[full]).sum())


def film(distance: FloatArray | float, time: float, viscosity: float, density: float, steep: float = 1.0) -> FloatArray:
    """m: thickness of the film on a wall, `distance` m below where it begins, after `time` s of draining.

    H. Jeffreys 1930, "The draining of a vertical plate", Proc. Camb. Phil. Soc. 26, 204: sqrt(mu z / (rho g t)). Its
    mean over a length is 2/3 of that at its end. steep: cosine of the wall's angle from the vertical.
    """
    return np.sqrt(viscosity * np.asarray(distance) / (density * GRAVITY * steep * time))


def film_left(speed: float, viscosity: float, surface_tension: float, density: float) -> float:
    """m: thickness that a surface which sinks at `speed` m/s leaves behind, 0.944 l Ca^(2/3).

    L. D. Landau & V. G. Levich 1942, Acta Physicochim. URSS 17, 42; for Ca up to 0.01.
    """
    number = viscosity * speed / surface_tension
    return float(0.944 * capillary_length(surface_tension, density) * number ** (2.0 / 3.0))


def exchange(diameter: float, viscosity: float, surface_tension: float, density: float) -> float:
    """m3/s that leave through a single round hole while air rises through it: speed of a long bubble times its area.

    G. B. Wallis 1969, One-Dimensional Two-Phase Flow (from memory); none where Eo < 3.37. Through thin walls not
    validated: an estimate of the order only.
    """
    eotvos = density * GRAVITY * diameter**2 / surface_tension
    if eotvos <= 3.37:
        return 0.0
    number = math.sqrt(diameter**3 * GRAVITY * (density - AIR_DENSITY) * density) / viscosity
    m = 10.0 if number > 250.0 else 25.0 if number < 18.0 else 69.0 * number**-0.35
    froude = 0.345 * (1.0 - math.exp(-0.01 * number / 0.345)) * (1.0 - math.exp((3.37 - eotvos) / m))
    return froude * math.sqrt(GRAVITY * diameter) * circle(diameter).area
