"""Smallest vents: against worked values, by an evaluation of our own at many heights; and that nothing smaller does."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import bodies
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplanner.analysis.findings import analyse
from ventplanner.flow.ground import Ground, ground
from ventplanner.flow.sizing import OVERPRESSURE, PRINTS, SUCTION, Size, nominal_for, sizes
from ventplanner.flow.solving import solved
from ventplanner.flow.suction import breathe, ways_of
from ventplanner.flow.ways import Hole
from ventplanner.physics import curing, ducts
from ventplanner.profile import Profile

LIGHT = Profile(suction_limit_kpa=0.5, density_kg_m3=600.0, lower_speed_mm_min=1.0, vat_depth_mm=500.0)
"""60 mm/min up, 0.3 Pa s: what the worked values are for; next to no inertia."""

DEEP = Profile(vat_depth_mm=500.0)


@cache
def box() -> Ground:
    """20 mm cubed inside, walls 2 mm."""
    return ground(analyse(bodies.solid(bodies.box(24.0, (0, 0, 12)), bodies.inward(bodies.box(20.0, (0, 0, 12))))))


@cache
def pear() -> Ground:
    """A narrow foot, 8 x 8 mm up to 8 mm, under a wide body, 24 x 24 mm up to 30 mm; walls 2 mm."""
    hollow = bodies.cut(bodies.block((-14, -14, 0), (14, 14, 32)), bodies.block((-4, -4, 2), (4, 4, 10)))
    return ground(analyse(bodies.solid(bodies.cut(hollow, bodies.block((-12, -12, 9), (12, 12, 30))))))


@cache
def two_rooms() -> Ground:
    """Two chambers of 20 x 20 x 20 mm, a throat of 2 mm between them near the floor."""
    part = bodies.cut(
        bodies.block((-24, -12, 0), (24, 12, 24)),
        bodies.block((-22, -10, 2), (-2, 10, 22)),
        bodies.block((2, -10, 2), (22, 10, 22)),
        bodies.rod((-3, 0, 3.05), (3, 0, 3.05), 1.0, 128),
    )
    return ground(analyse(bodies.solid(part)))


def floor(name: str = "1", at: tuple[float, float] = (0.0, 0.0), diameter: float = 2.5) -> Hole:
    """Upright, through a floor of 2 mm."""
    return Hole(name, (*at, 0.0), (*at, 2.0), diameter)


def side(name: str, height: float, x: float = 12.0) -> Hole:
    """Level, through a wall of 2 mm."""
    return Hole(name, (x, 0.0, height), (x - 2.0, 0.0, height), 2.5)


def drilled(holes: list[Hole], size: dict[str, Size], less: dict[str, float] | None = None) -> list[Hole]:
    return [replace(h, diameter=size[h.name].diameter - (less or {}).get(h.name, 0.0)) for h in holes]


def worst(base: Ground, profile: Profile, holes: list[Hole]) -> float:
    """Pa, the largest steady pressure up or down: at 3000 heights of our own, by the definition of steady."""
    ways = ways_of(base, holes, {})
    heights = np.linspace(1e-4, base.findings.scene.height - 1e-4, 3000)
    found, most = solved(base, profile, ways, heights), 0.0
    for hollow in base.hollows:
        room, (low, high) = hollow.room, hollow.within
        own = [w for w in ways if room in (w.a, w.b)]
        here = (heights >= low) & (heights < high) & (found.area[room] > 0.0) & found.fed[room]
        here &= heights >= min(w.high for w in own)
        most = max(most, float(np.where(here, np.maximum(found.suction[room], found.down[room]), 0.0).max()))
    return most


def test_the_worked_diameters_for_half_a_kilopascal() -> None:
    # 20 x 20 mm at 1 mm/s, wall 2 mm, 0.3 Pa s: 2.40409 mm for one hole, 1.98394 mm for each of two, without inertia
    # (Hagen and Poiseuille; Sampson 1891; their sum by Dagan, Weinbaum & Pfeffer 1982).
    one = sizes(box(), LIGHT, [floor()])["1"]
    two = sizes(box(), LIGHT, [floor("1", (-5.0, 0.0)), floor("2", (5.0, 0.0))])
    assert one.binding.condition == SUCTION
    assert one.binding.diameter == pytest.approx(2.40409, abs=0.02)
    assert one.diameter == 2.5
    for size in two.values():
        assert size.binding.diameter == pytest.approx(1.98394, abs=0.02)
        assert size.diameter == 2.0
        assert "all that its hollow takes" not in size.binding.why


def test_a_vent_that_bears_the_flow_alone_gets_what_it_needs() -> None:
    # The second one is at the roof: until then the first bears all, and then there is nothing left to do for it.
    found = sizes(box(), LIGHT, [floor("1"), side("2", 20.0)])
    assert found["1"].binding.diameter == pytest.approx(2.40409, abs=0.02)
    assert found["1"].binding.height is not None
    assert found["1"].binding.height < 18.8
    assert "all that its hollow takes" in found["1"].binding.why
    assert found["2"].binding.condition == PRINTS
    assert {n.condition: n.diameter for n in found["2"].needs}[SUCTION] == 0.0


def test_vents_share_what_they_can_share() -> None:
    # In the foot the first one is alone with 64 mm2; the body of 576 mm2 it shares with one through the body's floor.
    second = Hole("2", (8.0, 0.0, 0.0), (8.0, 0.0, 9.0), 2.5)
    found, alone = sizes(pear(), LIGHT, [floor(), second]), sizes(pear(), LIGHT, [floor()])
    assert found["1"].diameter == found["2"].diameter < alone["1"].diameter
    assert found["1"].binding.height == found["2"].binding.height
    assert found["1"].binding.diameter > 2.40409 * (64.0 / 400.0) ** (1.0 / 3.0)


def test_a_throat_parts_what_the_vents_can_do() -> None:
    # The far room breathes through the throat alone: 4 mm long and 2 mm wide, some 1.5 kPa at 0.4 mL/s.
    lone = [Hole("1", (-12.0, 0.0, 0.0), (-12.0, 0.0, 2.0), 2.5)]
    found = sizes(two_rooms(), LIGHT, lone)["1"]
    assert math.isinf(found.diameter)
    assert found.binding.condition == SUCTION
    assert "no width will do" in found.binding.why
    # The lift that would do instead: all of it goes through the throat.
    slower = replace(LIGHT, lift_speed_mm_min=found.lift_speed)
    (peak,) = {round(r.peak_suction) for r in breathe(two_rooms(), slower, lone).cups if r.peak_suction > 400.0}
    assert peak == pytest.approx(500.0, rel=0.01)
    # With one vent in each room the throat does not matter.
    both = sizes(two_rooms(), LIGHT, [*lone, Hole("2", (12.0, 0.0, 0.0), (12.0, 0.0, 2.0), 2.5)])
    assert both["1"].binding.diameter == pytest.approx(2.40409, abs=0.03)
    assert both["1"].diameter == both["2"].diameter


def test_the_condition_that_asks_for_most_binds() -> None:
    fast_down = replace(DEEP, lower_speed_mm_min=600.0)
    assert sizes(box(), fast_down, [floor()])["1"].binding.condition == OVERPRESSURE
    calm = replace(DEEP, lift_speed_mm_min=0.2, lower_speed_mm_min=0.2)
    small = sizes(box(), calm, [side("1", 4.0)])["1"]
    assert small.binding.condition == PRINTS
    # 4 pixels of 0.05 mm, the print-through above and the bleed on both sides.
    down = curing.print_through(calm.penetration_mm, calm.exposure_ratio, calm.layer_height_mm)
    bleed = 2.0 * curing.edge_shift(calm.blur_mm, calm.exposure_ratio)
    assert small.binding.diameter == pytest.approx(0.2 + down + bleed)


def test_a_vent_that_stays_as_it_is_leaves_the_rest_to_the_others() -> None:
    pair = [floor("1", (-5.0, 0.0), 1.0), floor("2", (5.0, 0.0))]
    free, held = sizes(box(), LIGHT, pair), sizes(box(), LIGHT, pair, fixed=frozenset("1"))
    assert held["2"].diameter > free["2"].diameter
    assert worst(box(), LIGHT, [pair[0], replace(pair[1], diameter=held["2"].diameter)]) <= 500.0 * 1.001


def test_no_vent_is_smaller_than_asked_for_at_least() -> None:
    found = sizes(box(), LIGHT, [floor("1"), side("2", 20.0)], least=1.25)
    assert found["2"].diameter == 1.3
    assert found["1"].diameter == 2.5


@settings(max_examples=20, deadline=None)
@given(
    st.sampled_from(["box", "pear"]), st.floats(0.3, 20.0), st.floats(20.0, 200.0), st.floats(20.0, 400.0),
    st.floats(100.0, 1500.0), st.lists(st.floats(4.0, 28.0), max_size=2),
)  # fmt: skip
def test_vents_as_asked_keep_the_limits_and_smaller_ones_do_not(
    name: str, limit: float, up: float, down: float, viscosity: float, sides: list[float]
) -> None:
    base, x, top = (box(), 12.0, 19.0) if name == "box" else (pear(), 14.0, 27.0)
    profile = replace(
        DEEP, suction_limit_kpa=limit, lift_speed_mm_min=up, lower_speed_mm_min=down, viscosity_mpas=viscosity
    )
    heights = sorted(min(max(h, 11.5) if name == "pear" else h, top) for h in sides)
    holes = [floor("0"), *(side(str(k), h, x) for k, h in enumerate(heights, 1))]
    found = sizes(base, profile, holes)
    if any(math.isinf(size.diameter) for size in found.values()):
        return
    most = 1000.0 * limit
    assert worst(base, profile, drilled(holes, found)) <= most * 1.002
    for size in found.values():
        together = {n: 0.1 for n, other in found.items() if other.diameter == size.diameter}
        prints = size.diameter - 0.1 < nominal_for(curing.LEAST_PIXELS * profile.pixel_mm, False, profile)
        wide = [n for n in size.needs if n.condition != PRINTS and n.diameter > 0.0]
        if wide and not prints and size.binding.condition != PRINTS:
            assert worst(base, profile, drilled(holes, found, together)) > most * 0.999


@settings(max_examples=15, deadline=None)
@given(st.floats(0.8, 4.0), st.floats(0.2, 5.0))
def test_the_fastest_speeds_just_meet_the_limit(diameter: float, limit: float) -> None:
    profile = replace(DEEP, suction_limit_kpa=limit)
    found = sizes(box(), profile, [floor(diameter=diameter)])["1"]
    flow = 4e-4 * found.lift_speed / 60_000.0
    drop = ducts.pressure_drop(flow, 0.001 * diameter, 2e-3, profile.viscosity_pas, profile.density_kg_m3)
    assert drop == pytest.approx(1000.0 * limit, rel=0.01)
    # On the way down some goes out under the rim, through the gap of one layer.
    assert found.lift_speed * 0.999 <= found.lower_speed <= found.lift_speed * 1.5
