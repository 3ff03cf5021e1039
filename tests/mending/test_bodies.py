"""Whole skins: turned, made one, parted; holes by shape; steps that are refused. Volumes of booleans are Manifold's."""

from __future__ import annotations

import bodies
import damage
import numpy as np
import pytest
import trimesh

from ventplanner.errors import MeshError, ParameterError
from ventplanner.geometry.crossings import crossings
from ventplanner.geometry.solid import Body, Solid
from ventplanner.geometry.topology import topology
from ventplanner.geometry.weld import weld
from ventplanner.mending.mend import mend
from ventplanner.mending.rules import MendRules

LARGE, SMALL = bodies.ball(10.0), bodies.ball(9.0, (8.0, 1.0, 2.0))
IN_LARGE, IN_SMALL = bodies.ball(8.0), bodies.ball(7.0, (8.0, 1.0, 2.0))


def test_overlapping_bodies_with_their_cavities_become_one_by_the_winding_number() -> None:
    done = mend(bodies.solid(LARGE, bodies.inward(IN_LARGE), SMALL, bodies.inward(IN_SMALL)))
    # Where both have material, or one has while the other is hollow, the winding number is positive.
    meant = bodies.union(bodies.cut(LARGE, IN_LARGE), bodies.cut(SMALL, IN_SMALL))
    assert done.solid.volume == pytest.approx(meant.volume, rel=1e-6)
    assert topology(done.solid).euler == meant.euler_number
    assert [(one.step, one.count) for one in done.records] == [("unite", 4)]
    assert not len(crossings(done.solid.vertices, done.solid.faces))


def test_a_hollow_that_reaches_through_the_skin_opens_it() -> None:
    through = bodies.ball(9.0, (3.0, 0.5, 0.3))
    done = mend(bodies.solid(LARGE, bodies.inward(through)))
    assert done.solid.volume == pytest.approx(bodies.cut(LARGE, through).volume, rel=1e-6)
    assert topology(done.solid).is_closed


def test_a_buried_body_is_made_one_and_skins_elsewhere_stay_as_they_are() -> None:
    other = bodies.box(3, (40, 0, 0))
    part = bodies.solid(LARGE, bodies.ball(3.0, (1.0, 1.0, 1.0)), other)
    named = Solid(
        part.vertices,
        part.faces,
        (Body("ball", 0, len(part.faces) - 12), Body("box", len(part.faces) - 12, len(part.faces))),
    )
    done = mend(named)
    assert topology(done.solid).n_skins == 2
    assert done.solid.volume == pytest.approx(LARGE.volume + 27.0, rel=1e-9)
    assert [body.name for body in done.solid.bodies] == ["ball", "box"]
    box = done.solid.bodies[1]
    assert np.array_equal(done.solid.vertices[done.solid.faces[box.start : box.stop]], other.triangles)


@pytest.mark.parametrize(
    ("skins", "turned"),
    [
        ((LARGE, IN_LARGE), 1),
        ((bodies.inward(LARGE), IN_LARGE), 2),
        ((LARGE, bodies.inward(IN_LARGE), bodies.inward(bodies.ball(4.0))), 1),
    ],
)
def test_whole_skins_are_turned_so_that_cavities_stay_cavities(skins: tuple[trimesh.Trimesh, ...], turned: int) -> None:
    done = mend(bodies.solid(*skins))
    meant = sum(abs(one.volume) * (-1) ** depth for depth, one in enumerate(skins))
    assert done.solid.volume == pytest.approx(meant, rel=1e-9)
    assert sum(one.count for one in done.records) == turned
    assert {one.step for one in done.records} == {"nest"}


def test_a_cavity_of_which_half_is_turned_over_is_a_cavity() -> None:
    part = bodies.solid(LARGE, bodies.inward(bodies.ball(2.0, (3.0, 0.0, 0.0))))
    faces = part.faces.copy()
    half = part.vertices[faces].mean(axis=1)[:, 2] > -0.5
    half[: len(LARGE.faces)] = False
    faces[half] = faces[half][:, ::-1]
    assert mend(Solid(part.vertices, faces)).solid.volume == pytest.approx(part.volume, rel=1e-9)


def test_a_skin_in_material_that_points_outward_is_read_as_asked() -> None:
    inner = bodies.ball(2.0, (3.0, 0.0, 0.0))
    part = bodies.solid(LARGE, inner)
    hollow = mend(part, MendRules(nested="cavity"))
    assert hollow.solid.volume == pytest.approx(LARGE.volume - inner.volume, rel=1e-9)
    # The wall around it is uneven, so that it is taken for a body.
    assert mend(part).solid.volume == pytest.approx(LARGE.volume, rel=1e-9)
    assert "solid body" in mend(part).notes[1]


@pytest.mark.parametrize("inward", [False, True])
def test_skins_that_share_an_edge_are_parted_and_stay_parted_in_single_precision(inward: bool) -> None:
    pair = [bodies.box(10), bodies.box(10, (10, 10, 0))]
    skins = [bodies.box(60), *map(bodies.inward, pair)] if inward else pair
    part = bodies.solid(*skins)
    welded = Solid(*weld(part.vertices[part.faces]))
    assert len(topology(welded).nonmanifold_edges) == 1
    done = mend(welded)
    read = Solid(*weld(done.solid.vertices[done.solid.faces].astype(np.float32)))
    assert topology(read).is_closed
    assert topology(read).n_skins == len(skins)
    assert done.solid.volume == pytest.approx(part.volume, rel=1e-4)


@pytest.mark.parametrize("radius", [1.0, 2.5])
def test_a_hole_in_a_ball_is_filled_with_a_dome(radius: float) -> None:
    ball = bodies.ball(10.0)
    kept = np.linalg.norm(ball.triangles_center - [0.0, 0.0, 10.0], axis=1) > radius
    done = mend(damage.as_read(ball.triangles[kept]))
    new = done.solid.vertices[np.linalg.norm(done.solid.vertices - [0.0, 0.0, 10.0], axis=1) < 0.8 * radius]
    # A plane over the rim would be radius^2 / 20 below the ball.
    assert len(new) > 3
    assert np.abs(np.linalg.norm(new, axis=1) - 10.0).max() < 0.1 * radius**2 / 20.0
    assert done.solid.volume == pytest.approx(ball.volume, rel=1e-4)


def test_a_plane_hole_is_filled_plane() -> None:
    box = bodies.box(20).subdivide().subdivide().subdivide().subdivide()
    kept = ~((np.abs(box.triangles_center[:, :2]) < 4.0).all(axis=1) & (box.triangles_center[:, 2] > 9.9))
    done = mend(damage.as_read(box.triangles[kept]))
    assert done.solid.volume == pytest.approx(8000.0, rel=1e-9)


@pytest.mark.parametrize("in_cavity", [False, True])
def test_a_gap_all_round_is_bridged_and_no_part_falls_off(in_cavity: bool) -> None:
    """The band is gone between two heights; a ball without it is one skin of Euler number 2."""
    outer, inner = bodies.ball(10.0), bodies.ball(8.0)
    hit = inner if in_cavity else outer
    height = hit.triangles_center[:, 2] / hit.bounds[1, 2]
    hit.update_faces((height < 0.5) | (height > 0.58))
    done = mend(damage.as_read(np.concatenate([outer.triangles, inner.triangles[:, ::-1]])))
    found = topology(done.solid)
    assert (found.n_skins, found.is_closed, found.euler) == (2, True, 4)
    # The strip is a straight one between rims 1 mm apart: w^2 / 8 R below the ball in its middle.
    assert done.solid.volume == pytest.approx(bodies.ball(10.0).volume - bodies.ball(8.0).volume, rel=5e-3)
    assert "gaps all round bridged" in {one.what for one in done.records}


def test_holes_that_face_each_other_through_a_wall_are_no_gap() -> None:
    outer, inner = bodies.ball(10.0), bodies.ball(9.0)
    for ball in (outer, inner):
        ball.update_faces(ball.triangles_center[:, 2] < 0.93 * ball.bounds[1, 2])
    done = mend(damage.as_read(np.concatenate([outer.triangles, inner.triangles[:, ::-1]])), MendRules(largest_mm=30.0))
    assert topology(done.solid).n_skins == 2
    assert {one.what for one in done.records} == {"holes filled"}


def test_a_hole_that_is_too_wide_is_refused_with_its_place_and_the_way_out() -> None:
    ball = bodies.ball(10.0)
    part = damage.as_read(ball.triangles[ball.triangles_center[:, 2] < 4.0])
    with pytest.raises(MeshError, match=r"open edges \(\d+\), one at .* --largest-hole") as told:
        mend(part)
    assert told.value.at_mm is not None
    assert topology(mend(part, MendRules(largest_mm=30.0)).solid).is_closed


def test_a_small_body_with_a_hole_at_either_end_is_mended_and_no_scrap() -> None:
    large, small = bodies.box(20).subdivide().subdivide(), bodies.ball(1.5, (40.0, 0.0, 0.0), fine=2)
    height = small.triangles_center[:, 2]
    left = np.delete(small.triangles, [height.argmax(), height.argmin()], axis=0)
    done = mend(damage.as_read(np.concatenate([large.triangles, left])))
    assert {one.what for one in done.records} == {"holes filled"}
    assert done.solid.volume == pytest.approx(large.volume + small.volume, rel=1e-4)


def test_a_part_that_is_left_inside_out_as_asked_is_refused_with_the_way_out() -> None:
    with pytest.raises(MeshError, match=r"inside-out.*--nested auto") as told:
        mend(bodies.solid(bodies.inward(bodies.box(20))), MendRules(nested="as-is"))
    assert "--redraw" not in str(told.value)
    assert mend(bodies.solid(bodies.inward(bodies.box(20)))).solid.volume == pytest.approx(8000.0)


def test_a_step_that_is_refused_is_not_taken_and_what_is_left_is_told() -> None:
    part = damage.as_read(damage.missing(damage.soup(damage.nested_balls()), np.random.default_rng(1)))
    done = mend(part, MendRules(without=frozenset({"holes", "split"})))
    assert done.records == ()
    assert done.solid is part
    assert [note.what for note in done.left] == ["open edges"]
    with pytest.raises(ParameterError, match="There is no step called sand"):
        MendRules(without=frozenset({"sand"}))


def test_crossing_faces_are_those_that_solving_every_pair_finds() -> None:
    """Each side of a face is cut with the other face by solving three linear equations (LAPACK, through numpy)."""
    one, two = bodies.ball(3.0, fine=1), bodies.turned(bodies.ball(2.0, (2.5, 0.3, 0.2), fine=1), 17.0, (1, 2, 3))
    part = bodies.solid(one, two)
    found = {tuple(sorted(pair)) for pair in crossings(part.vertices, part.faces).tolist()}
    slow = set()
    for i, a in enumerate(one.triangles):
        for j, b in enumerate(two.triangles):
            if _cut(a, b) or _cut(b, a):
                slow.add((i, len(one.faces) + j))
    assert found == slow


def _cut(a: np.ndarray, b: np.ndarray) -> bool:
    """Whether a side of a goes through b: solved as p + s d = b0 + u e + v f."""
    for k in range(3):
        p, d = a[k], a[(k + 1) % 3] - a[k]
        s, u, v = np.linalg.solve(np.stack([-d, b[1] - b[0], b[2] - b[0]], axis=1), p - b[0])
        if 0.0 < s < 1.0 and u > 0.0 and v > 0.0 and u + v < 1.0:
            return True
    return False
