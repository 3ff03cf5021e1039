"""What an orientation costs, coarsely: in some milliseconds, from cells, the hull and the normals of the cavities."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np

from ventplanner.analysis.islands import LEAST_LAYERS
from ventplanner.analysis.places import Places
from ventplanner.draining.cells import Cells
from ventplanner.geometry import sweep_kernels as kernels
from ventplanner.geometry.columns import LongArray
from ventplanner.geometry.solid import FloatArray
from ventplanner.options import InsideLimits
from ventplanner.orienting.shape import Shape
from ventplanner.orienting.sweep import BINS, Swept, sweep
from ventplanner.printed.raster import side_by_side
from ventplanner.profile import Profile
from ventplanner.progress import Progress

FIGURES = (
    "vents",
    "sealed_mm3",
    "sealed_area_mm2",
    "islands",
    "overhang_mm2",
    "height_mm",
    "largest_section_mm2",
    "seen",
)
"""What is known coarsely, in this order."""

BATCH = 16
"""So many directions are looked at between two words of progress."""

ISLAND_PITCHES, ISLAND_CELLS = 3.0, 64.0
"""What stays apart over fewer columns' distances, or holds fewer of their cubes, may be a step between cells."""

PHASE = "Trying directions"


@dataclass(frozen=True, eq=False)
class Coarse:
    """Looks at directions. gap_mm: below a part on supports. Directions are build axes of the findings."""

    shape: Shape
    profile: Profile
    limits: InsideLimits
    gap_mm: float

    def over(self, to_plate: FloatArray, progress: Progress) -> FloatArray:
        """(n, FIGURES) of the part on supports. to_plate: (n, 3) unit vectors."""
        batches = [to_plate[k : k + BATCH] for k in range(0, len(to_plate), BATCH)]
        found = side_by_side([partial(self._batch, b) for b in batches], PHASE, progress)
        figures = np.concatenate([f for f, _, _ in found])
        owner = np.concatenate([o + k * BATCH for k, (_, _, o) in enumerate(found)])
        islands = self._inside(np.concatenate([p for _, p, _ in found]), to_plate[owner])
        figures[:, FIGURES.index("islands")] = np.bincount(owner[islands], minlength=len(to_plate))
        return figures

    def on_plate(self, to_plate: FloatArray, void: Cells) -> FloatArray:
        """(FIGURES,) flat on the plate. void: cells with none below it."""
        figures, points = self._one(to_plate, void, 0.0)
        figures[FIGURES.index("islands")] = np.count_nonzero(self._inside(points, to_plate))
        return figures

    def _batch(self, to_plate: FloatArray) -> tuple[FloatArray, FloatArray, LongArray]:
        found = [self._one(one, self.shape.void, self.gap_mm) for one in to_plate]
        owner = np.repeat(np.arange(len(found)), [len(p) for _, p in found])
        return np.array([f for f, _ in found]), np.concatenate([p for _, p in found]), owner

    def _one(self, to_plate: FloatArray, void: Cells, gap: float) -> tuple[FloatArray, FloatArray]:
        """The figures but for the islands, and points just below places where material begins in mid-air."""
        shape, up = self.shape, -to_plate
        free = sweep(void, up)
        along = shape.corners @ up
        height = float(np.ptp(along)) + gap
        material = sweep(shape.material, up)
        level = -(np.cos(np.radians(self.limits.overhang_deg)) + 1e-9)
        overhang = float(shape.area[shape.normal @ up < level].sum())
        count, holes = self._holes(free, void, up)
        figures = np.array(
            [count, free.sealed.sum(), free.sealed.max() / free.step, 0.0, overhang, height,
             _largest(shape.material, material), shape.hidden.of_holes(holes)]
        )  # fmt: skip
        return figures, self._starts(material, up)

    def _holes(self, free: Swept, void: Cells, up: FloatArray) -> tuple[int, FloatArray]:
        """How many vents `plan.placement` would propose if every cup got one, and (k, 3) where they begin: at the start
        of each cup, and as high as it goes where a cavity is to have one more."""
        options, shape = self.shape.findings.options, self.shape
        lasts = np.minimum(free.merge, free.top) - free.birth
        kept = (free.volume >= options.ignore_below_mm3) & (lasts >= options.ignore_under_mm)
        late = (free.reached - free.birth > options.late_mm) & (free.volume > options.late_mm3)
        cell = free.cell[kept & (late | np.isinf(free.opens))]
        place = void.cavity[cell]
        hollow = (place >= 0) & shape.is_hollow[place] if len(shape.is_hollow) else np.zeros(len(place), dtype=bool)
        own = np.bincount(place[hollow], minlength=len(shape.lacks))
        more = [np.flatnonzero(void.cavity == k) for k in np.flatnonzero(shape.lacks > own)]
        highest = np.array([cells[free.high[cells].argmax()] for cells in more if len(cells)], dtype=np.int64)
        holes = np.concatenate((_furthest(void, cell, -up), _furthest(void, highest, up)))
        return int(np.maximum(own, shape.lacks).sum() + np.count_nonzero(~hollow)), holes

    def _starts(self, material: Swept, up: FloatArray) -> FloatArray:
        """(k, 3) points below the places in which material begins in mid-air, for more than a moment."""
        cells = self.shape.material
        pitch = cells.pitch
        least = max(LEAST_LAYERS * self.profile.layer_height_mm, ISLAND_PITCHES * pitch)
        apart = np.minimum(material.merge, material.top) - material.birth
        begins = (apart > least) & (material.volume > ISLAND_CELLS * pitch**3)
        begins &= material.birth > material.lowest + self.profile.layer_height_mm
        return np.asarray(_furthest(cells, material.cell[begins], -up) - pitch * up)

    def _inside(self, points: FloatArray, below: FloatArray) -> np.ndarray:
        """(k,) bool: within a cavity. below: unit, where free space is, (3,) or of each."""
        if not len(points) or not self.shape.is_hollow.any():
            return np.zeros(len(points), dtype=bool)
        places = Places.of(self.shape.findings).beside(points, below)
        return np.asarray((places >= 0) & self.shape.is_hollow[places])


def _furthest(cells: Cells, some: LongArray, direction: FloatArray) -> FloatArray:
    """(k, 3) the point of each of some cells that is furthest along a direction."""
    far = cells.far[some].astype(np.float64)
    return far[np.arange(len(far)), (far @ direction).argmax(axis=1)] if len(far) else np.zeros((0, 3))


def _largest(material: Cells, swept: Swept) -> float:
    """mm2 of the largest section."""
    curve, step = np.empty(BINS), swept.step
    kernels.spread_cells(material.volume, swept.low, swept.high, swept.lowest, step, curve)
    return float(curve.max() / step)
