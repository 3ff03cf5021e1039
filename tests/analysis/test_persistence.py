"""Cups against the persistent homology of the height function of the free space (gudhi's simplex tree).

Every free voxel is a vertex that appears with its layer; voxels that share a face are joined by an edge, and the
outside is one vertex older than all. Zero-dimensional persistence (Edelsbrunner, Letscher & Zomorodian 2002) then
gives the pocket starts as births and the joins as deaths. Only face neighbours are joined: a cubical complex of
top-dimensional cells would connect them across edges and corners too.
"""

from __future__ import annotations

import gudhi
import numpy as np
import pytest
from bodies import voxel_solid
from scipy import ndimage

from ventplanner.analysis.findings import analyse
from ventplanner.geometry.pose import On, Pose
from ventplanner.options import AnalysisOptions


def pairs_of(filled: np.ndarray, on: On) -> list[tuple[float, float]]:
    """Births and deaths of all pockets of some duration; a pocket that never joins dies at inf."""
    nx, ny, nz = filled.shape
    number = np.full(filled.shape, -1)
    number[~filled] = np.arange(np.count_nonzero(~filled)) + 1
    tree = gudhi.SimplexTree()
    tree.insert([0], -1.0)
    for i, j, k in np.argwhere(~filled):
        tree.insert([number[i, j, k]], float(k))
        for a, b, c in ((i + 1, j, k), (i, j + 1, k), (i, j, k + 1)):
            if a < nx and b < ny and c < nz and not filled[a, b, c]:
                tree.insert([number[i, j, k], number[a, b, c]], float(max(k, c)))
        rim = i in (0, nx - 1) or j in (0, ny - 1) or (k == 0 and on == "supports")
        if rim:
            tree.insert([0, number[i, j, k]], float(k))
        if k == nz - 1:  # above the last layer all is outside
            tree.insert([0, number[i, j, k]], float(nz))
    tree.compute_persistence(persistence_dim_max=True)
    intervals = tree.persistence_intervals_in_dimension(0)
    return sorted((float(b), float(d)) for b, d in intervals if b >= 0 and d > b)


def canyon() -> np.ndarray:
    """The twelve columns of a well-known puzzle (how much rain stays on them? 6 units) as the floor of a canyon."""
    heights = np.array([0, 1, 0, 2, 1, 0, 1, 3, 2, 1, 2, 1])
    filled = np.ones((12, 3, 4), dtype=bool)
    filled[:, 1, :] = np.arange(4) < heights[:, None]
    return filled


def test_the_oracle_knows_the_pools_between_hills() -> None:
    assert pairs_of(canyon(), "plate") == [(0.0, 1.0), (0.0, 2.0), (1.0, 2.0)]


def test_the_cups_of_a_canyon_are_its_pools() -> None:
    found = analyse(voxel_solid(canyon()), Pose(on="plate"), AnalysisOptions(1.0, 0.1, 0.0, 0.0))
    cups = found.cups.cups
    assert sorted((c.from_height, c.to_height) for c in cups) == [(0.0, 1.0), (0.0, 2.0), (1.0, 2.0)]
    assert sorted(c.sealed_volume for c in cups) == pytest.approx([1.0, 1.0, 4.0])
    assert found.cups.sealed_area.volume == pytest.approx(6.0)


def _cups(filled: np.ndarray, on: On) -> list[tuple[float, float]]:
    found = analyse(voxel_solid(filled), Pose(on=on), AnalysisOptions(1.0, 0.1, 0.0, 0.0))
    end = [c.joins_height if c.joins_height is not None else c.to_height for c in found.cups.cups]
    births = [c.from_height for c in found.cups.cups]
    # A flat floor of the mesh is met within rounding: layers are whole millimetres.
    return sorted((round(b, 6), np.inf if d is None else round(d, 6)) for b, d in zip(births, end, strict=True))


@pytest.mark.parametrize("on", ["plate", "supports"])
@pytest.mark.parametrize(("blur", "least_pairs"), [(0.0, 100), (0.7, 20), (1.0, 5)])
def test_cups_are_the_persistence_pairs_of_the_height(on: On, blur: float, least_pairs: int) -> None:
    rng = np.random.default_rng(int(10 * blur))
    total = 0
    for share in (0.5, 0.6, 0.7, 0.8, 0.9):
        noise = ndimage.gaussian_filter(rng.standard_normal((13, 12, 11)), blur)
        filled = noise < np.quantile(noise, share)
        filled[4, 4, [0, -1]] = True  # it reaches from the first to the last layer
        expected = pairs_of(filled, on)
        assert _cups(filled, on) == expected
        total += len(expected)
    assert total > least_pairs  # there was something to find
