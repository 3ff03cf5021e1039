"""The cut: what tools do not touch stays, bad input is an error and no empty result, pieces know their origin."""

from __future__ import annotations

import drill_parts as parts
import numpy as np
import pytest
import trimesh
from drill_parts import ball, box, inward, solid

from ventplanner.errors import DrillError, MeshError
from ventplanner.geometry.boolean import Cut, Cutter, faces_near
from ventplanner.geometry.cylinder import cylinder
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.topology import topology

TOOL = cylinder((0.1, 0.2, 11.0), (0.1, 0.2, 7.0), 1.25)


def applied(part: Solid, cut: Cut) -> Solid:
    vertices = np.vstack([part.vertices, cut.new_vertices])
    return Solid(vertices, np.vstack([part.faces[cut.kept], cut.new_faces]))


def test_the_kept_and_the_new_faces_make_a_closed_part():
    part = parts.hollow_box(fine=3)
    after = applied(part, Cutter(part.vertices, part.faces).cut([TOOL]))
    found = topology(after)
    assert found.is_closed
    assert found.is_oriented


def test_the_result_is_that_of_an_independent_path_through_the_library():
    part = parts.hollow_ball(fine=3)
    tool = cylinder((0.3, 0.4, 13.0), (1.0, 2.0, 7.0), 1.1)
    after = applied(part, Cutter(part.vertices, part.faces).cut([tool]))
    meshes = [trimesh.Trimesh(part.vertices, part.faces, process=False), trimesh.Trimesh(*tool)]
    expected = trimesh.boolean.difference(meshes, engine="manifold")
    assert after.volume == pytest.approx(expected.volume, rel=1e-6)
    assert topology(after).area_of_skin.sum() == pytest.approx(expected.area, rel=1e-6)


def test_each_new_face_lies_in_the_face_or_on_the_tool_it_comes_from():
    part = parts.hollow_box()
    second = cylinder((11.0, 3.0, 3.0), (7.0, 3.0, 3.0), 1.0)
    cut = Cutter(part.vertices, part.faces).cut([TOOL, second])
    points = np.vstack([part.vertices, cut.new_vertices])
    assert set(cut.origin[cut.origin < 0].tolist()) == {-1, -2}
    for face, origin in zip(cut.new_faces, cut.origin.tolist(), strict=True):
        corners = points[face]
        if origin == -1:
            assert np.abs(np.linalg.norm(corners[:, :2] - (0.1, 0.2), axis=1) - 1.25).max() < 0.011
        elif origin == -2:
            assert np.abs(np.linalg.norm(corners[:, 1:] - (3.0, 3.0), axis=1) - 1.0).max() < 0.011
        else:
            a, b, c = part.vertices[part.faces[origin]]
            normal = np.cross(b - a, c - a)
            assert np.abs((corners - a) @ normal).max() < 1e-9 * np.linalg.norm(normal)


def test_a_cutter_can_be_used_again_with_the_same_result():
    part = parts.hollow_box()
    cutter = Cutter(part.vertices, part.faces)
    first = cutter.cut([TOOL])
    cutter.cut([cylinder((11.0, 3.0, 3.0), (7.0, 3.0, 3.0), 1.0)])
    again = cutter.cut([TOOL])
    assert again.new_vertices.tobytes() == first.new_vertices.tobytes()
    assert np.array_equal(again.new_faces, first.new_faces)
    assert np.array_equal(again.kept, first.kept)


def test_many_tools_in_one_cut_are_the_same_as_one_after_another():
    part = parts.hollow_ball()
    ways = np.random.default_rng(3).normal(size=(14, 3))
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    tools = [cylinder(13.0 * w, 9.5 * w, 0.6) for w in ways]
    together = applied(part, Cutter(part.vertices, part.faces).cut(tools))
    single = part
    for tool in tools:
        single = applied(single, Cutter(single.vertices, single.faces).cut([tool]))
    assert together.volume == pytest.approx(single.volume, rel=1e-9)
    assert topology(together).euler == topology(single).euler


@pytest.mark.parametrize("fine", [0, 3])
def test_only_faces_that_the_tool_meets_change(fine):
    part = parts.hollow_box(fine=fine)
    cut = Cutter(part.vertices, part.faces).cut([TOOL])
    box_of_tool = np.array([[TOOL[0].min(axis=0), TOOL[0].max(axis=0)]])
    assert not (~cut.kept & ~faces_near(part.vertices, part.faces, box_of_tool)).any()
    assert np.count_nonzero(~cut.kept) >= 2


def test_degenerate_faces_that_no_tool_meets_are_kept():
    part = parts.hollow_box(fine=3)
    flat = part.faces[np.argmin(part.vertices[part.faces].mean(axis=1)[:, 2])]
    vertices = part.vertices.copy()
    vertices[flat[0]] = vertices[flat[1]]
    cut = Cutter(vertices, part.faces).cut([TOOL])
    touched = np.unique(part.faces[~cut.kept])
    assert not set(flat.tolist()) & set(touched.tolist())
    assert topology(applied(part.with_mesh(vertices, part.faces), cut)).is_closed


def test_a_degenerate_face_beside_the_hole_leaves_a_closed_part():
    part = parts.hollow_box(fine=4)
    centre = np.abs(part.vertices[part.faces].mean(axis=1) - (2.0, 0.2, 10.0)).sum(axis=1)
    flat = part.faces[np.argmin(centre)]
    vertices = part.vertices.copy()
    vertices[flat[0]] = vertices[flat[1]]
    damaged = part.with_mesh(vertices, part.faces)
    assert topology(applied(damaged, Cutter(vertices, part.faces).cut([TOOL]))).is_closed


def test_a_skin_swallowed_as_a_whole_goes():
    part = solid(box(20.0), inward(box(12.0)), inward(ball(0.5, (0.1, 0.2, 8.0))))
    cut = Cutter(part.vertices, part.faces).cut([cylinder((0.1, 0.2, 11.0), (0.1, 0.2, 5.0), 1.25)])
    assert not cut.kept[24:].any()
    assert not (cut.origin >= 24).any()


def test_a_part_of_which_every_face_is_cut_is_not_restored():
    part = solid(box(4.0))
    tools = [cylinder(np.eye(3)[k] * 3.0, np.eye(3)[k] * -3.0, 0.7) for k in range(3)]
    after = applied(part, Cutter(part.vertices, part.faces).cut(tools))
    assert topology(after).euler == 2 - 2 * 5
    assert after.volume < 64.0 - 12.0


def test_vertices_that_no_face_uses_do_no_harm():
    part = parts.hollow_box()
    more = np.vstack([part.vertices, [[99.0, 99.0, 99.0]]])
    cut = Cutter(more, part.faces).cut([TOOL])
    assert topology(applied(part.with_mesh(more, part.faces), cut)).is_closed


def test_an_open_mesh_is_an_error():
    part = parts.hollow_box()
    with pytest.raises(MeshError, match="open or its faces do not fit"):
        Cutter(part.vertices, part.faces[1:])


def test_a_vertex_that_is_no_number_is_an_error():
    part = parts.hollow_box()
    vertices = part.vertices.copy()
    vertices[3, 1] = np.nan
    with pytest.raises(MeshError, match="finite"):
        Cutter(vertices, part.faces)


def test_no_faces_are_an_error():
    with pytest.raises(MeshError, match="no volume"):
        Cutter(np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int32))


def test_a_tool_that_takes_everything_is_an_error():
    vertices, faces = ball(1.0)
    with pytest.raises(DrillError, match="Nothing is left"):
        Cutter(vertices, faces.astype(np.int32)).cut([cylinder((0, 0, -5), (0, 0, 5), 4.0)])


def test_an_open_tool_is_an_error():
    part = parts.hollow_box()
    with pytest.raises(DrillError, match="Tool 2"):
        Cutter(part.vertices, part.faces).cut([TOOL, (TOOL[0], TOOL[1][1:])])


def test_faces_near_a_box_are_those_whose_bounds_meet_it():
    part = parts.hollow_ball(fine=3)
    rng = np.random.default_rng(5)
    low = rng.uniform(-13, 13, size=(23, 3))
    boxes = np.stack([low, low + rng.uniform(0.1, 4.0, size=(23, 3))], axis=1)
    corners = part.vertices[part.faces]
    expected = np.zeros(len(part.faces), dtype=bool)
    for a, b in boxes:
        expected |= ((corners.min(axis=1) <= b) & (corners.max(axis=1) >= a)).all(axis=1)
    assert np.array_equal(faces_near(part.vertices, part.faces, boxes), expected)
