"""Skins that nothing closes, drawn anew by consent: against the whole part, and against sums of solid angles.

Volumes and closedness are trimesh's, distances those of VTK.
"""

from __future__ import annotations

import bodies
import damage
import numpy as np
import pytest
import solid_parts as parts
import trimesh
from numpy.typing import NDArray

from ventplanner.errors import MeshError
from ventplanner.geometry.closest import Nearest
from ventplanner.geometry.crossings import crossings
from ventplanner.geometry.solid import Body, Solid
from ventplanner.geometry.solid_angle import CLOSER, SolidAngles
from ventplanner.mending.mend import Mended, mend
from ventplanner.mending.rules import MendRules

Soup = NDArray[np.float64]
LAST = MendRules(redraw=True)

OUTER = bodies.ball(12.0, fine=3)
CAVITY = bodies.inward(bodies.ball(10.0, fine=3))
LOOSE = bodies.ball(4.0, fine=2)
VOLUMES = [round(mesh.volume, 6) for mesh in (CAVITY, LOOSE, OUTER)]


def hollow_ball() -> Soup:
    """A ball with a cavity, in which another one lies loose."""
    return np.concatenate([OUTER.triangles, CAVITY.triangles, LOOSE.triangles])


def shrunk(triangles: Soup, by: float = 0.03) -> Soup:
    """Every triangle by itself: no two share a corner any more."""
    middle = triangles.mean(axis=1, keepdims=True)
    return middle + (1.0 - by) * (triangles - middle)


def volumes(done: Mended) -> list[float]:
    """Of each skin; nothing goes through anything."""
    mesh = trimesh.Trimesh(done.solid.vertices, done.solid.faces, process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert not len(crossings(done.solid.vertices, done.solid.faces, 0.002))
    return sorted(float(one.volume) for one in mesh.split(only_watertight=False))


def test_the_winding_number_of_an_open_mesh_is_the_sum_of_solid_angles() -> None:
    """Each by van Oosterom & Strackee 1983."""
    open_ball = OUTER.triangles[OUTER.triangles_center[:, 2] < 5.0]
    points = np.random.default_rng(1).uniform(-13.0, 13.0, (300, 3))
    slow = np.zeros(len(points))
    for k, point in enumerate(points):
        a, b, c = (open_ball - point).transpose(1, 0, 2)
        la, lb, lc = (np.linalg.norm(x, axis=1) for x in (a, b, c))
        below = la * lb * lc + (a * b).sum(1) * lc + (b * c).sum(1) * la + (c * a).sum(1) * lb
        slow[k] = np.arctan2(np.einsum("ij,ij->i", a, np.cross(b, c)), below).sum() / (2.0 * np.pi)
    faces = np.arange(3 * len(open_ball), dtype=np.int32).reshape(-1, 3)
    angles = SolidAngles.of(Nearest.of(open_ball.reshape(-1, 3), faces))
    assert np.abs(angles.at(points) - slow).max() < 0.06
    assert np.abs(angles.at(points, CLOSER) - slow).max() < 0.015
    assert np.abs(angles.at(points, 1e9) - slow).max() < 1e-9


def test_loose_triangles_that_are_wound_at_random_become_the_part_with_its_cavity() -> None:
    triangles = shrunk(hollow_ball())
    over = np.random.default_rng(2).random(len(triangles)) < 0.5
    triangles[over] = triangles[over][:, ::-1]
    part = damage.as_read(triangles)
    with pytest.raises(MeshError, match="--redraw"):
        mend(part)
    done = mend(part, LAST)
    assert volumes(done) == pytest.approx(VOLUMES, rel=5e-3)
    assert done.left == ()


def test_a_wide_gap_over_a_whole_cavity_is_spanned_outside_of_it() -> None:
    """The rim lies lower than the cavity reaches, so a taut skin would go through it."""
    kept = np.linalg.norm(OUTER.triangles_center - [0.0, 0.0, 12.0], axis=1) > 9.0
    part = damage.as_read(np.concatenate([OUTER.triangles[kept], CAVITY.triangles, LOOSE.triangles]))
    done = mend(part, LAST)
    assert volumes(done) == pytest.approx(VOLUMES, rel=0.02)
    # The cavity and what lies in it stay to the last bit.
    old = {one.tobytes() for one in np.concatenate([CAVITY.triangles, LOOSE.triangles])}
    new = {one.tobytes() for one in done.solid.vertices[done.solid.faces]}
    assert old <= new


def test_a_torn_cavity_stays_a_cavity_and_the_loss_that_is_told_is_the_one_there_is() -> None:
    kept = np.linalg.norm(CAVITY.triangles_center - [0.0, 0.0, 10.0], axis=1) > 6.0
    triangles = np.concatenate([OUTER.triangles, CAVITY.triangles[kept]])
    done = mend(damage.as_read(triangles), LAST)
    (told,) = [one for one in done.records if one.step == "redraw"]
    assert told.loss is not None
    assert told.loss.detail_mm is not None
    cavity, outer = volumes(done)
    assert outer == pytest.approx(OUTER.volume, rel=1e-9)
    # A gap that is spanned tautly: the cap below its plane is what the cavity lost; h = 6^2 / 20.
    height = 1.8
    cap = np.pi * height**2 * (30.0 - height) / 3.0
    assert -cavity == pytest.approx(-CAVITY.volume - cap, rel=0.02)
    assert cap < 2.0 * told.loss.doubt_mm3
    # Both ways, but for the outer skin.
    old = trimesh.Trimesh(CAVITY.triangles[kept].reshape(-1, 3), np.arange(3 * kept.sum()).reshape(-1, 3))
    mesh = trimesh.Trimesh(done.solid.vertices, done.solid.faces, process=False)
    inner = min(mesh.split(only_watertight=False), key=lambda one: one.volume)
    assert parts.distance(old, np.asarray(inner.vertices)).max() <= told.loss.distance_mm + 1e-9
    assert parts.distance(inner, np.asarray(old.vertices)).max() <= told.loss.distance_mm + 1e-9
    # Away from the gap the new skin lies on the old one.
    away = np.asarray(inner.vertices)[inner.vertices[:, 2] < 7.5]
    assert parts.distance(old, away).max() < 0.1 * told.loss.detail_mm


def test_a_box_without_a_side_is_spanned_plane() -> None:
    box = bodies.box(20).subdivide().subdivide()
    done = mend(damage.as_read(np.array(box.triangles[box.triangles_center[:, 2] < 9.99])), LAST)
    assert volumes(done) == pytest.approx([8000.0], rel=2e-3)
    # Where it is flat its faces are large.
    assert len(done.solid.faces) < 5000


def test_a_sheet_has_no_inside_and_is_refused_with_its_place() -> None:
    grid = trimesh.creation.box((20, 20, 1)).subdivide().subdivide().subdivide()
    sheet = grid.triangles[grid.triangles_center[:, 2] > 0.49].copy()
    sheet[..., 2] += np.sin(sheet[..., 0] / 5.0)
    part = damage.as_read(np.concatenate([sheet, bodies.ball(5.0, (0, 0, 20)).triangles]))
    with pytest.raises(MeshError, match=r"The open skin at .* has no inside") as told:
        mend(part, LAST)
    assert told.value.at_mm is not None


def test_a_band_with_one_side_only_is_refused() -> None:
    """A Moebius band encloses nothing."""
    turn = np.linspace(0.0, 2.0 * np.pi, 61)
    edge = [np.stack([(10 + s * np.cos(turn / 2)) * np.cos(turn), (10 + s * np.cos(turn / 2)) * np.sin(turn),
                      s * np.sin(turn / 2)], axis=1) for s in (-3.0, 3.0)]  # fmt: skip
    edge[0][-1], edge[1][-1] = edge[1][0], edge[0][0]
    a, b = edge
    band = np.concatenate([np.stack([a[:-1], b[:-1], b[1:]], axis=1), np.stack([a[:-1], b[1:], a[1:]], axis=1)])
    with pytest.raises(MeshError, match="one side only"):
        mend(damage.as_read(band))
    with pytest.raises(MeshError, match="no inside"):
        mend(damage.as_read(band), LAST)


def test_what_can_be_closed_is_not_drawn_anew() -> None:
    part = damage.as_read(damage.missing(hollow_ball(), np.random.default_rng(3)))
    usual, last = mend(part), mend(part, LAST)
    assert usual.records == last.records
    assert np.array_equal(usual.solid.faces, last.solid.faces)


def test_bodies_keep_their_names() -> None:
    one, other = bodies.ball(5.0, (-8, 0, 0)), bodies.ball(5.0, (8, 0, 0))
    soups = [shrunk(one.triangles, 0.1), shrunk(other.triangles, 0.1)]
    part = damage.as_read(np.concatenate(soups))
    named = Solid(part.vertices, part.faces, tuple(named_bodies(len(soups[0]), len(part.faces))))
    done = mend(named, LAST)
    assert [body.name for body in done.solid.bodies] == ["left", "right"]
    for body, sign in zip(done.solid.bodies, (-1.0, 1.0), strict=True):
        assert (sign * done.solid.vertices[done.solid.faces[body.start : body.stop], 0] > 0.0).all()


def named_bodies(first: int, count: int) -> list[Body]:
    return [Body("left", 0, first), Body("right", first, count)]
