"""Resin and air as fluids. SI units unless a name says else."""

from __future__ import annotations

import math

GAS_CONSTANT = 8.314462618
ZERO_CELSIUS = 273.15
AIR_VISCOSITY = 1.82e-5
"""Pa s at 20 degC (CoolProp: 1.8206e-5)."""
AIR_DENSITY = 1.2046
"""kg/m3 at 20 degC (CoolProp)."""


def viscosity_at(celsius: float, known: float, known_at: float, activation: float) -> float:
    """Viscosity at a temperature from a known one (any unit): mu exp[(Ea/R)(1/T - 1/T0)].

    Andrade 1930, Nature 125, 309. activation: J/mol; for resins 30 000 to 60 000 (from memory).
    """
    warm, cold = celsius + ZERO_CELSIUS, known_at + ZERO_CELSIUS
    return known * math.exp(activation / GAS_CONSTANT * (1.0 / warm - 1.0 / cold))


def air_pressure(altitude: float) -> float:
    """Pa at an altitude in m (-2000 to 11 000), standard atmosphere (ISO 2533:1975, troposphere)."""
    geopotential = 6_356_766.0 * altitude / (6_356_766.0 + altitude)
    return float(101_325.0 * (1.0 - 0.0065 * geopotential / 288.15) ** 5.25588)
