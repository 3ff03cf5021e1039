"""Verification: a part drilled as planned agrees with its plan, and every way to differ from it is named."""

from __future__ import annotations

from dataclasses import replace

import drill_parts as parts
import numpy as np
import pytest
from drill_parts import ball, box, inward, plan, solid, vent
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplanner.geometry.solid import Solid
from ventplanner.io.meshes import read, write
from ventplanner.plan.drilling import drill
from ventplanner.plan.model import Plan, Vent
from ventplanner.plan.verification import compare

TOP = vent((0.1, 0.2, 10.0), (0.1, 0.2, 8.0))
SIDE = vent((10.0, 0.3, 0.1), (8.0, 0.3, 0.1), 1.5, name="v2")
BOTH = plan(TOP, SIDE)


def drilled(part: Solid, what: Plan) -> Solid:
    return drill(part, what).solid


def test_a_part_drilled_as_planned_agrees():
    part = parts.hollow_box()
    assert compare(part, drilled(part, BOTH), BOTH) == ()


def test_a_part_without_vents_agrees_with_itself():
    part = parts.hollow_box()
    assert compare(part, part, Plan()) == ()


@pytest.mark.parametrize("ending", ["stl", "obj", "ply", "3mf"])
@pytest.mark.parametrize("single", [False, True])
def test_a_file_that_was_written_and_read_again_agrees(tmp_path, ending, single):
    part = parts.hollow_ball(single=single)
    what = plan(parts.radial(np.array([1, 2, 3.0]), 2.5, "v1"), parts.radial(np.array([-2, 1, 0.3]), 1.2, "v2"))
    result = drill(part, what, single_precision=single or ending == "stl").solid
    path = tmp_path / f"ball.{ending}"
    write(result, path)
    assert compare(part, read(path), what) == ()


def test_a_widened_hole_agrees():
    first = drilled(parts.hollow_box(), plan(TOP))
    wider = plan(replace(TOP, diameter_mm=3.5, kind="widen"))
    assert compare(first, drilled(first, wider), wider) == ()


def test_vents_that_cross_agree():
    part = parts.hollow_box()
    what = plan(TOP, vent((1.5, 0.0, 10.0), (0.0, 0.0, 8.0), name="v2"))
    assert compare(part, drilled(part, what), what) == ()


def test_a_buried_eye_and_a_swallowed_speck_agree():
    skins = box(20.0, fine=2), inward(box(12.0, fine=2)), ball(1.2, (0.1, 0.2, 8.0)), inward(ball(0.4, (6.0, 6.0, 8.0)))
    part = solid(*skins)
    what = plan(vent((0.1, 0.2, 10), (0.1, 0.2, 6), 1.5), vent((6, 6, 10), (6, 6, 6), name="v2"))
    assert compare(part, drilled(part, what), what) == ()


def test_a_blind_hole_agrees_and_changes_no_connection():
    part = parts.hollow_box()
    what = plan(vent((0.1, 0.2, 10), (0.1, 0.2, 8.5), beyond=0.1))
    assert compare(part, drilled(part, what), what) == ()


def test_a_missing_vent_is_named():
    part = parts.hollow_box()
    texts = compare(part, drilled(part, plan(TOP)), BOTH)
    assert "vent v2 is missing" in texts
    assert any("mm3 were removed instead of" in t for t in texts)
    assert "the Euler number changed by -2 instead of -4" in texts


def test_a_vent_too_many_is_found():
    part = parts.hollow_box()
    texts = compare(part, drilled(part, BOTH), plan(TOP))
    assert any(t.startswith("away from the vents") for t in texts)
    assert any("new and on no vent's wall" in t for t in texts)
    assert "the Euler number changed by -4 instead of -2" in texts


@pytest.mark.parametrize("change", [{"entry_mm": (0.13, 0.2, 10.0), "exit_mm": (0.13, 0.2, 8.0)}, {"diameter_mm": 2.6}])
def test_a_vent_a_little_off_its_place_or_size_is_found(change):
    part = parts.hollow_box()
    texts = compare(part, drilled(part, plan(replace(TOP, **change))), plan(TOP))
    assert any("new and on no vent's wall" in t for t in texts)


def test_a_vent_not_deep_enough_is_found():
    part = parts.hollow_box()
    short = replace(TOP, exit_mm=(0.1, 0.2, 8.5), beyond_mm=0.1)
    texts = compare(part, drilled(part, plan(short)), plan(TOP))
    assert "the Euler number changed by 0 instead of -2" in texts
    assert any("mm3 were removed" in t for t in texts)


@pytest.mark.parametrize("shift", [1e-9, 1e-3])
def test_a_vertex_that_moved_is_found(shift):
    part = parts.hollow_box()
    result = drilled(part, plan(TOP))
    vertices = result.vertices.copy()
    vertices[np.argmin(vertices[:, 2]), 1] += shift
    texts = compare(part, result.with_mesh(vertices, result.faces), plan(TOP))
    assert any(t.startswith("away from the vents") for t in texts)
    assert any("outside of all vents are gone" in t for t in texts)


def test_a_vertex_on_the_rim_that_moved_is_found():
    part = parts.hollow_box()
    result = drilled(part, plan(TOP))
    vertices = result.vertices.copy()
    vertices[-1] += (0.02, 0.03, 0.0)
    texts = compare(part, result.with_mesh(vertices, result.faces), plan(TOP))
    assert any("new and on no vent's wall" in t for t in texts)


def test_a_face_wound_the_other_way_is_found():
    part = parts.hollow_box()
    result = drilled(part, plan(TOP))
    chosen = np.zeros(len(result.faces), dtype=bool)
    chosen[3] = True
    texts = compare(part, result.flipped(chosen), plan(TOP))
    assert "3 edges whose faces are wound against each other" in texts


def test_a_face_that_is_missing_is_found_wherever_it_is():
    part = parts.hollow_box()
    result = drill(part, plan(TOP))
    wall = int(result.tool_faces(TOP.id)[0])
    for face in (0, wall):
        torn = part.with_mesh(result.solid.vertices, np.delete(result.solid.faces, face, axis=0))
        assert "3 edges with one face only" in compare(part, torn, plan(TOP))


def test_a_membrane_left_in_the_hole_is_found():
    part = parts.hollow_box()
    what = plan(TOP)
    upper = replace(TOP, exit_mm=(0.1, 0.2, 9.001), beyond_mm=0.0)
    lower = replace(TOP, id="v2", entry_mm=(0.1, 0.2, 8.999), before_mm=0.0)
    texts = compare(part, drilled(part, plan(upper, lower)), what)
    assert "the Euler number changed by 0 instead of -2" in texts


def test_damage_that_was_there_before_is_no_difference():
    part = solid(box(20.0), inward(box(16.0)), (box(4.0, (30, 0, 0))[0], box(4.0)[1][:-1]))
    assert compare(part, drilled(part, plan(TOP)), plan(TOP)) == ()


def test_vents_that_meet_nothing_are_said():
    part = parts.hollow_box()
    nowhere = plan(vent((40, 0, 0), (38, 0, 0)))
    assert compare(part, drilled(part, nowhere), nowhere) == ("the vents meet no material",)


@pytest.mark.parametrize("more", [{}, {"diameter_mm": 1.5}, {"beyond_mm": 0.5}])
@pytest.mark.parametrize("part", [parts.hollow_box(), parts.hollow_ball()])
def test_vents_along_one_axis_are_one_hole(part, more):
    top = float(part.bounds[1, 2])
    one = vent((0.0, 0.0, top), (0.0, 0.0, top - 2.0), 1.0)
    what = plan(one, replace(one, id="v2", **more))
    assert compare(part, drilled(part, what), what) == ()


number = st.floats(-1.0, 1.0)


@st.composite
def random_vents(draw: st.DrawFn) -> tuple[Vent, ...]:
    vents = []
    for k in range(draw(st.integers(1, 3))):
        way = np.array([draw(number), draw(number), draw(number) + 1.2])
        way /= np.linalg.norm(way)
        aside = np.array([draw(number), draw(number), draw(number)])
        entry, exit_ = 12.0 * way, 10.0 * way + 0.8 * aside
        vents.append(vent(tuple(entry), tuple(exit_), draw(st.floats(0.8, 4.0)), name=f"v{k}"))
    return tuple(vents)


@settings(max_examples=40)
@given(random_vents(), st.booleans())
def test_whatever_is_drilled_agrees_with_its_plan(vents, holed):
    part = parts.hollow_ball()
    if holed:
        part = drilled(part, plan(parts.radial(np.array([0.1, 0.2, 1.0]), 1.7, "old")))
    what = Plan(vents)
    assert compare(part, drilled(part, what), what) == ()
