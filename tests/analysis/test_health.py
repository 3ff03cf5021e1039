"""Each kind of damage is told with its count and its place."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from ventplanner.analysis.findings import analyse
from ventplanner.analysis.health import HealthNote, examine, flipped_faces
from ventplanner.errors import MeshError
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.topology import topology


def ball(subdivisions: int = 2) -> Solid:
    mesh = trimesh.creation.icosphere(subdivisions=subdivisions, radius=5)
    return Solid(mesh.vertices, mesh.faces.astype(np.int32))


def notes(vertices: NDArray[np.float64], faces: NDArray[np.integer]) -> dict[str, HealthNote]:
    solid = Solid(vertices, faces.astype(np.int32))
    return {note.what: note for note in examine(solid, topology(solid))}


def middle(solid: Solid, face: int) -> list[float]:
    return [float(x) for x in solid.vertices[solid.faces[face]].mean(axis=0)]


def turn(faces: NDArray[np.int32], chosen: list[int]) -> NDArray[np.int32]:
    faces = faces.copy()
    faces[chosen] = faces[chosen][:, ::-1]
    return faces


def test_a_sound_part_has_no_notes() -> None:
    solid = ball()
    assert examine(solid, topology(solid)) == ()


def test_a_hole_counts_its_open_edges() -> None:
    solid = ball()
    found = notes(solid.vertices, solid.faces[1:])
    assert set(found) == {"open edges"}
    assert found["open edges"].count == 3
    gap = np.array(middle(solid, 0))
    assert np.linalg.norm(np.array(found["open edges"].at_mm) - gap) < 2


def test_one_turned_face_counts_once_and_is_placed() -> None:
    solid = ball()
    found = notes(solid.vertices, turn(solid.faces, [17]))
    assert set(found) == {"flipped faces"}
    assert found["flipped faces"].count == 1
    assert found["flipped faces"].at_mm == pytest.approx(middle(solid, 17))


def test_repeated_opposed_and_degenerate_faces_are_told_apart() -> None:
    solid = ball()
    a, b, c = solid.faces[4]
    extra = np.array([[b, c, a], [a, a, b]], np.int32)
    found = notes(solid.vertices, np.concatenate([solid.faces, extra]))
    assert {what: note.count for what, note in found.items()} == {"duplicate faces": 1, "degenerate faces": 1}
    assert found["duplicate faces"].at_mm == pytest.approx(middle(solid, 4))
    found = notes(solid.vertices, np.concatenate([solid.faces, [[c, b, a]]]))
    assert found["back-to-back faces"].count == 1
    assert found["non-manifold edges"].count == 3


def test_a_fin_on_an_edge_is_non_manifold_and_open() -> None:
    solid = ball()
    a, b, _ = solid.faces[0]
    vertices = np.concatenate([solid.vertices, [[0, 0, 9]]])
    found = notes(vertices, np.concatenate([solid.faces, [[a, b, len(solid.vertices)]]]))
    assert found["non-manifold edges"].count == 1
    assert found["non-manifold edges"].at_mm == pytest.approx(solid.vertices[[a, b]].mean(axis=0))
    assert found["open edges"].count == 2


def test_an_inside_out_part_is_told() -> None:
    solid = ball()
    found = notes(solid.vertices, solid.faces[:, ::-1])
    assert set(found) == {"inside-out skins"}
    assert found["inside-out skins"].at_mm == pytest.approx((0, 0, 0), abs=1e-9)


def test_a_moebius_band_has_one_side() -> None:
    n = 24
    angle = np.linspace(0, 2 * np.pi, n, endpoint=False)
    rim = np.stack([np.cos(angle), np.sin(angle), 0 * angle], axis=1)
    across = rim * np.cos(angle / 2)[:, None] + np.array([0, 0, 1]) * np.sin(angle / 2)[:, None]
    vertices = np.concatenate([10 * rim + across, 10 * rim - across])
    faces = []
    for k in range(n):
        a, b, c, d = k, (k + 1) % n, k + n, (k + 1) % n + n
        if k == n - 1:
            b, d = d, b
        faces += [[a, b, c], [b, d, c]]
    found = notes(vertices, np.array(faces))
    assert found["one-sided skins"].count == 1
    assert "flipped faces" not in found


def test_two_boxes_at_one_vertex_touch() -> None:
    mesh = trimesh.creation.box((1, 1, 1))
    vertices, inverse = np.unique(np.concatenate([mesh.vertices, mesh.vertices + 1]), axis=0, return_inverse=True)
    faces = inverse.reshape(-1)[np.concatenate([mesh.faces, mesh.faces + 8])]
    found = notes(vertices, faces)
    assert set(found) == {"vertices where skins touch"}
    assert found["vertices where skins touch"].at_mm == pytest.approx((0.5, 0.5, 0.5))


def test_two_faces_back_to_back_have_no_volume() -> None:
    found = notes(np.eye(3), np.array([[0, 1, 2], [0, 2, 1]]))
    assert found["skins without volume"].count == 1


@settings(max_examples=60, deadline=None)
@given(st.sets(st.integers(0, 319), max_size=100), st.sets(st.integers(0, 319), max_size=5))
def test_turned_faces_are_the_smaller_camp_of_each_skin(chosen: set[int], lost: set[int]) -> None:
    solid = ball()
    vertices = np.concatenate([solid.vertices, solid.vertices + 20])
    faces = np.concatenate([turn(solid.faces, sorted(chosen)), solid.faces + len(solid.vertices)])
    faces = np.delete(faces, sorted(lost), axis=0)
    damaged = Solid(vertices, faces)
    found = topology(damaged)
    flipped, one_sided = flipped_faces(damaged, found)
    assert len(one_sided) == 0
    assert set(found.skin_of_face[flipped]) <= {found.skin_of_face[0]} | set(found.skin_of_face[: 320 - len(lost)])
    if found.n_skins == 2:
        kept = [f for f in range(320) if f not in lost]
        assert flipped.tolist() == [k for k, f in enumerate(kept) if f in chosen]
    mended = damaged.flipped(np.isin(np.arange(len(faces)), flipped))
    assert topology(mended).is_oriented


def test_a_part_with_large_holes_is_refused_with_a_place_at_one_of_them() -> None:
    whole = ball(3)
    low = whole.vertices[whole.faces].mean(axis=1)[:, 2] < 0.5 * whole.bounds[1][2]
    with pytest.raises(MeshError, match=r"large holes, one of them at \(") as error:
        analyse(Solid(10 * whole.vertices, whole.faces[low]))
    assert error.value.at_mm is not None
    assert error.value.at_mm[2] == pytest.approx(5 * whole.bounds[1][2], abs=1.0)


def test_damage_that_the_drill_refuses_is_said_by_the_analysis() -> None:
    whole = ball(3)
    doubled = np.vstack((whole.faces, whole.faces[:1]))
    for faces, refused in ((whole.faces[1:], True), (doubled, True), (whole.faces, False)):
        said = " ".join(analyse(Solid(10 * whole.vertices, faces)).notes)
        assert ("cannot be drilled" in said) == refused
