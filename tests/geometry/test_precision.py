"""Vertices at file precision: all distinct, the surface still closed, and nothing that was there before moves."""

from __future__ import annotations

import drill_parts as parts
import numpy as np
import pytest
from drill_parts import ball

from ventplanner.geometry.precision import as_in_file, settle
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.topology import topology
from ventplanner.geometry.weld import weld_points


def assert_settled(vertices, faces, euler):
    found = topology(Solid(vertices, faces))
    assert found.is_closed
    assert found.is_oriented
    assert found.euler == euler
    assert len(weld_points(vertices)[0]) == len(vertices)


@pytest.mark.parametrize("unit", [1.0, 25.4])
def test_settled_vertices_come_back_from_a_file_as_they_are(unit):
    part = parts.hollow_ball(fine=3)
    vertices, faces, stays = settle(part.vertices, part.faces, 0, unit)
    assert stays.all()
    assert np.array_equal(faces, part.faces)
    assert np.array_equal(as_in_file(vertices, unit, single=True), vertices)
    assert np.abs(vertices - part.vertices).max() < 1e-6


def test_only_new_vertices_move():
    part = parts.hollow_ball(fine=3)
    vertices, _, _ = settle(part.vertices, part.faces, 100)
    assert np.array_equal(vertices[:100], part.vertices[:100])
    assert np.array_equal(vertices[100:], part.vertices[100:].astype(np.float32).astype(np.float64))


def test_the_edge_between_two_vertices_that_fall_together_is_collapsed():
    vertices, faces = ball(5.0, fine=2)
    a, b = faces[7, :2]
    vertices = vertices.astype(np.float32).astype(np.float64)
    vertices[b] = vertices[a] + 1e-9
    placed, left, stays = settle(vertices, faces.astype(np.int32), 0)
    assert len(placed) == len(vertices) - 1
    assert np.count_nonzero(~stays) == 2
    assert 7 in np.flatnonzero(~stays)
    assert_settled(placed, left, 2)


def test_vertices_that_fall_together_without_an_edge_are_kept_apart():
    vertices, faces = ball(5.0, fine=2)
    vertices = vertices.astype(np.float32).astype(np.float64)
    far = int(np.argmax(np.linalg.norm(vertices - vertices[0], axis=1)))
    vertices[far] = vertices[0] + 1e-9
    placed, left, stays = settle(vertices, faces.astype(np.int32), 1)
    assert stays.all()
    assert np.array_equal(placed[0], vertices[0])
    assert 0.0 < np.abs(placed[far] - vertices[0]).max() < 1e-6
    assert_settled(placed, left, 2)


def test_an_edge_whose_collapse_would_pinch_the_surface_is_kept():
    # A ring of three: its three edges around the waist bound no face, so collapsing one would close the tube.
    ring = np.array([[1.0, 0.0], [-0.5, 0.8], [-0.5, -0.8]])
    layers = [np.column_stack([ring * size, np.full(3, z)]) for size, z in ((2.0, -2.0), (1.0, 0.0), (2.0, 2.0))]
    vertices = np.vstack([*layers, [[0.0, 0.0, -3.0], [0.0, 0.0, 3.0]]])
    faces = []
    for low, high in ((0, 3), (3, 6)):
        for i in range(3):
            j = (i + 1) % 3
            faces += [(low + i, low + j, high + j), (low + i, high + j, high + i)]
    faces += [(9, (i + 1) % 3, i) for i in range(3)] + [(10, 6 + i, 6 + (i + 1) % 3) for i in range(3)]
    vertices[4] = vertices[3] + 1e-9
    placed, left, stays = settle(vertices, np.array(faces, dtype=np.int32), 0)
    assert stays.all()
    assert_settled(placed, left, 2)


def test_a_crowd_of_vertices_in_one_place_is_sorted_out():
    vertices, faces = ball(5.0, fine=3)
    vertices = vertices.astype(np.float32).astype(np.float64)
    crowd = np.argsort(np.linalg.norm(vertices - vertices[200], axis=1), kind="stable")[:12]
    vertices[crowd] = vertices[200] + np.random.default_rng(1).normal(size=(12, 3)) * 1e-9
    placed, left, _ = settle(vertices, faces.astype(np.int32), 0)
    assert_settled(placed, left, 2)


def test_double_precision_keeps_every_vertex_in_its_place():
    part = parts.hollow_ball(fine=3)
    vertices, faces, stays = settle(part.vertices, part.faces, 0, 1.0, single=False)
    assert stays.all()
    assert vertices.tobytes() == (part.vertices + 0.0).tobytes()
    assert faces.tobytes() == part.faces.tobytes()
