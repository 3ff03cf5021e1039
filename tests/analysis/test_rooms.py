"""Rooms and throats of bodies whose answer is known."""

from __future__ import annotations

import math

import bodies
import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.analysis.rooms import Rooms, find_rooms
from ventplanner.analysis.throats import find_throats


def rooms_of(found: Findings) -> Rooms:
    return find_rooms(found.cups, found.scene.height, found.scene.resolution.thinnest_wall_mm, 5.0, 0.5)


def bowl(*holes: bodies.Mesh) -> Findings:
    part = bodies.cut(bodies.block((-12, -12, 0), (12, 12, 40)), bodies.block((-10, -10, 2), (10, 10, 41)), *holes)
    return analyse(bodies.solid(part))


@pytest.mark.parametrize("diameter", [0.0, 0.8, 1.0, 2.0, 3.0, 4.0])
def test_a_bowl_is_a_room_up_to_its_rim_whatever_hole_is_in_its_floor(diameter: float) -> None:
    found = bowl(*([bodies.rod((0, 0, -1), (0, 0, 3), diameter / 2, 256)] if diameter else []))
    rooms = rooms_of(found)
    assert rooms.count == 1
    assert rooms.begins[1] == pytest.approx(2.0, abs=1e-6)
    assert rooms.ends[1] == pytest.approx(40.0, abs=rooms.voxels.size)
    assert rooms.area_at(20.0)[1] == pytest.approx(400.0, rel=1e-3)
    assert rooms.area_at(1.0)[1] == rooms.area_at(40.5)[1] == 0.0
    throats = find_throats(rooms, found.scene.ray_target)
    assert len(throats) == (diameter > 0)
    for throat in throats:
        assert (throat.a, throat.b) == (1, 0)
        assert throat.width == pytest.approx(diameter, abs=0.01)
        assert throat.length == pytest.approx(2.0, abs=0.1)
        assert throat.axis == pytest.approx([0, 0, -1], abs=0.05)
        assert (throat.low, throat.high) == pytest.approx((0.0, 2.0), abs=0.15)


@settings(max_examples=8)
@example(58.0, 0.0, 2.0)  # its voxels swell and shrink along it
@example(1.0, 221.0, 1.0)  # its rough place is more than a voxel off the axis, at the mouth
@given(st.floats(0.0, 75.0), st.floats(0.0, 360.0), st.floats(1.0, 3.5))
def test_a_hole_at_any_angle_has_its_true_width(tilt: float, turn: float, diameter: float) -> None:
    direction = np.array(
        [
            math.cos(math.radians(tilt)) * math.cos(math.radians(turn)),
            math.cos(math.radians(tilt)) * math.sin(math.radians(turn)),
            math.sin(math.radians(tilt)),
        ]
    )
    ball = bodies.cut(bodies.ball(15.0), bodies.ball(12.0))
    part = bodies.cut(ball, bodies.rod(tuple(10.0 * direction), tuple(17.0 * direction), diameter / 2, 128))
    found = analyse(bodies.solid(part))
    rooms = rooms_of(found)
    throats = find_throats(rooms, found.scene.ray_target)
    assert rooms.count == 1
    assert len(throats) == 1
    # The limit is 0.1 mm; the polygons of rod and ball take a little off.
    assert throats[0].width == pytest.approx(diameter, abs=0.05)
    place = found.scene.frame.to_file(throats[0].at[None])[0]
    assert np.linalg.norm(place - (place @ direction) * direction) < 0.1


def test_a_dumb_bell_is_two_rooms_and_a_throat() -> None:
    # In voxels of 1: porespy 3.2.0 (SNOW; Gostick 2017) finds 2 pores of inscribed width 18.76 and 1 throat of 5.66
    # for balls of radius 10 and a throat of radius 3.
    hollow = bodies.union(bodies.ball(10.0), bodies.ball(10.0, (25, 0, 0)), bodies.rod((0, 0, 0), (25, 0, 0), 3.0, 128))
    found = analyse(bodies.solid(bodies.box((60, 26, 26), (12.5, 0, 0)), bodies.inward(hollow)))
    rooms = rooms_of(found)
    assert rooms.count == 2
    assert rooms.inscribed[1:] == pytest.approx([20.0, 20.0], abs=2.0 * rooms.voxels.size)
    (throat,) = find_throats(rooms, found.scene.ray_target)
    assert (throat.a, throat.b) == (2, 1)
    assert throat.width == pytest.approx(6.0, abs=0.05)
    volume = rooms.area.sum(axis=1) * rooms.voxels.size
    assert volume[1:].sum() == pytest.approx(hollow.volume, rel=0.01)


def test_three_balls_in_a_bent_row_are_those_of_porespy() -> None:
    # porespy 3.2.0, snow2 with sigma 0.4 and r_max 4 on voxels of 0.5 mm (Gostick 2017): three large pores of 21.19,
    # 15.17 and 17.20 mm, between them at the narrowest 4.47 and 2.83 mm (it takes each tube for a pore of its own).
    # The true widths are 22, 16 and 18, 5.0 and 3.2.
    centres, sizes = ((15, 17, 17), (40, 15, 20), (62, 20, 14)), (11.0, 8.0, 9.0)
    balls = [bodies.ball(r, c, 5) for c, r in zip(centres, sizes, strict=True)]
    tubes = [bodies.rod(a, b, r, 128) for a, b, r in ((*centres[:2], 2.5), (*centres[1:], 1.6))]
    hollow = bodies.union(*balls, *tubes)
    found = analyse(bodies.solid(bodies.block((0, 0, 0), (75, 35, 35)), bodies.inward(hollow)))
    rooms = rooms_of(found)
    assert rooms.count == 3
    assert sorted(rooms.inscribed[1:]) == pytest.approx([16.0, 18.0, 22.0], abs=1.0)
    assert sorted(rooms.inscribed[1:]) == pytest.approx([15.17, 17.20, 21.19], abs=1.0)
    widths = sorted(t.width for t in find_throats(rooms, found.scene.ray_target))
    assert widths == pytest.approx([3.2, 5.0], abs=0.05)
    assert widths == pytest.approx([2.83, 4.47], abs=0.6)  # its voxels are 0.5 mm


def test_a_slit_is_as_wide_as_it_is_and_long() -> None:
    found = bowl(bodies.block((-5, -0.4, -1), (5, 0.4, 3)))
    (throat,) = find_throats(rooms_of(found), found.scene.ray_target)
    assert throat.width == pytest.approx(0.8, abs=0.02)
    assert throat.span == pytest.approx(10.0, abs=1.5)


def test_sealed_and_open_hollows_side_by_side_are_rooms_of_their_own() -> None:
    part = bodies.cut(
        bodies.block((0, 0, 0), (60, 20, 20)),
        bodies.block((3, 3, 3), (17, 17, 17)),
        bodies.block((23, 3, 3), (37, 17, 17)),
        bodies.block((43, 3, 3), (57, 17, 21)),
        bodies.rod((30, 10, -1), (30, 10, 4), 1.0, 64),
    )
    found = analyse(bodies.solid(part))
    rooms = rooms_of(found)
    assert rooms.count == 3
    assert sorted(np.isinf(rooms.ends[1:]).tolist()) == [False, True, True]
    throats = find_throats(rooms, found.scene.ray_target)
    assert [(t.b, round(t.width)) for t in throats] == [(0, 2)]


def test_a_room_begins_where_the_cup_in_its_narrow_end_does() -> None:
    # A funnel: a spout of 1 mm below a chamber of 16 mm, closed at its lower end.
    part = bodies.cut(
        bodies.block((-10, -10, 0), (10, 10, 40)),
        bodies.block((-8, -8, 20), (8, 8, 36)),
        bodies.rod((0, 0, 5), (0, 0, 21), 0.6, 64),
    )
    found = analyse(bodies.solid(part))
    rooms = rooms_of(found)
    assert rooms.count == 1
    assert rooms.begins[1] == pytest.approx(5.0, abs=0.01)


def test_a_plain_block_has_no_rooms() -> None:
    found = analyse(bodies.solid(bodies.box(20.0)))
    assert rooms_of(found).count == 0
    assert find_throats(rooms_of(found), found.scene.ray_target) == ()
