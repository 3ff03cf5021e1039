"""A part at a printer's pixel: its void runs there, and small boxes of cells cut from them."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable
from dataclasses import dataclass, field
from threading import Lock

import numpy as np
from numpy.typing import NDArray

from ventplanner.analysis.findings import Findings
from ventplanner.errors import ParameterError
from ventplanner.geometry.columns import Grid, Runs, Tool, cast, cast_window
from ventplanner.geometry.solid import FloatArray, box_of
from ventplanner.printed.light import Light
from ventplanner.profile import Profile

BoolArray = NDArray[np.bool_]

MOST_PIXELS = 8_000_000
"""Pixels under a part up to which all of it is cast at once: some 2 GB of memory (measured: 0.25 kB a pixel). Of larger
parts only windows round openings and vents are cast at the printer's pixel."""

TILE = 128
"""Windows begin and end at multiples of so many pixels, so that holes of several sizes find the same one again."""

MOST_WINDOWS = 8
"""Windows that are kept: some 30 MB of a part in two skins."""


@dataclass(frozen=True, eq=False)
class PixelPart:
    """A part at a printer's pixel. grid: its pixels. held: its free space there, without plate and without planned
    vents; None if the pixels are too many: then it is cast in windows, with the same result."""

    findings: Findings
    light: Light
    grid: Grid
    held: Runs | None
    _windows: OrderedDict[tuple[int, int, int, int], Runs] = field(default_factory=OrderedDict, repr=False)
    _lock: Lock = field(default_factory=Lock, repr=False)

    @classmethod
    def of(cls, findings: Findings, profile: Profile) -> PixelPart:
        """A part for a printer, cast if its pixels are not too many."""
        scene = findings.scene
        light = Light.on(profile, scene.pose, scene.height)
        rings = light.margin + 1
        low, high = box_of(scene.vertices)
        grid = Grid.around(low, high, light.pixel, 0.0, rings)
        if grid.n_columns > MOST_PIXELS:
            return cls(findings, light, grid, None)
        skins = scene.topology.skin_of_face
        runs = cast(scene.vertices, scene.solid.faces, skins, light.pixel, tight=_is_tight(findings), rings=rings)
        return cls(findings, light, runs.grid, runs)

    @classmethod
    def in_windows(cls, findings: Findings, profile: Profile) -> PixelPart:
        """A part for a printer, never cast as a whole: for a few places of it."""
        scene = findings.scene
        light = Light.on(profile, scene.pose, scene.height)
        low, high = box_of(scene.vertices)
        return cls(findings, light, Grid.around(low, high, light.pixel, 0.0, light.margin + 1), None)

    @property
    def is_whole(self) -> bool:
        """Whether all of it is cast."""
        return self.held is not None

    @property
    def runs(self) -> Runs:
        """Its free space, without plate and planned vents. ParameterError if its pixels are too many."""
        if self.held is None:
            count, pixel = self.grid.n_columns, self.light.pixel
            raise ParameterError(
                f"{count / 1e6:.0f} million pixels of {pixel:g} mm lie under this part: more than fit in memory.",
                f"Use a profile with a pixel of at least {self.least_whole_pixel_mm:.2g} mm.",
            )
        return self.held

    @property
    def least_whole_pixel_mm(self) -> float:
        """The smallest pixel, in mm, at which all of it can be cast, to two figures."""
        low, high = box_of(self.findings.scene.vertices)
        side = self.light.pixel * float(np.sqrt(self.grid.n_columns / MOST_PIXELS))
        step = 10.0 ** (np.floor(np.log10(side)) - 1.0)
        side = float(np.ceil(side / step - 1e-9) * step)
        while Grid.around(low, high, side, 0.0, self.light.margin + 1).n_columns > MOST_PIXELS:
            side += step  # the rim's pixels
        return round(side, 9)

    def window(self, i0: int, i1: int, j0: int, j1: int) -> tuple[Runs, int, int]:
        """Runs that hold these pixels of the grid (and more), and the pixel of the grid where they begin."""
        if self.held is not None:
            return self.held, 0, 0
        grid = self.grid
        i0, j0 = (max(0, a // TILE * TILE) for a in (i0, j0))
        i1, j1 = min(grid.nx, -(-i1 // TILE) * TILE), min(grid.ny, -(-j1 // TILE) * TILE)
        key = (i0, i1, j0, j1)
        with self._lock:
            if key not in self._windows:
                scene = self.findings.scene
                skins = scene.topology.skin_of_face
                tight = _is_tight(self.findings)
                self._windows[key] = cast_window(scene.vertices, scene.solid.faces, skins, grid, key, tight=tight)
                while len(self._windows) > MOST_WINDOWS:
                    self._windows.popitem(last=False)
            self._windows.move_to_end(key)
            return self._windows[key], i0, j0

    @property
    def on_plate(self) -> bool:
        """Whether the part lies flat on the plate."""
        return self.findings.pose.on == "plate"


def _is_tight(findings: Findings) -> bool:
    topology = findings.scene.topology
    return topology.is_closed and topology.is_oriented


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
        grid, layer = part.grid, part.light.layer
        low, high = points.min(axis=0) - room, points.max(axis=0) + room
        i0, j0 = (int(np.floor((low[a] - o) / grid.pitch)) for a, o in ((0, grid.x0), (1, grid.y0)))
        i1, j1 = (int(np.ceil((high[a] - o) / grid.pitch)) for a, o in ((0, grid.x0), (1, grid.y0)))
        k0, k1 = int(np.floor(low[2] / layer)), int(np.ceil(high[2] / layer))
        return cls(i0, i1, j0, j1, k0, max(k1, k0 + 1))

    def grown(self, pixels: int, above: int) -> Box:
        """With more pixels round it and more layers above it."""
        i, j = (self.i0 - pixels, self.i1 + pixels), (self.j0 - pixels, self.j1 + pixels)
        return Box(*i, *j, self.k0, self.k1 + above)

    def within(self, other: Box) -> Box:
        """The cells of both; none, where they do not meet."""
        low = (max(self.i0, other.i0), max(self.j0, other.j0), max(self.k0, other.k0))
        high = (min(self.i1, other.i1), min(self.j1, other.j1), min(self.k1, other.k1))
        i1, j1, k1 = (max(a, b) for a, b in zip(low, high, strict=True))
        return Box(low[0], i1, low[1], j1, low[2], k1)

    def at(self, other: Box) -> tuple[slice, slice, slice]:
        """Where the cells of a box within this one stand in arrays of this one's shape."""
        return (
            slice(other.k0 - self.k0, other.k1 - self.k0),
            slice(other.j0 - self.j0, other.j1 - self.j0),
            slice(other.i0 - self.i0, other.i1 - self.i0),
        )

    @property
    def cells(self) -> int:
        """How many there are."""
        nz, ny, nx = self.shape
        return nz * ny * nx

    @property
    def shape(self) -> tuple[int, int, int]:
        """Layers, rows, columns."""
        return self.k1 - self.k0, self.j1 - self.j0, self.i1 - self.i0

    def centres(self, part: PixelPart) -> tuple[FloatArray, FloatArray, FloatArray]:
        """z, y, x in mm of the middles of its cells, ready to broadcast to its shape."""
        grid, layer = part.grid, part.light.layer
        z: FloatArray = (np.arange(self.k0, self.k1, dtype=np.float64) + 0.5) * layer
        y: FloatArray = grid.y0 + (np.arange(self.j0, self.j1, dtype=np.float64) + 0.5) * grid.pitch
        x: FloatArray = grid.x0 + (np.arange(self.i0, self.i1, dtype=np.float64) + 0.5) * grid.pitch
        return z[:, None, None], y[None, :, None], x[None, None, :]


def material_in(part: PixelPart, box: Box, tools: Iterable[Tool] = ()) -> BoolArray:
    """Which cells of a box are material with these holes drilled; the plate is none."""
    layer, whole, (nz, ny, nx) = part.light.layer, part.grid, box.shape
    change = np.zeros((nz + 1, ny, nx), dtype=np.int16)
    change[0] = 1  # off the grid everything is void
    i0, i1, j0, j1 = max(box.i0, 0), min(box.i1, whole.nx), max(box.j0, 0), min(box.j1, whole.ny)
    if i0 < i1 and j0 < j1:
        runs, left, front = part.window(i0, i1, j0, j1)
        for j in range(j0, j1):
            first = (j - front) * runs.grid.nx + i0 - left
            ends = runs.offsets[first : first + i1 - i0 + 1]
            own = slice(int(ends[0]), int(ends[-1]))
            i = np.repeat(np.arange(i0, i1) - box.i0, np.diff(ends))
            change[0, j - box.j0, i0 - box.i0 : i1 - box.i0] = 0
            row = change[:, j - box.j0]
            np.add.at(row, (_first_layers(runs.z0[own], layer, box), i), 1)
            np.add.at(row, (_first_layers(runs.z1[own], layer, box), i), -1)
    material = np.cumsum(change[:-1], axis=0, dtype=np.int16) <= 0
    for tool in tools:
        met = box.within(Box.around(np.array([tool.start, tool.end]), tool.far + part.light.pixel, part))
        if met.cells:
            material[box.at(met)] &= ~inside(tool, *met.centres(part))
    return material


def _first_layers(z: FloatArray, layer: float, box: Box) -> NDArray[np.int64]:
    """`exposure_kernels.first_layer` for many, counted from the box's first layer and kept in it."""
    k = np.ceil(np.clip(z / layer, box.k0 - 2.0, box.k1 + 2.0) - 0.5 - 1e-6).astype(np.int64)
    return np.clip(k - box.k0, 0, box.k1 - box.k0)


def inside(tool: Tool, z: FloatArray, y: FloatArray, x: FloatArray, more: float = 0.0) -> BoolArray:
    """Which points lie in a drill that is `more` mm wider and longer on every side."""
    along, off = place_along(tool, z, y, x)
    length = float(np.linalg.norm(np.subtract(tool.end, tool.start)))
    return np.asarray((off <= tool.radius + more) & (along >= -more) & (along <= length + more))


def place_along(tool: Tool, z: FloatArray, y: FloatArray, x: FloatArray) -> tuple[FloatArray, FloatArray]:
    """How far along a drill's axis points lie, from its start, and how far off its middle; mm: at most its radius
    within it. The middle is the axis of a round one, see `Outline.beyond_middle`; a countersink's sides lean."""
    a, b = np.asarray(tool.start), np.asarray(tool.end)
    u = (b - a) / np.linalg.norm(b - a)
    along = (x - a[0]) * u[0] + (y - a[1]) * u[1] + (z - a[2]) * u[2]
    if tool.is_cylinder:
        off = np.asarray((x - a[0]) ** 2 + (y - a[1]) ** 2 + (z - a[2]) ** 2)
        off -= along * along  # in place: new memory for millions of cells costs more than the sums
        np.maximum(off, 0.0, out=off)
        return np.asarray(along), np.sqrt(off, out=off)
    p, q = ((x - a[0]) * v[0] + (y - a[1]) * v[1] + (z - a[2]) * v[2] for v in tool.axes[:2])
    off = tool.outline.beyond_middle(p, q, tool.radius)
    return np.asarray(along), off - tool.spread * np.clip(1.0 - along / tool.length, 0.0, 1.0)
