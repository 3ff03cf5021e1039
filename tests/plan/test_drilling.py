"""Drilling: holes where they were planned, everything else as it was, and files that read back as the same mesh."""

from __future__ import annotations

import math

import drill_parts as parts
import numpy as np
import pytest
import trimesh
from drill_parts import ball, box, inward, plan, solid, vent
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ventplanner.errors import MeshError
from ventplanner.geometry.cylinder import cylinder
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.topology import topology
from ventplanner.io.meshes import read, write
from ventplanner.plan.drilling import Drilled, drill
from ventplanner.plan.model import Plan

HOLE_MM3 = math.pi * 1.25**2 * 2.0
TOP = vent((0.1, 0.2, 10.0), (0.1, 0.2, 8.0))


def euler_change(before: Solid, after: Solid) -> int:
    return topology(after).euler - topology(before).euler


def assert_whole(part: Solid) -> None:
    found = topology(part)
    assert found.is_closed
    assert found.is_oriented


def triangles(part: Solid) -> set[bytes]:
    """All faces as corner coordinates, each turned so that its first corner is the least."""
    corners = part.vertices[part.faces] + 0.0
    least = np.lexsort(corners.transpose(2, 0, 1)[::-1], axis=1)[:, 0]
    turn = (least[:, None] + np.arange(3)) % 3
    return {t.tobytes() for t in np.take_along_axis(corners, turn[:, :, None], axis=1)}


def test_one_vent_opens_one_wall():
    part = parts.hollow_box()
    drilled = drill(part, plan(TOP))
    assert_whole(drilled.solid)
    assert euler_change(part, drilled.solid) == -2
    assert drilled.removed_mm3 == pytest.approx(HOLE_MM3, rel=1e-9)
    assert part.volume - drilled.solid.volume == pytest.approx(HOLE_MM3, rel=1e-9)


def test_faces_away_from_the_vent_keep_their_order_and_their_vertices():
    part = parts.hollow_box(fine=3)
    drilled = drill(part, plan(TOP))
    corners = part.vertices[part.faces]
    away = np.linalg.norm(corners - (0.1, 0.2, 9.0), axis=2).min(axis=1) > 6.0
    assert np.count_nonzero(away) > 1000
    after = {t.tobytes(): i for i, t in enumerate(drilled.solid.vertices[drilled.solid.faces])}
    places = [after[t.tobytes()] for t in corners[away]]
    assert places == sorted(places)


def test_the_walls_of_each_vent_are_known():
    side = vent((10.0, 0.3, 0.1), (8.0, 0.3, 0.1), 1.5, name="v2")
    drilled = drill(parts.hollow_box(), plan(TOP, side))
    for index, v in enumerate((TOP, side)):
        faces = drilled.tool_faces(v.id)
        assert set(drilled.vent_of_face[faces].tolist()) == {index}
        corners = drilled.solid.vertices[drilled.solid.faces[faces]] - v.entry_mm
        along = corners @ np.array(v.axis)
        off = np.linalg.norm(corners - along[..., None] * np.array(v.axis), axis=2)
        assert np.abs(off - v.radius_mm).max() < 0.011
        assert along.min() == pytest.approx(0.0, abs=1e-9)
        assert along.max() == pytest.approx(2.0, abs=1e-9)
    assert np.count_nonzero(drilled.vent_of_face >= 0) == sum(len(drilled.tool_faces(v.id)) for v in (TOP, side))


def test_a_plan_without_vents_leaves_the_part_as_it_is():
    part = parts.hollow_box()
    drilled = drill(part, Plan())
    assert drilled.solid.digest == part.digest
    assert drilled.removed_mm3 == 0.0


def test_a_vent_that_meets_nothing_leaves_the_part_as_it_is():
    part = parts.hollow_box()
    assert drill(part, plan(vent((40, 0, 0), (38, 0, 0)))).solid.digest == part.digest


def test_widening_a_hole_changes_no_connection():
    first = drill(parts.hollow_box(), plan(vent((0.1, 0.2, 10), (0.1, 0.2, 8), 1.5))).solid
    wider = drill(first, plan(vent((0.1, 0.2, 10), (0.1, 0.2, 8), 3.0, kind="widen")))
    assert_whole(wider.solid)
    assert euler_change(first, wider.solid) == 0
    assert wider.removed_mm3 == pytest.approx(math.pi * (1.5**2 - 0.75**2) * 2.0, rel=1e-9)


def test_vents_that_cross_in_the_wall_make_one_hole_and_remove_their_union():
    part = parts.hollow_box()
    slanted = vent((1.5, 0.0, 10.0), (0.0, 0.0, 8.0), name="v2")
    drilled = drill(part, plan(TOP, slanted))
    assert_whole(drilled.solid)
    assert euler_change(part, drilled.solid) == -2
    tools = [trimesh.Trimesh(*cylinder(v.start_mm, v.end_mm, v.radius_mm)) for v in (TOP, slanted)]
    whole = trimesh.Trimesh(part.vertices, part.faces, process=False)
    expected = whole.volume - trimesh.boolean.difference([whole, *tools], engine="manifold").volume
    assert drilled.removed_mm3 == pytest.approx(expected, rel=1e-6)


def test_a_speck_inside_the_hole_goes_with_it():
    part = solid(box(20.0, fine=2), inward(box(12.0, fine=2)), inward(ball(0.5, (0.1, 0.2, 8.0))))
    drilled = drill(part, plan(vent((0.1, 0.2, 10), (0.1, 0.2, 6))))
    assert_whole(drilled.solid)
    assert euler_change(part, drilled.solid) == -2 - 2
    speck = -topology(part).volume_of_skin.min(initial=0.0, where=np.array([False, False, True]))
    assert drilled.removed_mm3 == pytest.approx(math.pi * 1.25**2 * 4.0 - speck, rel=1e-9)


@pytest.mark.parametrize("single", [False, True])
def test_a_buried_eye_is_cut_through_with_the_skin_around_it(single, tmp_path):
    part = solid(box(20.0, fine=2), inward(box(12.0, fine=2)), ball(1.2, (0.1, 0.2, 8.0)), single=single)
    drilled = drill(part, plan(vent((0.1, 0.2, 10), (0.1, 0.2, 6), 1.5)))
    assert_whole(drilled.solid)
    assert euler_change(part, drilled.solid) == -2 - 2
    upper = drilled.solid.vertices[drilled.solid.vertices[:, 2] > 5.5]
    assert np.linalg.norm(upper[:, :2] - (0.1, 0.2), axis=1).min() > 0.74
    write(drilled.solid, tmp_path / "eye.stl")
    assert topology(read(tmp_path / "eye.stl")).is_closed


def test_named_bodies_stay_apart_and_keep_their_names():
    part = solid(box(20.0, fine=1), ball(3.0, (0, 0, 10)), box(4.0, (30, 0, 0)), names=("buoy", "lamp", "cleat"))
    drilled = drill(part, plan(vent((0.1, 0.2, 10), (0.1, 0.2, 6))))
    assert [b.name for b in drilled.solid.bodies] == ["buoy", "lamp", "cleat"]
    for before, after in zip(part.bodies, drilled.solid.bodies, strict=True):
        own = trimesh.Trimesh(drilled.solid.vertices, drilled.solid.faces[after.start : after.stop])
        assert own.is_watertight
        old = trimesh.Trimesh(part.vertices, part.faces[before.start : before.stop])
        assert (own.volume < old.volume) == (before.name != "cleat")
    cleat = drilled.solid.bodies[2]
    assert cleat.stop - cleat.start == 12


def test_a_cavity_in_a_part_inside_a_cavity_is_cut_with_its_own_part():
    part = solid(box(20.0), inward(box(16.0)), box(6.0, (0, 0, 4.5)), inward(box(3.0, (0, 0, 4.5))))
    drilled = drill(part, plan(vent((0.1, 0.2, 10), (0.1, 0.2, 4.5), beyond=0.5)))
    assert_whole(drilled.solid)
    assert euler_change(part, drilled.solid) == -4
    assert drilled.removed_mm3 == pytest.approx(math.pi * 1.25**2 * 3.5, rel=1e-3)


def test_an_open_part_is_an_error_with_a_place_and_not_an_empty_result():
    part = parts.hollow_box()
    missing = int(np.argmax(part.vertices[part.faces].mean(axis=1) @ (1.0, 0.1, 0.2)))
    torn = part.with_mesh(part.vertices, np.delete(part.faces, missing, axis=0))
    with pytest.raises(MeshError, match="3 edges are open") as caught:
        drill(torn, plan(TOP))
    assert caught.value.at_mm is not None
    assert caught.value.at_mm[0] == pytest.approx(10.0)


def test_a_face_wound_the_other_way_is_an_error_with_a_place():
    part = parts.hollow_box()
    chosen = np.zeros(len(part.faces), dtype=bool)
    chosen[7] = True
    with pytest.raises(MeshError, match="wound against") as caught:
        drill(part.flipped(chosen), plan(TOP))
    assert caught.value.at_mm is not None


def test_a_doubled_face_is_an_error_with_a_place():
    part = parts.hollow_box()
    with pytest.raises(MeshError, match="1 face repeats another") as caught:
        drill(part.with_mesh(part.vertices, np.vstack((part.faces, part.faces[7:8]))), plan(TOP))
    assert caught.value.at_mm == pytest.approx(part.vertices[part.faces[7]].mean(axis=0))


def test_damage_in_a_body_no_vent_meets_does_not_stop_the_work():
    part = solid(box(20.0), inward(box(16.0)), (box(4.0, (30, 0, 0))[0], box(4.0)[1][:-1]))
    drilled = drill(part, plan(TOP))
    assert drilled.removed_mm3 == pytest.approx(HOLE_MM3, rel=1e-9)
    assert len(topology(drilled.solid).open_edges) == 3


def test_an_inner_skin_that_is_not_turned_inward_is_solid_there():
    part = solid(box(20.0, fine=2), box(16.0, fine=2))
    drilled = drill(part, plan(TOP))
    assert_whole(drilled.solid)
    assert drilled.removed_mm3 == pytest.approx(math.pi * 1.25**2 * (3.0 + 1.0), rel=1e-2)
    assert euler_change(part, drilled.solid) == 0


def test_degenerate_faces_away_from_the_vent_stay():
    part = parts.hollow_box(fine=3)
    edge = part.faces[np.argmin(part.vertices[part.faces].mean(axis=1)[:, 2]), :2]
    vertices = part.vertices.copy()
    vertices[edge[0]] = vertices[edge[1]] = vertices[edge].mean(axis=0)
    flat = part.with_mesh(vertices, part.faces)
    drilled = drill(flat, plan(TOP))
    whole = drill(part, plan(TOP))
    assert len(drilled.solid.faces) == len(whole.solid.faces)


direction = st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda d: np.linalg.norm(d) > 0.2)
hole = st.tuples(direction, st.floats(0.8, 3.0))


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(hole, min_size=1, max_size=4), st.sampled_from([1.0, 25.4]), st.booleans())
def test_random_vents_survive_the_file(tmp_path_factory, holes, unit, tilted):
    vents = [parts.radial(np.array(d), size, f"v{i}") for i, (d, size) in enumerate(holes)]
    part = in_unit(parts.hollow_ball(single=True), unit, tilted)
    drilled = drill(part, plan(*vents))
    assert_whole(drilled.solid)
    apart = all(
        np.linalg.norm(np.subtract(a.entry_mm, b.entry_mm)) > a.radius_mm + b.radius_mm + 0.1
        for i, a in enumerate(vents)
        for b in vents[:i]
    )
    if apart:
        assert euler_change(part, drilled.solid) == -2 * len(vents)
    path = tmp_path_factory.mktemp("files") / "part.stl"
    write(drilled.solid, path)
    again = read(path, "inch" if unit != 1.0 else "mm")
    assert_whole(again)
    assert triangles(again) == triangles(drilled.solid)
    assert topology(again).euler == topology(drilled.solid).euler
    check_volume(part, drilled)


def in_unit(part: Solid, unit: float, tilted: bool) -> Solid:
    """The part as it comes from an STL in that unit."""
    angle = 0.3 if tilted else 0.0
    turn = np.array([[math.cos(angle), -math.sin(angle), 0], [math.sin(angle), math.cos(angle), 0], [0, 0, 1]])
    vertices = (part.vertices @ turn.T / unit).astype(np.float32).astype(np.float64) * unit
    source = type(part.source)(single_precision=True, mm_per_unit=unit)
    return Solid(vertices, part.faces, part.bodies, source)


def check_volume(part: Solid, drilled: Drilled) -> None:
    whole = trimesh.Trimesh(part.vertices, part.faces, process=False)
    tools = [trimesh.Trimesh(*cylinder(v.start_mm, v.end_mm, v.radius_mm)) for v in drilled.plan.vents]
    expected = whole.volume - trimesh.boolean.difference([whole, *tools], engine="manifold").volume
    assert drilled.removed_mm3 == pytest.approx(expected, rel=1e-4, abs=1e-3)
