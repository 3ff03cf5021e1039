"""Suction of rooms, against worked values, by symmetry, and as properties."""

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
from ventplanner.flow.model import Flow
from ventplanner.flow.suction import breathe
from ventplanner.flow.ways import Hole, Way
from ventplanner.geometry.outline import Outline
from ventplanner.geometry.pose import Pose
from ventplanner.physics import ducts
from ventplanner.profile import Profile

DEEP = Profile(vat_depth_mm=500.0)
"""All vents stay below the surface of the resin."""
UNDER = Hole("1", (0.0, 0.0, 0.0), (0.0, 0.0, 2.0), 2.0)
"""Straight down through the floor of the bowl, 2 mm wide and long."""


@cache
def bowl(hole: float = 0.0) -> Ground:
    """A bowl of 20 x 20 mm inside, 38 mm deep, walls 2 mm, open towards the film; with a hole in its floor."""
    part = bodies.cut(bodies.block((-12, -12, 0), (12, 12, 40)), bodies.block((-10, -10, 2), (10, 10, 41)))
    if hole:
        part = bodies.cut(part, bodies.rod((0, 0, -1), (0, 0, 3), hole / 2, 256))
    return ground(analyse(bodies.solid(part)))


@cache
def box() -> Ground:
    """A closed box, 24 mm, walls 2 mm."""
    part = bodies.solid(bodies.box(24.0, (0, 0, 12)), bodies.inward(bodies.box(20.0, (0, 0, 12))))
    return ground(analyse(part))


def only(flow: Flow) -> float:
    (row,) = flow.cups
    return row.peak_suction


def worked(diameter: float = 2.0, area: float = 400.0, profile: Profile = DEEP) -> float:
    """Pa of a single hole 2 mm long by hand: 971.155 Pa creeping (Dagan, Weinbaum & Pfeffer 1982), and inertia."""
    flow = area * 1e-6 * profile.lift_speed_mm_min / 60_000.0
    return ducts.pressure_drop(flow, 0.001 * diameter, 2e-3, profile.viscosity_pas, profile.density_kg_m3)


@pytest.mark.parametrize("made", ["planned", "in the file"])
def test_a_cup_sucks_as_worked_by_hand(made: str) -> None:
    flow = breathe(bowl(), DEEP, [UNDER]) if made == "planned" else breathe(bowl(2.0), DEEP)
    (row,) = flow.cups
    assert worked() == pytest.approx(986.7, abs=0.2)
    assert row.peak_suction == pytest.approx(worked(), rel=0.01)
    assert row.peak_force == pytest.approx(worked() * 400e-6, rel=0.01)
    assert row.startup_suction == 0.0
    assert row.peak_overpressure == pytest.approx(2.5 * worked(), rel=0.04)
    assert not row.capped
    # The doubt about the viscosity is 30 %, and the pressure goes with it.
    assert row.span == pytest.approx((0.7 * row.peak_suction, 1.3 * row.peak_suction))
    assert row.reynolds == pytest.approx(0.934, abs=0.01)
    assert (row.cavity, row.cup) == (("A", "A1") if made == "planned" else (None, None))


def test_a_closed_cup_pulls_what_the_air_can_press() -> None:
    for part, altitude, most in ((bowl(), 0.0, 101_325.0), (box(), 1000.0, 89_876.0)):
        (row,) = breathe(part, replace(DEEP, altitude_m=altitude)).cups
        assert row.peak_suction == pytest.approx(most, abs=1.0)
        assert row.capped
        assert row.startup_suction == 0.0
        # 40.53 N on 20 x 20 mm at sea level, 35.95 N at 1000 m.
        assert row.peak_force == pytest.approx(most * 400e-6, rel=1e-3)


def test_a_rim_that_leaks_relieves_a_closed_cup() -> None:
    # 2 mm of rim, 0.1 mm of gap, 80 mm round: P h^3/(12 mu w), 36.0 kPa for 20 x 20 mm at 1 mm/s. The corners make
    # the rim 10 % wider; the outline in voxels is up to 6 % short, and the rim as much wider.
    (row,) = breathe(bowl(), replace(DEEP, rim_gap_mm=0.1)).cups
    assert row.peak_suction == pytest.approx(36_000 * 1.1 * 1.06, rel=0.07)


def test_a_side_vent_begins_to_breathe_while_it_is_printed() -> None:
    # 2.5 mm wide, its lowest point on the floor: at first almost nothing of it is open.
    side = Hole("1", (12.0, 0.0, 3.25), (10.0, 0.0, 3.25), 2.5)
    flow = breathe(bowl(), DEEP, [side])
    (row,) = flow.cups
    assert row.startup_suction > 50_000.0
    assert row.peak_suction == pytest.approx(worked(2.5), rel=0.02)
    heights, suction = flow.curves.height, flow.curves.suction[row.room]
    assert (np.diff(suction[(heights > 2.3) & (heights < 4.5)]) <= 1e-6).all()
    # Half way up: half a circle; torsion constant of a half disc 0.2976 (Timoshenko), mouths as of an ellipse within.
    half = ducts.part_circle(2.5e-3, 1.25e-3).resistance(2e-3, 0.3) * 4e-7
    assert np.interp(3.25, heights, suction) == pytest.approx(half, rel=0.1)


def test_a_vent_too_high_leaves_the_cup_closed_until_it_begins() -> None:
    high = Hole("1", (12.0, 0.0, 20.0), (10.0, 0.0, 20.0), 2.0)
    flow = breathe(bowl(), DEEP, [high])
    (row,) = flow.cups
    assert row.startup_suction == pytest.approx(101_325.0)
    assert row.peak_suction == pytest.approx(worked(), rel=0.02)
    below = (flow.curves.height > 2.2) & (flow.curves.height < 19.0)
    assert (flow.curves.suction[row.room][below] == 101_325.0).all()


def test_a_vent_above_the_resin_lets_in_air() -> None:
    (row,) = breathe(bowl(), replace(DEEP, vat_depth_mm=10.0), [UNDER]).cups
    assert row.draws_air_from == pytest.approx(10.0)
    flow = breathe(bowl(), replace(DEEP, vat_depth_mm=10.0), [UNDER])
    late = flow.curves.height > 10.5
    # Air must enter a wet hole of 2 mm: 4 sigma/d = 70 Pa (Laplace); its own resistance is nothing beside that.
    on = flow.curves.area[row.room] > 0
    assert flow.curves.suction[row.room][late & on] == pytest.approx(70.0, abs=3.0)


def test_what_stands_above_the_resin_is_told_as_air() -> None:
    # The cup of 20 x 20 mm lives from 2 to 40 mm; with 10 mm of resin its upper 28 mm are above it in the end.
    (row,) = breathe(bowl(), replace(DEEP, vat_depth_mm=10.0), [UNDER]).cups
    assert row.draws_air
    assert row.draws_air_to == pytest.approx(40.0, abs=0.5)
    assert row.air_mm3 == pytest.approx(400.0 * (row.draws_air_to - 10.0 - 2.0), rel=0.01)
    (deep,) = breathe(bowl(), DEEP, [UNDER]).cups
    assert not deep.draws_air
    assert deep.air_mm3 == 0.0


def test_what_prints_too_narrow_to_be_counted_on_draws_no_air() -> None:
    shallow = replace(DEEP, vat_depth_mm=10.0)
    for width in (0.0, 0.1, 0.19):
        (row,) = breathe(bowl(), shallow, [UNDER], printed={"1": width}).cups
        assert row.capped
        assert row.peak_suction == pytest.approx(101_325.0)
        assert not row.draws_air
    # 4 pixels wide it counts; air must still enter against the resin in it: 4 sigma/d = 700 Pa (Laplace).
    flow = breathe(bowl(), shallow, [UNDER], printed={"1": 0.2})
    (row,) = flow.cups
    late = (flow.curves.height > 10.5) & (flow.curves.area[row.room] > 0.0)
    assert flow.curves.suction[row.room][late].min() >= 700.0


def test_two_chambers_share_a_vent_through_their_throat() -> None:
    part = bodies.cut(
        bodies.block((-24, -12, 0), (24, 12, 24)),
        bodies.block((-22, -10, 2), (-2, 10, 22)),
        bodies.block((2, -10, 2), (22, 10, 22)),
        bodies.rod((-3, 0, 12), (3, 0, 12), 1.5, 128),
    )
    base = ground(analyse(bodies.solid(part)))
    assert base.rooms.count == 2
    (throat,) = base.throats
    assert throat.width == pytest.approx(3.0, abs=0.05)
    assert throat.length == pytest.approx(4.0, abs=0.1)
    vent = Hole("1", (-12.0, 0.0, 0.0), (-12.0, 0.0, 2.0), 2.0)
    flow = breathe(base, DEEP, [vent])
    height = 18.0
    k = int(np.argmin(np.abs(flow.curves.height - height)))
    near, far = sorted(flow.curves.suction[1:, k].tolist())
    # Both rooms' resin comes through the vent, that of the far one through the throat as well.
    assert near == pytest.approx(worked(area=800.0), rel=0.01)
    through = ducts.pressure_drop(4e-7, 3e-3, 4e-3, 0.3, 1100.0)
    assert far - near == pytest.approx(through, rel=0.02)
    # Below the throat the far room is closed.
    assert flow.curves.suction[1:, int(np.argmin(np.abs(flow.curves.height - 6.0)))].max() == 101_325.0


def test_openings_as_printed_resist_more() -> None:
    nominal, printed = breathe(bowl(2.0), DEEP), breathe(bowl(2.0), DEEP, printed={"opening 0": 1.5})
    assert only(printed) == pytest.approx(worked(1.5), rel=0.01)
    assert only(nominal) < only(printed)
    (closed,) = breathe(bowl(2.0), DEEP, printed={"opening 0": 0.0}).cups
    assert closed.capped


def test_an_upright_way_without_length_lets_nothing_through_before_it_is_printed() -> None:
    slot = Way(1, 0, 2.0, 2.0, 0.0, 10.0, 10.0, 10.0)
    assert slot.section(9.999).area == 0.0
    assert slot.section(10.0).area == ducts.circle(2e-3).area


def test_areas_are_those_of_the_section_at_their_height() -> None:
    """A cone of 10 mm radius and 20 mm height, from 5 mm up: pi r^2, r by half the height that is left."""
    part = bodies.solid(bodies.box(30.0), bodies.inward(bodies.cone(10.0, 20.0, (0.0, 0.0, -10.0))))
    curves = breathe(ground(analyse(part)), Profile()).curves
    some = (curves.height > 7.0) & (curves.height < 20.0)
    exact = np.pi * (0.5 * (25.0 - curves.height[some])) ** 2
    off = curves.area[1, some] / exact - 1.0
    assert abs(off.mean()) < 0.01
    assert np.abs(off).max() < 0.03


def test_a_part_without_hollows_has_no_flow() -> None:
    flow = breathe(ground(analyse(bodies.solid(bodies.box(10.0)))), Profile())
    assert flow.cups == ()
    assert flow.curves.worst_suction.max() == 0.0


def test_every_figure_is_finite_for_two_legs_and_their_bridge() -> None:
    legs = (bodies.block([-12, -8, -12], [-4, 8, 12]), bodies.block([4, -8, -12], [12, 8, 12]))
    part = bodies.cut(bodies.box([30, 20, 30]), *legs, bodies.block([-12, -8, 6], [12, 8, 12]))
    flow = breathe(ground(analyse(bodies.solid(part))), Profile())
    assert [row.cup for row in flow.cups] == ["A1", "A2"]
    for row in flow.cups:
        assert row.capped
        assert 101_325.0 < row.peak_overpressure < 1e7
    tar = replace(Profile(), viscosity_mpas=100_000.0, layer_height_mm=0.005)
    for row in breathe(ground(analyse(bodies.solid(part))), tar).cups:
        assert math.isfinite(row.peak_overpressure)


def test_what_the_plate_closes_is_closed() -> None:
    part = bodies.cut(bodies.block((-12, -12, 0), (12, 12, 24)), bodies.block((-10, -10, 2), (10, 10, 22)))
    part = bodies.cut(part, bodies.rod((0, 0, -1), (0, 0, 3), 2.0, 128))
    on_supports = breathe(ground(analyse(bodies.solid(part))), DEEP)
    on_plate = breathe(ground(analyse(bodies.solid(part), Pose(on="plate"))), DEEP)
    assert not on_supports.cups[0].capped
    assert on_plate.cups[0].capped


@settings(max_examples=25)
@given(
    st.floats(0.6, 4.0), st.floats(1.02, 1.5), st.floats(10.0, 300.0), st.floats(50.0, 2000.0),
    st.tuples(st.floats(-7.0, 7.0), st.floats(-7.0, 7.0)),
)  # fmt: skip
def test_more_room_less_speed_and_thinner_resin_never_suck_more(
    diameter: float, more: float, speed: float, viscosity: float, at: tuple[float, float]
) -> None:
    profile = replace(DEEP, lift_speed_mm_min=speed, viscosity_mpas=viscosity)
    one = Hole("1", (*at, 0.0), (*at, 2.0), diameter)
    base = only(breathe(bowl(), profile, [one]))
    wider = replace(one, diameter=diameter * more)
    second = Hole("2", (-12.0, 1.0, 10.0), (-10.0, 1.0, 10.0), 1.0)
    for less in (
        breathe(bowl(), profile, [wider]),
        breathe(bowl(), replace(profile, lift_speed_mm_min=speed / more), [one]),
        breathe(bowl(), replace(profile, viscosity_mpas=viscosity / more), [one]),
    ):
        assert only(less) <= base * (1.0 + 1e-6)
    both = breathe(bowl(), profile, [one, second])
    single = breathe(bowl(), profile, [one])
    common = np.interp(single.curves.height, both.curves.height, both.curves.suction[1])
    steady = (single.curves.height > 2.5) & (single.curves.height < 39.0)
    assert (common[steady] <= single.curves.suction[1][steady] * (1.0 + 1e-3) + 1e-6).all()


def test_suction_does_not_depend_on_how_the_part_lies_in_its_file() -> None:
    turned = bodies.solid(
        bodies.turned(
            bodies.cut(
                bodies.block((-12, -12, 0), (12, 12, 40)),
                bodies.block((-10, -10, 2), (10, 10, 41)),
                bodies.rod((0, 0, -1), (0, 0, 3), 1.0, 256),
            ),
            90.0,
            (1, 0, 0),
        )
    )
    flow = breathe(ground(analyse(turned, Pose((0.0, 1.0, 0.0)))), DEEP)
    assert math.isclose(only(flow), only(breathe(bowl(2.0), DEEP)), rel_tol=0.01)


SLOT_UNDER = replace(UNDER, outline=Outline("slot", 6.0, (1.0, 0.0, 0.0)))


def worst(hole: Hole) -> float:
    return max(cup.peak_suction for cup in breathe(bowl(), replace(DEEP, viscosity_mpas=2000.0), [hole]).cups)


def test_a_slot_resists_as_its_section_says() -> None:
    """Slow flow: suction is resistance times area times speed, so two holes under one bowl compare by resistance."""
    plain, slot = ducts.circle(2e-3).resistance(2e-3, 1.0), ducts.slot(2e-3, 6e-3).resistance(2e-3, 1.0)
    assert worst(SLOT_UNDER) / worst(UNDER) == pytest.approx(slot / plain, rel=0.02)


def test_a_countersunk_hole_resists_less_than_a_straight_one_and_more_than_one_of_half_the_wall() -> None:
    flared = replace(UNDER, flare=(5.0, 1.0))
    # A cone conducts by the integral of 1 / d^4: (d0 / 3 s) (1 - (d0 / d1)^3) with s = 3 mm on 1 mm of depth.
    assert flared.resisting(2.0) == pytest.approx(1.0 + 2.0 / 9.0 * (1.0 - 0.4**3), rel=5e-3)
    assert worst(flared) < worst(UNDER)
    slot = replace(SLOT_UNDER, flare=(5.0, 1.0))
    assert 1.0 < slot.resisting(2.0) < 2.0


@pytest.mark.parametrize(("along", "rises"), [((0.0, 1.0, 0.0), 2.0), ((0.0, 0.0, 1.0), 6.0), ((0.0, 1.0, 1.0), None)])
def test_a_sideways_slot_is_there_from_its_lowest_to_its_highest_point(
    along: tuple[float, float, float], rises: float | None
) -> None:
    side = Hole("1", (12.0, 0.0, 12.0), (10.0, 0.0, 12.0), 2.0, None, Outline("slot", 6.0, along))
    way = breathe(bowl(), DEEP, [side]).ways[-1]
    assert way.high - way.low == pytest.approx(2.0 + 4.0 * math.sqrt(0.5) if rises is None else rises, abs=1e-6)
    shares = [way.section(way.low + s * (way.high - way.low)).duct for s in (0.0, 0.3, 0.6, 0.9, 1.0)]
    assert shares == sorted(shares)
    assert shares[-1] == pytest.approx(ducts.slot(2e-3, 6e-3).duct)
    assert way.as_printed(1.6).section(99.0).duct == pytest.approx(ducts.slot(1.6e-3, 5.6e-3).duct)
