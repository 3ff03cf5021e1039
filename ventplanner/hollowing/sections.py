"""Sections of a part by height, before and after hollowing: the area of material in each layer."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ventplanner.geometry.columns import cast
from ventplanner.geometry.solid import FloatArray, IntArray

LAYER_MM = 0.25
"""Height of the layers whose areas are told."""


@dataclass(frozen=True, eq=False)
class Sections:
    """mm2 of material in layers of `LAYER_MM`, each at its middle: (k,) before and after."""

    before: FloatArray
    after: FloatArray

    @property
    def largest(self) -> tuple[float, float]:
        """mm2 of the largest section before, and of the largest one after."""
        return float(self.before.max()), float(self.after.max())


def sections(outer: tuple[FloatArray, IntArray], hollow: tuple[FloatArray, IntArray], pitch: float) -> Sections:
    """Count columns of a posed part and of the hollow that is taken out of it (skins, normals towards the void)."""
    height = float(outer[0][:, 2].max())
    count = max(1, int(np.ceil(height / LAYER_MM - 1e-9)))
    before = _areas(*outer, pitch, count)
    taken = _areas(hollow[0], hollow[1][:, ::-1], pitch, count)
    return Sections(before, before - taken)


def _areas(vertices: FloatArray, faces: IntArray, pitch: float, count: int) -> FloatArray:
    runs = cast(vertices, np.ascontiguousarray(faces), np.zeros(len(faces), dtype=np.int32), pitch, tight=False)
    column = runs.column_of_run
    at = np.flatnonzero(column[1:] == column[:-1])
    change = np.zeros(count + 1)
    for height, sign in ((runs.z1[at], 1.0), (runs.z0[at + 1], -1.0)):
        layer = np.ceil(height / LAYER_MM - 0.5).astype(np.int64).clip(0, count)
        change += sign * np.bincount(layer, minlength=count + 1)
    areas: FloatArray = np.cumsum(change[:-1]) * runs.pixel_area
    return areas
