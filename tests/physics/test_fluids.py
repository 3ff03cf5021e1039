"""Fluids, capillarity and plates, against tables."""

from __future__ import annotations

import pytest

from ventplanner.physics import capillarity, fluids, plates


@pytest.mark.parametrize(("altitude", "pressure"), [(0, 101_325), (1000, 89_876), (3000, 70_121)])
def test_air_pressure_is_that_of_the_standard_atmosphere(altitude: float, pressure: float) -> None:
    # ISO 2533:1975.
    assert fluids.air_pressure(altitude) == pytest.approx(pressure, abs=1.0)


@pytest.mark.parametrize(
    ("celsius", "viscosity"), [(20, 0.40887), (25, 0.3), (30, 0.22238), (40, 0.12575), (50, 0.07366)]
)
def test_warm_resin_is_thinner(celsius: float, viscosity: float) -> None:
    # Worked from Andrade's formula, 45 kJ/mol, 0.3 Pa s at 25 degC.
    assert fluids.viscosity_at(celsius, 0.3, 25.0, 45_000.0) == pytest.approx(viscosity, rel=2e-4)


def test_isopropanol_follows_the_same_law() -> None:
    # Viscosity of isopropanol in mPa s at 15 to 40 degC (DIPPR, as the package `thermo` gives it): one law through the
    # ends meets the points between.
    table = {15: 2.783, 20: 2.383, 25: 2.050, 30: 1.772, 40: 1.342}
    for celsius, viscosity in table.items():
        assert fluids.viscosity_at(celsius, 2.050, 25.0, 21_900.0) == pytest.approx(viscosity, rel=0.015)


@pytest.mark.parametrize(
    ("tension", "density", "length", "lowest", "highest"),
    [
        (0.035, 1100, 1.80126, 3.3057, 13.804),
        (0.0209, 781.9, 1.65096, 3.0299, 12.652),
        (0.07206, 997.0, 2.71368, 4.9802, 20.796),
    ],
)
def test_capillary_lengths_and_the_hole_that_empties_alone(
    tension: float, density: float, length: float, lowest: float, highest: float
) -> None:
    # Resin, isopropanol and water at 25 degC; 0.842 (Bretherton 1961) and 3.8317 (Maxwell).
    found = capillarity.capillary_length(tension, density)
    assert 1000 * found == pytest.approx(length, rel=2e-3)
    assert 1000 * found * capillarity.ALONE_AT_LEAST == pytest.approx(lowest, rel=2e-3)
    assert 1000 * found * capillarity.ALONE_SURELY == pytest.approx(highest, rel=2e-3)


@pytest.mark.parametrize(
    ("tension", "density", "low", "high"), [(0.072, 998.0, 10.0, 15.0), (0.017, 1880.0, 5.0, None)]
)
def test_measured_tubes_drain_within_the_limits(tension: float, density: float, low: float, high: float | None) -> None:
    # Extrand 2017, Langmuir 33, 12903: water drains from 10 to 15 mm on, perfluoroether oil above 5 mm.
    length = 1000 * capillarity.capillary_length(tension, density)
    assert capillarity.ALONE_AT_LEAST * length <= low <= capillarity.ALONE_SURELY * length
    assert high is None or high <= capillarity.ALONE_SURELY * length


def test_what_wet_holes_hold_back() -> None:
    # Laplace: 1 mm 140 Pa; two holes of 2 mm hold 12.98 mm of resin, of 3 mm 8.65 mm.
    assert capillarity.entry_pressure(0.035, 1e-3) == pytest.approx(140.0)
    assert 1000 * capillarity.held_head(0.035, 1100.0, 2e-3, 2e-3) == pytest.approx(12.98, abs=0.01)
    assert 1000 * capillarity.held_head(0.035, 1100.0, 3e-3, 3e-3) == pytest.approx(8.65, abs=0.01)


def test_thin_walls_bend_as_in_the_tables() -> None:
    # Timoshenko & Woinowsky-Krieger: 10 kPa, radius 15 mm, 1 mm thick, 500 MPa, nu 0.4.
    assert plates.stiffness(500e6, 1e-3, 0.4) == pytest.approx(0.0496032, rel=1e-5)
    assert 1000 * plates.clamped_disc_deflection(1e4, 15e-3, 500e6, 1e-3, 0.4) == pytest.approx(0.159469, rel=1e-5)
    assert 1000 * plates.loose_disc_deflection(1e4, 15e-3, 500e6, 1e-3, 0.4) == pytest.approx(0.615094, rel=1e-5)
    assert plates.clamped_disc_stress(1e4, 15e-3, 1e-3) == pytest.approx(1.6875e6)


@pytest.mark.parametrize(("celsius", "viscosity"), [(20.0, 1.00160), (25.0, 0.89002)])
def test_water_between_two_temperatures_follows_the_law(celsius: float, viscosity: float) -> None:
    # CoolProp 8.0.0 (IAPWS): 1.00160 mPa s at 20 degC, 0.89002 at 25: 17.2 kJ/mol lead from one to the other.
    assert fluids.viscosity_at(celsius, 0.89002, 25.0, 17_170.0) == pytest.approx(viscosity, rel=1e-3)


def test_air_is_that_of_coolprop() -> None:
    # CoolProp 8.0.0, air at 20 degC and 101 325 Pa: 18.206 uPa s, 1.2046 kg/m3.
    assert pytest.approx(1.8206e-5, rel=1e-3) == fluids.AIR_VISCOSITY
    assert pytest.approx(1.2046, rel=1e-4) == fluids.AIR_DENSITY
