"""Openings much narrower than the voxels of the chambers: each is found, with its width and its place."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from bodies import Mesh, block, box, cut, inward, moved, rod, rotation, solid

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.analysis.openings import Opening
from ventplanner.plan.drilling import drill
from ventplanner.plan.placement import propose

HALF = 12.0


def bell(wall: float, *drills: Mesh) -> Mesh:
    return cut(box(2.0 * HALF), box(2.0 * (HALF - wall)), *drills)


def along(point: tuple[float, float, float], way: tuple[float, float, float]) -> tuple[np.ndarray, np.ndarray]:
    return np.array(point), np.array(way) / np.linalg.norm(way)


def apart(opening: Opening, found: Findings, axis: tuple[np.ndarray, np.ndarray]) -> float:
    """mm of the opening's place from an axis."""
    step = found.scene.frame.to_file(opening.at) - axis[0]
    return float(np.linalg.norm(step - (step @ axis[1]) * axis[1]))


@pytest.mark.parametrize("turn", [None, 5])
@pytest.mark.parametrize(("diameter", "wall"), [(0.6, 1.5), (0.6, 3.0), (0.8, 2.0), (1.0, 3.0), (1.4, 1.5), (2.0, 2.0)])
def test_drilled_holes_are_found_at_any_angle(diameter: float, wall: float, turn: int | None) -> None:
    lean = np.radians(37.0)
    axes = [
        along((3, 2, 12), (0, 0, 1)),
        along((12, 2, 3), (1, 0, 0)),
        along((-5, 0, 12), (np.sin(lean), 0, np.cos(lean))),
        along((-12, -4, 5), (-1, 0.4, 0.7)),
        # Two with 0.5 mm between them.
        along((0, 12, 0), (0, 1, 0)),
        along((diameter + 0.5, 12, 0), (0, 1, 0)),
    ]
    body = bell(wall, *(rod(p - 7.0 * u, p + 3.0 * u, 0.5 * diameter) for p, u in axes))
    matrix = np.eye(3) if turn is None else rotation(turn)
    found = analyse(moved(solid(body), matrix))
    (cavity,) = found.cavities
    assert len(cavity.openings) == len(axes)
    for p, u in axes:
        nearest = min(cavity.openings, key=lambda o: apart(o, found, (matrix @ p, matrix @ u)))
        assert apart(nearest, found, (matrix @ p, matrix @ u)) < 0.1
        assert nearest.width == pytest.approx(diameter, abs=0.1)
        inside = matrix.T @ found.scene.frame.to_file(nearest.at)
        assert HALF - wall - diameter <= np.abs(inside).max() <= HALF + diameter


@pytest.mark.parametrize("turn", [None, 2])
def test_a_slit_is_one_opening(turn: int | None) -> None:
    matrix = np.eye(3) if turn is None else rotation(turn)
    found = analyse(moved(solid(bell(2.0, block((5, -3, -0.4), (15, 3, 0.4)))), matrix))
    (opening,) = found.cavities[0].openings
    assert opening.width == pytest.approx(0.8, abs=0.05)
    at = matrix.T @ found.scene.frame.to_file(opening.at)
    assert 9.5 < at[0] < 12.5
    assert abs(at[1]) < 3.0
    assert abs(at[2]) < 0.1


def test_a_hole_is_as_wide_as_its_narrow_end_and_that_is_its_place() -> None:
    found = analyse(solid(bell(3.0, rod((0, 0, 0), (0, 0, 11), 0.7), rod((0, 0, 10), (0, 0, 13), 0.3))))
    (opening,) = found.cavities[0].openings
    assert opening.width == pytest.approx(0.6, abs=0.02)
    assert 10.7 < found.scene.frame.to_file(opening.at)[2] < 12.3


def test_a_narrow_hole_beside_a_wide_one_is_another_opening() -> None:
    found = analyse(solid(bell(2.0, rod((0, 0, 0), (0, 0, 15), 1.5), rod((2.5, 0, 0), (2.5, 0, 15), 0.4))))
    assert [o.width for o in found.cavities[0].openings] == pytest.approx([3.0, 0.8], abs=0.05)


def test_a_pocket_behind_a_gap_inside_a_hollow_is_no_way_out() -> None:
    pocket = block((8.0, -1.2, -1.2), (11.0, 1.2, 1.2))
    found = analyse(solid(bell(4.0, pocket, rod((7.0, 0, 0), (9.0, 0, 0), 0.3), rod((0, 0, 0), (0, 0, -15), 1.5))))
    assert [o.width for o in found.cavities[0].openings if o.beyond == 0] == pytest.approx([3.0], abs=0.05)


def test_two_hollows_joined_by_a_narrow_way_each_have_it() -> None:
    halves = box(14, (-10, 0, 0)), box(14, (10, 0, 0))
    ways = rod((-12, 0, 0), (12, 0, 0), 0.3), rod((10, 0, 0), (10, 0, 15), 0.5), rod((-10, 0, 0), (-10, 0, 15), 1.0)
    found = analyse(solid(cut(box((40, 20, 20)), *halves, *ways)))
    widths = sorted([(round(o.width, 1), o.beyond > 0) for o in c.openings] for c in found.cavities)
    assert widths == [[(1.0, False), (0.6, True)], [(2.0, False), (0.6, True)]]


def test_vents_of_1_mm_that_were_drilled_are_listed_when_the_part_is_opened_again() -> None:
    part = analyse(solid(box(24.0), inward(box(20.0))))
    plan = propose(part)
    thin = replace(plan, vents=tuple(replace(v, diameter_mm=1.0) for v in plan.vents))
    again = analyse(drill(part.part, thin).solid)
    (cavity,) = again.cavities
    assert [o.width for o in cavity.openings] == pytest.approx([1.0] * len(thin.vents), abs=0.05)
    for vent in thin.vents:
        axis = np.array(vent.entry_mm), np.array(vent.axis)
        assert min(apart(o, again, axis) for o in cavity.openings) < 0.1


def test_of_a_sieve_the_widest_openings_are_listed_and_that_is_said() -> None:
    drills = [rod((x, y, 0), (x, y, -15), 0.4, 16) for x in np.linspace(-8, 8, 7) for y in np.linspace(-8, 8, 7)]
    found = analyse(solid(bell(2.0, *drills)))
    assert [o.width for o in found.cavities[0].openings] == pytest.approx([0.8] * 40, abs=0.05)
    assert any("40 widest openings" in note for note in found.notes)
    assert not any("widest openings" in note for note in analyse(solid(bell(2.0, drills[0]))).notes)
