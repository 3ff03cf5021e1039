"""Liquid that stays: by the formula of a spherical cap, and by flooding voxels from outside."""

from __future__ import annotations

from heapq import heappop, heappush

import numpy as np
import pytest
from bodies import ball, box, inward, solid, voxel_solid
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplanner.analysis.findings import analyse
from ventplanner.analysis.pools import held, pools
from ventplanner.geometry.columns import Tool
from ventplanner.geometry.pose import On, Pose
from ventplanner.options import AnalysisOptions


@pytest.mark.parametrize("on", ["plate", "supports"])
def test_a_ball_with_a_hole_in_its_side_keeps_a_cap_below_the_hole(on: On) -> None:
    """Volume of a spherical cap: pi h^2 (3 r - h) / 3 (e.g. Bronshtein et al., Handbook of Mathematics)."""
    radius, low, wide = 8.0, 12.0, 1.0
    findings = analyse(
        solid(box((22.0, 22.0, 24.0), (0.0, 0.0, 12.0)), inward(ball(radius, (0.0, 0.0, 12.0), 5))),
        Pose(on=on),
        AnalysisOptions(pitch_mm=0.1),
    )
    (cavity,) = findings.cavities
    (kept,) = (pools(findings)[cavity.id],)
    assert kept.hanging == kept.standing == pytest.approx(cavity.volume, rel=0.01)
    side = Tool((11.5, 0.0, low + 3.0), (5.0, 0.0, low + 3.0), wide)
    kept = pools(findings, (side,))[cavity.id]

    def cap(high: float) -> float:
        return np.pi * high**2 * (3.0 * radius - high) / 3.0

    assert kept.standing == pytest.approx(cap(radius + 3.0 - wide), rel=0.01)
    assert kept.hanging == pytest.approx(cap(radius - 3.0 - wide), rel=0.02)
    assert kept.least == kept.hanging
    below = Tool((0.0, 0.0, -0.5), (0.0, 0.0, 5.0), wide)
    assert pools(findings, (side, below))[cavity.id].standing == pytest.approx(0.0, abs=cap(0.1))


def flooded(filled: np.ndarray) -> int:
    """Voxels that stay full, by priority flood (Barnes, Lehman & Mulla 2014, Computers & Geosciences 62, 117)."""
    padded = np.pad(filled, 1)
    level = np.full(padded.shape, np.inf)
    outer = np.pad(np.zeros_like(filled), 1, constant_values=True)
    level[outer] = -np.inf
    heap = [(-np.inf, *map(int, at)) for at in np.argwhere(outer)]
    while heap:
        reached, x, y, z = heappop(heap)
        for dx, dy, dz in ((1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)):
            at = (x + dx, y + dy, z + dz)
            if all(0 <= a < n for a, n in zip(at, padded.shape, strict=True)) and not padded[at]:
                needed = max(reached, float(max(z, at[2])))
                if needed < level[at]:
                    level[at] = needed
                    heappush(heap, (needed, *at))
    return int((~padded & (level > np.arange(padded.shape[2]))).sum())


@settings(max_examples=15)
@given(seed=st.integers(0, 10**6), share=st.floats(0.3, 0.8))
def test_what_stays_is_what_a_flood_of_voxels_leaves(seed: int, share: float) -> None:
    filled = np.random.default_rng(seed).random((6, 5, 7)) < share
    filled[2, 2, :] = True
    scene = analyse(voxel_solid(filled), options=AnalysisOptions(pitch_mm=1.0)).scene
    for hanging, body in ((False, filled), (True, filled[:, :, ::-1])):
        _, low, high = held(scene.draining((), hanging=hanging))
        assert (high - low).sum() == pytest.approx(flooded(body), abs=1e-6)
