"""Free space as printed of a part with too many pixels: at a coarser pixel, exact where openings and vents are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ventplanner.analysis.openings import Opening
from ventplanner.geometry.columns import LongArray, Runs, Tool, drilled, with_void
from ventplanner.geometry.solid import FloatArray
from ventplanner.printed.model import PrintedOpening
from ventplanner.printed.part import Box, PixelPart
from ventplanner.printed.solidity import printed_in
from ventplanner.printed.widths import box_of, way_through

LEAST_SHARE = 0.75
"""A drill of at least this many pixels of radius goes through a row of pixels that hang together."""


def coarser(part: PixelPart) -> PixelPart:
    """The part with all else as it is, at the smallest pixel at which all of it can be cast."""
    profile = part.light.profile
    return PixelPart.of(part.findings, replace(profile, pixel_mm=part.least_whole_pixel_mm))


def patched_runs(
    part: PixelPart,
    space: Runs,
    openings: Sequence[tuple[Opening, PrintedOpening]],
    vents: Sequence[tuple[Tool, PrintedOpening]],
) -> Runs:
    """Free space as printed at a coarser pixel, and at openings and vents what the exact print of them says.

    space: at the coarser pixel alone. What prints closed is closed by the exact solid cells round it; what prints open
    gets the exact void ones, a vent at least so wide that the coarser pixel shows it.
    """
    tools = tuple(tool for tool, _ in vents)
    drills = []
    for tool, found in vents:
        if found.open:
            least = max(0.5 * found.printed_mm, LEAST_SHARE * space.grid.pitch)
            # As much narrower as it prints, on every side: also a slot's ends.
            less = tool.radius - min(tool.radius, least)
            drills.append(replace(tool, radius=tool.radius - less, outline=tool.outline.grown(-less)))
        else:
            space = without(space, *_stretches(part, box_of(part, tool), tools, space, solid=True))
    for opening, found in openings:
        way = way_through(part, opening, tools) if found.exact else None
        if way is None:
            continue
        stretches = _stretches(part, way.box, tools, space, solid=not found.open)
        space = with_void(space, *stretches) if found.open else without(space, *stretches)
    return drilled(space, tuple(drills))


def _stretches(
    part: PixelPart, box: Box, tools: Sequence[Tool], runs: Runs, *, solid: bool
) -> tuple[LongArray, FloatArray, FloatArray]:
    """Solid or void stretches of a box as printed, in the columns of some runs: column, and lower and upper end, mm."""
    (void,) = printed_in(part, box, tools, all_causes=True)
    grid, fine, layer = runs.grid, part.grid, part.light.layer
    at = []
    for origin, first, last, count, own in (
        (fine.x0, box.i0, box.i1, grid.nx, grid.x0),
        (fine.y0, box.j0, box.j1, grid.ny, grid.y0),
    ):
        middles = own + (np.arange(count) + 0.5) * grid.pitch
        pixel = np.floor((middles - origin) / fine.pitch).astype(np.int64)
        met = np.flatnonzero((pixel >= first) & (pixel < last))
        at.append((met, pixel[met] - first))
    (i, x), (j, y) = at
    chosen = (void != solid)[:, y[:, None], x[None, :]].reshape(len(void), -1)
    columns = (j[:, None] * grid.nx + i[None, :]).ravel()
    edge = np.diff(np.pad(chosen, ((1, 1), (0, 0))).astype(np.int8), axis=0).T
    which, low = np.nonzero(edge > 0)
    _, high = np.nonzero(edge < 0)
    bottom, top = (np.asarray((box.k0 + k) * layer, dtype=np.float64) for k in (low, high))
    return np.asarray(columns[which], dtype=np.int64), bottom, top


def without(runs: Runs, columns: LongArray, low: FloatArray, high: FloatArray) -> Runs:
    """Void runs less some stretches of their columns. columns: (k,); low, high: (k,) mm."""
    touched = np.unique(columns)
    mine = np.isin(runs.column_of_run, touched)
    n, k = int(mine.sum()), len(columns)
    own = np.flatnonzero(mine)
    column = np.concatenate((runs.column_of_run[own], runs.column_of_run[own], columns, columns))
    z = np.concatenate((runs.z0[own], runs.z1[own], low, high))
    # Void opens at 1 and is none where a stretch takes 1 away; at one height what takes away comes first.
    step = np.repeat(np.array([1, -1, -1, 1]), (n, n, k, k))
    order = np.lexsort((step, z, column))
    column, z, run = column[order], z[order], np.concatenate((own, np.full(n + 2 * k, -1)))[order]
    depth = np.cumsum(step[order])
    begins = np.flatnonzero((depth[:-1] == 1) & (z[1:] > z[:-1]) & (column[1:] == column[:-1]))
    source = np.maximum.accumulate(np.where(run >= 0, np.arange(len(run)), 0))[begins]
    rest = np.flatnonzero(~mine)
    all_columns = np.concatenate((runs.column_of_run[rest], column[begins]))
    z0, z1 = (np.concatenate((a[rest], b)) for a, b in ((runs.z0, z[begins]), (runs.z1, z[begins + 1])))
    classes = np.concatenate((runs.void_class[rest], runs.void_class[run[source]]))
    order = np.lexsort((z0, all_columns))
    offsets = np.zeros(runs.grid.n_columns + 1, dtype=np.int64)
    np.cumsum(np.bincount(all_columns, minlength=runs.grid.n_columns), out=offsets[1:])
    return replace(runs, offsets=offsets, z0=z0[order], z1=z1[order], void_class=classes[order].astype(np.int32))
