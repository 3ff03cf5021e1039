"""What the surface of a liquid holds back: capillary length, hold-up of openings, the hole that empties alone. SI."""

from __future__ import annotations

import math
from typing import Literal

GRAVITY = 9.80665

Exchange = Literal["never", "shaken", "surely"]

ALONE_AT_LEAST = 1.836
"""Capillary lengths across below which a single hole never exchanges resin for air: r^2 rho g / sigma < 0.842
(Bretherton 1961, J. Fluid Mech. 10, 166)."""

ALONE_SURELY = 7.663
"""Capillary lengths across above which it surely does: an interface pinned at the edge is unstable beyond j(1,1) = 3.83
(Maxwell, "Capillary action"). Between the two it may hold, and shaking or a second hole helps; measured tubes lie
there (Extrand 2017, Langmuir 33, 12903)."""


ALONE_BY_SHAKING = 3.682
"""Between that and `ALONE_SURELY` only an interface that clings to the edge holds; a free one does not: r^2 rho g /
sigma < 3.39 (P. Concus 1968, J. Fluid Mech. 34, 481)."""


def slit_alone(surface_tension: float, density: float, width: float, length: float) -> Exchange:
    """Whether a single slit (m; length over its ends, at least its width) exchanges liquid for air, facing down.

    It never does if a round hole that it fits into does not (own judgement: less room is not less stable). It surely
    does once an interface pinned at the edge of a rectangle is unstable: rho g / sigma > pi^2 (4 / l^2 + 1 / w^2), the
    lowest mode that keeps the volume (Maxwell, "Capillary action", from memory); for l to infinity w > pi capillary
    lengths. Between the two it may, and shaking helps.
    """
    unit = capillary_length(surface_tension, density)
    if length < ALONE_AT_LEAST * unit:
        return "never"
    pinned = math.pi**2 * (4.0 / length**2 + 1.0 / width**2)
    return "surely" if unit**-2 > pinned else "shaken"


def hole_alone(surface_tension: float, density: float, diameter: float) -> Exchange:
    """The same of a round hole."""
    lengths = diameter / capillary_length(surface_tension, density)
    return "never" if lengths < ALONE_AT_LEAST else "surely" if lengths >= ALONE_SURELY else "shaken"


def capillary_length(surface_tension: float, density: float) -> float:
    """m; sqrt(sigma / (rho g))."""
    return math.sqrt(surface_tension / (density * GRAVITY))


def entry_pressure(surface_tension: float, diameter: float, contact_angle: float = 0.0) -> float:
    """Pa that air must overcome to enter a wet hole: 4 sigma cos(theta) / d (Young and Laplace). Of a hole that is not
    round, diameter is the hydraulic one, 4 area / perimeter, twice the width of a long slit: the pull of the rim bears
    the section, P sigma cos(theta) = A p. So in the two functions below."""
    return 4.0 * surface_tension * math.cos(contact_angle) / diameter


def drop_head(surface_tension: float, density: float, diameter: float) -> float:
    """m of liquid above a hole that a drop hanging in its mouth carries, once air comes in freely from above."""
    return 4.0 * surface_tension / (density * GRAVITY * diameter)


def held_head(surface_tension: float, density: float, top: float, bottom: float, contact_angle: float = 0.0) -> float:
    """m of liquid that two holes hold back at worst: air must enter at the top, a drop hangs at the bottom."""
    both = math.cos(contact_angle) / top + 1.0 / bottom
    return 4.0 * surface_tension * both / (density * GRAVITY)
