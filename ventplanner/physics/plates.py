"""Thin walls under pressure: flat plates (Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells). SI units.

Small deflections only: beyond half the thickness the membrane carries too, and the true value is smaller.
"""

from __future__ import annotations


def stiffness(modulus: float, thickness: float, poisson: float) -> float:
    """N m; E t^3 / (12 (1 - nu^2))."""
    return modulus * thickness**3 / (12.0 * (1.0 - poisson**2))


def clamped_disc_deflection(pressure: float, radius: float, modulus: float, thickness: float, poisson: float) -> float:
    """m in the middle of a disc held at its rim: p a^4 / (64 D)."""
    return pressure * radius**4 / (64.0 * stiffness(modulus, thickness, poisson))


def clamped_disc_stress(pressure: float, radius: float, thickness: float) -> float:
    """Pa at the rim: 3 p a^2 / (4 t^2)."""
    return 0.75 * pressure * (radius / thickness) ** 2


def loose_disc_deflection(pressure: float, radius: float, modulus: float, thickness: float, poisson: float) -> float:
    """m in the middle of a disc that only rests on its rim: the clamped one times (5 + nu)/(1 + nu)."""
    clamped = clamped_disc_deflection(pressure, radius, modulus, thickness, poisson)
    return clamped * (5.0 + poisson) / (1.0 + poisson)
