"""Random hollow boxes: what is said to be sealed is sealed, nothing is missed, and a preview agrees with the cut.

The oracle is the mesh itself: a flood fill on points classified by the formulas of the boxes, and Manifold's cuts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
import trimesh
from bodies import block, cut, moved, rod, rotation, solid
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import ndimage

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.geometry.columns import Tool
from ventplanner.geometry.pose import On, Pose
from ventplanner.geometry.solid import Solid
from ventplanner.options import AnalysisOptions

OUTER = 10.0


@dataclass(frozen=True)
class Warren:
    """A box 20 mm wide with boxes cut out of it, some of which meet, touch the skin, or leave thin walls."""

    low: np.ndarray
    high: np.ndarray

    @classmethod
    def random(cls, seed: int, step: float) -> Warren:
        """Rooms with corners on a lattice of `step` mm, drawn in a little: walls are thin, doors are wide."""
        rng = np.random.default_rng(seed)
        n = int(rng.integers(3, 8))
        centre = rng.uniform(-OUTER, OUTER, (n, 3))
        half = rng.uniform(1.0, 4.5, (n, 3))
        low, high = (np.round(x / step) * step for x in (centre - half, centre + half))
        shrink = 0.1234567 * step * (1 + np.arange(n)[:, None] / n)
        some = (high - low >= step - 1e-9).all(axis=1)
        return cls((low + shrink)[some], (high - shrink)[some])

    def solid(self) -> Solid:
        body = block([-OUTER] * 3, [OUTER] * 3)
        return solid(cut(body, *(block(a, b) for a, b in zip(self.low, self.high, strict=True))))

    def filled(self, x: np.ndarray, y: np.ndarray, z: np.ndarray) -> np.ndarray:
        """Whether there is material at the grid of these coordinates."""
        inside = np.ones((len(x), len(y), len(z)), dtype=bool)
        for a, b in zip(self.low, self.high, strict=True):
            kept = [(c > lo) & (c < hi) for c, lo, hi in zip((x, y, z), a, b, strict=True)]
            inside &= ~(kept[0][:, None, None] & kept[1][None, :, None] & kept[2][None, None, :])
        return inside

    def cells(self) -> tuple[list[np.ndarray], np.ndarray]:
        """Edges of the cells between all faces, and which cells are filled: the part without any error of raster."""
        edges = []
        for axis in range(3):
            faces = np.concatenate(([-OUTER, OUTER], self.low[:, axis], self.high[:, axis]))
            edges.append(np.unique(np.clip(faces, -OUTER, OUTER)))
        middles = [0.5 * (e[1:] + e[:-1]) for e in edges]
        return edges, self.filled(*middles)

    def measures(self, edges: list[np.ndarray], pitch: float) -> tuple[np.ndarray, ...]:
        """Widths of the cells; with a pitch, across the build as many whole pixels as have their centre in the cell."""
        widths = [np.diff(e) for e in edges]
        if pitch:
            centres = -OUTER + (np.arange(round(2.0 * OUTER / pitch)) + 0.5) * pitch
            widths[:2] = [pitch * np.histogram(centres, e)[0] for e in edges[:2]]
        return tuple(widths)

    def grazed(self, start: np.ndarray, end: np.ndarray, radius: float, margin: float) -> bool:
        """Whether a drill ends within the margin of a room's wall: a door or a wall thinner than the raster tells."""
        points = start + np.linspace(0.0, 1.0, 601)[:, None] * (end - start)
        gaps = [np.maximum(np.maximum(a - points, points - b), 0.0) for a, b in zip(self.low, self.high, strict=True)]
        nearest = np.array([np.linalg.norm(gap, axis=1).min() for gap in gaps])
        return bool((np.abs(nearest - radius) < margin).any())

    def sealed_rooms(self, pitch: float = 0.0) -> list[float]:
        """Volumes of the free components that never reach the outside, largest first; as measured with a pitch."""
        edges, filled = self.cells()
        label, count = ndimage.label(np.pad(~filled, 1, constant_values=True))
        outside = label[0, 0, 0]
        dx, dy, dz = self.measures(edges, pitch)
        cell = dx[:, None, None] * dy[None, :, None] * dz[None, None, :]
        volumes = ndimage.sum_labels(cell, label[1:-1, 1:-1, 1:-1], np.arange(1, count + 1))
        return sorted((float(v) for k, v in enumerate(volumes, 1) if k != outside and v > 0), reverse=True)

    def sealed_at(self, heights: np.ndarray, on: On, pitch: float) -> np.ndarray:
        """Sealed area in mm2 at these heights above the part's lowest point, as measured with a pitch."""
        edges, filled = self.cells()
        dx, dy, _ = self.measures(edges, pitch)
        free = np.pad(~filled, ((1, 1), (1, 1), (1, 0)), constant_values=True)
        if on == "plate":
            free[1:-1, 1:-1, 0] = False
        area = np.zeros(len(heights))
        z = heights + edges[2][0]
        for k in range(filled.shape[2]):
            label, _ = ndimage.label(free[:, :, : k + 2])
            top = label[1:-1, 1:-1, -1]
            shut = (top > 0) & (top != label[0, 0, -1])
            area[(z > edges[2][k]) & (z < edges[2][k + 1])] = (shut * dx[:, None] * dy[None, :]).sum()
        return area


def sealed(found: Findings) -> list[float]:
    return sorted((c.volume for c in found.cavities if c.kind == "sealed"), reverse=True)


@settings(max_examples=40)
@given(seed=st.integers(0, 2**31), step=st.sampled_from([1.0, 2.0, 3.0]))
def test_sealed_cavities_are_the_rooms_without_a_door(seed: int, step: float) -> None:
    warren = Warren.random(seed, step)
    expected = warren.sealed_rooms(0.2)
    found = analyse(warren.solid(), None, AnalysisOptions(pitch_mm=0.2))
    assert sealed(found) == pytest.approx([v for v in expected if v >= 5.0], rel=1e-6)
    # Ends of runs keep seven digits, as in the line above.
    assert found.cups.filtered_volume >= sum(v for v in expected if v < 5.0) * (1.0 - 1e-6) - 1e-6
    for cavity in found.cavities:
        assert cavity.state == "sealed" or cavity.kind != "sealed"


@settings(max_examples=20)
@given(seed=st.integers(0, 2**31), turn=st.integers(0, 1000))
def test_turned_rooms_stay_sealed_even_behind_walls_thinner_than_a_pixel(seed: int, turn: int) -> None:
    warren = Warren.random(seed, 2.0)
    expected = [v for v in warren.sealed_rooms() if v > 8.0]
    assume(expected and not [v for v in warren.sealed_rooms() if 3.0 <= v <= 8.0])
    found = analyse(moved(warren.solid(), rotation(turn)), None, AnalysisOptions(pitch_mm=0.3))
    assert sealed(found) == pytest.approx(expected, rel=0.06, abs=1.0)
    # The place where a cup is said to start is inside the room, to the last one.
    back = rotation(turn)
    for cup in found.cups.cups:
        start = found.scene.frame.to_file(cup.start + np.array([0.0, 0.0, 1e-3])) @ back
        inside = ((start > warren.low - 0.05) & (start < warren.high + 0.05)).all(axis=1)
        assert inside.any()


@settings(max_examples=30)
@given(seed=st.integers(0, 2**31), on=st.sampled_from(["supports", "plate"]))
def test_sealed_area_follows_the_rooms_and_their_doors(seed: int, on: On) -> None:
    warren = Warren.random(seed, 2.0)
    pitch = 0.2
    found = analyse(warren.solid(), Pose(on=on), AnalysisOptions(pitch_mm=pitch))
    curve = found.cups.sealed_area
    middle = curve.height[1:-1]
    edges, _ = warren.cells()
    # Bins that a floor or ceiling runs through hold a mean of two areas.
    clear = np.abs(middle[:, None] - (edges[2] - edges[2][0])[None, :]).min(axis=1) > 0.51 * pitch
    np.testing.assert_allclose(curve.area[1:-1][clear], warren.sealed_at(middle, on, pitch)[clear], atol=1e-6)


@settings(max_examples=15)
@given(seed=st.integers(0, 2**31), on=st.sampled_from(["supports", "plate"]))
def test_a_preview_of_drilled_holes_is_the_analysis_of_the_drilled_part(seed: int, on: On) -> None:
    """Cups with tools in the column domain against cups of Manifold's cut; heights within a pitch."""
    rng = np.random.default_rng(seed)
    warren = Warren.random(seed, 3.0)
    part = warren.solid()
    options = AnalysisOptions(pitch_mm=0.2)
    found = analyse(part, Pose(on=on), options)
    drills = []
    for _ in range(int(rng.integers(1, 4))):
        way = np.eye(3)[rng.integers(0, 3)] * rng.choice([-1.0, 1.0]) + rng.uniform(-0.4, 0.4, 3)
        way /= np.linalg.norm(way)
        middle = rng.uniform(-6.0, 6.0, 3)
        drills.append((middle, middle + 30.0 * way, float(rng.uniform(0.6, 1.6))))
    assume(not any(warren.grazed(*drill, 0.3) for drill in drills))
    frame = found.scene.frame
    tools = tuple(Tool(*(tuple(frame.to_build(p)) for p in (a, b)), r) for a, b, r in drills)
    preview = found.scene.cups(tools)
    whole = trimesh.Trimesh(part.vertices, part.faces, process=False)
    again = solid(cut(whole, *(rod(a, b, r, 128) for a, b, r in drills)))
    assume(np.allclose(again.bounds, part.bounds))  # a drill along the bottom moves the grid and the zero
    real = analyse(again, Pose(on=on), options).cups
    a, b = preview.sealed_area, real.sealed_area
    np.testing.assert_allclose(a.height, b.height)
    scale = max(float(b.area.max()), 10.0)
    off = np.abs(a.area - b.area)
    assert np.quantile(off, 0.9) <= 0.03 * scale
    assert a.volume == pytest.approx(b.volume, rel=0.03, abs=3.0)
    for cup in real.cups:
        if cup.sealed_volume < 10.0:
            continue
        far = [np.linalg.norm(c.start - cup.start) + abs(c.from_height - cup.from_height) for c in preview.cups]
        near = preview.cups[int(np.argmin(far))]
        assert near.from_height == pytest.approx(cup.from_height, abs=0.2)
        assert near.to_height == (None if cup.to_height is None else pytest.approx(cup.to_height, abs=0.2))
