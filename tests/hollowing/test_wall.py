"""The wall is what was asked, everywhere, by trimesh's exact distance to triangles; and all the rest is hollow."""

from __future__ import annotations

from functools import cache

import bodies
import numpy as np
import pytest
import solid_parts as parts
import trimesh

from ventplanner.errors import Cancelled, MeshError, ParameterError
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.pose import Pose
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.topology import topology
from ventplanner.hollowing.hollow import Hollowed, hollow
from ventplanner.hollowing.rules import HollowRules
from ventplanner.hollowing.skins import SNAP_MM

SHAPES = {
    "ball": lambda: bodies.ball(8.0),
    "box": lambda: bodies.box(14),
    "torus": lambda: trimesh.creation.torus(8.0, 4.0, 64, 32),
    "crag": parts.crag,
    "slit": parts.slit_box,
    "cow": parts.slashed_cow,
}
WALL = 1.5
NO_ISLANDS = Pose((1.0, 0.0, 0.0))
"""A pose in which none of them needs a rib inside: then nothing but wall and radius decides."""


@cache
def hollowed(shape: str, **rules: float | str) -> Hollowed:
    return hollow(bodies.solid(SHAPES[shape]()), NO_ISLANDS, HollowRules(wall_mm=WALL, **rules))  # type: ignore[arg-type]


def plain(shape: str) -> Hollowed:
    """Without a least radius: nothing but the wall decides."""
    return hollowed(shape, radius_mm=0.0, least_mm3=0.5)


@pytest.mark.parametrize("shape", SHAPES)
def test_no_point_of_the_inner_skin_is_nearer_than_the_wall(shape: str) -> None:
    for done in (plain(shape), hollowed(shape, fineness="coarse")):
        inside = parts.inner(done)
        # Corners are where a surface between nodes errs least, middles of edges and faces where it errs most.
        points = np.concatenate((parts.points_on(inside), inside.vertices[:: max(1, len(inside.vertices) // 500)]))
        found = parts.thickness(done, points)
        assert found.min() >= done.wall_least_mm - 1e-5 >= WALL - 0.02 - 1e-5


@pytest.mark.parametrize("shape", SHAPES)
def test_the_wall_is_on_average_what_was_asked(shape: str) -> None:
    found = parts.thickness(plain(shape), parts.points_on(parts.inner(plain(shape))))
    assert found.mean() == pytest.approx(WALL, abs=0.02)
    assert plain(shape).wall_mean_mm == pytest.approx(WALL, abs=0.005)


@pytest.mark.parametrize("shape", SHAPES)
def test_all_that_is_deeper_than_the_wall_is_hollow(shape: str) -> None:
    done = plain(shape)
    points, away = parts.deep_points(done.original, WALL)
    in_hollow = parts.contains(parts.inner(done), points)
    # Sharp edges of the hollow are cut off between nodes of the grid: by less than its step.
    assert in_hollow[away > WALL + done.grid_mm].all()
    assert in_hollow.mean() > 0.95


@pytest.mark.parametrize("shape", SHAPES)
def test_a_ball_of_the_least_radius_reaches_what_is_hollow(shape: str) -> None:
    done = hollowed(shape, fineness="coarse")
    points, _ = parts.deep_points(done.original, WALL + 1.0)
    assert parts.contains(parts.inner(done), points).mean() > 0.99


def test_edges_and_corners_of_the_hollow_are_round() -> None:
    """The hollow of a box is a box of 9 mm and all that is less than 1 mm from it: by that formula."""
    inside = parts.inner(hollowed("box"))
    beyond = np.linalg.norm(np.maximum(np.abs(parts.points_on(inside)) - 4.5, 0.0), axis=1)
    # The sharp corner of where the ball's middle may be is cut off between nodes of the grid.
    assert beyond.max() < 1.0 + SNAP_MM
    assert beyond.min() > 1.0 - hollowed("box").grid_mm
    assert beyond.mean() == pytest.approx(1.0, abs=0.02)


@pytest.mark.parametrize("shape", SHAPES)
def test_the_part_itself_is_untouched_and_the_new_skins_are_closed(shape: str) -> None:
    done = plain(shape)
    n, m = len(done.original.vertices), len(done.original.faces)
    assert done.solid.vertices[:n].tobytes() == done.original.vertices.tobytes()
    assert done.solid.faces[:m].tobytes() == done.original.faces.tobytes()
    found = topology(done.solid)
    assert found.is_closed
    assert found.is_oriented
    assert done.solid.volume == pytest.approx(done.part_mm3 - done.saved_mm3, rel=1e-6)


def test_a_ball_is_hollowed_to_a_ball() -> None:
    """Volume and sections from formulas: 4/3 pi r^3 and pi r^2."""
    done = plain("ball")
    assert done.saved_mm3 == pytest.approx(4 / 3 * np.pi * 6.5**3, rel=0.01)
    before, after = done.sections.largest
    assert before == pytest.approx(np.pi * 8.0**2, rel=0.02)
    # A section through the hollow is pi (R^2 - r^2) at every height, and the largest one is at its ends.
    assert done.sections.after[32] == pytest.approx(np.pi * (8.0**2 - 6.5**2), rel=0.03)
    assert after == pytest.approx(np.pi * (8.0**2 - 6.5**2), rel=0.05)


def test_hollows_below_the_least_volume_stay_solid() -> None:
    two = bodies.solid(bodies.ball(8.0, (-12, 0, 0)), bodies.ball(5.0, (12, 0, 0)))
    small = 4 / 3 * np.pi * 3.0**3
    assert len(hollow(two, None, HollowRules(wall_mm=2.0, least_mm3=0.5 * small)).hollow_mm3) == 2
    done = hollow(two, None, HollowRules(wall_mm=2.0, least_mm3=2.0 * small))
    assert (len(done.hollow_mm3), done.dropped) == (1, 1)


def test_a_part_that_hangs_askew_gets_the_same_wall() -> None:
    done = hollow(bodies.solid(bodies.box(20)), Pose((1.0, 2.0, 3.0)), HollowRules(wall_mm=2.0))
    assert parts.thickness(done, parts.points_on(parts.inner(done))).min() >= 1.98


def test_an_open_mesh_keeps_its_wall_under_the_holes() -> None:
    ball = bodies.ball(12.0)
    ball.update_faces(~(ball.triangles_center[:, 0] > 11.0))
    done = hollow(bodies.solid(ball), None, HollowRules(wall_mm=2.0))
    assert len(done.notes) == 1
    assert parts.inner(done).vertices[:, 0].max() < 11.0 - 1.9
    assert parts.thickness(done, parts.points_on(parts.inner(done))).min() >= 1.98


def test_what_has_no_room_for_a_hollow_is_said_with_the_way_out() -> None:
    with pytest.raises(ParameterError, match=r"nothing of the part can be hollowed.*thinner --wall"):
        hollow(bodies.solid(bodies.box(4)), None, HollowRules(wall_mm=2.5))
    with pytest.raises(ParameterError, match="too coarse"):
        HollowRules(wall_mm=1.0, grid_mm=0.8)
    with pytest.raises(ParameterError, match=r"needs about .* GB of memory"):
        hollow(bodies.solid(bodies.box(2000)), None, HollowRules(grid_mm=0.02))
    with pytest.raises(MeshError, match="another number of faces"):
        hollow(bodies.solid(bodies.box(20)), keep_solid=FaceMask.none_of(5))


def test_it_can_be_cancelled_at_every_step() -> None:
    part, told = bodies.solid(parts.dimpled()), []
    hollow(part, None, HollowRules(fineness="coarse"), progress=lambda phase, share: told.append(phase))
    assert set(told) == {"Looking at the mesh", "Hollowing", "Carrying islands", "Fitting the wall"}
    for phase in set(told):

        def stop(now: str, _share: float, phase: str = phase) -> None:
            if now == phase:
                raise Cancelled

        with pytest.raises(Cancelled):
            hollow(part, None, HollowRules(fineness="coarse"), progress=stop)


def test_a_part_with_a_hollow_keeps_a_wall_round_that_too() -> None:
    old = bodies.solid(bodies.box(20), bodies.inward(bodies.ball(3.0)))
    done: Hollowed = hollow(old, None, HollowRules(wall_mm=2.0))
    assert isinstance(done.solid, Solid)
    assert parts.thickness(done, parts.points_on(parts.inner(done))).min() >= 1.98
