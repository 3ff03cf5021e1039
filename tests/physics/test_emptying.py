"""Draining, films, exchange and soaking: against closed forms, quadrature, and other correlations."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from ventplanner.physics.capillarity import (
    ALONE_BY_SHAKING,
    ALONE_SURELY,
    GRAVITY,
    capillary_length,
    entry_pressure,
    hole_alone,
    slit_alone,
)
from ventplanner.physics.emptying import emptying_time, exchange, film, film_left, outflow
from ventplanner.physics.soaking import remaining, rinses, soaking_time

AREA, WIDE, LONG = 4e-4, 3e-3, 2e-3
EDGES = np.linspace(1e-3, 20e-3, 401)


def time_of(viscosity: float, density: float, loss: float | None = None) -> float:
    head = 0.5 * (EDGES[1:] + EDGES[:-1])
    return emptying_time(AREA * np.diff(EDGES), outflow(head, WIDE, LONG, viscosity, density, loss))


@pytest.mark.parametrize(
    ("viscosity", "density", "slow", "combined"),
    [(0.3, 1100.0, 41.99896, 42.2182), (0.1, 1100.0, 13.99965, 14.6259), (0.89e-3, 997.0, 0.13747, 2.99767)],
)
def test_times_are_those_of_the_worked_values(viscosity: float, density: float, slow: float, combined: float) -> None:
    """4 cm2 drain from 20 to 1 mm through a hole of 3 mm, 2 mm long; worked out apart, slow flow in closed form."""
    assert time_of(viscosity, density, 0.0) == pytest.approx(slow, rel=2e-5)
    assert time_of(viscosity, density, 1.5) == pytest.approx(combined, rel=2e-5)


def test_the_sum_of_slices_is_the_integral() -> None:
    """SciPy's adaptive quadrature of dh / Q(h)."""
    whole = quad(lambda h: AREA / float(outflow(np.array([h]), WIDE, LONG, 0.3, 1100.0)[0]), EDGES[0], EDGES[-1])[0]
    assert time_of(0.3, 1100.0) == pytest.approx(whole, rel=1e-5)


def test_a_thin_liquid_goes_with_torricelli() -> None:
    """t = (A / (c a)) sqrt(2/g) (sqrt h1 - sqrt h2), c = 1 / sqrt(K): without viscosity, and without length."""
    head, loss = 0.5 * (EDGES[1:] + EDGES[:-1]), 2.7
    time = emptying_time(AREA * np.diff(EDGES), outflow(head, WIDE, 1e-9, 1e-9, 1000.0, loss))
    hole = math.pi * WIDE**2 / 4.0
    exact = AREA * math.sqrt(loss) / hole * math.sqrt(2.0 / GRAVITY) * (math.sqrt(EDGES[-1]) - math.sqrt(EDGES[0]))
    assert time == pytest.approx(exact, rel=1e-4)


def test_the_film_thins_with_the_root_of_time() -> None:
    """Jeffreys 1930, and Landau & Levich 1942, worked out apart for 0.3 Pa s, 1100 kg/m3, 35 mN/m."""
    assert film(0.05, 60.0, 0.3, 1100.0) == pytest.approx(152.235e-6, rel=1e-4)
    assert film(0.05, 600.0, 0.3, 1100.0) == pytest.approx(48.1408e-6, rel=1e-4)
    assert film(0.05, 3600.0, 0.3, 1100.0) == pytest.approx(19.6534e-6, rel=1e-4)
    assert film_left(1e-3, 0.3, 0.035, 1100.0) == pytest.approx(71.217e-6, rel=1e-4)


@pytest.mark.parametrize("wide", [5e-3, 6e-3, 8e-3])
def test_air_rises_about_as_fast_as_another_correlation_says(wide: float) -> None:
    """Viana et al. 2003, J. Fluid Mech. 494, 379, their correlation for slow liquids."""
    viscosity, tension, density = 0.3, 0.035, 1100.0
    eotvos, number = density * GRAVITY * wide**2 / tension, math.sqrt(wide**3 * GRAVITY) * density / viscosity
    froude = 9.494e-3 * number**1.026 / (1.0 + 6197.0 / eotvos**2.561) ** 0.5793
    other = froude * math.sqrt(GRAVITY * wide) * math.pi * wide**2 / 4.0
    assert exchange(wide, viscosity, tension, density) == pytest.approx(other, rel=0.2)
    assert exchange(3.2e-3, viscosity, tension, density) == 0.0


def test_a_blind_pocket_is_hardly_cleaned_by_soaking() -> None:
    """Crank 1975, 10 mm deep, D = 5e-10 m2/s; and for short times 1 - 2 sqrt(D t / pi) / l."""
    for time, share in ((600.0, 0.938196), (3600.0, 0.848612), (86400.0, 0.279176), (604800.0, 4.66e-4)):
        assert remaining(0.01, time) == pytest.approx(share, rel=1e-3)
    assert soaking_time(0.01, 0.01) == pytest.approx(98.96 * 3600.0, rel=1e-3)
    assert remaining(0.01, soaking_time(0.01, 0.01)) == pytest.approx(0.01, rel=1e-6)
    assert remaining(0.01, 10.0) == pytest.approx(1.0 - 2.0 * math.sqrt(5e-10 * 10.0 / math.pi) / 0.01, rel=1e-6)


def test_each_filling_leaves_the_share_that_stays() -> None:
    assert [rinses(0.1, 1e-3), rinses(0.1, 0.9e-3), rinses(0.01, 1e-4), rinses(0.0, 1e-4)] == [3, 4, 2, 1]


@pytest.mark.parametrize(
    ("tension", "density", "least", "most"), [(0.072, 998.0, 10e-3, 15e-3), (0.017, 1880.0, 5e-3, math.inf)]
)
def test_measured_tubes_begin_to_drain_alone_within_the_limits(
    tension: float, density: float, least: float, most: float
) -> None:
    """C. W. Extrand 2017, Langmuir 33, 12903: upright tubes closed on top drain by themselves from a bottom opening of
    10 to 15 mm on for water, of more than 5 mm for perfluoroether oil."""
    length = capillary_length(tension, density)
    assert ALONE_BY_SHAKING * length <= least
    assert min(most, 7e-3 if math.isinf(most) else most) <= ALONE_SURELY * length


def test_a_slit_exchanges_by_both_of_its_sides() -> None:
    """Limits of Maxwell's rectangle ("Capillary action", from memory): a long slit from a width of pi capillary lengths
    on, where sin(pi x / w) is as strong as gravity; a square from pi sqrt(5) = 7.02 on, a little less than the 7.66 of
    the circle. Bretherton 1961, J. Fluid Mech. 10, 166: no exchange where a hole of 1.836 lengths takes it in."""
    tension, density = 0.035, 1100.0
    unit = capillary_length(tension, density)

    def alone(width: float, length: float) -> str:
        return slit_alone(tension, density, width * unit, length * unit)

    assert [alone(w, 1e4) for w in (0.99 * math.pi, 1.01 * math.pi)] == ["shaken", "surely"]
    assert [alone(s, s) for s in (0.99 * math.pi * math.sqrt(5), 1.01 * math.pi * math.sqrt(5))] == ["shaken", "surely"]
    assert [alone(0.5, long) for long in (1.8, 1.9)] == ["never", "shaken"]
    assert [hole_alone(tension, density, d * unit) for d in (1.8, 1.9, 7.6, 7.7)] == [
        "never",
        "shaken",
        "shaken",
        "surely",
    ]
    # Between plates: 2 sigma / w (Laplace), the limit of 4 sigma / d with d = 4 area / rim = 2 w.
    assert entry_pressure(tension, 2e-3) == pytest.approx(2.0 * tension / 1e-3)
