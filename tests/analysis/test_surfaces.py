"""The faces that bound each cavity, its bounds, and the runs and columns of each cup."""

from __future__ import annotations

import numpy as np
import pytest
from bodies import ball, block, box, cut, inward, rod, solid, union

from ventplanner.analysis.cavities import Cavity
from ventplanner.analysis.findings import Findings, analyse


def corners(found: Findings, cavity: Cavity) -> np.ndarray:
    return found.part.vertices[found.part.faces[cavity.faces].ravel()]


def test_a_cavity_between_two_bodies_has_only_the_faces_that_look_into_it() -> None:
    tray = cut(box(20.0), block((-8, -8, -8), (8, 8, 20)))
    found = analyse(solid(tray, block((-9.5, -9.5, 7), (9.5, 9.5, 9.5))))
    cavity = found.cavities[0]
    assert cavity.kind == "sealed"
    # The faces of the tray's walls reach up to its rim, behind the lid, and the lid's into the walls.
    np.testing.assert_allclose(cavity.bounds[0], [-9.5, -9.5, -8])
    np.testing.assert_allclose(cavity.bounds[1][:2], [9.5, 9.5])
    assert cavity.bounds[1][2] == pytest.approx(10.0)
    normals = np.cross(*(np.diff(found.part.vertices[found.part.faces[cavity.faces]], axis=1).transpose(1, 0, 2)))
    middles = corners(found, cavity).reshape(-1, 3, 3).mean(axis=1)
    assert (np.einsum("ij,ij->i", normals, middles - [0, 0, -0.5]) < 0).all()


def test_every_cavity_of_many_has_its_own_faces() -> None:
    body = block((0, 0, 0), (60, 20, 20))
    hollows = [block((2 + 14 * k, 2, 2), (14 + 14 * k, 18, 18)) for k in range(4)]
    bores = [rod((8 + 14 * k, 10, -5), (8 + 14 * k, 10, 10), 1.5) for k in range(2)]
    bowl = block((58, 5, 10), (70, 15, 15))
    opened = cut(body, union(hollows[0], bores[0]), union(hollows[1], bores[1]), hollows[2], hollows[3], bowl)
    found = analyse(solid(opened))
    by_place = sorted(found.cavities, key=lambda c: c.bounds[0][0])
    assert [c.kind for c in by_place[:4]] == ["chamber", "chamber", "sealed", "sealed"]
    for cavity, hollow in zip(by_place, hollows, strict=False):
        inner = corners(found, cavity)
        assert (inner[:, 0] >= hollow.bounds[0][0] - 1e-5).all()
        assert (inner[:, 0] <= hollow.bounds[1][0] + 1e-5).all()
        np.testing.assert_allclose(cavity.bounds[1], hollow.bounds[1], atol=1e-5)
    taken = np.concatenate([c.faces for c in found.cavities])
    assert len(np.unique(taken)) == len(taken)
    for cavity in found.cavities:
        np.testing.assert_array_equal(found.surface(cavity.id), np.unique(cavity.faces))


def test_a_ball_that_floats_in_a_hollow_belongs_to_it() -> None:
    found = analyse(solid(box(20.0), inward(box(16.0)), ball(3.0)))
    (cavity,) = found.cavities
    skins = found.scene.topology.skin_of_face[cavity.faces]
    assert len(np.unique(skins)) == 2
    np.testing.assert_allclose(cavity.bounds, [[-8, -8, -8], [8, 8, 8]])


def test_runs_and_columns_of_a_cup_are_those_its_space_is_made_of() -> None:
    lobes = cut(box(30.0), block((-12, -12, 2), (12, 12, 20)), ball(5.0, (-6, 0, 0)), ball(5.0, (7, 0, -2)))
    found = analyse(solid(lobes))
    cups = found.cups
    assert len(cups.cups) == 2
    grid, runs = cups.tree.runs.grid, cups.tree.runs
    columns = np.arange(grid.n_columns)
    x, y = grid.centres(columns)
    for number, cup in enumerate(cups.cups):
        own = cups.runs_of(number)
        branches = cups.tree.branch_of_run[own]
        assert (cups.cup_of_branch[branches] == number).all()
        assert len(own) == np.count_nonzero(
            cups.cup_of_branch[cups.tree.branch_of_run[cups.tree.enclosed_runs]] == number
        )
        may_reach = cups.columns_of(number)
        assert np.isin(runs.column_of_run[own], may_reach).all()
        for share in (0.01, 0.3, 0.7, 0.99):
            z = cup.from_height + share * (cup.top_height - cup.from_height)
            inside = cups.cup_at(np.stack((x, y, np.full(len(x), z)), axis=1)) == number
            assert np.isin(columns[inside], may_reach).all()
