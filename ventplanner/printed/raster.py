"""The whole part as printed, at the printer's own resolution: void runs of the nominal part to void runs as printed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass, replace
from functools import partial
from itertools import islice
from typing import TypeVar

import numpy as np

from ventplanner.geometry import exposure_kernels as kernels
from ventplanner.geometry.columns import LongArray, Runs
from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.printed.light import Light
from ventplanner.progress import Progress, silent

T = TypeVar("T")

ROWS = 64
"""Rows of pixels in a band: its planes stay in the processor's cache (measured: 32 to 128 make no difference)."""

THREADS = 2
"""Pieces of work at a time: the kernels and SciPy's filters hold no interpreter lock."""

PHASE = "Printing in thought"


@dataclass(frozen=True, eq=False)
class _Band:
    """Void runs of some rows of pixels, offsets from 0."""

    offsets: LongArray
    z0: FloatArray
    z1: FloatArray
    void_class: IntArray


def printed_runs(runs: Runs, light: Light, progress: Progress = silent) -> Runs:
    """What stays void, by columns and whole layers. runs: the part at the printer's pixel, without a plate, its grid
    with `light.margin` more empty pixels round it than usual. Cancels between bands of rows."""
    rows = max(ROWS, 2 * light.margin)
    work = [partial(_band, runs, light, first, rows) for first in range(0, runs.grid.ny, rows)]
    bands = side_by_side(work, PHASE, progress)
    offsets = [b.offsets[:-1] + at for b, at in zip(bands, _begins(bands), strict=True)]
    total = sum(len(b.z0) for b in bands)
    return replace(
        runs,
        offsets=np.concatenate([*offsets, [total]]),
        z0=np.concatenate([b.z0 for b in bands]),
        z1=np.concatenate([b.z1 for b in bands]),
        void_class=np.concatenate([b.void_class for b in bands]),
    )


def side_by_side(work: Sequence[Callable[[], T]], phase: str, progress: Progress) -> list[T]:
    """The results of some pieces of work in their order, THREADS at a time. What `progress` or a piece raises ends it
    all as soon as the pieces at hand are done."""
    done: dict[int, T] = {}
    waiting: dict[Future[T], int] = {}
    todo = iter(enumerate(work))
    with ThreadPoolExecutor(THREADS) as pool:
        for number, piece in islice(todo, THREADS):
            waiting[pool.submit(piece)] = number
        while waiting:
            progress(phase, len(done) / len(work))
            ready, _ = wait(waiting, return_when=FIRST_COMPLETED)
            for future in ready:
                done[waiting.pop(future)] = future.result()
                for number, piece in islice(todo, 1):
                    waiting[pool.submit(piece)] = number
    progress(phase, 1.0)
    return [done[k] for k in range(len(work))]


def _begins(bands: list[_Band]) -> list[int]:
    return [0, *np.cumsum([len(b.z0) for b in bands])[:-1].tolist()]


def _band(runs: Runs, light: Light, first_row: int, rows: int) -> _Band:
    """The rows from `first_row` on, at most `rows` of them."""
    grid, halo = runs.grid, light.margin
    own = min(rows, grid.ny - first_row)
    blocks = -(-grid.nx // kernels.BLOCK)
    pad, n = max(1, light.radius), light.layers
    width, all_rows = blocks * kernels.BLOCK + 2 * pad, own + 2 * halo
    low, high = max(0, first_row - halo), min(grid.ny, first_row + own + halo)
    top = first_row - halo  # the grid's row that is the band's row 0; there may be none
    place = np.array([low * grid.nx, (high - low) * grid.nx, grid.nx, top, width, pad, n], dtype=np.int64)
    starts, where = _changes(runs, light, place)
    size = np.array([all_rows, blocks, pad, halo, light.radius, light.settle], dtype=np.int64)
    at, height = _exposed(size, light, starts, where)
    place[0], place[1] = first_row * grid.nx, own * grid.nx
    columns = own * grid.nx
    most = len(at) // 2 + columns + 1
    offsets, begin = np.empty(columns + 1, dtype=np.int64), np.empty(columns + 1, dtype=np.int64)
    z0, z1, void_class = np.empty(most), np.empty(most), np.empty(most, dtype=np.int32)
    m = kernels.runs_of_changes(
        runs.offsets, runs.z0, runs.z1, runs.void_class, place, light.layer, at, height,
        np.empty(len(at), dtype=np.int32), begin, offsets, z0, z1, void_class,
    )  # fmt: skip
    return _Band(offsets, z0[:m].copy(), z1[:m].copy(), void_class[:m].copy())


def _changes(runs: Runs, light: Light, place: LongArray) -> tuple[LongArray, IntArray]:
    """Pixels of a band whose mask changes, sorted by height: first of each height, and where they stand."""
    starts, nothing = np.zeros(light.layers + 2, dtype=np.int64), np.empty(0, dtype=np.int32)
    kernels.mask_changes(runs.offsets, runs.z0, runs.z1, place, light.layer, 0, starts, nothing)
    np.cumsum(starts, out=starts)
    where = np.empty(int(starts[-1]), dtype=np.int32)
    kernels.mask_changes(runs.offsets, runs.z0, runs.z1, place, light.layer, 1, starts[:-1].copy(), where)
    return starts, where


def _exposed(size: LongArray, light: Light, starts: LongArray, where: IntArray) -> tuple[IntArray, IntArray]:
    """Pixels of a band whose printed raster changes, and the height of each change in layers, by falling height."""
    blocks = int(size[0] * size[1])
    cells = int(size[0]) * (kernels.BLOCK * int(size[1]) + 2 * int(size[2]))
    weight = light.weights[light.radius :].astype(np.float32)
    doses = np.append(light.own, light.through).astype(np.float32)
    room = len(where) + 1024
    while True:
        at, height = np.empty(room, dtype=np.int32), np.empty(room, dtype=np.int32)
        mask, printed, grown = (np.zeros(cells, dtype=np.uint8) for _ in range(3))
        dose, along, gap = (np.zeros(cells, dtype=t) for t in (np.float32, np.float32, np.int32))
        filled, age, stamp = (np.full(blocks, k, dtype=np.int32) for k in (0, light.settle + 1, -1))
        changed, live, near, lit = (np.zeros(blocks, dtype=np.uint8) for _ in range(4))
        window, seen = (np.zeros(int(size[1]), dtype=np.int32) for _ in range(2))
        n = kernels.expose(
            size, weight, doses, light.base, light.span, starts, where, mask, printed, grown, gap, dose, along,
            filled, age, stamp, changed, live, near, lit, window, seen, np.zeros(kernels.BLOCK, dtype=np.float32),
            at, height,
        )  # fmt: skip
        if n <= room:
            return at[:n], height[:n]
        room = n
