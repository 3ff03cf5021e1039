"""Directions over the sphere, and the places a part can stand on."""

from __future__ import annotations

import bodies
import numpy as np
import pytest
from scipy.spatial import SphericalVoronoi

from ventplanner.geometry.solid import Solid
from ventplanner.orienting.directions import all_over, around, rests, spacing_deg


def places(part: Solid) -> dict[tuple[int, ...], float]:
    """Area of each place that a part can stand on, by its direction times ten; the centre of mass is the mesh's own."""
    middle = bodies.trimesh.Trimesh(part.vertices, part.faces).center_mass
    found = rests(part.vertices, part.faces, middle)
    return {tuple(int(x) for x in np.round(10.0 * np.asarray(r.to_plate))): r.area for r in found}


def test_directions_are_even_by_the_areas_of_their_voronoi_cells() -> None:
    """Oracle: scipy's spherical Voronoi cells."""
    area = SphericalVoronoi(all_over(320)).calculate_areas()
    assert area.min() > 0.9 * area.mean()
    assert area[10:-10].max() < 1.1 * area.mean()  # at the two ends of the spiral the cells are a little larger
    near = np.sort(all_over(320) @ all_over(320).T, axis=1)[:, -2]
    assert np.degrees(np.arccos(near)).mean() == pytest.approx(spacing_deg(320), rel=0.15)


def test_a_ring_lies_at_its_angle() -> None:
    centre = np.array([[0.6, 0.0, 0.8]])
    np.testing.assert_allclose(around(centre, 7.0) @ centre[0], np.cos(np.radians(7.0)), atol=1e-12)


def test_a_box_stands_on_its_six_sides() -> None:
    part = bodies.solid(bodies.block((0, 0, 0), (10, 20, 30)))
    want = {(10, 0, 0): 600.0, (0, 10, 0): 300.0, (0, 0, 10): 200.0}
    assert places(part) == pytest.approx(want | {tuple(-x for x in k): v for k, v in want.items()})


def test_feet_count_with_their_own_area_and_what_would_fall_over_is_left_out() -> None:
    feet = [bodies.block((x, y, -5), (x + 4, y + 4, 1)) for x in (0, 26) for y in (0, 26)]
    table = bodies.solid(bodies.union(bodies.block((0, 0, 0), (30, 30, 3)), *feet))
    assert places(table)[0, 0, -10] == pytest.approx(64.0)
    # A weight far beside the foot: its middle is not above it.
    leaning = bodies.union(bodies.block((0, 0, 0), (6, 6, 20)), bodies.block((0, 0, 15), (60, 6, 25)))
    assert (0, 0, -10) not in places(bodies.solid(leaning))
    assert places(bodies.solid(bodies.ball(10.0))) == {}
