"""Turning which way matters: a part that needs two turns, and a slow simulation of single units of liquid."""

from __future__ import annotations

from collections import deque

import bodies
import numpy as np
import pytest
from skimage.morphology import reconstruction
from voxel_cells import cells_of_voxels

from ventplanner.analysis.findings import analyse
from ventplanner.draining.planning import drain
from ventplanner.draining.tilt import Tilt
from ventplanner.geometry.pose import Pose
from ventplanner.options import AnalysisOptions
from ventplanner.plan.model import Plan
from ventplanner.profile import Profile


def test_two_chambers_whose_ways_out_lie_at_opposite_corners_need_two_turns() -> None:
    """The left chamber only runs out into the right one with its right side down, where the gap is a
    hole in a level floor, or its upper right edge; that one only runs out of the part with its lower left edge down: no
    single way to hold it does both."""
    left, right = bodies.block((-15, 0, 0), (-1, 12, 12)), bodies.block((0, 0, 0), (14, 12, 12))
    gap, hole = bodies.block((-1.5, 0, 8), (0.5, 12, 12)), bodies.rod((2.6, 6, -3), (2.6, 6, 1), 2.5)
    body = bodies.cut(bodies.block((-17, -2, -2), (16, 14, 14)), bodies.union(left, right, gap, hole))
    findings = analyse(bodies.solid(body), Pose(to_plate=(0.0, 0.0, 1.0)), AnalysisOptions(pitch_mm=0.4))
    done = drain(findings, Plan(), Profile())
    kept = 14.0 * 12.0 * 8.0  # in the left chamber, below the gap
    assert [step.how for step in done.steps] == ["hanging", "taken off", "turn", "turn"]
    assert [step.left for step in done.steps[:2]] == pytest.approx([kept] * 2, rel=0.03)
    assert done.steps[2].left > 0.25 * kept
    first, second = (np.asarray(step.gravity) for step in done.steps[2:])
    assert first[0] > 0.0 <= first[2]
    assert second[0] < 0.3
    assert second[2] < 0.0
    assert done.left < 0.03 * kept


def units_settle(free: np.ndarray, wet: set[tuple[int, ...]], axis: int, sign: int) -> set[tuple[int, ...]]:
    """Whole voxels of liquid: the lowest first, each goes to the lowest empty place that it can run or be pushed to
    without rising; off the grid it is gone. Until none moves. `sign` of the axis is up."""

    def height(at: tuple[int, ...]) -> int:
        return sign * at[axis]

    def best(start: tuple[int, ...]) -> tuple[int, ...] | None:
        found, seen, queue = start, {start}, deque([start])
        while queue:
            at = queue.popleft()
            for k in range(3):
                for way in (-1, 1):
                    to = (*at[:k], at[k] + way, *at[k + 1 :])
                    if to in seen or height(to) > height(start):
                        continue
                    if not all(0 <= x < n for x, n in zip(to, free.shape, strict=True)):
                        return None
                    if free[to]:
                        seen.add(to)
                        queue.append(to)
                        if to not in wet and height(to) < height(found):
                            found = to
        return found

    moved = True
    while moved:
        moved = False
        for unit in sorted(wet, key=height):
            to = best(unit)
            if to != unit:
                wet = wet - {unit} | ({to} if to is not None else set())
                moved = True
    return wet


@pytest.mark.parametrize("ways", [(-4, 1, 4, -1, 6, -6), (4, 1, -4, -1, 4), (1, 6, 4, -1, -6)])
def test_a_labyrinth_keeps_what_single_units_of_liquid_leave_in_it(ways: tuple[int, ...]) -> None:
    """Chambers in a row with doors at opposite ends, and one way out; turned about sides one after the other."""
    free = np.zeros((11, 3, 5), dtype=bool)
    for k in range(3):
        free[1 + 3 * k : 3 + 3 * k, 1, 1:4] = True
    free[3, 1, 3] = free[6, 1, 1] = True
    free[8, 1, 4] = True
    cells, number = cells_of_voxels(free)
    liquid, wet = cells.volume, set(map(tuple, np.argwhere(free).tolist()))
    for way in ways:
        axis, sign = {1: 0, 4: 2, 6: 1}[abs(way)], int(np.sign(way))
        liquid = Tilt.of(cells, sign * np.eye(3)[axis]).settle(liquid).liquid
        wet = units_settle(free, wet, axis, sign)
        rooms = np.array([sum(1 for at in wet if k <= at[0] < k + 3) for k in (1, 4, 7)])
        share = [liquid[np.unique(number[k : k + 3][free[k : k + 3]])].sum() for k in (1, 4, 7)]
        assert share == pytest.approx(rooms, abs=1e-9)


def test_terrain_keeps_what_reconstruction_fills() -> None:
    """scikit-image: reconstruction by erosion from the rim (L. Vincent 1993, IEEE Trans. Image Process. 2, 176)."""
    heights = np.random.default_rng(7).integers(1, 9, (14, 11))
    seed = np.full_like(heights, heights.max())
    seed[0], seed[-1], seed[:, 0], seed[:, -1] = heights[0], heights[-1], heights[:, 0], heights[:, -1]
    cross = np.array([[0, 1, 0], [1, 1, 1], [0, 1, 0]])
    filled = reconstruction(seed, heights, method="erosion", footprint=cross) - heights
    cells, number = cells_of_voxels(np.arange(10) >= heights[:, :, None])
    held = Tilt.of(cells, np.array([0.0, 0.0, 1.0])).settle(cells.volume)
    assert held.liquid[np.maximum(number, 0)].sum(axis=2) == pytest.approx(filled, abs=1e-9)
