"""A part at a printer's pixel: its void runs there, and small boxes of cells cut from them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation

from ventplanner.analysis.findings import Findings
from ventplanner.errors import ParameterError
from ventplanner.geometry.bore import Bore
from ventplanner.geometry.columns import Grid, Runs, Tool, cast
from ventplanner.geometry.solid import FloatArray, box_of
from ventplanner.printed.light import Light, blur
from ventplanner.profile import Profile

BoolArray = NDArray[np.bool_]

MOST_PIXELS = 16_000_000
"""Pixels under a part at most: some 4 GB of memory (measured: 0.25 kB a pixel; the limit is own judgement)."""


@dataclass(frozen=True, eq=False)
class PixelPart:
    """A part cast at a printer's pixel. runs: its free space without plate and without planned vents."""

    findings: Findings
    light: Light
    runs: Runs

    @classmethod
    def of(cls, findings: Findings, profile: Profile) -> PixelPart:
        """Cast a part for a printer. ParameterError if the pixels are too many for the memory."""
        scene = findings.scene
        light = Light.on(profile, scene.pose, scene.height)
        rings = light.margin + 1
        low, high = box_of(scene.vertices)
        count = Grid.around(low, high, light.pixel, 0.0, rings).n_columns
        if count > MOST_PIXELS:
            side = light.pixel * float(np.sqrt(count / MOST_PIXELS))
            raise ParameterError(
                f"{count / 1e6:.0f} million pixels of {light.pixel:g} mm lie under this part: more than fit in memory.",
                f"Use a profile with a pixel of at least {side:.2g} mm.",
            )
        tight = scene.topology.is_closed and scene.topology.is_oriented
        skins = scene.topology.skin_of_face
        runs = cast(scene.vertices, scene.solid.faces, skins, light.pixel, tight=tight, rings=rings)
        return cls(findings, light, runs)

    @property
    def on_plate(self) -> bool:
        """Whether the part lies flat on the plate."""
        return self.findings.pose.on == "plate"


@dataclass(frozen=True)
class Box:
    """Cells i0..i1, j0..j1 (pixels of the grid, which may lie off it) and layers k0..k1, the ends not counted."""

    i0: int
    i1: int
    j0: int
    j1: int
    k0: int
    k1: int

    @classmethod
    def around(cls, points: FloatArray, room: float, part: PixelPart) -> Box:
        """The cells within `room` mm of the box of some build points; there may be no part in some of them."""
        grid, layer = part.runs.grid, part.light.layer
        low, high = points.min(axis=0) - room, points.max(axis=0) + room
        i0, j0 = (int(np.floor((low[a] - o) / grid.pitch)) for a, o in ((0, grid.x0), (1, grid.y0)))
        i1, j1 = (int(np.ceil((high[a] - o) / grid.pitch)) for a, o in ((0, grid.x0), (1, grid.y0)))
        k0, k1 = int(np.floor(low[2] / layer)), int(np.ceil(high[2] / layer))
        return cls(i0, i1, j0, j1, k0, max(k1, k0 + 1))

    def grown(self, pixels: int, above: int) -> Box:
        """With more pixels round it and more layers above it."""
        i, j = (self.i0 - pixels, self.i1 + pixels), (self.j0 - pixels, self.j1 + pixels)
        return Box(*i, *j, self.k0, self.k1 + above)

    @property
    def shape(self) -> tuple[int, int, int]:
        """Layers, rows, columns."""
        return self.k1 - self.k0, self.j1 - self.j0, self.i1 - self.i0

    def centres(self, part: PixelPart) -> tuple[FloatArray, FloatArray, FloatArray]:
        """z, y, x in mm of the middles of its cells, ready to broadcast to its shape."""
        grid, layer = part.runs.grid, part.light.layer
        z: FloatArray = (np.arange(self.k0, self.k1, dtype=np.float64) + 0.5) * layer
        y: FloatArray = grid.y0 + (np.arange(self.j0, self.j1, dtype=np.float64) + 0.5) * grid.pitch
        x: FloatArray = grid.x0 + (np.arange(self.i0, self.i1, dtype=np.float64) + 0.5) * grid.pitch
        return z[:, None, None], y[None, :, None], x[None, None, :]


def tool_of(bore: Bore | Tool) -> Tool:
    """The same cylinder as a tool."""
    return bore if isinstance(bore, Tool) else Tool(bore.start, bore.end, bore.radius)


def material_in(part: PixelPart, box: Box, tools: Iterable[Tool] = ()) -> BoolArray:
    """Which cells of a box are material with these holes drilled; the plate is none."""
    runs, layer = part.runs, part.light.layer
    grid, (nz, ny, nx) = runs.grid, box.shape
    change = np.zeros((nz + 1, ny, nx), dtype=np.int32)
    change[0] = 1  # off the grid everything is void
    i0, i1 = max(box.i0, 0), min(box.i1, grid.nx)
    for j in range(max(box.j0, 0), min(box.j1, grid.ny)):
        if i0 >= i1:
            break
        ends = runs.offsets[j * grid.nx + i0 : j * grid.nx + i1 + 1]
        own = slice(int(ends[0]), int(ends[-1]))
        i = np.repeat(np.arange(i0, i1) - box.i0, np.diff(ends))
        change[0, j - box.j0, i0 - box.i0 : i1 - box.i0] = 0
        row = change[:, j - box.j0]
        np.add.at(row, (_first_layers(runs.z0[own], layer, box), i), 1)
        np.add.at(row, (_first_layers(runs.z1[own], layer, box), i), -1)
    material = np.cumsum(change[:-1], axis=0) <= 0
    for tool in tools:
        material &= ~inside(tool, *box.centres(part))
    return material


def _first_layers(z: FloatArray, layer: float, box: Box) -> NDArray[np.int64]:
    """`exposure_kernels.first_layer` for many, counted from the box's first layer and kept in it."""
    k = np.ceil(np.clip(z / layer, box.k0 - 2.0, box.k1 + 2.0) - 0.5 - 1e-6).astype(np.int64)
    return np.clip(k - box.k0, 0, box.k1 - box.k0)


def inside(tool: Tool, z: FloatArray, y: FloatArray, x: FloatArray, more: float = 0.0) -> BoolArray:
    """Which points lie in a cylinder that is `more` mm wider and longer on every side."""
    along, off = place_along(tool, z, y, x)
    length = float(np.linalg.norm(np.subtract(tool.end, tool.start)))
    return np.asarray((off <= tool.radius + more) & (along >= -more) & (along <= length + more))


def place_along(tool: Tool, z: FloatArray, y: FloatArray, x: FloatArray) -> tuple[FloatArray, FloatArray]:
    """How far along a cylinder's axis points lie, from its start, and how far off it; mm."""
    a, b = np.asarray(tool.start), np.asarray(tool.end)
    u = (b - a) / np.linalg.norm(b - a)
    along = (x - a[0]) * u[0] + (y - a[1]) * u[1] + (z - a[2]) * u[2]
    square = (x - a[0]) ** 2 + (y - a[1]) ** 2 + (z - a[2]) ** 2 - along**2
    return np.asarray(along), np.sqrt(np.maximum(square, 0.0))


def printed_in(part: PixelPart, box: Box, tools: Sequence[Tool], *, all_causes: bool = False) -> list[BoolArray]:
    """Void cells of a box: by the raster alone, then with bleed, with print-through, and with base layers as well.

    all_causes: only the last of these. The exact dose of the package's model, cell by cell.
    """
    light, edge = part.light, part.light.margin
    wide = box.grown(edge, min(light.settle + 1, max(0, light.layers - box.k1)))
    mask = material_in(part, wide, tools)
    layers = np.arange(wide.k0, wide.k1)
    here = np.clip(layers, 0, light.layers - 1)
    exists = (layers >= 0) & (layers < light.layers)
    core = slice(0, box.shape[0]), slice(edge, edge + box.shape[1]), slice(edge, edge + box.shape[2])
    solid = mask[core]
    own = np.where(exists, light.ordinary[here], 0.0)
    plain = blur(light, mask.astype(np.float32))
    stages = []
    if not all_causes:
        bled = plain[core] * own[: box.shape[0], None, None] >= 1.0
        through = _summed(plain, own, light.through)[core] >= 1.0
        stages = [~solid, ~(solid | bled), ~(solid | bled | through)]
    base = np.flatnonzero(exists & (layers < light.base))
    if len(base):
        plain[base] = blur(light, _spread(light, mask[base]).astype(np.float32))
    own = np.where(exists, light.own[here], 0.0)
    stages.append(~(solid | (_summed(plain, own, light.through)[core] >= 1.0)))
    if part.on_plate:  # no resin lies below it: what is lit down there is plate
        for stage in stages:
            stage[np.arange(box.k0, box.k1) < 0] = True
    return stages


def _spread(light: Light, mask: BoolArray) -> BoolArray:
    s = len(light.span) // 2
    disc = np.abs(np.arange(-s, s + 1))[None, :] <= light.span[:, None]
    return np.asarray(binary_dilation(mask, disc[None]))


def _summed(blurred: FloatArray, own: FloatArray, through: float) -> FloatArray:
    """Doses of all layers from each one up, dimmed by what lies between."""
    out = np.empty_like(blurred)
    dose = np.zeros(blurred.shape[1:], dtype=blurred.dtype)
    for k in range(len(blurred) - 1, -1, -1):
        dose = through * dose + own[k] * blurred[k]
        out[k] = dose
    return out
