"""Parts whose hollows can be worked out by hand: kinds, states, heights, areas and volumes, in both ways of hanging."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
import pytest
from bodies import (
    Mesh,
    axis_rotations,
    ball,
    bell_buoy,
    block,
    box,
    cut,
    inward,
    moved,
    rod,
    rotation,
    solid,
    turned,
    union,
)

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.geometry.pose import On, Pose
from ventplanner.geometry.solid import Solid
from ventplanner.options import AnalysisOptions

X = (1.0, 0.0, 0.0)


def look(part: Mesh | Solid, on: On = "supports", pitch: float | None = None) -> Findings:
    part = part if isinstance(part, Solid) else solid(part)
    return analyse(part, Pose(on=on), AnalysisOptions(pitch_mm=pitch))


def told(found: Findings) -> list[tuple[str, str, int]]:
    """Kind, state and number of cups of each cavity."""
    return [(c.kind, c.state, len(c.cups)) for c in found.cavities]


def heights(found: Findings) -> list[tuple[float, float | None, float | None, str]]:
    """From, joins, to and closed by of all cups."""

    def figure(x: float | None) -> float | None:
        return None if x is None else round(x, 1)

    cups = [c.cup for cavity in found.cavities for c in cavity.cups]
    return [(round(c.from_height, 1), figure(c.joins_height), figure(c.to_height), c.closed_by) for c in cups]


def test_a_sealed_box_is_one_cup_over_its_whole_hollow() -> None:
    for on in ("supports", "plate"):
        found = look(bell_buoy(), on)
        assert told(found) == [("sealed", "sealed", 1)]
        assert heights(found) == [(2.0, None, None, "print")]
        cup = found.cavities[0].cups[0].cup
        assert cup.sealed_volume == pytest.approx(16.0**3, rel=1e-9)
        assert cup.peak_area == pytest.approx(256.0)
        assert found.cavities[0].volume == pytest.approx(16.0**3)
        np.testing.assert_allclose(found.cavities[0].bounds, [[-8] * 3, [8] * 3])
        assert np.abs(cup.start[:2]).max() < 0.2  # the middle of the floor
        assert cup.start[2] == pytest.approx(2.0)


def test_a_side_hole_opens_the_box_at_its_lower_edge() -> None:
    found = look(cut(bell_buoy(), rod((5, 0, 0), (15, 0, 0), 1.25)))
    assert told(found) == [("chamber", "late", 1)]
    cup = found.cavities[0].cups[0].cup
    assert cup.to_height == pytest.approx(10.0 - 1.25, abs=0.01)
    assert cup.sealed_volume == pytest.approx(256.0 * 6.75, rel=0.002)


@pytest.mark.parametrize(("above_floor", "state"), [(0.3, "breathing"), (0.45, "breathing"), (0.6, "late")])
def test_a_side_hole_just_above_the_floor_decides_between_breathing_and_late(above_floor: float, state: str) -> None:
    z = -8.0 + 1.25 + above_floor
    found = look(cut(bell_buoy(), rod((5, 0, z), (15, 0, z), 1.25)))
    assert [c.state for c in found.cavities] == [state]
    if state == "breathing":  # under half a millimetre it is filtered, and said
        assert (len(found.cavities[0].cups), found.cups.filtered_count) == (0, 1)
        assert found.cups.filtered_volume == pytest.approx(256.0 * above_floor, rel=0.03)


def u_bend(end: float = 31.0) -> Mesh:
    """A U of 6 x 4 mm in a block 30 mm high: legs from 3 mm up, one to the top and one to `end`; the foot is 6 mm."""
    legs = (block((3, 3, 3), (9, 7, 31)), block((21, 3, 3), (27, 7, end)), block((9, 3, 3), (21, 7, 9)))
    return cut(block((0, 0, 0), (30, 10, 30)), *legs)


def test_a_u_bend_holds_its_air_until_the_ends_open() -> None:
    volume = 24 * 4 * 6 + 2 * 6 * 4 * 21
    for on in ("supports", "plate"):
        found = look(u_bend(), on)
        assert told(found) == [("cup", "late", 1)]
        assert heights(found) == [(3.0, None, 30.0, "print")]
        assert found.cavities[0].volume == pytest.approx(volume, rel=1e-6)


def test_a_u_bend_upside_down_breathes_on_supports_and_is_two_joined_cups_on_the_plate() -> None:
    upside_down = turned(u_bend(), 180, X)
    assert told(look(upside_down)) == []
    found = look(upside_down, "plate")
    assert told(found) == [("cup", "sealed", 2)]
    assert sorted(heights(found), key=str) == [(0.0, 21.0, None, "plate"), (0.0, None, None, "plate")]
    assert sum(c.cup.sealed_volume for c in found.cavities[0].cups) == pytest.approx(1584.0, rel=1e-6)


def test_the_closed_leg_of_a_u_bend_upside_down_is_a_cup_until_the_bend() -> None:
    found = look(turned(u_bend(end=27.0), 180, X))
    assert told(found) == [("cup", "late", 1)]
    assert heights(found) == [(3.0, None, 21.0, "print")]
    assert found.cavities[0].cups[0].cup.sealed_volume == pytest.approx(24.0 * 18.0, rel=1e-6)


@pytest.mark.parametrize(
    ("angle", "cups"),
    [
        (0, [(3.0, None, None, "print")]),
        # The waist's upper edge runs up at 45 degrees: the upper ball is a pocket of its own below it.
        (45, [(7.6, None, None, "print"), (20.3, 21.7, None, "print")]),
        (90, [(3.0, None, None, "print"), (3.0, 9.5, None, "print")]),
    ],
)
def test_an_hour_glass_is_one_cavity_with_a_cup_for_each_bulb_that_starts_apart(angle: float, cups: list) -> None:
    glass = union(ball(8, (0, 0, -9)), ball(8, (0, 0, 9)), rod((0, 0, -9), (0, 0, 9), 1.5))
    body = cut(rod((0, 0, -20), (0, 0, 20), 11), glass)
    found = look(turned(body, angle, (0, 1, 0)))
    assert told(found) == [("sealed", "sealed", len(cups))]
    assert heights(found) == cups
    assert found.cavities[0].volume == pytest.approx(glass.volume, rel=0.002)
    if angle == 45:
        # The part's lowest point is its rim: 20 mm along the axis, 11 mm across it; the upper ball's is 8 mm under
        # its centre.
        lowest = -(20.0 + 11.0) / np.sqrt(2.0)
        expected = 9.0 / np.sqrt(2.0) - 8.0 - lowest
        assert found.cavities[0].cups[1].cup.from_height == pytest.approx(expected, abs=0.02)


def lobes(*holes: Mesh) -> Mesh:
    """Two balls of 8 mm, 20 mm apart, joined by a neck of 4 mm, in a block 24 mm high."""
    hollow = (ball(8, (-10, 0, 0)), ball(8, (10, 0, 0)), rod((-10, 0, 0), (10, 0, 0), 2))
    return cut(box((44, 24, 24)), *hollow, *holes)


def test_two_lobes_join_at_the_neck_and_open_at_the_top() -> None:
    right, left = rod((10, 0, 5), (10, 0, 15), 1.5), rod((-10, 0, 5), (-10, 0, 15), 1.5)
    cups = [(4.0, None, 24.0, "print"), (4.0, 10.0, 24.0, "print")]
    one, both = look(lobes(right)), look(lobes(right, left))
    for found, openings in ((one, 1), (both, 2)):
        assert told(found) == [("chamber", "late", 2)]
        assert heights(found) == cups
        assert len(found.cavities[0].openings) == openings
        assert [o.width for o in found.cavities[0].openings] == pytest.approx([3.0] * openings, abs=0.1)
    # Until the neck, the younger lobe holds a spherical cap of 6 mm height: pi h^2 (3 r - h) / 3.
    cap = np.pi * 36.0 * (24.0 - 6.0) / 3.0
    assert one.cavities[0].cups[1].cup.sealed_volume == pytest.approx(cap, rel=0.01)


def test_a_bowl_is_a_cup_with_its_mouth_towards_the_film_or_flat_on_the_plate() -> None:
    bowl = cut(box(20), block((-8, -8, -8), (8, 8, 11)))
    upside_down = turned(bowl, 180, X)
    assert told(look(upside_down)) == []
    for on in ("supports", "plate"):
        found = look(bowl, on)
        assert told(found) == [("cup", "late", 1)]
        assert heights(found) == [(2.0, None, 20.0, "print")]
        assert found.cavities[0].openings[0].width == pytest.approx(16.0, abs=0.2)
        assert found.cavities[0].openings[0].at[2] == pytest.approx(20.0)
        assert found.cavities[0].volume == pytest.approx(256.0 * 18.0)
    found = look(upside_down, "plate")
    assert told(found) == [("cup", "sealed", 1)]
    assert heights(found) == [(0.0, None, None, "plate")]


def test_a_bust_with_an_open_base_breathes_on_supports_and_is_closed_by_the_plate() -> None:
    bust = cut(ball(15), ball(12.5), block((-20, -20, -20), (20, 20, -11)))
    # The hollow ball above the plane z = -11: whole minus a cap of 1.5 mm.
    hollow = 4.0 / 3.0 * np.pi * 12.5**3 - np.pi * 1.5**2 * (37.5 - 1.5) / 3.0
    free = look(bust)
    assert told(free) == [("chamber", "breathing", 0)]
    assert free.cavities[0].openings[0].width == pytest.approx(2.0 * np.sqrt(12.5**2 - 121.0), abs=1.0)
    held = look(bust, "plate")
    assert told(held) == [("chamber", "sealed", 1)]
    assert heights(held) == [(0.0, None, None, "plate")]
    assert held.cavities[0].cups[0].cup.sealed_volume == pytest.approx(hollow, rel=0.005)


@pytest.mark.parametrize("on", ["supports", "plate"])
@pytest.mark.parametrize(
    "body",
    [
        cut(block((0, 0, 0), (30, 30, 20)), block((-1, 13, -1), (31, 17, 6))),
        cut(block((0, 0, 0), (30, 30, 20)), block((-1, 13, 14), (31, 17, 21))),
        cut(block((0, 0, 0), (30, 30, 20)), turned(block((-1, -5, -5), (31, 5, 5)), 45, X, (0, 0, 0))),
        cut(block((-15, -5, 0), (15, 5, 20)), rod((0, -6, 0), (0, 6, 0), 8)),
        union(ball(10), *(turned(box((6, 6, 24), (0, 0, -12)), a, (0, 1, 0)) for a in (-35, 35))),
    ],
    ids=["groove below", "groove above", "fold", "arch", "armpits"],
)
def test_grooves_folds_arches_and_armpits_are_no_cavities(body: Mesh, on: On) -> None:
    found = look(body, on)
    assert told(found) == []
    assert found.cups.sealed_area.volume == pytest.approx(found.cups.filtered_volume)
    assert found.cups.filtered_volume < 1.0


def test_buried_eyes_are_solid() -> None:
    hollow = solid(ball(15), inward(ball(12)), ball(1.2, (5, -12.5, 0), 3), ball(2, (-5, -12.5, 0), 3))
    found = look(hollow)
    assert told(found) == [("sealed", "sealed", 1)]
    # The larger eye pokes 0.5 mm into the hollow, the smaller one not at all.
    assert found.cavities[0].volume == pytest.approx(4.0 / 3.0 * np.pi * 12.0**3, rel=0.005)
    assert told(look(solid(ball(15), ball(3, (5, -10, 0)), ball(3, (-5, -10, 0))))) == []


def test_a_peg_that_pokes_into_the_hollow_takes_its_room() -> None:
    found = look(solid(ball(15), inward(ball(12)), rod((0, 0, 5), (0, 0, 15), 2)))
    assert told(found) == [("sealed", "sealed", 1)]
    inside = ball(12).volume - np.pi * 4.0 * (12.0 - 5.0)
    assert found.cavities[0].volume == pytest.approx(inside, rel=0.005)


def test_a_loose_solid_in_a_hollow_stays_solid() -> None:
    found = look(solid(ball(15), inward(ball(12)), ball(4)))
    assert told(found) == [("sealed", "sealed", 1)]
    assert found.cavities[0].volume == pytest.approx(ball(12).volume - ball(4).volume, rel=0.002)


def test_a_hollow_in_a_solid_in_a_hollow_is_a_cavity_of_its_own() -> None:
    found = look(solid(ball(20), inward(ball(18)), ball(10), inward(ball(8))))
    assert told(found) == [("sealed", "sealed", 1)] * 2
    assert [c.cups[0].cup.from_height for c in found.cavities] == pytest.approx([2.0, 12.0], abs=0.1)
    outer, inner = ball(18).volume - ball(10).volume, ball(8).volume
    assert [c.volume for c in found.cavities] == pytest.approx([outer, inner], rel=0.003)


def test_a_vertical_hole_is_nothing_on_supports_and_a_cup_up_to_the_top_on_the_plate() -> None:
    body = cut(box(20), rod((0, 0, -11), (0, 0, 11), 3))
    assert told(look(body)) == []
    found = look(body, "plate")
    assert told(found) == [("cup", "late", 1)]
    assert heights(found) == [(0.0, None, 20.0, "plate")]
    assert found.cavities[0].volume == pytest.approx(np.pi * 9.0 * 20.0, rel=0.01)


@pytest.mark.parametrize("hair", [0.0, 0.02, 0.09])
def test_a_hole_in_the_plate_face_is_closed_by_the_plate_even_a_hair_off(hair: float) -> None:
    body = cut(bell_buoy(), rod((0, 0, -11), (0, 0, -5), 3))
    if hair:  # a slot from the hole to the side, thinner than a layer
        body = cut(body, block((-4, -11, -11), (4, 4, -10 + hair)))
    free, held = look(body), look(body, "plate")
    assert told(free) == [("chamber", "breathing", 0)]
    assert told(held) == [("chamber", "sealed", 1)]
    assert heights(held) == [(0.0, None, None, "plate")]
    assert held.cavities[0].cups[0].cup.sealed_volume == pytest.approx(16.0**3 + np.pi * 9.0 * 2.0, rel=0.002)


def test_a_slot_as_high_as_a_layer_and_more_is_open() -> None:
    body = cut(bell_buoy(), rod((0, 0, -11), (0, 0, -5), 3), block((-4, -11, -11), (4, 4, -9.8)))
    assert told(look(body, "plate")) == [("chamber", "breathing", 0)]


def test_a_part_tilted_by_a_hair_is_still_flat_on_the_plate() -> None:
    body = turned(cut(bell_buoy(), rod((0, 0, -11), (0, 0, -5), 3)), 0.05, X)
    assert told(look(body, "plate")) == [("chamber", "sealed", 1)]


def test_thin_walls_and_thin_partitions_keep_cavities_apart() -> None:
    thin = look(solid(box(20), inward(box(19.4))))
    assert told(thin) == [("sealed", "sealed", 1)]
    halves = (block((-8, -8, -8), (-0.15, 8, 8)), block((0.15, -8, -8), (8, 8, 8)))
    for seed in range(4):
        part = moved(solid(box(20), *(inward(h) for h in halves)), rotation(seed))
        found = look(part, pitch=0.4)  # coarser than the partition
        assert told(found) == [("sealed", "sealed", 1)] * 2
        assert [c.volume for c in found.cavities] == pytest.approx([7.85 * 256.0] * 2, rel=0.02)


@pytest.mark.parametrize("scale", [0.25, 1.0, 15.0])
def test_size_changes_nothing_but_the_figures(scale: float) -> None:
    found = look(moved(solid(bell_buoy()), scale * np.eye(3)))
    assert told(found) == [("sealed", "sealed", 1)]
    assert found.cavities[0].volume == pytest.approx((16.0 * scale) ** 3)
    assert found.cavities[0].cups[0].cup.from_height == pytest.approx(2.0 * scale)


def test_a_part_far_from_the_origin_is_seen_as_well() -> None:
    here, there = (look(moved(solid(lobes()), shift=s)) for s in ((0, 0, 0), (1e4, -1e4, 1e4)))
    assert heights(here) == heights(there)
    assert there.cavities[0].volume == pytest.approx(here.cavities[0].volume, rel=1e-6)


def turn_about_z(angle_deg: float) -> np.ndarray:
    c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


def crooked() -> Mesh:
    """A box with a hollow that is different in every direction, open by a slanted hole."""
    hollow = union(block((-7, -5, -6), (3, 6, 1)), block((-2, -3, 0), (7, 2, 7)), ball(3.5, (5, 1, -4)))
    return cut(box((20, 18, 19)), hollow, rod((-3, 0, -2), (-16, 3, 4), 1.0))


@cache
def crooked_as_it_is(to_plate: tuple[float, float, float], pitch: float) -> Findings:
    """What is found in it before it is turned."""
    return analyse(solid(crooked()), Pose(to_plate), AnalysisOptions(pitch_mm=pitch))


@pytest.mark.parametrize("matrix", axis_rotations())
def test_turning_the_part_and_the_plate_with_it_changes_nothing(matrix: np.ndarray) -> None:
    reference = crooked_as_it_is((0.0, 0.0, -1.0), 0.2)
    part = reference.solid
    down = tuple(matrix @ (0.0, 0.0, -1.0))
    found = analyse(moved(part, matrix), Pose(down), AnalysisOptions(pitch_mm=0.2))
    assert told(found) == told(reference)
    for a, b in zip(found.cups.cups, reference.cups.cups, strict=True):
        assert a.from_height == pytest.approx(b.from_height, abs=0.2)
        assert a.to_height == pytest.approx(b.to_height, abs=0.2)
        assert a.sealed_volume == pytest.approx(b.sealed_volume, rel=0.01)


@pytest.mark.parametrize("seed", range(6))
def test_random_turns_and_mirrors_keep_heights_and_volumes(seed: int) -> None:
    reference = crooked_as_it_is((1.0, 2.0, -2.0), 0.15)
    part = reference.solid
    matrix = rotation(seed) @ np.diag((1.0, 1.0, -1.0 if seed % 2 else 1.0))
    down = tuple(matrix @ (1.0, 2.0, -2.0))
    found = analyse(moved(part, matrix, (3, 4, 5)), Pose(down), AnalysisOptions(pitch_mm=0.15))
    assert told(found) == told(reference)
    for a, b in zip(found.cups.cups, reference.cups.cups, strict=True):
        assert a.from_height == pytest.approx(b.from_height, abs=0.15)
        assert a.to_height == pytest.approx(b.to_height, abs=0.3)
        # A pixel more or less at the edge of the hole moves the height of opening by up to a pitch.
        assert a.sealed_volume == pytest.approx(b.sealed_volume, rel=0.005, abs=0.15 * b.peak_area)


@pytest.mark.parametrize("pitch", [0.1, 0.2, 0.25, 0.4, 0.5, 1.0])
def test_walls_on_pixel_edges_count_once(pitch: float) -> None:
    found = look(bell_buoy(), pitch=pitch)
    assert found.scene.runs.material_volume == pytest.approx(8000.0 - 4096.0, rel=1e-12)
    assert found.cups.sealed_area.volume == pytest.approx(4096.0, rel=1e-12)
    assert not found.scene.runs.bad.any()


@pytest.mark.parametrize("turn", [np.eye(3), turn_about_z(30.0), rotation(5)], ids=["straight", "about z", "any"])
def test_a_lid_that_lies_on_a_bowl_closes_it_as_if_they_were_one(turn: np.ndarray) -> None:
    bowl = cut(block((-10, -10, 0), (10, 10, 12.3)), block((-8, -8, 2.1), (8, 8, 13)))
    lid = block((-10.7, -10.3, 12.3), (11.1, 10.9, 14.7)).subdivide().subdivide()
    found, one = look(moved(solid(bowl, lid), turn)), look(moved(solid(union(bowl, lid)), turn))
    assert told(found) == told(one) == [("sealed", "sealed", 1)]
    assert found.cavities[0].volume == pytest.approx(one.cavities[0].volume, rel=1e-6)
    # No specks of air between the faces that lie on each other.
    assert abs(found.cups.filtered_count - one.cups.filtered_count) <= 2


def bodies_with_a_hole() -> list[tuple[str, Callable[[], Mesh], float, float]]:
    """Name, body, volume of the chamber, and width of its way out."""
    hollow, hole = 16.0**3, np.pi * 1.25**2 * 2.0
    big = ball(148, fine=5).volume
    return [
        ("box", lambda: cut(bell_buoy(), rod((5, 0, 0), (15, 0, 0), 1.25)), hollow + hole, 2.5),
        ("ball", lambda: cut(ball(15), ball(12.5), rod((0, 0, 5), (0, 0, 16), 1.25)), ball(12.5).volume + hole, 2.5),
        ("large", lambda: cut(ball(150, fine=5), ball(148, fine=5), rod((0, 0, -155), (0, 0, -90), 12)), big, 24.0),
    ]


@pytest.mark.parametrize(
    ("name", "make", "volume", "width"),
    [pytest.param(*body, marks=[pytest.mark.long] * (body[0] == "large")) for body in bodies_with_a_hole()],
)
def test_a_chamber_has_the_volume_of_its_hollow_and_no_false_openings(
    name: str, make: Callable[[], Mesh], volume: float, width: float
) -> None:
    found = look(make())
    assert told(found) in ([("chamber", "late", 1)], [("chamber", "breathing", 0)]), name
    cavity = found.cavities[0]
    assert cavity.volume == pytest.approx(volume, rel=0.02)
    assert [o.width for o in cavity.openings] == pytest.approx(
        [width], abs=0.1 if width < 8.0 else found.chambers.voxels.size
    )
