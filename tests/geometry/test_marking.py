"""Faces chosen by brush, flood and view, on bodies whose answer is plain or known from formulas."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from bodies import ball, box, cut, inward, rod, solid
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.marking import Surface
from ventplanner.geometry.solid import Solid

FRONT = np.array([[1.0, 0, 0], [0, 0, 1], [0, -1, 0]])
"""Seen along +y, z upwards."""


def surface(part: Solid) -> Surface:
    return Surface.of(part, part.vertices)


def fine(mesh: trimesh.Trimesh, times: int) -> trimesh.Trimesh:
    for _ in range(times):
        mesh = mesh.subdivide()
    return mesh


def middles(part: Solid) -> np.ndarray:
    return part.vertices[part.faces].mean(axis=1)


def looking(direction: np.ndarray) -> np.ndarray:
    """Axes of a view from which the viewer is in this direction."""
    towards = direction / np.linalg.norm(direction)
    right = np.cross(np.eye(3)[np.argmin(np.abs(towards))], towards)
    right /= np.linalg.norm(right)
    return np.array([right, np.cross(towards, right), towards])


@settings(max_examples=25)
@given(seed=st.integers(0, 9999))
def test_a_brush_paints_the_faces_about_its_place_and_no_others(seed: int) -> None:
    part = solid(ball(10.0, fine=4))
    rng = np.random.default_rng(seed)
    face, radius = int(rng.integers(len(part.faces))), float(rng.uniform(0.2, 6.0))
    point = middles(part)[face]
    away = np.linalg.norm(middles(part) - point, axis=1)
    painted = surface(part).brush(face, point, radius)
    assert len(set(painted.tolist())) == len(painted)
    # On a ball all that is near hangs together over the skin.
    sure = np.flatnonzero(away < radius - 0.01)
    assert set(sure.tolist()) <= set(painted.tolist())
    assert (away[painted] < radius + 0.01).all()


def test_a_brush_does_not_go_through_a_wall_nor_around_its_rim() -> None:
    plate = solid(fine(box((40.0, 40.0, 0.8)), 6))
    middle = middles(plate)
    upper = np.abs(middle[:, 2] - 0.4) < 1e-9
    for place in ((0.0, 0.0, 0.4), (19.0, 0.0, 0.4)):
        face = int(np.argmin(np.linalg.norm(middle - place, axis=1)))
        painted = surface(plate).brush(face, np.array(place), 5.0)
        assert len(painted) > 50
        assert (np.abs(middle[painted][:, 2] + 0.4) > 1e-6).all()  # never the other side
        if place[0] == 0.0:
            assert upper[painted].all()


def test_a_brush_jumps_to_no_other_body() -> None:
    part = solid(fine(box(10.0), 4), fine(box(10.0, (10.5, 0.0, 0.0)), 4))
    middle = middles(part)
    face = int(np.argmin(np.linalg.norm(middle - (5.0, 0.0, 0.0), axis=1)))
    assert (middle[surface(part).brush(face, middle[face], 3.0)][:, 0] <= 5.0).all()


def test_of_large_triangles_the_one_that_is_touched_is_painted() -> None:
    part = solid(box(20.0))
    assert surface(part).brush(3, middles(part)[3], 0.5).tolist() == [3]


def test_a_flood_stops_at_creases() -> None:
    part = solid(fine(box(10.0), 3), inward(fine(box(6.0), 3)))
    found = surface(part).flood(0)
    normals = surface(part).normal
    assert len(found) == 2 * 4**3
    assert np.allclose(normals[found], normals[0])


@pytest.mark.parametrize(("crease", "whole"), [(10.0, True), (3.0, False)])
def test_a_flood_goes_around_what_is_round(crease: float, whole: bool) -> None:
    part = solid(rod((0, 0, 0), (0, 0, 20), 5.0, sections=64))  # 5.6 degrees from side to side
    side = int(np.argmax(np.abs(surface(part).normal[:, 2]) < 0.1))
    found = surface(part).flood(side, crease)
    assert len(found) == (128 if whole else 2)
    assert (np.abs(surface(part).normal[found][:, 2]) < 0.1).all()


@pytest.mark.parametrize("direction", [(0, -1, 0), (1, 2, 3), (-3, 1, 0.2)])
def test_of_a_ball_the_half_that_faces_the_viewer_is_seen(direction: tuple[float, float, float]) -> None:
    part = solid(ball(10.0, fine=4))
    axes = looking(np.array(direction, float))
    towards = surface(part).normal @ axes[2]
    seen = surface(part).seen(axes).flags
    assert not seen[towards <= 0].any()
    assert seen[towards > 0.05].all()


def test_of_a_box_three_sides_are_seen_and_nothing_inside() -> None:
    part = solid(fine(box(10.0), 3), inward(fine(box(8.0), 3)))
    axes = looking(np.array([1.0, 2.0, 3.0]))
    seen = surface(part).seen(axes)
    expected = (np.abs(middles(part)) > 4.9).any(axis=1) & ((middles(part) > 4.99).any(axis=1))
    assert seen == FaceMask.of(expected)


def test_into_a_well_one_sees_as_far_as_the_rim_lets_one() -> None:
    # A square well, 10 mm wide and 20 mm deep; seen aslant, its wall is seen down to width / tan(angle).
    block = cut(box((30.0, 30.0, 30.0)), box((10.0, 10.0, 20.001), (0.0, 0.0, 5.0)))
    part = solid(fine(block, 5))
    for angle in (30.0, 45.0, 60.0):
        slope = np.radians(angle)
        axes = looking(np.array([np.sin(slope), 0.0, np.cos(slope)]))
        seen = surface(part).seen(axes).flags
        middle, normal = middles(part), surface(part).normal
        corners = part.vertices[part.faces]
        wall = (np.abs(middle[:, 0] + 5.0) < 1e-6) & (normal[:, 0] > 0.9)
        assert wall.any()
        depth = 15.0 - 10.0 / np.tan(slope)
        assert seen[wall & (corners[:, :, 2].min(axis=1) > depth + 0.05)].all()
        assert not seen[wall & (corners[:, :, 2].max(axis=1) < depth - 0.05)].any()


def test_seen_faces_are_those_that_rays_meet_first() -> None:
    part = solid(ball(6.0, (0, 0, 0), fine=3), ball(4.0, (5.0, -7.0, 1.0), fine=3), box(5.0, (-4.0, -9.0, 3.0)))
    seen = surface(part).seen(FRONT).flags
    towards = surface(part).normal @ FRONT[2]
    weights = np.random.default_rng(4).dirichlet([1, 1, 1], 5)
    corners = part.vertices[part.faces]
    points = np.einsum("pc,kcx->kpx", weights, corners).reshape(-1, 3)
    free = np.ones(len(points), bool)
    for a, b, c in corners:  # what lies before each point, one triangle after the other
        flat = np.array([b - a, c - a])[:, [0, 2]].T
        if abs(np.linalg.det(flat)) < 1e-12:
            continue
        u, v = np.linalg.solve(flat, (points - a)[:, [0, 2]].T)
        met = (u >= 0) & (v >= 0) & (u + v <= 1)
        free &= ~(met & (a[1] + u * (b - a)[1] + v * (c - a)[1] < points[:, 1] - 1e-6))
    share = free.reshape(-1, 5).mean(axis=1)
    assert seen[(share > 0.5) & (towards > 0.05)].all()
    assert not seen[(share == 0.0) & (towards < 0.0)].any()
    hidden = (share == 0.0) & (towards > 0.05)
    assert hidden.any()
    assert seen[hidden].mean() < 0.15  # at the edge of what hides them a corner may be seen


def test_a_degenerate_face_is_no_obstacle() -> None:
    part = solid(fine(box(10.0), 2))
    more = part.with_mesh(part.vertices, np.vstack((part.faces, [[0, 0, 1], [2, 2, 2]])).astype(np.int32))
    assert len(surface(more).flood(0)) == len(surface(part).flood(0))
    assert surface(more).seen(FRONT).flags[-2:].tolist() == [False, False]
