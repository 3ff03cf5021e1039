"""Rays through parts and distances of segments, against trimesh's ray-triangle test and brute force."""

from __future__ import annotations

import bodies as b
import numpy as np
import pytest
import trimesh
import vent_oracle as oracle
from hypothesis import given
from hypothesis import strategies as st
from trimesh.ray.ray_triangle import ray_triangle_id

from ventplanner.geometry.rays import Target, first_hits, material_along, square_to
from ventplanner.geometry.solid import Solid
from ventplanner.plan.spacing import segment_distance

PARTS = {
    "hollow box": b.solid(b.box(20), b.inward(b.box(16))),
    "hollow ball": b.solid(b.ball(15, fine=3), b.inward(b.ball(12, fine=3))),
    "overlapping balls": b.solid(b.ball(9, (-4, 0, 0), 3), b.ball(9, (4, 0, 0), 3), b.ball(2, (0, 0, 0), 2)),
    "cut and joined": b.solid(b.cut(b.union(b.box(20), b.ball(8, (10, 0, 0), 3)), b.rod((0, 0, -20), (0, 0, 20), 3))),
}


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("name", PARTS)
def test_stretches_of_material_are_those_of_single_rays(name: str, seed: int) -> None:
    part, rng = PARTS[name], np.random.default_rng(seed)
    direction = rng.standard_normal(3)
    direction /= np.linalg.norm(direction)
    offsets = rng.uniform(-12, 12, (12, 2))
    # More than a block of faces, and a place aside: what bounds the blocks must not lose any.
    origin = rng.uniform(-3, 3, 3) - 60 * direction
    found = material_along(Target.of(part.vertices, part.faces), origin, direction, offsets)
    across = square_to(direction)
    for ray, offset in enumerate(offsets):
        start = origin + offset @ across
        # The product keeps a micrometre off, the oracle 14 nm: skins at a slant differ by no more.
        expected = oracle.stretches(part, start, start + 120 * direction)
        assert found.of(ray) == [pytest.approx(s, abs=1e-3) for s in expected]


def test_the_faces_at_both_ends_of_a_stretch_are_named() -> None:
    part = PARTS["hollow box"]
    found = material_along(
        Target.of(part.vertices, part.faces), np.array([1.0, 2.0, -30]), np.array([0.0, 0, 1]), ORIGIN
    )
    for begin, end, face_in, face_out in zip(found.begin, found.end, found.face_in, found.face_out, strict=True):
        assert part.vertices[part.faces[face_in]][:, 2] == pytest.approx(begin - 30)
        assert part.vertices[part.faces[face_out]][:, 2] == pytest.approx(end - 30)
    assert found.begin == pytest.approx([20, 38])
    assert found.end == pytest.approx([22, 40])


ORIGIN = np.zeros((1, 2))


@pytest.mark.parametrize("axis", range(3))
def test_rays_along_edges_and_through_corners_of_a_box_count_it_once(axis: int) -> None:
    part = PARTS["hollow box"]
    direction = np.eye(3)[axis]
    offsets = np.array([(u, v) for u in (-10, -8, 0, 8) for v in (-10, -8, 0, 8)], dtype=float)
    found = material_along(Target.of(part.vertices, part.faces), -30 * direction, direction, offsets)
    for ray, (u, v) in enumerate(offsets):
        lengths = sum(end - begin for begin, end in found.of(ray))
        outside = max(abs(u), abs(v)) >= 10
        # On a skin itself a ray may fall to either side of it, but never in between.
        allowed = (0, 20) if outside else (20, 4) if max(abs(u), abs(v)) >= 8 else (4,)
        assert min(abs(lengths - a) for a in allowed) < 1e-9


@given(seed=st.integers(0, 2**31))
def test_first_hits_are_the_nearest_of_all_hits(seed: int) -> None:
    rng = np.random.default_rng(seed)
    corners = rng.uniform(-5, 5, (30, 3, 3))
    origin = rng.uniform(-2, 2, 3)
    directions = oracle.sphere(20)
    found = first_hits(corners, origin, directions)

    class AllFaces:
        bounds = np.array([-9.0, -9, -9, 9, 9, 9])

        def intersection(self, _bounds: object) -> range:
            return range(len(corners))

    face, ray, places = ray_triangle_id(corners, np.tile(origin, (20, 1)), directions, tree=AllFaces())
    away = np.linalg.norm(places - origin, axis=1) if len(face) else np.empty(0)
    for k in range(20):
        mine = ray == k
        assert found[k] == (face[mine][np.argmin(away[mine])] if mine.any() else -1)


def test_nothing_is_hit_behind_or_beside() -> None:
    wall = np.array([[[0.0, -1, -1], [0, 1, -1], [0, 0, 1]]])
    assert first_hits(wall, np.array([-1.0, 0, 0]), np.array([[1.0, 0, 0], [-1, 0, 0], [0, 1, 0]])).tolist() == [
        0,
        -1,
        -1,
    ]
    assert first_hits(np.empty((0, 3, 3)), np.zeros(3), np.eye(3)).tolist() == [-1, -1, -1]


@given(
    direction=st.tuples(*(st.floats(-1, 1),) * 3).filter(lambda d: np.linalg.norm(d) > 1e-3),
)
def test_the_frame_across_a_direction_is_right_handed(direction: tuple[float, float, float]) -> None:
    unit = np.array(direction) / np.linalg.norm(direction)
    frame = np.vstack((square_to(unit), unit))
    np.testing.assert_allclose(frame @ frame.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(frame) == pytest.approx(1.0)


def brute_distance(a: np.ndarray, b_: np.ndarray, c: np.ndarray, d: np.ndarray) -> float:
    """The least of the distances to a segment from many points of the other, both ways round."""
    t = np.linspace(0, 1, 4001)[:, None]

    def to_segment(p: np.ndarray, q: np.ndarray, r: np.ndarray) -> float:
        way = r - q
        s = np.clip((p - q) @ way / (way @ way), 0, 1)[:, None]
        return float(np.linalg.norm(p - q - s * way, axis=1).min())

    return min(to_segment(a + t * (b_ - a), c, d), to_segment(c + t * (d - c), a, b_))


@given(seed=st.integers(0, 2**31), kind=st.sampled_from(["any", "parallel", "in line", "meeting", "short"]))
def test_the_distance_of_segments_is_the_least_of_all_their_points(seed: int, kind: str) -> None:
    rng = np.random.default_rng(seed)
    a, b_, c, d = rng.uniform(-5, 5, (4, 3))
    if kind == "parallel":
        d = c + rng.uniform(-2, 2) * (b_ - a)
    elif kind == "in line":
        c = a + rng.uniform(-2, 2) * (b_ - a)
        d = c + rng.uniform(0.1, 2) * (b_ - a)
    elif kind == "meeting":
        c = a + rng.random() * (b_ - a) + 0.0 * c
    elif kind == "short":
        d = c + 1e-3 * (d - c)
    expected = brute_distance(a, b_, c, d)
    assert segment_distance(a, b_, c, d) == pytest.approx(expected, abs=3e-3)
    assert segment_distance(d, c, a, b_) == pytest.approx(segment_distance(a, b_, c, d), abs=1e-9)


def test_two_parts_of_a_block_of_faces_are_both_met() -> None:
    many = trimesh.creation.icosphere(subdivisions=4, radius=5.0)
    far = many.copy()
    far.apply_translation((0, 0, 40))
    part: Solid = b.solid(many, far)
    found = material_along(
        Target.of(part.vertices, part.faces), np.array([0.3, 0.2, -20]), np.array([0.0, 0, 1]), ORIGIN
    )
    assert found.begin == pytest.approx([15, 55], abs=0.05)


@given(seed=st.integers(0, 2**31))
def test_the_order_of_the_faces_in_the_file_changes_only_their_numbers(seed: int) -> None:
    rng = np.random.default_rng(seed)
    part = b.solid(b.box(20.0), b.inward(b.ball(7.0, (1, 0, -1), 3)))
    shuffled = rng.permutation(len(part.faces))
    one, other = Target.of(part.vertices, part.faces), Target.of(part.vertices, part.faces[shuffled])
    assert sorted(one.number.tolist()) == list(range(len(part.faces)))
    direction = rng.standard_normal(3)
    direction /= np.linalg.norm(direction)
    origin, offsets = rng.uniform(-5, 5, 3) - 30 * direction, rng.uniform(-8, 8, (20, 2))
    mine, theirs = (material_along(t, origin, direction, offsets) for t in (one, other))
    np.testing.assert_array_equal(mine.ray, theirs.ray)
    np.testing.assert_array_equal(mine.begin, theirs.begin)
    np.testing.assert_array_equal(mine.face_in, shuffled[theirs.face_in])
    np.testing.assert_array_equal(mine.face_out, shuffled[theirs.face_out])
    low = rng.uniform(-10, 5, 3)
    assert one.near(low, low + 5).tolist() == sorted(shuffled[other.near(low, low + 5)].tolist())
