"""How light cures resin where none was wanted: down into a ceiling and sideways into a hole. Lengths in mm.

penetration: Dp, depth over which the light falls to 1/e. ratio: E/Ec, dose at the film over the dose that just cures.
blur: standard deviation of the light's spread in the plane, taken as Gaussian (real lamps have longer tails: what is
computed here is a lower bound of the bleed).
"""

from __future__ import annotations

import math

from scipy.optimize import brentq
from scipy.special import erfcinv

LEAST_PIXELS = 4
"""Narrowest printed way that is counted on, in pixels (least channel width of Gong et al. 2015, RSC Adv. 5, 106621)."""


def cure_depth(penetration: float, ratio: float) -> float:
    """Depth cured by one exposure: Dp ln(E/Ec), the working curve (Jacobs 1992, Rapid Prototyping & Manufacturing)."""
    return penetration * math.log(ratio)


def print_through(penetration: float, ratio: float, layer: float, layers: int | None = None) -> float:
    """How far the ceiling of a hole comes down towards the plate under `layers` full layers (None: very many).

    z* = Dp ln[(E/Ec) sum_{k=1..N} exp(-k layer/Dp)]: doses of all layers above add up, each dimmed by what lies between
    (model of Gong et al. 2015, RSC Adv. 5, 106621; Limaye & Rosen 2007, Rapid Prototyping J. 13, 76). 0 if none cures.
    """
    step = math.exp(-layer / penetration)
    series = step / (1.0 - step) * (1.0 if layers is None else 1.0 - step**layers)
    return max(penetration * math.log(ratio * series), 0.0) if series > 0.0 else 0.0


def summed_ratio(penetration: float, ratio: float, layer: float) -> float:
    """E/Ec in the middle of a layer under very many that are lit, too: R exp(-h/2Dp) / (1 - exp(-h/Dp)), h the layer
    (sum of doses as in `print_through`)."""
    step = math.exp(-layer / penetration)
    return ratio * math.sqrt(step) / (1.0 - step)


def edge_shift(blur: float, ratio: float) -> float:
    """How far a straight edge moves into the opening: blur sqrt(2) erfcinv(2 Ec/E). Below 0: it recedes."""
    return blur * math.sqrt(2.0) * float(erfcinv(2.0 / ratio))


def closes_below(blur: float, ratio: float) -> float:
    """Diameter up to which a round hole prints closed: the dose in its middle, E exp(-a^2/2 blur^2), is Ec."""
    return 2.0 * blur * math.sqrt(2.0 * math.log(ratio))


def slit_closes_below(blur: float, ratio: float) -> float:
    """Width up to which a long slit prints closed: both sides together give its middle erfc(c/(blur sqrt 2)) E = Ec."""
    return 2.0 * blur * math.sqrt(2.0) * float(erfcinv(1.0 / ratio))


def printed_diameter(diameter: float, blur: float, ratio: float) -> float:
    """Diameter that a round hole through the layers prints with; 0 when it closes.

    The dose at radius r is E times the share of a Gaussian spot that falls outside the hole: 1 - F(a^2/blur^2; 2,
    r^2/blur^2), F the non-central chi-square distribution. A hole in one layer; nothing is taken off for its depth.
    """
    if blur <= 0.0:
        return diameter
    radius = 0.5 * diameter
    if diameter <= closes_below(blur, ratio):
        return 0.0
    from scipy.stats import ncx2  # takes a quarter of a second to load, and a start does not need it

    def short_of_cure(r: float) -> float:
        return ratio * float(ncx2.sf((radius / blur) ** 2, 2, (r / blur) ** 2)) - 1.0

    return 2.0 * float(brentq(short_of_cure, 1e-9 * radius, 3.0 * radius + 10.0 * blur))
