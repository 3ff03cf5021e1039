"""The foreign mesh of the tests: what the tests that use it rely on."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from open_meshes import cow, hollow_cow
from scipy.spatial import cKDTree


def test_cow_is_closed_and_of_the_asked_length() -> None:
    vertices, faces = cow()
    mesh = trimesh.Trimesh(vertices, faces, process=False)
    assert mesh.is_watertight
    assert mesh.volume > 0
    assert len(faces) == 5856
    assert np.ptp(vertices[:, 1]) == pytest.approx(60.0)
    assert vertices[:, 2].min() == pytest.approx(0.0)


def test_hollow_cow_has_one_inner_skin_a_wall_inside_the_outer_one() -> None:
    vertices, faces = hollow_cow()
    outer, inner = trimesh.Trimesh(vertices, faces, process=False).split(only_watertight=False)
    assert outer.is_watertight
    assert inner.is_watertight
    assert outer.volume > 0 > inner.volume
    wall, _ = cKDTree(outer.subdivide_to_size(0.4).vertices).query(inner.vertices)
    assert np.median(wall) == pytest.approx(2.5, abs=0.1)
    assert wall.min() > 2.0
