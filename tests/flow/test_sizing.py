"""Sizes of vents, lift speeds, and what stays in a hollow."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventplanner.flow import sizing
from ventplanner.physics import curing, ducts
from ventplanner.profile import Profile


def test_the_worked_diameters_for_half_a_kilopascal() -> None:
    # 20 x 20 mm at 1 mm/s, wall 2 mm, 0.3 Pa s: 2.40409 mm for one hole, 1.98394 mm for each of two, without inertia.
    light = Profile(suction_limit_kpa=0.5, density_kg_m3=600.0, lower_speed_mm_min=1.0)
    one, two = (sizing.size_vents(400.0, 2.0, n, False, light) for n in (1, 2))
    assert one.binding.condition == "suction"
    assert one.binding.diameter == pytest.approx(2.40409, abs=0.02)
    assert two.binding.diameter == pytest.approx(1.98394, abs=0.02)
    assert (one.diameter, two.diameter) == (2.5, 2.0)


def test_the_condition_that_asks_for_most_binds() -> None:
    fast_down = Profile(lower_speed_mm_min=600.0)
    assert sizing.size_vents(400.0, 2.0, 1, False, fast_down).binding.condition == "overpressure"
    calm = Profile(lift_speed_mm_min=1.0, lower_speed_mm_min=1.0)
    small = sizing.size_vents(10.0, 2.0, 1, True, calm)
    assert small.binding.condition == "prints open"
    # 4 pixels of 0.05 mm, the print-through above and the bleed on both sides.
    down = curing.print_through(calm.penetration_mm, calm.exposure_ratio, calm.layer_height_mm)
    bleed = 2.0 * curing.edge_shift(calm.blur_mm, calm.exposure_ratio)
    assert small.binding.diameter == pytest.approx(0.2 + down + bleed)
    assert math.isinf(sizing.size_vents(1e6, 2.0, 1, False, Profile(suction_limit_kpa=0.01)).diameter)


@given(st.floats(20.0, 3000.0), st.floats(0.5, 8.0), st.integers(1, 4), st.booleans())
def test_a_vent_of_the_proposed_size_keeps_the_limits(area: float, wall: float, count: int, sideways: bool) -> None:
    profile = Profile()
    size = sizing.size_vents(area, wall, count, sideways, profile)
    for speed in (profile.lift_speed_mm_min, profile.lower_speed_mm_min):
        flow = area * 1e-6 * speed / 60_000.0 / count
        drop = ducts.pressure_drop(
            flow, 0.001 * size.diameter, 0.001 * wall, profile.viscosity_pas, profile.density_kg_m3
        )
        assert drop <= 1000.0 * profile.suction_limit_kpa * (1.0 + 1e-6)
    assert [n.diameter for n in size.needs] == sorted((n.diameter for n in size.needs), reverse=True)
    assert size.diameter - size.binding.diameter < sizing.STEP_MM


@given(st.floats(20.0, 3000.0), st.floats(0.5, 8.0), st.integers(1, 4), st.floats(0.5, 10.0))
def test_the_fastest_lift_for_a_diameter_just_meets_the_limit(
    area: float, wall: float, count: int, diameter: float
) -> None:
    profile = Profile()
    speed = sizing.fastest(area, wall, count, diameter, profile)
    flow = area * 1e-6 * speed / 60_000.0 / count
    drop = ducts.pressure_drop(flow, 0.001 * diameter, 0.001 * wall, profile.viscosity_pas, profile.density_kg_m3)
    assert drop == pytest.approx(1000.0 * profile.suction_limit_kpa, rel=1e-6)


def test_where_nothing_flows_any_speed_will_do() -> None:
    assert math.isinf(sizing.fastest(0.0, 2.0, 1, 2.5, Profile()))


@pytest.mark.parametrize("printed", [0.2, 0.5, 1.0])
def test_the_nominal_diameter_prints_as_asked(printed: float) -> None:
    profile = Profile(blur_mm=0.05, exposure_ratio=8.0)
    nominal = sizing.nominal_for(printed, False, profile)
    assert curing.printed_diameter(nominal, 0.05, 8.0) == pytest.approx(printed, abs=1e-6)
    assert sizing.nominal_for(printed, False, replace(profile, blur_mm=0.0)) == pytest.approx(printed)


def test_half_the_pressure_goes_with_half_the_speed() -> None:
    assert sizing.speed_for(10_000.0, 60.0, Profile(suction_limit_kpa=5.0)) == pytest.approx(30.0)
    assert math.isinf(sizing.speed_for(0.0, 60.0, Profile()))


def test_one_hole_must_let_air_in_against_the_resin() -> None:
    # Resin, 35 mN/m and 1100 kg/m3: below 3.31 mm it never does (Bretherton 1961), above 13.8 mm surely (Maxwell).
    for diameter, said in ((2.0, "needs a second hole"), (5.0, "tilt and shake")):
        one = sizing.emptying(8000.0, 20.0, (diameter,), 2.0, Profile())
        assert not one.alone
        assert said in one.advice
        assert one.held_ml == pytest.approx(8.0)
    assert "no vent" in sizing.emptying(8000.0, 20.0, (), 2.0, Profile()).advice


def test_two_holes_hold_back_a_head_and_let_the_rest_run_out() -> None:
    # Two holes of 3 mm hold 8.65 mm of resin (Laplace).
    two = sizing.emptying(8000.0, 20.0, (3.0, 3.0), 2.0, Profile())
    assert two.alone
    assert two.held_ml == pytest.approx(8.0 * 8.65 / 20.0, rel=0.01)
    # t = A R/(rho g) ln((h1 + L)/(h2 + L)).
    resistance = ducts.circle(3e-3).resistance(2e-3, 0.3)
    by_hand = 4e-4 * resistance / (1100.0 * 9.80665) * math.log(22.0 / (8.652 + 2.0))
    assert two.seconds == pytest.approx(by_hand, rel=0.01)
    small = sizing.emptying(100.0, 5.0, (1.0, 1.0), 2.0, Profile())
    assert not small.alone
    assert "puff of air" in small.advice
