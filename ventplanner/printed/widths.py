"""How wide one opening or vent prints at its narrowest, and what took how much."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import distance_transform_edt, find_objects, label, maximum_filter1d

from ventplanner.analysis.openings import Opening
from ventplanner.geometry.bore import Bore
from ventplanner.geometry.columns import Tool
from ventplanner.geometry.solid import FloatArray
from ventplanner.physics.curing import edge_shift, print_through
from ventplanner.printed.model import PrintedOpening
from ventplanner.printed.part import (
    BoolArray,
    Box,
    PixelPart,
    inside,
    material_in,
    place_along,
    printed_in,
    tool_of,
)

WIDEST_MM = 6.0
"""Wider openings do not close; their printed width is told by formula, as a lower bound (own judgement)."""

MOST_NODES = 2_000_000
"""On lattices with more points the middle of the ball is looked for at middles and corners of cells only: wide holes
are told up to a pixel narrower than on the whole lattice, and in a quarter of the time (measured)."""

REACH_MM = 4.0
"""From the throat of an opening its wider ends are looked for this far (own judgement: the longest usual wall)."""

WIDER = 1.25
"""Where an opening has this many times the clearance of its throat, it has ended (own judgement)."""

NARROWER = 0.8
"""Where it has less than this share of it, the walk has left the way (own judgement)."""

STEP_MM = 0.1
"""Sizes are proposed in steps of this."""

MOST_MORE_MM = 5.0
"""No size is proposed that is more than this above the asked width."""


@dataclass(frozen=True, eq=False)
class _Way:
    """A way through: the box of cells to measure in, the cells that may be used, those at its two ends, and those
    whose material bounds it (all if None)."""

    box: Box
    domain: BoolArray
    ends: tuple[BoolArray, BoolArray]
    bounds: BoolArray | None = None


def vent_as_printed(
    part: PixelPart, bore: Bore | Tool, others: Sequence[Bore | Tool] = (), of: str = ""
) -> PrintedOpening:
    """A planned vent. bore: in build axes, from outside to inside; others: vents drilled as well."""
    tool = tool_of(bore)
    tools = [tool, *map(tool_of, others)]
    at = 0.5 * (np.asarray(tool.start) + np.asarray(tool.end))
    way = _bored(part, tool)
    widths = _widths(part, way, printed_in(part, way.box, tools))
    return PrintedOpening.of_widths(of, _point(at), (2.0 * tool.radius, *widths))


def opening_as_printed(
    part: PixelPart, opening: Opening, tools: Sequence[Bore | Tool] = (), of: str = ""
) -> PrintedOpening:
    """An existing opening of the part. tools: planned vents, drilled as well."""
    at, width = _point(opening.at), float(opening.width)
    if width > WIDEST_MM:
        return PrintedOpening.of_widths(of, at, _by_formula(part, opening), exact=False)
    drills = [tool_of(t) for t in tools]
    way = _found(part, opening, drills)
    if way is None:
        return PrintedOpening.of_widths(of, at, (width, 0.0, 0.0, 0.0, 0.0))
    widths = _widths(part, way, printed_in(part, way.box, drills))
    return PrintedOpening.of_widths(of, at, (width, *widths))


def size_that_prints(
    part: PixelPart, bore: Bore | Tool, least_mm: float, others: Sequence[Bore | Tool] = ()
) -> float | None:
    """The smallest diameter in mm, in steps of STEP_MM, that prints at least `least_mm` wide along the same axis.

    None if nothing up to MOST_MORE_MM more does. A larger hole never prints narrower, so steps up from a first guess
    or down from it find the smallest.
    """
    tool, rest = tool_of(bore), [tool_of(t) for t in others]

    def prints(steps: int) -> bool:
        drill = Tool(tool.start, tool.end, 0.5 * steps * STEP_MM)
        way = _bored(part, drill)
        (void,) = printed_in(part, way.box, [drill, *rest], all_causes=True)
        return _width(part, way, void) >= least_mm - 1e-9

    lowest = max(1, int(np.ceil(least_mm / STEP_MM - 1e-9)))
    highest = lowest + round(MOST_MORE_MM / STEP_MM)
    steps = 1
    low, high = lowest - 1, lowest  # low does not print; high may
    while not prints(high):
        if high == highest:
            return None
        low, high, steps = high, min(highest, high + steps), 2 * steps
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if prints(middle) else (middle, high)
    return round(high * STEP_MM, 9)


def _point(at: FloatArray) -> tuple[float, float, float]:
    return float(at[0]), float(at[1]), float(at[2])


def _by_formula(part: PixelPart, opening: Opening) -> tuple[float, ...]:
    """Widths of a wide opening, at least: a pixel, the shift of straight edges, a ceiling that comes down in full."""
    p, low = part.light.profile, float(opening.at[2]) - 0.5 * float(opening.width)
    sides = 2.0 * max(0.0, edge_shift(p.blur_mm, p.exposure_ratio)) if p.exposure_ratio > 1.0 else 0.0
    first = float(opening.width) - p.pixel_mm
    ceiling = print_through(p.penetration_mm, p.exposure_ratio, p.layer_height_mm)
    widths = [float(opening.width), first, first - sides, first - sides - ceiling]
    base = low < part.light.base * p.layer_height_mm
    ratio = p.exposure_ratio * p.base_exposure
    more = 2.0 * (p.base_spread_mm + edge_shift(p.blur_mm, ratio)) - sides if base else 0.0
    return *widths, max(0.0, widths[-1] - more)


def _bored(part: PixelPart, tool: Tool) -> _Way:
    edge = max(part.light.pixel, part.light.layer)
    a, b = np.asarray(tool.start), np.asarray(tool.end)
    u = edge * (b - a) / np.linalg.norm(b - a)
    across = tool.radius * np.sqrt(np.maximum(0.0, 1.0 - (u / edge) ** 2))
    box = Box.around(np.array([a - across, a + across, b - across, b + across]), 2.0 * edge, part)
    cells = box.centres(part)
    along, off = place_along(tool, *cells)
    drilled = inside(tool, *cells, more=edge)
    wall = drilled & material_in(part, box)
    core = wall & (off <= max(1.5 * edge, 0.2 * tool.radius))
    # Where there was a hole before, the wall is all that the drill takes off; else what its axis goes through.
    met = along[core] if core.any() else along[wall]
    middle = 0.5 * float(np.linalg.norm(b - a))
    begin, end = (float(met.min()), float(met.max())) if len(met) else (middle, middle)
    free = drilled & ~wall & (off <= tool.radius)
    # What lies behind the wall that is drilled, such as the far side of a narrow room, does not make the hole narrower.
    bounds = (along >= met.min() - edge) & (along <= met.max() + edge) if len(met) else None
    return _Way(box, drilled, (free & (along < begin), free & (along > end)), bounds)


def _found(part: PixelPart, opening: Opening, tools: Sequence[Tool]) -> _Way | None:
    """The way through an existing opening: from its throat out and in to where it is wider."""
    pixel, layer = part.light.pixel, part.light.layer
    half = 0.5 * float(opening.width)
    reach = np.array([opening.at - REACH_MM * opening.outwards, opening.at + REACH_MM * opening.outwards])
    box = Box.around(reach, 2.0 * half + 4.0 * max(pixel, layer), part)
    void = ~material_in(part, box, tools)
    clear = distance_transform_edt(np.pad(void, 1, constant_values=True), sampling=(layer, pixel, pixel))
    clear = np.asarray(clear)[1:-1, 1:-1, 1:-1]
    # A box without any material has no distances.
    clear = np.minimum(clear, box.shape[0] * layer + REACH_MM) if not void.all() else np.full(box.shape, REACH_MM)
    ends = [_end(part, box, clear, opening, sign, half) for sign in (1.0, -1.0)]
    if ends[0] is None or ends[1] is None:
        return None
    (first, r1), (last, r2) = ends[0], ends[1]
    near = Box.around(np.array([first, opening.at, last]), 1.5 * half + 4.0 * max(pixel, layer), part)
    z, y, x = near.centres(part)
    balls = [
        np.asarray((x - p[0]) ** 2 + (y - p[1]) ** 2 + (z - p[2]) ** 2 <= r * r) for p, r in ((first, r1), (last, r2))
    ]
    return _Way(near, np.ones(near.shape, dtype=bool), (balls[0], balls[1]))


def _end(
    part: PixelPart, box: Box, clear: FloatArray, opening: Opening, sign: float, half: float
) -> tuple[FloatArray, float] | None:
    """Where an opening ends on one side, and the radius of a ball there: walked in small steps, kept in the middle."""
    grid, layer = part.runs.grid, part.light.layer
    unit = np.array([grid.pitch, grid.pitch, layer])
    origin = np.array([grid.x0 + box.i0 * grid.pitch, grid.y0 + box.j0 * grid.pitch, box.k0 * layer])
    place = np.asarray(opening.at, dtype=np.float64)
    step = sign * float(unit.min()) * np.asarray(opening.outwards)
    best: tuple[FloatArray, float] | None = None
    for _ in range(int(REACH_MM / float(unit.min()))):
        index = np.floor((place - origin) / unit).astype(np.int64)[::-1]
        if (index < 0).any() or (index >= box.shape).any():
            break
        around = tuple(slice(max(0, int(i) - 1), int(i) + 2) for i in index)
        window = clear[around]
        if window.max() <= 0.0:
            break
        found = np.array(np.unravel_index(int(window.argmax()), window.shape)) + [s.start for s in around]
        middle = origin + (found[::-1] + 0.5) * unit
        far = float(np.linalg.norm(middle - opening.at))
        if best is not None and window.max() < NARROWER * half:
            break  # the walk left a bent way: what it has seen so far is measured
        best = middle, max(min(0.9 * float(window.max()), 0.5 * far), float(unit.max()))
        if window.max() >= WIDER * half + unit.max() and far >= unit.max():
            break
        # Across the way the walk may be carried to the middle; along it, it goes on by its step.
        shift = middle - place
        shift -= np.asarray(opening.outwards) * (shift @ opening.outwards)
        place = place + step + np.clip(shift, -unit, unit)
    return best


def _widths(part: PixelPart, way: _Way, stages: Sequence[BoolArray]) -> list[float]:
    """The width at each stage; where a stage changed nothing, nothing is measured anew."""
    widths: list[float] = []
    for k, void in enumerate(stages):
        same = k > 0 and np.array_equal(void, stages[k - 1])
        widths.append(widths[-1] if same else _width(part, way, void))
    return widths


def _width(part: PixelPart, way: _Way, void: BoolArray) -> float:
    """Diameter in mm of the largest ball that gets through void cells from one end of a way to the other; 0: none.

    Its middle moves on a lattice of half the cells' pitch, so that widths of an odd and of an even number of cells are
    told alike. Cells are boxes: the stairs of a raster take up to one and a half pixels of a round hole, and a coarse
    lattice up to one more of a wide one. Clearances of cells, within half a cell's diagonal of the exact ones, tell
    first which points of the lattice can matter: the search among them is what takes time.
    """
    unit = np.array([part.light.layer, part.light.pixel, part.light.pixel])
    solid = ~void if way.bounds is None else ~void & way.bounds
    if not solid.any():
        return float((np.array(void.shape) * unit).min())
    clear = np.where(void & way.domain, np.asarray(distance_transform_edt(~solid, sampling=unit)), 0.0)
    rough = _widest(clear, way.ends)
    if rough == 0.0:
        return 0.0
    near = clear >= max(rough - float(np.linalg.norm(unit) + 0.5 * unit.max()), 1e-9)
    if 8 * void.size > MOST_NODES:
        at_middles = 2.0 * rough - part.light.pixel
        return max(_at_corners(solid, way, near, unit), at_middles, 0.1 * part.light.pixel)
    fine = 2.0 * np.asarray(distance_transform_edt(~_closed(solid), sampling=0.5 * unit))
    (cells,) = find_objects(near.astype(np.uint8))
    crop = tuple(slice(2 * s.start, 2 * s.stop + 1) for s in cells)
    ends = (_closed(way.ends[0][cells]), _closed(way.ends[1][cells]))
    return _widest(np.where(_closed(near[cells]), fine[crop], 0.0), ends)


def _at_corners(solid: BoolArray, way: _Way, near: BoolArray, unit: FloatArray) -> float:
    """The same width where only corners of cells may be the ball's middle: up to a pixel less."""
    clear = 2.0 * np.asarray(distance_transform_edt(~_corners(solid), sampling=unit))
    (cells,) = find_objects(near.astype(np.uint8))
    crop = tuple(slice(s.start, s.stop + 1) for s in cells)
    ends = (_corners(way.ends[0][cells]), _corners(way.ends[1][cells]))
    return _widest(np.where(_corners(near[cells]), clear[crop], 0.0), ends)


def _corners(cells: BoolArray) -> BoolArray:
    """(n + 1 points an axis) corners that touch one of these cells."""
    out = np.pad(cells, 1)
    for axis in range(3):
        out = np.logical_or(*(np.take(out, range(k, out.shape[axis] - 1 + k), axis=axis) for k in (0, 1)))
    return np.asarray(out)


def _closed(cells: BoolArray) -> BoolArray:
    """Cells on a lattice of half their pitch, (2 n + 1) points an axis: their middles and all of their borders."""
    out = np.zeros(tuple(2 * n + 1 for n in cells.shape), dtype=np.uint8)
    out[1::2, 1::2, 1::2] = cells
    for axis in range(3):
        out = np.asarray(maximum_filter1d(out, 3, axis=axis, mode="constant"))
    return out.astype(bool)


def _widest(clear: FloatArray, ends: tuple[BoolArray, BoolArray]) -> float:
    """The largest clearance that joins two ends all along some way: bisection over the clearances that occur."""
    most = min(float(clear[end].max(initial=0.0)) for end in ends)
    levels = np.unique(clear[(clear > 0.0) & (clear <= most)])
    low, high = -1, len(levels)  # levels[low] joins, levels[high] does not
    while high - low > 1:
        middle = (low + high) // 2
        names, _ = label(clear >= levels[middle])
        first, last = (np.unique(names[end & (names > 0)]) for end in ends)
        low, high = (middle, high) if len(np.intersect1d(first, last)) else (low, middle)
    return float(levels[low]) if low >= 0 else 0.0
