"""Liquid that settles in cells: against floods of voxels, a worked example, and a simulation of single units."""

from __future__ import annotations

from heapq import heappop, heappush

import numpy as np
import pytest
from bodies import ball, box, inward, solid
from hypothesis import given, settings
from hypothesis import strategies as st
from voxel_cells import cells_of_voxels

from ventplanner.analysis.findings import analyse
from ventplanner.draining.cells import cells_of
from ventplanner.draining.tilt import Tilt
from ventplanner.geometry.columns import Tool
from ventplanner.options import AnalysisOptions

UP = np.array([0.0, 0.0, 1.0])


def terrain(heights: np.ndarray) -> np.ndarray:
    """(nx, ny, nz) what is free above a terrain of whole heights."""
    top = int(heights.max()) + 1
    return np.arange(top) >= heights[:, :, None]


def test_the_worked_example_in_one_dimension_keeps_six() -> None:
    """Heights 0 1 0 2 1 0 1 3 2 1 2 1, open at both ends: units of water between them, counted by hand."""
    heights = np.array([[0, 1, 0, 2, 1, 0, 1, 3, 2, 1, 2, 1]]).T
    free = np.pad(terrain(heights), ((0, 0), (1, 1), (1, 0)))
    cells, number = cells_of_voxels(free)
    held = Tilt.of(cells, UP).settle(cells.volume)
    assert held.volume == pytest.approx(6.0)
    of_column = held.liquid[np.maximum(number, 0)].sum(axis=(1, 2))
    assert of_column.tolist() == pytest.approx([0, 0, 1, 0, 1, 2, 1, 0, 0, 1, 0, 0])


def flooded(free: np.ndarray) -> int:
    """Voxels that stay full, by priority flood (Barnes, Lehman & Mulla 2014, Computers & Geosciences 62, 117)."""
    padded = np.pad(free, 1)
    level = np.full(padded.shape, np.inf)
    outer = np.pad(np.zeros_like(free), 1, constant_values=True)
    level[outer] = -np.inf
    heap = [(-np.inf, *map(int, at)) for at in np.argwhere(outer)]
    while heap:
        reached, *at = heappop(heap)
        for axis in range(3):
            for way in (-1, 1):
                to = list(at)
                to[axis] += way
                place = tuple(to)
                if not 0 <= to[axis] < padded.shape[axis] or not padded[place]:
                    continue
                needed = max(reached, float(max(at[2], to[2])))
                if needed < level[place]:
                    level[place] = needed
                    heappush(heap, (needed, *place))
    return int((padded & (level > np.arange(padded.shape[2]))).sum())


@settings(max_examples=25)
@given(seed=st.integers(0, 10**6), share=st.floats(0.2, 0.7), way=st.integers(0, 5))
def test_full_cells_keep_what_a_flood_of_voxels_keeps_whichever_side_is_up(seed: int, share: float, way: int) -> None:
    free = np.random.default_rng(seed).random((6, 5, 7)) < share
    cells, _ = cells_of_voxels(free)
    axis, sign = way // 2, 1 - 2 * (way % 2)
    held = Tilt.of(cells, sign * np.eye(3)[axis]).settle(cells.volume)
    turned = np.moveaxis(free, axis, 2)
    assert held.volume == pytest.approx(flooded(turned if sign > 0 else turned[:, :, ::-1]), abs=1e-9)


@settings(max_examples=30)
@given(seed=st.integers(0, 10**6), share=st.floats(0.3, 0.8), turns=st.integers(1, 4))
def test_no_liquid_is_lost_or_made_whichever_way_a_part_is_turned(seed: int, share: float, turns: int) -> None:
    random = np.random.default_rng(seed)
    cells, _ = cells_of_voxels(random.random((7, 6, 5)) < share)
    liquid = cells.volume * random.random(cells.count)
    for _ in range(turns):
        tilt = Tilt.of(cells, random.normal(size=3))
        held = tilt.settle(liquid)
        assert held.out >= -1e-9
        assert held.volume + held.out == pytest.approx(liquid.sum(), abs=1e-9)
        assert (held.liquid <= cells.volume + 1e-9).all()
        # What is at rest stays at rest.
        assert tilt.settle(held.liquid).liquid == pytest.approx(held.liquid, abs=1e-6)
        liquid = held.liquid


def test_a_ball_held_at_any_slant_keeps_the_cap_below_its_hole() -> None:
    """Volume of a spherical cap: pi h^2 (3 r - h) / 3 (e.g. Bronshtein et al., Handbook of Mathematics)."""
    radius, wide = 8.0, 1.5
    part = solid(box(20.0), inward(ball(radius, fine=5)))
    findings = analyse(part, options=AnalysisOptions(pitch_mm=0.25))
    cells = cells_of(
        findings, (Tool((11.0, 0.0, 10.0), (5.0, 0.0, 10.0), wide),)
    )  # build z: the ball's middle is at 10
    rim = np.sqrt(radius**2 - wide**2)
    for angle in (0.0, 35.0, 70.0, 110.0, 145.0):
        across = np.array([0.0, 0.8, 0.6])
        up = np.cos(np.radians(angle)) * np.array([1.0, 0.0, 0.0]) + np.sin(np.radians(angle)) * across
        # A hole that leads upwards runs over at its outer end.
        lip = max(rim * up[0], 10.0 * up[0]) - wide * np.sqrt(1.0 - up[0] ** 2)
        high = min(radius + lip, 2.0 * radius)
        held = Tilt.of(cells, up).settle(cells.volume)
        own = held.liquid[cells.cavity == 0].sum()
        surface = np.pi * (2.0 * radius * high - high**2)
        # To 0.15 mm of its level; columns are 0.25 mm apart.
        assert own == pytest.approx(np.pi * high**2 * (3.0 * radius - high) / 3.0, rel=0.005, abs=0.15 * surface)
