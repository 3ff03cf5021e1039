"""Sizes of vents, lift speeds, and what stays in a hollow."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from ventplanner.flow import sizing
from ventplanner.physics import curing, ducts
from ventplanner.profile import Profile


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
