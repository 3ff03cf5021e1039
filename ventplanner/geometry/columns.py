"""Column runs: one ray along the build direction through each pixel of a regular grid, and the void between crossings.

Void runs (column, z0, z1) are exact in z and sampled in x and y; everything the analysis says about cavities and cups
is said from them. Build axes throughout, mm.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from ventplanner.geometry import column_kernels as kernels
from ventplanner.geometry import lookup_kernels as lookup
from ventplanner.geometry.bore import Bore, clip
from ventplanner.geometry.solid import FloatArray, IntArray, box_of

LongArray = NDArray[np.int64]
ANY_CLASS = -2
"""Class of a void run that a drill has touched: it may join any neighbour."""
_UNIT = 1 << kernels.SUBPIXEL_BITS


@dataclass(frozen=True)
class Grid:
    """Pixels of a square grid: centre of pixel (i, j) at (x0 + (i + 0.5) pitch, y0 + (j + 0.5) pitch), mm.

    The outermost ring of pixels (or several) is empty. Columns are numbered j * nx + i.
    """

    x0: float
    y0: float
    pitch: float
    nx: int
    ny: int

    @classmethod
    def around(cls, low: FloatArray, high: FloatArray, pitch: float, shift: float = 0.0, rings: int = 1) -> Grid:
        """The grid over the box low..high ((2+,) mm) with rings of empty pixels, moved by `shift` pixels (0..1)."""
        # A box that is a whole number of pixels wide gets exactly that many: 1e-9 absorbs the division's rounding.
        count = [int(np.ceil((high[k] - low[k]) / pitch + shift - 1e-9)) + 2 * rings for k in range(2)]
        origin = [float(low[k]) - (rings + shift) * pitch for k in range(2)]
        return cls(origin[0], origin[1], float(pitch), count[0], count[1])

    @property
    def n_columns(self) -> int:
        """Number of pixels."""
        return self.nx * self.ny

    def column_at(self, x: FloatArray, y: FloatArray) -> LongArray:
        """Column numbers of points in mm; points off the grid get the nearest pixel of its (empty) rim."""
        i = np.clip(np.floor((np.asarray(x) - self.x0) / self.pitch), 0, self.nx - 1).astype(np.int64)
        j = np.clip(np.floor((np.asarray(y) - self.y0) / self.pitch), 0, self.ny - 1).astype(np.int64)
        return j * self.nx + i

    def is_rim(self, columns: NDArray[np.integer]) -> NDArray[np.bool_]:
        """Which columns are of the outermost ring."""
        j, i = np.divmod(columns, self.nx)
        return np.asarray((i == 0) | (j == 0) | (i == self.nx - 1) | (j == self.ny - 1))

    def centres(self, columns: NDArray[np.integer]) -> tuple[FloatArray, FloatArray]:
        """x and y in mm of the pixel centres of columns."""
        j, i = np.divmod(columns, self.nx)
        return self.x0 + (i + 0.5) * self.pitch, self.y0 + (j + 0.5) * self.pitch


@dataclass(frozen=True, eq=False)
class Overlap:
    """What the signed volume of skins counts wrongly. doubled: mm3 within several skins, each time but the first.
    missed: mm3 of less than no material (hollows that overlap), each time. at: (3,) build point in the thickest."""

    doubled: float
    missed: float
    at: FloatArray


@dataclass(frozen=True, eq=False)
class Runs:
    """All void runs of a posed part, ordered by column, then by height.

    offsets: (n_columns + 1,) int64 into the run arrays. z0, z1: (n,) float64 mm, from -inf to +inf in each column.
    void_class: (n,) int32; runs of different classes lie on different sides of a closed skin and never join, however
    thin the wall between their columns (ANY_CLASS joins all). bad: (n_columns,) bool, columns whose crossings did not
    close and were replaced by a neighbour's. overlap: where skins overlap, as the file has it; None where none do.
    """

    grid: Grid
    offsets: LongArray
    z0: FloatArray
    z1: FloatArray
    void_class: IntArray
    bad: NDArray[np.bool_]
    overlap: Overlap | None = None

    @cached_property
    def column_of_run(self) -> IntArray:
        """(n,) int32 column of each run."""
        return np.repeat(np.arange(self.grid.n_columns, dtype=np.int32), np.diff(self.offsets))

    @cached_property
    def pixel_area(self) -> float:
        """mm2 of one pixel."""
        return self.grid.pitch**2

    @cached_property
    def material_volume(self) -> float:
        """Volume of the material in mm3: the gaps between consecutive runs of a column."""
        gap = self.z0[1:] - self.z1[:-1]
        same = self.column_of_run[1:] == self.column_of_run[:-1]
        return float(gap[same].sum() * self.pixel_area)

    def run_at(self, points: FloatArray) -> LongArray:
        """(k, 3) build points to the run that holds each, -1 where there is material."""
        columns = self.grid.column_at(points[:, 0], points[:, 1])
        return self.run_in(columns, points[:, 2])

    def run_in(self, columns: LongArray, z: FloatArray) -> LongArray:
        """The run of each column that holds the height z (z0 <= z < z1), -1 where there is material."""
        found = np.empty(len(columns), dtype=np.int64)
        lookup.runs_holding(columns, np.ascontiguousarray(z), self.offsets, self.z0, self.z1, found)
        return found

    def on_plate(self, layer_mm: float, rims: NDArray[np.bool_] | None = None) -> Runs:
        """The same part flat on the plate: z = 0 is a wall, and void thinner than a layer above it is none.

        Only the rim of the grid stays open below, as the way to the outside. rims: (n_columns,) which columns are of
        it, if these are some of a larger grid.
        """
        rim = self.grid.is_rim(self.column_of_run) if rims is None else rims[self.column_of_run]
        z0 = np.where(rim, self.z0, np.maximum(self.z0, 0.0))
        keep = rim | (self.z1 - z0 >= layer_mm) | (z0 > 0.0)
        offsets = np.zeros(self.grid.n_columns + 1, dtype=np.int64)
        np.cumsum(np.bincount(self.column_of_run[keep], minlength=self.grid.n_columns), out=offsets[1:])
        return replace(self, offsets=offsets, z0=z0[keep], z1=self.z1[keep], void_class=self.void_class[keep])

    def upside_down(self) -> Runs:
        """The same free space through the origin to the other side: x, y and z change sign. Run k becomes n - 1 - k."""
        grid = self.grid
        across = Grid(-grid.x0 - grid.nx * grid.pitch, -grid.y0 - grid.ny * grid.pitch, grid.pitch, grid.nx, grid.ny)
        offsets = (self.offsets[-1] - self.offsets)[::-1].copy()
        z0, z1, void_class = -self.z1[::-1], -self.z0[::-1], self.void_class[::-1].copy()
        return Runs(across, offsets, z0, z1, void_class, self.bad[::-1].copy())


def cast(
    vertices: FloatArray,
    faces: IntArray,
    skin_of_face: IntArray,
    pitch: float,
    *,
    shift: float = 0.0,
    tight: bool = True,
    rings: int = 1,
) -> Runs:
    """Scan-convert a mesh into void runs.

    vertices: (n, 3) float64 in build axes, mm. faces: (m, 3) int32. skin_of_face: (m,) int32. pitch: mm. shift: moves
    the grid by this share of a pixel. tight: the mesh is closed and manifold, so skins may separate void classes.
    rings: of empty pixels round the part.
    """
    low, high = box_of(vertices)
    grid = Grid.around(low, high, pitch, shift, rings)
    frame = np.array([grid.x0, grid.y0, _UNIT / grid.pitch])
    return _cast_on(grid, frame, vertices, faces, skin_of_face, tight)


def cast_window(
    vertices: FloatArray, faces: IntArray, skin_of_face: IntArray, grid: Grid, window: tuple[int, int, int, int], *,
    tight: bool = True,
) -> Runs:  # fmt: skip
    """Some pixels of a grid alone: i0 to i1 and j0 to j1, ends not counted. What `cast` gives for them, but for columns
    that do not close: they are replaced by a neighbour's within the window.

    The other arguments are those of `cast`.
    """
    i0, i1, j0, j1 = window
    # Whole subpixels, rounded as for the whole grid and counted from the window's corner: the same crossings exactly.
    scale, corner = _UNIT / grid.pitch, np.array([grid.x0, grid.y0])
    points = vertices.copy()
    points[:, :2] = np.floor((vertices[:, :2] - corner) * scale + 0.5) - np.array([i0, j0]) * _UNIT
    size = np.array([i1 - i0, j1 - j0])
    a, b, c = (points[faces[:, k], :2] for k in range(3))
    low, high = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
    met = ((high >= 0.0) & (low <= size * _UNIT)).all(axis=1)
    part = Grid(grid.x0 + i0 * grid.pitch, grid.y0 + j0 * grid.pitch, grid.pitch, int(size[0]), int(size[1]))
    return _cast_on(part, np.array([0.0, 0.0, 1.0]), points, faces[met], skin_of_face[met], tight)


def _cast_on(
    grid: Grid, frame: FloatArray, vertices: FloatArray, faces: IntArray, skin_of_face: IntArray, tight: bool
) -> Runs:
    """frame: x0, y0 and subpixels per unit of the vertices' x and y, as `scan_faces` takes them."""
    axes = np.arange(3)
    cursor = np.zeros(grid.n_columns, dtype=np.int64)
    none_f, none_i = np.empty(0), np.empty(0, dtype=np.int32)
    kernels.scan_faces(vertices, faces, skin_of_face, axes, frame, grid.nx, grid.ny, 0, cursor, none_f, none_i, none_i)
    offsets = np.zeros(grid.n_columns + 1, dtype=np.int64)
    np.cumsum(cursor, out=offsets[1:])
    n = int(offsets[-1])
    crossing_z, step, skin = np.empty(n), np.empty(n, dtype=np.int32), np.empty(n, dtype=np.int32)
    cursor[:] = offsets[:-1]
    kernels.scan_faces(vertices, faces, skin_of_face, axes, frame, grid.nx, grid.ny, 1, cursor, crossing_z, step, skin)
    bad = np.empty(grid.n_columns, dtype=np.uint8)
    kernels.sort_columns(offsets, crossing_z, step, skin, bad)
    return _runs_from(grid, offsets, crossing_z, step, skin, bad.astype(bool), tight)


@dataclass(frozen=True, eq=False)
class Crossings:
    """Where columns cross faces, ordered by column, then by z: column, face (int), step (+1 into material), z (mm)."""

    column: LongArray
    face: IntArray
    step: IntArray
    z: FloatArray


def cast_crossings(
    vertices: FloatArray, faces: IntArray, box: FloatArray, axis: int, pitch: float, shift: float = 0.0
) -> Crossings:
    """The bare crossings of a coarse grid of columns along a coordinate axis, in one pass over the faces.

    box: (2, 3) bounds of the vertices. The other arguments are those of `cast`.
    """
    axes = np.array([(axis + 1) % 3, (axis + 2) % 3, axis])
    grid = Grid.around(box[0, axes], box[1, axes], pitch, shift)
    frame = np.array([grid.x0, grid.y0, _UNIT / grid.pitch])
    number = np.arange(len(faces), dtype=np.int32)
    room = 8 * grid.n_columns
    while True:
        cursor = np.zeros(1, dtype=np.int64)
        crossing, packed, face = np.empty(room), np.empty(room, dtype=np.int32), np.empty(room, dtype=np.int32)
        kernels.scan_faces(vertices, faces, number, axes, frame, grid.nx, grid.ny, 2, cursor, crossing, packed, face)
        n = int(cursor[0])
        if n <= room:
            break
        room = n
    column = np.abs(packed[:n]).astype(np.int64) - 1
    step = np.sign(packed[:n])
    order = np.lexsort((-step, crossing[:n], column))
    return Crossings(column[order], face[:n][order], step[order], crossing[:n][order])


def _runs_from(
    grid: Grid,
    offsets: LongArray,
    crossing_z: FloatArray,
    step: IntArray,
    skin: IntArray,
    bad: NDArray[np.bool_],
    tight: bool,
) -> Runs:
    most = len(crossing_z) + grid.n_columns
    run_offsets = np.empty(grid.n_columns + 1, dtype=np.int64)
    stand_in = _nearest_sound(bad, grid)
    if bad.any():
        most += int(np.diff(offsets)[stand_in[bad]].sum())
    z0, z1 = np.empty(most), np.empty(most)
    floor, ceiling = np.empty(most, dtype=np.int32), np.empty(most, dtype=np.int32)
    overlap = np.empty(5)
    n = kernels.void_runs(offsets, crossing_z, step, skin, stand_in, run_offsets, z0, z1, floor, ceiling, overlap)
    classes = _void_classes(floor[:n], ceiling[:n]) if tight and not bad.any() else np.zeros(n, dtype=np.int32)
    return Runs(grid, run_offsets, z0[:n].copy(), z1[:n].copy(), classes, bad, _overlap(grid, overlap))


def _overlap(grid: Grid, found: FloatArray) -> Overlap | None:
    doubled, missed, longest, column, middle = found.tolist()
    if longest == 0.0:
        return None
    x, y = grid.centres(np.array([int(column)]))
    area = grid.pitch**2
    return Overlap(doubled * area, missed * area, np.array([x[0], y[0], middle]))


def _nearest_sound(bad: NDArray[np.bool_], grid: Grid) -> LongArray:
    """For each column itself, or for a bad one the nearest column whose winding closes."""
    own = np.arange(grid.n_columns, dtype=np.int64)
    if not bad.any():
        return own
    j, i = distance_transform_edt(bad.reshape(grid.ny, grid.nx), return_distances=False, return_indices=True)
    nearest: LongArray = (j.astype(np.int64) * grid.nx + i).ravel()
    return nearest


def _void_classes(floor: IntArray, ceiling: IntArray) -> IntArray:
    """Class of each run: skins that bound one run face the same void, so they are one class (-1 is the open sky)."""
    n = int(max(floor.max(initial=0), ceiling.max(initial=0))) + 2
    pairs = np.unique((floor.astype(np.int64) + 1) * n + ceiling + 1)
    graph = coo_array((np.ones(len(pairs), dtype=np.int8), (pairs // n, pairs % n)), shape=(n, n))
    _, label = connected_components(graph, directed=False)
    classes: IntArray = label.astype(np.int32)[floor + 1]
    return classes


Tool = Bore
"""A drill in build axes."""


def tool_intervals(tool: Tool, grid: Grid) -> tuple[LongArray, FloatArray, FloatArray]:
    """Columns that a drill covers, with the lowest and highest z of it in each (mm). Exact for cylinders; of others
    the polygon counts that is drilled.

    The vertical line through a pixel centre meets |p - a - ((p - a).u) u| <= r in a quadratic's interval and the slab
    0 <= (p - a).u <= L in a linear one; a convex body gives one interval.
    """
    if not tool.is_cylinder:
        return _planes_intervals(tool, grid)
    a, b = np.asarray(tool.start), np.asarray(tool.end)
    length = float(np.linalg.norm(b - a))
    u = (b - a) / length
    spread = tool.radius * np.sqrt(np.maximum(0.0, 1.0 - u * u))
    low, high = np.minimum(a, b) - spread, np.maximum(a, b) + spread
    columns = _columns_between(low, high, grid)
    x, y = grid.centres(columns)
    # With d = (x, y, 0) - a and t the height: |d + t k|^2 - ((d + t k).u)^2 = r^2.
    dx, dy, dz = x - a[0], y - a[1], -a[2]
    along = dx * u[0] + dy * u[1] + dz * u[2]
    qa = 1.0 - u[2] ** 2
    qb = dz - along * u[2]
    qc = dx * dx + dy * dy + dz * dz - along * along - tool.radius**2
    z_low, z_high = np.full(len(columns), low[2]), np.full(len(columns), high[2])
    if qa > 1e-12:
        root = qb * qb - qa * qc
        hit = root > 0
        half = np.sqrt(np.maximum(root, 0.0)) / qa
        z_low, z_high = np.maximum(z_low, -qb / qa - half), np.minimum(z_high, -qb / qa + half)
    else:
        hit = qc < 0
    if abs(u[2]) > 1e-12:
        t0, t1 = -along / u[2], (length - along) / u[2]
        z_low, z_high = np.maximum(z_low, np.minimum(t0, t1)), np.minimum(z_high, np.maximum(t0, t1))
    else:
        hit &= (along >= 0) & (along <= length)
    hit &= z_high > z_low
    return columns[hit], z_low[hit], z_high[hit]


def _columns_between(low: FloatArray, high: FloatArray, grid: Grid) -> LongArray:
    """The columns whose cells meet a box."""
    i0, j0 = (max(0, int(np.floor((low[k] - o) / grid.pitch))) for k, o in ((0, grid.x0), (1, grid.y0)))
    i1 = min(grid.nx - 1, int(np.floor((high[0] - grid.x0) / grid.pitch)))
    j1 = min(grid.ny - 1, int(np.floor((high[1] - grid.y0) / grid.pitch)))
    i, j = np.meshgrid(np.arange(i0, i1 + 1), np.arange(j0, j1 + 1))
    return (j * grid.nx + i).ravel().astype(np.int64)


def _planes_intervals(tool: Tool, grid: Grid) -> tuple[LongArray, FloatArray, FloatArray]:
    """As `tool_intervals`, from the planes of any drill."""
    corners = tool.rings.reshape(-1, 3)
    columns = _columns_between(corners.min(axis=0), corners.max(axis=0), grid)
    x, y = grid.centres(columns)
    start = tool.place(np.stack((x, y, np.zeros(len(x))), axis=1))
    way = np.broadcast_to(tool.axes[:, 2], start.shape)
    low, high, _, _ = clip(start, way, *tool.planes(tool))
    hit = high > low
    return columns[hit], low[hit], high[hit]


def drilled(runs: Runs, tools: tuple[Tool, ...]) -> Runs:
    """The void runs after all tools have been cut, without a boolean (within the pixel raster)."""
    parts = [tool_intervals(tool, runs.grid) for tool in tools]
    if not parts:
        return runs
    columns, low, high = (np.concatenate([p[k] for p in parts]) for k in range(3))
    return with_void(runs, columns, low, high)


def with_void(runs: Runs, columns: LongArray, low: FloatArray, high: FloatArray) -> Runs:
    """Void runs with more void in their columns. columns: (k,); low, high: (k,) mm, where it begins and ends."""
    order = np.lexsort((low, columns))
    columns, low, high = columns[order], low[order], high[order]
    cut_offsets = np.zeros(runs.grid.n_columns + 1, dtype=np.int64)
    np.cumsum(np.bincount(columns, minlength=runs.grid.n_columns), out=cut_offsets[1:])
    most = len(runs.z0) + len(columns)
    offsets = np.empty(runs.grid.n_columns + 1, dtype=np.int64)
    z0, z1, klass = np.empty(most), np.empty(most), np.empty(most, dtype=np.int32)
    n = kernels.add_intervals(
        runs.offsets, runs.z0, runs.z1, runs.void_class, cut_offsets, low, high, offsets, z0, z1, klass
    )
    return replace(runs, offsets=offsets, z0=z0[:n], z1=z1[:n], void_class=klass[:n])
