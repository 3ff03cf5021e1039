"""Lines of sight through a mesh: what a ray meets first, against formulas and against every face in turn."""

from __future__ import annotations

import bodies
import numpy as np
import trimesh

from ventplanner.geometry.rays import Target, first_hits
from ventplanner.geometry.sight import Sight


def sight_of(mesh: trimesh.Trimesh) -> Sight:
    return Sight.of(Target.of(np.asarray(mesh.vertices, dtype=float), np.asarray(mesh.faces, dtype=np.int32)))


def unit(vectors: np.ndarray) -> np.ndarray:
    return vectors / np.linalg.norm(vectors, axis=1)[:, None]


def test_a_ray_from_the_middle_of_a_box_ends_at_its_side() -> None:
    sight = sight_of(bodies.box((10.0, 20.0, 30.0)))
    along, _ = sight.first(np.zeros((3, 3)), np.eye(3))
    assert np.allclose(along, [5.0, 10.0, 15.0])


def test_nothing_is_met_beyond_the_reach_or_away_from_the_part() -> None:
    sight = sight_of(bodies.box(10.0))
    outside = np.array([[20.0, 0.0, 0.0]] * 3)
    along, met = sight.first(outside, np.array([[-1.0, 0, 0], [-1.0, 0, 0], [1.0, 0, 0]]), np.array([14.9, 15.1, 99.0]))
    assert np.isinf(along[[0, 2]]).all()
    assert (met[[0, 2]] == -1).all()
    assert np.isclose(along[1], 15.0)
    assert met[1] >= 0


def test_a_ray_does_not_meet_the_skin_that_it_starts_on() -> None:
    sight = sight_of(bodies.box(10.0))
    along, _ = sight.first(np.array([[5.0, 1.0, 2.0]]), np.array([[1.0, 0.0, 0.0]]))
    assert np.isinf(along[0])


def test_the_face_is_the_one_that_a_search_of_all_faces_finds() -> None:
    mesh = bodies.cut(bodies.ball(10.0, fine=3), bodies.box((6.0, 6.0, 30.0)), bodies.rod((-20, 3, 1), (20, 3, 1), 2.0))
    corners = np.asarray(mesh.vertices)[np.asarray(mesh.faces)]
    rng = np.random.default_rng(4)
    sight = sight_of(mesh)
    for origin in rng.uniform(-12, 12, (12, 3)):
        directions = unit(rng.normal(size=(60, 3)))
        along, met = sight.first(np.tile(origin, (60, 1)), directions)
        expected = first_hits(corners, origin, directions)
        assert np.array_equal(met, expected)
        hit = met >= 0
        points = origin + along[hit, None] * directions[hit]
        a, b, c = (corners[met[hit], k] for k in range(3))
        off = ((points - a) * unit(np.cross(b - a, c - a))).sum(axis=1)
        assert np.abs(off).max(initial=0.0) < 1e-9
