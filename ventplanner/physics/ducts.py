"""Slow (creeping) flow through short holes: resistance R with pressure drop = R times flow. SI units.

A hole resists as a tube of its length and, at its two mouths, as a hole in a thin plate: the two add up (Dagan,
Weinbaum & Pfeffer 1982, J. Fluid Mech. 115, 505; the same as Weissberg's end correction, 1962, Phys. Fluids 5, 1033).
Held against a finite-element solution of the Stokes equations the sum is at most 0.9 % too high, never too low.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import ellipe

SEGMENT_SHARES = np.array(
    [0.000084, 0.000922, 0.003686, 0.009749, 0.020545, 0.037473, 0.061828, 0.094731, 0.137068, 0.189431,
     0.252050, 0.324731, 0.406771, 0.496865, 0.592984, 0.692194, 0.790387, 0.881762, 0.957593, 1.0]
)  # fmt: skip
"""Duct coefficient of the lower part of a circle as a share of the whole, at heights of 5, 10 ... 100 % of its width.
Our own solution of Poisson's equation by finite differences, error below 0.1 % (half circle: J = 0.2976)."""

_THIN = 32.0 / 35.0 * math.sqrt(2.0) * 2.0**3.5 / 12.0 / (math.pi / 8.0)
"""Limit of that share, divided by height to the power of 3.5, for a thin segment (parallel plates, local gap cubed)."""


@dataclass(frozen=True)
class Section:
    """Cross-section of a hole. area: m2. duct: m4, K in Q = K dP / (mu L) of a long duct. orifice: m3, K in
    Q = K dP / mu of a hole in a thin plate."""

    area: float
    duct: float
    orifice: float

    def resistance(self, length: float, viscosity: float) -> float:
        """Pa s/m3 of a hole of this section. length: m, viscosity: Pa s. Infinite if nothing is open."""
        if self.duct <= 0.0 or self.orifice <= 0.0:
            return math.inf
        return viscosity * (length / self.duct + 1.0 / self.orifice)


def circle(diameter: float) -> Section:
    """Round hole: tube by Hagen and Poiseuille, mouths by Sampson (1891, Phil. Trans. R. Soc. A 182, 449)."""
    radius = 0.5 * diameter
    return Section(math.pi * radius**2, math.pi * radius**4 / 8.0, radius**3 / 3.0)


def ellipse(wide: float, high: float) -> Section:
    """Elliptical hole; wide, high: full widths in m. Mouths by Roscoe (1949, Phil. Mag. 40, 338)."""
    a, b = sorted((0.5 * wide, 0.5 * high), reverse=True)
    if b <= 0.0:
        return Section(0.0, 0.0, 0.0)
    # As pi a^3 b^3 / (4 (a^2 + b^2)), written so that no hole is so small that it divides by zero.
    duct = math.pi * a * b**3 / (4.0 * (1.0 + (b / a) ** 2))
    return Section(math.pi * a * b, duct, math.pi * a * b**2 / (6.0 * float(ellipe(1.0 - (b / a) ** 2))))


def rectangle(wide: float, high: float) -> Section:
    """Rectangular hole; full sides in m.

    Duct by White (Viscous Fluid Flow, 3rd ed. 2006, eq. 3-48). Mouths as of the ellipse inside it, which is too little
    flow rather than too much (a square: 0.75 instead of 0.95 of the equal circle).
    """
    a, b = sorted((wide, high), reverse=True)
    if b <= 0.0:
        return Section(0.0, 0.0, 0.0)
    series = sum(math.tanh(min(i * math.pi * a / (2.0 * b), 300.0)) / i**5 for i in range(1, 40, 2))
    duct = a * b**3 / 12.0 * (1.0 - 192.0 * b / (math.pi**5 * a) * series)
    return Section(a * b, duct, ellipse(a, b).orifice)


STRAIGHTS = (0.0, 0.1, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0)
ENDS = (0.024544, 0.022729, 0.020819, 0.019034, 0.018199, 0.017815, 0.017557, 0.017504, 0.017490)
"""Duct coefficient of a slot of width 1 with round ends, less a twelfth of its straight sides (parallel plates), by the
length of these. Our own solution of Poisson's equation by finite differences; between the entries it is at most 0.3 %
too high."""


def slot(width: float, length: float) -> Section:
    """Slot with round ends; full width, and length over the ends, in m. Mouths as of the ellipse inside it."""
    if width <= 0.0:
        return Section(0.0, 0.0, 0.0)
    straight = max(length - width, 0.0)
    duct = width**4 * (straight / width / 12.0 + float(np.interp(straight / width, STRAIGHTS, ENDS)))
    area = 0.25 * math.pi * width**2 + straight * width
    return Section(area, duct, ellipse(width + straight, width).orifice)


def part_slot(width: float, length: float, rise: float, height: float) -> Section:
    """What of a slot lies below a level line at a height above its lowest point (m), at least. rise: sine of the angle
    between its long side and the level (0: it lies level, 1: it stands upright).

    Of shapes that lie within that part, the one that lets most through: the flow only grows with the opening.
    """
    straight = max(length - width, 0.0)
    if width <= 0.0 or height <= 0.0:
        return Section(0.0, 0.0, 0.0)
    if height >= width + straight * rise:
        return slot(width, length)
    found = [part_circle(width, height)]  # the lower end
    if height >= width:
        found.append(slot(width, min(length, width + (height - width) / rise)))
    # The lower side: a strip along it that stays below the line.
    thick = min(max(height - (straight + math.sqrt(width * height)) * rise, 0.5 * height), width)
    long = straight if rise <= 0.0 else min(straight, (height - thick) / rise - math.sqrt(width * thick))
    if long > 0.0:
        inside = ellipse(long + math.sqrt(width * thick), thick)
        found.append(Section(inside.area, max(inside.duct, rectangle(long, thick).duct), inside.orifice))
    return max(found, key=lambda section: section.duct)


def part_square(side: float, tall: float, height: float) -> Section:
    """What of a square lies below a level line at a height above its lowest point (m), at least. tall: how high it is
    as it is turned. Of a turned one that is not complete, what of the circle inside it."""
    if side <= 0.0 or height <= 0.0:
        return Section(0.0, 0.0, 0.0)
    if height >= tall:
        return rectangle(side, side)
    if tall <= side * (1.0 + 1e-9):
        return rectangle(side, height)
    return part_circle(side, height - 0.5 * (tall - side))


def part_circle(diameter: float, height: float) -> Section:
    """The lower part of a round hole, closed by a straight line at a height above its lowest point (m).

    A circular segment: duct coefficient from `SEGMENT_SHARES`; mouths as of the ellipse that touches the lowest point
    and the line and lies in the segment, which lets less through (the flow only grows with the opening).
    """
    if diameter <= 0.0 or height <= 0.0:
        return Section(0.0, 0.0, 0.0)
    share = height / diameter
    whole = circle(diameter)
    if share >= 1.0:
        return whole
    angle = math.acos(1.0 - 2.0 * share)
    area = (0.5 * diameter) ** 2 * (angle - 0.5 * math.sin(2.0 * angle))
    inside = ellipse(math.sqrt(diameter * height), height)
    return Section(area, whole.duct * _segment_share(share), inside.orifice)


def _segment_share(share: float) -> float:
    """Between the entries the share divided by its power law is linear to 0.1 %."""
    at = np.concatenate(([0.0], np.arange(1, 21) / 20.0))
    slow = np.concatenate(([_THIN], SEGMENT_SHARES / at[1:] ** 3.5))
    return float(np.interp(share, at, slow)) * math.pow(share, 3.5)


def loss_coefficient(length: float, diameter: float) -> float:
    """K of the inertial loss K rho v^2 / 2 through a sharp-edged hole from wide to wide; 2.85 thin, 1.5 long.

    Idelchik, Handbook of Hydraulic Resistance, diagram 4-18 (from memory).
    """
    ratio = length / diameter
    power: float = 0.25 + 0.535 * ratio**8 / (0.05 + ratio**7)
    return 1.5 + max(2.4 - ratio, 0.0) * math.exp(-power * math.log(10.0))


def pressure_drop(flow: float, diameter: float, length: float, viscosity: float, density: float) -> float:
    """Pa across a round hole that carries `flow` (m3/s): creeping resistance and inertia together."""
    if flow == 0.0:
        return 0.0
    section = circle(diameter)
    speed = abs(flow) / section.area
    inertia: float = loss_coefficient(length, diameter) * 0.5 * density * speed**2
    drop: float = section.resistance(length, viscosity) * abs(flow) + inertia
    return math.copysign(drop, flow)


def reynolds(flow: float, diameter: float, viscosity: float, density: float) -> float:
    """Reynolds number of the flow (m3/s) through a round hole; the creeping formulas hold up to about 10."""
    return 4.0 * density * abs(flow) / (math.pi * diameter * viscosity)
