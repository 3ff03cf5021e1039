"""Skins that go through themselves: what they enclose by a winding number of another kind, and what is told of it."""

from __future__ import annotations

from functools import cache

import bodies
import numpy as np
import pytest
import solid_parts as parts
import trimesh
from numpy.typing import NDArray

from ventplanner.geometry.crossings import crossings
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.topology import topology
from ventplanner.mending.mend import Mended, mend
from ventplanner.mending.rules import MendRules

Points = NDArray[np.float64]


def pierced_ball() -> trimesh.Trimesh:
    """A ball whose topmost vertex was pulled down through the bottom."""
    ball = bodies.ball(10.0)
    ball.vertices[np.argmax(ball.vertices[:, 2])] = [1.3, 0.7, -14.0]
    return ball


@cache
def mended_ball() -> Mended:
    return mend(bodies.solid(pierced_ball()))


def lobed() -> trimesh.Trimesh:
    """Five lobes with grooves between."""
    ball = trimesh.creation.icosphere(3, 1.0)
    x, y, z = np.array(ball.vertices).T
    away = 20.0 * (1.0 + 0.5 * np.sin(5.0 * np.arctan2(y, x)) * (1.0 - z * z) ** 2)
    return trimesh.Trimesh(ball.vertices * away[:, None], ball.faces, process=False)


@cache
def moved_inward(wall: float = 4.5) -> tuple[trimesh.Trimesh, trimesh.Trimesh]:
    """A part, and every vertex of it moved along its normal: the hollow that this gives folds over in the grooves."""
    part = lobed()
    return part, trimesh.Trimesh(part.vertices - wall * part.vertex_normals, part.faces, process=False)


def winding(mesh: trimesh.Trimesh, points: Points) -> Points:
    """The sum of solid angles over 4 pi (Jacobson et al. 2013, "Robust inside-outside segmentation using generalized
    winding numbers"; each by van Oosterom & Strackee 1983)."""
    total = np.zeros(len(points))
    for k, point in enumerate(points):
        a, b, c = (mesh.triangles - point).transpose(1, 0, 2)
        la, lb, lc = (np.linalg.norm(x, axis=1) for x in (a, b, c))
        below = la * lb * lc + (a * b).sum(1) * lc + (b * c).sum(1) * la + (c * a).sum(1) * lb
        total[k] = 2.0 * np.arctan2(np.einsum("ij,ij->i", a, np.cross(b, c)), below).sum()
    return total / (4.0 * np.pi)


def in_solid(solid: Solid, points: Points) -> NDArray[np.bool_]:
    return np.asarray(parts.contains(trimesh.Trimesh(solid.vertices, solid.faces, process=False), points))


def corners(mesh: trimesh.Trimesh | Solid) -> set[tuple[bytes, ...]]:
    """Of each face, in whatever order."""
    return {tuple(sorted(corner.tobytes() for corner in face)) for face in np.asarray(mesh.vertices)[mesh.faces]}


def some_points(box: Points, count: int) -> Points:
    low, high = box
    return np.random.default_rng(4).uniform(low, high, (count, 3))


def is_sound(done: Mended) -> bool:
    """By trimesh, and nothing goes through anything."""
    mesh = trimesh.Trimesh(done.solid.vertices, done.solid.faces, process=False)
    return mesh.is_volume and not len(crossings(done.solid.vertices, done.solid.faces)) and done.left == ()


def test_a_hollow_that_folds_over_keeps_all_that_it_winds_around() -> None:
    outer, inner = moved_inward()
    done = mend(bodies.solid(outer, bodies.inward(inner)))
    assert is_sound(done)
    (told,) = done.records
    assert (told.step, told.count) == ("untangle", 1)
    assert told.loss is not None
    assert told.loss.distance_mm < 1.0
    # The outer skin is there to the last bit.
    assert corners(outer) <= corners(done.solid)
    points = some_points(outer.bounds, 500)
    points = points[parts.distance(inner, points) > told.loss.distance_mm]
    void = winding(inner, points) > 0.5
    assert np.array_equal(in_solid(done.solid, points), (winding(outer, points) > 0.5) & ~void)
    assert np.count_nonzero(void) > 20


def test_near_a_place_alone_where_that_is_enough() -> None:
    ball, done = pierced_ball(), mended_ball()
    assert is_sound(done)
    (told,) = done.records
    assert told.what == "skins drawn anew near places where they went through themselves"
    assert len(corners(ball) & corners(done.solid)) > 0.8 * len(ball.faces)
    # The piece that was pulled out below is inside out, and encloses nothing; the channel to it is void.
    points = some_points(np.array([[-3.0, -3.0, -14.0], [3.0, 3.0, 10.0]]), 400)
    assert told.loss is not None
    points = points[parts.distance(ball, points) > told.loss.distance_mm]
    assert np.array_equal(in_solid(done.solid, points), winding(ball, points) > 0.5)


def test_the_loss_that_is_told_is_the_one_there_is() -> None:
    """By VTK's closest points."""
    ball, done = pierced_ball(), mended_ball()
    (told,) = done.records
    assert told.loss is not None
    mesh = trimesh.Trimesh(done.solid.vertices, done.solid.faces, process=False)
    assert parts.distance(ball, np.asarray(mesh.vertices)).max() <= told.loss.distance_mm + 1e-9
    assert told.loss.distance_mm < 0.2
    assert abs(told.loss.volume_mm3) < 1e-4 * ball.volume


def test_what_a_cavity_gains_the_part_loses() -> None:
    """The same skin as that of a body, and as that of a cavity in a larger one."""
    (as_body,) = mended_ball().records
    (as_cavity,) = mend(bodies.solid(bodies.box(60), bodies.inward(pierced_ball()))).records
    assert as_body.loss is not None
    assert as_cavity.loss is not None
    assert as_body.loss.volume_mm3
    assert as_cavity.loss.volume_mm3 == pytest.approx(-as_body.loss.volume_mm3, rel=1e-9)


def test_a_body_and_a_cavity_that_both_go_through_themselves_are_worked_out_and_united() -> None:
    outer, inner = pierced_ball(), pierced_ball()
    inner.apply_scale(0.6)
    inner.apply_translation([2.0, 1.0, 0.5])
    done = mend(bodies.solid(outer, bodies.inward(inner), bodies.ball(4.0, (9.0, 0.0, 0.0))))
    assert is_sound(done)
    assert {one.step for one in done.records} == {"untangle", "unite"}
    assert topology(done.solid).is_closed


def test_a_tangled_skin_stays_where_the_step_is_refused_and_is_told() -> None:
    part = bodies.solid(pierced_ball())
    done = mend(part, MendRules(without=frozenset({"untangle"})))
    assert [note.what for note in done.left] == ["faces that go through their own skin"]
    assert done.records == ()
    assert done.solid is part


@pytest.mark.parametrize("seed", range(3))
def test_noise_that_tangles_a_skin_all_over_leaves_a_sound_cavity(seed: int) -> None:
    rng = np.random.default_rng(seed)
    inner = bodies.ball(6.0, fine=3)
    inner.vertices += rng.normal(0.0, 0.25, inner.vertices.shape)
    done = mend(bodies.solid(bodies.ball(10.0, fine=3), bodies.inward(inner)))
    assert is_sound(done)
    found = topology(done.solid)
    assert (found.volume_of_skin < 0).sum() == 1
    assert -found.volume_of_skin.min() == pytest.approx(inner.volume, rel=0.01)
