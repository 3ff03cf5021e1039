"""The round tool: closed, outward, of the area of the true circle, and the same every time."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st

from ventplanner.errors import ParameterError
from ventplanner.geometry.cylinder import CHORD_MM, across, cylinder, segments_for

coordinate = st.floats(-50, 50)
point = st.tuples(coordinate, coordinate, coordinate)


@given(point, point, st.floats(0.05, 5.0))
def test_a_tool_is_closed_and_has_the_volume_of_the_true_cylinder(start, end, radius):
    length = math.dist(start, end)
    if length < 0.1:
        return
    vertices, faces = cylinder(start, end, radius)
    mesh = trimesh.Trimesh(vertices, faces, process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.euler_number == 2
    assert mesh.volume == pytest.approx(math.pi * radius**2 * length, rel=1e-9)


@pytest.mark.parametrize("radius", [0.5, 1.0, 1.25, 2.5, 4.0])
def test_the_sides_stay_within_the_chord_tolerance_of_the_circle(radius):
    vertices, faces = cylinder((0, 0, 0), (0, 0, 4), radius)
    sides = vertices[faces[: 2 * segments_for(radius)]]
    middles = 0.5 * (sides + np.roll(sides, 1, axis=1)).reshape(-1, 3)
    distance = np.linalg.norm(np.vstack([vertices[:-2], middles])[:, :2], axis=1)
    assert np.abs(distance - radius).max() <= CHORD_MM


def test_the_number_of_sides_is_even_and_grows_with_the_radius_within_limits():
    counts = [segments_for(r) for r in np.geomspace(1e-3, 1e3, 200)]
    assert counts == sorted(counts)
    assert all(n % 2 == 0 and 24 <= n <= 96 for n in counts)
    assert counts[0] == 24
    assert counts[-1] == 96


def test_the_same_tool_has_the_same_bits():
    first, second = (cylinder((1.0, 2.0, 3.0), (2.0, 5.0, -1.0), 1.25) for _ in range(2))
    assert first[0].tobytes() == second[0].tobytes()
    assert first[1].tobytes() == second[1].tobytes()


@given(st.tuples(st.floats(-1, 1), st.floats(-1, 1), st.floats(-1, 1)))
def test_the_frame_is_right_handed_for_every_axis(axis):
    length = math.hypot(*axis)
    if length < 1e-3:
        return
    w = np.array(axis) / length
    u, v = across(w)
    np.testing.assert_allclose(np.array([u, v, w]) @ np.array([u, v, w]).T, np.eye(3), atol=1e-12)
    np.testing.assert_allclose(np.cross(u, v), w, atol=1e-12)


@pytest.mark.parametrize(("end", "radius"), [((0, 0, 0), 1.0), ((0, 0, 1), 0.0), ((0, 0, math.nan), 1.0)])
def test_a_tool_without_length_or_radius_is_an_error(end, radius):
    with pytest.raises(ParameterError):
        cylinder((0, 0, 0), end, radius)
