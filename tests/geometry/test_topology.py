"""Skins, Euler numbers and wrong edges, against bodies that are known by hand and against trimesh's own counts."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from ventplanner.errors import MeshError
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.topology import extract_faces, face_neighbours, topology

Mesh = trimesh.Trimesh


def solid_of(*meshes: Mesh, weld: bool = True) -> Solid:
    """One solid of all meshes in turn; vertices at exactly the same place become one."""
    starts = np.cumsum([0] + [len(m.vertices) for m in meshes])
    faces = np.concatenate([m.faces + s for m, s in zip(meshes, starts, strict=False)])
    vertices = np.concatenate([m.vertices for m in meshes])
    if weld:
        vertices, inverse = np.unique(vertices, axis=0, return_inverse=True)
        faces = inverse.reshape(-1)[faces]
    return Solid(vertices, faces.astype(np.int32))


def box(low: tuple[float, float, float], high: tuple[float, float, float]) -> Mesh:
    return trimesh.creation.box(bounds=np.array([low, high], float))


def inward(mesh: Mesh) -> Mesh:
    return Mesh(mesh.vertices, mesh.faces[:, ::-1], process=False)


def with_faces(solid: Solid, faces: NDArray[np.int32]) -> Solid:
    return Solid(solid.vertices, faces)


def moved(x: float, y: float, z: float) -> Mesh:
    return Mesh(UNIT.vertices + np.array([x, y, z]), UNIT.faces, process=False)


UNIT = box((0, 0, 0), (1, 1, 1))
MIRRORED = Mesh(UNIT.vertices * [-1, 1, 1] + [2, 0, 0], UNIT.faces[:, ::-1], process=False)


def test_a_box_is_one_closed_oriented_skin_with_its_volume_area_and_bounds() -> None:
    found = topology(solid_of(box((1, 2, 3), (3, 5, 7))))
    assert found.n_skins == 1
    assert found.is_closed
    assert found.is_oriented
    assert found.euler == 2
    assert found.volume_of_skin == pytest.approx([24.0])
    assert found.area_of_skin == pytest.approx([52.0])
    assert found.bounds_of_skin.tolist() == [[[1, 2, 3], [3, 5, 7]]]


def test_a_torus_has_the_euler_number_nought() -> None:
    assert topology(solid_of(trimesh.creation.torus(5, 2))).euler_of_skin.tolist() == [0]


def test_skins_are_numbered_by_their_first_face_and_an_inward_one_has_a_negative_volume() -> None:
    inner = inward(trimesh.creation.icosphere(subdivisions=3, radius=2))
    outer = box((-5, -5, -5), (5, 5, 5))
    solid = solid_of(inner, outer)
    found = topology(solid)
    assert found.skin_of_face.tolist() == [0] * len(inner.faces) + [1] * 12
    assert found.volume_of_skin == pytest.approx([inner.volume, 1000.0])
    assert found.volume_of_skin[0] < 0
    assert found.faces_of_skin(1).tolist() == list(range(len(inner.faces), len(inner.faces) + 12))
    turned = found.flipped(np.array([True, False]))
    again = topology(solid.flipped(np.array([True, False])[found.skin_of_face]))
    assert turned.volume_of_skin == pytest.approx(again.volume_of_skin)


def test_the_volume_of_a_small_skin_far_from_the_origin_keeps_its_digits() -> None:
    found = topology(solid_of(box((1e6, 1e6, 1e6), (1e6 + 1, 1e6 + 1, 1e6 + 1))))
    assert found.volume_of_skin[0] == pytest.approx(1.0, rel=1e-12)


@pytest.mark.parametrize(
    ("second", "edges", "vertices"),
    # The mirrored box splits the shared face along the same diagonal, which is the fifth edge.
    [(moved(1, 1, 0), 1, 2), (moved(1, 1, 1), 0, 1), (MIRRORED, 5, 4)],
    ids=["along an edge", "at a vertex", "with a face"],
)
def test_two_boxes_that_touch_stay_two_skins(second: Mesh, edges: int, vertices: int) -> None:
    found = topology(solid_of(UNIT, second))
    assert found.skin_of_face.tolist() == [0] * 12 + [1] * 12
    assert found.euler_of_skin.tolist() == [2, 2]
    assert found.volume_of_skin == pytest.approx([1.0, 1.0])
    assert len(found.nonmanifold_edges) == edges
    assert len(found.shared_vertices) == vertices
    assert found.is_closed == (edges == 0)
    assert found.is_oriented
    assert len(found.opposed_faces) == (2 if edges == 5 else 0)
    assert len(found.duplicate_faces) == 0


def test_a_checkered_stack_of_boxes_falls_apart_into_its_boxes() -> None:
    places = [(x, y, z) for x in range(4) for y in range(4) for z in range(4) if (x + y + z) % 2 == 0]
    found = topology(solid_of(*(moved(*p) for p in places)))
    assert found.n_skins == len(places)
    assert (found.euler_of_skin == 2).all()
    assert found.volume_of_skin == pytest.approx(np.ones(len(places)))


def test_a_missing_face_leaves_its_edges_open() -> None:
    solid = solid_of(UNIT)
    found = topology(with_faces(solid, solid.faces[1:]))
    gone = solid.faces[0]
    expected = {tuple(sorted((int(gone[k]), int(gone[k - 1])))) for k in range(3)}
    assert {tuple(e) for e in found.open_edges.tolist()} == expected
    assert not found.is_closed
    assert found.is_oriented
    assert found.euler == 1


def test_one_turned_face_is_told_by_its_three_edges_and_stays_in_its_skin() -> None:
    solid = solid_of(UNIT)
    faces = solid.faces.copy()
    faces[5] = faces[5][::-1]
    found = topology(with_faces(solid, faces))
    assert found.n_skins == 1
    assert len(found.flipped_edges) == 3
    assert not found.is_oriented
    assert found.is_closed
    neighbour, agrees = face_neighbours(with_faces(solid, faces), found.duplicate_faces)
    assert (neighbour >= 0).all()
    assert not agrees[5].any()
    assert agrees.sum() == 36 - 6


def test_a_repeated_face_is_reported_and_changes_nothing_else() -> None:
    solid = solid_of(trimesh.creation.icosphere(subdivisions=2))
    plain = topology(solid)
    turned = np.roll(solid.faces[[7, 3, 7]], 1, axis=1)
    found = topology(with_faces(solid, np.concatenate([solid.faces, turned])))
    n = len(solid.faces)
    assert found.duplicate_faces.tolist() == [n, n + 1, n + 2]
    assert found.skin_of_face.tolist() == [0] * (n + 3)
    assert found.euler == plain.euler
    assert found.volume_of_skin.tolist() == plain.volume_of_skin.tolist()
    assert len(found.nonmanifold_edges) == len(found.flipped_edges) == 0
    assert not found.is_closed


def test_a_face_that_names_a_vertex_twice_is_reported_and_left_out() -> None:
    solid = solid_of(UNIT)
    a, b = solid.faces[4, :2]
    found = topology(with_faces(solid, np.concatenate([[[a, a, b]], solid.faces]).astype(np.int32)))
    assert found.degenerate_faces.tolist() == [0]
    assert found.skin_of_face.tolist() == [0] * 13
    assert found.euler == 2
    assert len(found.open_edges) == 0
    assert not found.is_closed


def test_a_face_with_three_vertices_on_a_line_is_told_but_still_closes_the_skin() -> None:
    solid = solid_of(UNIT)
    a, b, c = solid.faces[0]
    middle = len(solid.vertices)
    vertices = np.concatenate([solid.vertices, [(solid.vertices[a] + solid.vertices[b]) / 2]])
    faces = np.concatenate([[[a, middle, c], [middle, b, c]], solid.faces[1:], [[a, b, middle]]])
    found = topology(Solid(vertices, faces.astype(np.int32)))
    assert found.flat_faces.tolist() == [len(faces) - 1]
    assert found.is_closed
    assert found.euler == 2


def test_unused_vertices_count_nowhere() -> None:
    solid = solid_of(UNIT)
    found = topology(Solid(np.concatenate([[[9, 9, 9]], solid.vertices]), solid.faces + np.int32(1)))
    assert found.euler == 2
    assert found.bounds_of_skin[0, 1].tolist() == [1, 1, 1]


@pytest.mark.parametrize("faces", [np.empty((0, 3)), [[0, 0, 1]]])
def test_a_part_without_a_real_triangle_is_refused(faces: NDArray[np.int32]) -> None:
    with pytest.raises(MeshError, match="no triangles"):
        topology(Solid(np.zeros((2, 3)), np.asarray(faces, np.int32)))


def test_extracted_faces_keep_their_order_and_only_their_vertices() -> None:
    solid = solid_of(UNIT, box((5, 5, 5), (6, 6, 6)))
    part = extract_faces(solid, topology(solid).faces_of_skin(1))
    assert len(part.vertices) == 8
    assert np.array_equal(part.vertices[part.faces], solid.vertices[solid.faces[12:]])


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_a_damaged_soup_has_the_edges_that_a_plain_count_finds(data: st.DataObject) -> None:
    base = solid_of(trimesh.creation.icosphere(subdivisions=1), trimesh.creation.torus(3, 1, 6, 5))
    n = len(base.faces)
    drop = data.draw(st.sets(st.integers(0, n - 1), max_size=8))
    turn = data.draw(st.sets(st.integers(0, n - 1), max_size=8))
    faces = base.faces.copy()
    faces[sorted(turn)] = faces[sorted(turn)][:, ::-1]
    faces = np.delete(faces, sorted(drop), axis=0)
    extra = data.draw(st.lists(st.tuples(*[st.integers(0, len(base.vertices) - 1)] * 3), max_size=4))
    seen = {frozenset(f) for f in faces.tolist()}
    fresh = list({frozenset(e): e for e in extra if len(set(e)) == 3 and frozenset(e) not in seen}.values())
    faces = np.concatenate([faces, np.array(fresh, np.int32).reshape(-1, 3)])
    faces = faces[data.draw(st.permutations(range(len(faces))))]
    found = topology(Solid(base.vertices, faces))

    runs: dict[tuple[int, int], list[bool]] = {}
    for face in faces.tolist():
        for k in range(3):
            a, b = face[k], face[(k + 1) % 3]
            runs.setdefault((min(a, b), max(a, b)), []).append(a < b)
    assert {tuple(e) for e in found.open_edges.tolist()} == {e for e, r in runs.items() if len(r) == 1}
    assert {tuple(e) for e in found.nonmanifold_edges.tolist()} == {e for e, r in runs.items() if len(r) > 2}
    same_way = {e for e, r in runs.items() if len(r) == 2 and r[0] == r[1]}
    assert {tuple(e) for e in found.flipped_edges.tolist()} == same_way
    assert found.is_closed == all(len(r) == 2 for r in runs.values())
    assert found.face_count_of_skin.sum() == len(faces)
    for skin in range(found.n_skins):
        part = extract_faces(Solid(base.vertices, faces), found.faces_of_skin(skin))
        oracle = Mesh(part.vertices, part.faces, process=False)
        assert found.euler_of_skin[skin] == oracle.euler_number
        assert found.area_of_skin[skin] == pytest.approx(oracle.area)
    first = [int(found.faces_of_skin(s)[0]) for s in range(found.n_skins)]
    assert first == sorted(first)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_closed_bodies_in_any_face_order_agree_with_trimesh(seed: int) -> None:
    rng = np.random.default_rng(seed)
    meshes = [
        trimesh.creation.icosphere(subdivisions=int(rng.integers(0, 3)), radius=rng.uniform(1, 2)),
        trimesh.creation.torus(4, 1, int(rng.integers(4, 9)), int(rng.integers(4, 9))),
        trimesh.creation.annulus(1, 2, 3),
    ]
    solid = solid_of(*(m.apply_translation(rng.uniform(-9, 9, 3)) for m in meshes))
    order = rng.permutation(len(solid.faces))
    shuffled = with_faces(solid, solid.faces[order])
    found = topology(shuffled)
    oracle = Mesh(solid.vertices, shuffled.faces, process=False)
    assert found.is_closed
    assert oracle.is_watertight
    assert found.n_skins == oracle.body_count
    assert found.euler == oracle.euler_number
    assert found.volume_of_skin.sum() == pytest.approx(oracle.volume)
    parts = sorted(oracle.split(), key=lambda m: m.volume)
    assert sorted(found.volume_of_skin) == pytest.approx([m.volume for m in parts])
