"""A part as the search looks at it: what is the same in every direction, made once."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from scipy.spatial import ConvexHull, QhullError

from ventplanner.analysis.findings import Findings
from ventplanner.draining.cells import Cells, Division
from ventplanner.geometry.columns import LongArray, Runs
from ventplanner.geometry.material import material_runs
from ventplanner.geometry.solid import FloatArray
from ventplanner.options import VentRules
from ventplanner.orienting.hidden import Hidden
from ventplanner.plan.extras import lacking
from ventplanner.printed.raster import THREADS

WANTED = 15_000
"""About so many blocks the box round the part is divided into."""

LEAST_PITCHES = 3
"""A block is at least so many columns wide: with fewer, the stairs between columns are all that it sees."""

NORMALS = 96
"""Steps from -1 to 1 in which the normals of ceilings are told: about a degree."""


@dataclass(frozen=True, eq=False)
class Shape:
    """Build axes of the findings, mm. void, material: cells all round and within the part; cell 0 is the outside.
    corners: (k, 3) of the convex hull. normal, area: of the surfaces of all cavities, (m, 3) unit, out of the material,
    and (m,) mm2. lacks: (cavities,) openings that each is to get anyway; is_hollow: (cavities,) bool, whether it is one
    in every orientation. hidden: how much holes are seen."""

    findings: Findings
    void: Cells
    material: Cells
    corners: FloatArray
    normal: FloatArray
    area: FloatArray
    lacks: LongArray
    is_hollow: np.ndarray
    hidden: Hidden

    @property
    def middle(self) -> FloatArray:
        """(3,) centre of mass."""
        cells = self.material
        return np.asarray((cells.volume[:, None] * cells.place).sum(axis=0) / max(float(cells.volume.sum()), 1e-300))

    @classmethod
    def of(cls, findings: Findings, rules: VentRules) -> Shape:
        """All of it."""
        scene = findings.scene
        extents = np.ptp(scene.vertices, axis=0)
        side = max(float(np.cbrt(np.prod(extents) / WANTED)), LEAST_PITCHES * scene.resolution.pitch_mm)
        with ThreadPoolExecutor(THREADS) as pool:  # the longest first
            void = pool.submit(void_cells, findings, side)
            hidden = pool.submit(Hidden.of, findings, rules)
            material = pool.submit(material_cells, findings, side)
            corners, ceilings = pool.submit(hull_corners, scene.vertices), pool.submit(_ceilings, findings)
        return cls(
            findings, void.result(), material.result(), corners.result(), *ceilings.result(),
            np.array([lacking(c, rules) for c in findings.cavities], dtype=np.int64),
            np.array([c.kind != "cup" for c in findings.cavities], dtype=bool), hidden.result(),
        )  # fmt: skip


def material_cells(findings: Findings, side: float) -> Cells:
    """The material, in blocks of about `side` mm."""
    solid = material_runs(findings.scene.runs)
    return Division.of(None, solid, (), (solid.z0, solid.z1), side).measured(None)


def void_cells(findings: Findings, side: float, up: FloatArray | None = None) -> Cells:
    """The void in and round the part, in blocks of about `side` mm. up: on the plate in this direction, so that below
    its lowest point there is none."""
    scene = findings.scene
    runs, margin = scene.runs, 2.0 * scene.runs.grid.pitch
    low, high = np.maximum(runs.z0, -margin), np.minimum(runs.z1, scene.height + margin)
    if up is not None:
        low, high = _above(runs, low, high, up, float((scene.vertices @ up).min()))
    cells = Division.of(findings, runs, (), (low, high), side).measured(findings)
    return cells.kept(~_at_rim(cells, runs, scene.height, margin))


def _above(
    runs: Runs, low: FloatArray, high: FloatArray, up: FloatArray, floor: float
) -> tuple[FloatArray, FloatArray]:
    """What of each run lies above a plane."""
    x, y = runs.grid.centres(runs.column_of_run)
    rest = floor - (up[0] * x + up[1] * y)
    if abs(up[2]) < 1e-9:
        return low, np.where(rest <= 0.0, high, low)
    at = rest / up[2]
    return (np.maximum(low, at), high) if up[2] > 0.0 else (low, np.minimum(high, at))


def _at_rim(cells: Cells, runs: Runs, height: float, margin: float) -> np.ndarray:
    """(n,) bool: at a side of the box of columns, all round the part: the open."""
    grid, hair = runs.grid, 1e-3
    points = cells.far.astype(np.float64)
    low = np.array([grid.x0 + grid.pitch, grid.y0 + grid.pitch, hair - margin])
    high = np.array(
        [grid.x0 + (grid.nx - 1) * grid.pitch, grid.y0 + (grid.ny - 1) * grid.pitch, height + margin - hair]
    )
    rim = np.asarray(((points < low) | (points > high)).any(axis=(1, 2)))
    rim[0] = True
    return rim


def hull_corners(vertices: FloatArray) -> FloatArray:
    """(k, 3) corners of the convex hull of the part."""
    try:
        return np.asarray(vertices[ConvexHull(vertices).vertices])
    except QhullError:  # too flat for it
        return vertices


def _ceilings(findings: Findings) -> tuple[FloatArray, FloatArray]:
    """Unit normals of the surfaces of cavities in every orientation, and the area of each, alike ones together."""
    scene = findings.scene
    own = [c.faces for c in findings.cavities if c.kind != "cup"]
    faces = np.unique(np.concatenate(own)) if own else np.zeros(0, dtype=np.int32)
    a, b, c = (scene.vertices[scene.solid.faces[faces, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    twice = np.linalg.norm(normal, axis=1)
    normal = normal[twice > 0.0] / twice[twice > 0.0, None]
    half = twice[twice > 0.0] * 0.5
    step = np.rint((normal + 1.0) * (0.5 * NORMALS)).astype(np.int64)
    key = (step[:, 0] * (NORMALS + 1) + step[:, 1]) * (NORMALS + 1) + step[:, 2]
    _, first, alike = np.unique(key, return_index=True, return_inverse=True)
    area = np.bincount(alike, weights=half, minlength=len(first))
    mean = np.stack([np.bincount(alike, weights=half * normal[:, k], minlength=len(first)) for k in range(3)], axis=1)
    return mean / np.maximum(np.linalg.norm(mean, axis=1), 1e-300)[:, None], np.asarray(area, dtype=np.float64)
