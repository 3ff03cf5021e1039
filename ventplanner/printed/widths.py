"""How wide one opening or vent prints at its narrowest, and what took how much."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import nullcontext
from dataclasses import replace
from threading import Lock

import numpy as np
from scipy.ndimage import distance_transform_edt

from ventplanner.analysis.openings import Opening
from ventplanner.geometry.columns import Tool
from ventplanner.geometry.solid import FloatArray
from ventplanner.physics.curing import edge_shift, print_through, summed_ratio
from ventplanner.printed.bottleneck import Way, width_of
from ventplanner.printed.model import PrintedOpening
from ventplanner.printed.part import (
    Box,
    PixelPart,
    inside,
    material_in,
    place_along,
)
from ventplanner.printed.solidity import solidity_in
from ventplanner.progress import Progress, silent

WIDEST_MM = 6.0
"""Wider openings do not close; their printed width is told by formula, as a lower bound (own judgement)."""

REACH_MM = 4.0
"""From the throat of an opening its wider ends are looked for this far (own judgement: the longest usual wall)."""

WIDER = 1.25
"""Where an opening has this many times the clearance of its throat, it has ended (own judgement)."""

NARROWER = 0.8
"""Where it has less than this share of it, the walk has left the way (own judgement)."""

MOST_CELLS = 12_000_000
"""Cells of a box, with what lights it, that are measured one by one: some 50 bytes each (measured). Ways that need
more are told by formula, as a lower bound."""

MIDDLE, MIDDLE_MM = 0.5, 0.4
"""Before and behind its wall a hole is followed within this share of the drill's radius, at least so many mm (measured:
in all of it the same widths are found, up to four times slower)."""

MANY_CELLS = 2_000_000
"""Boxes of more cells are measured one at a time, for the memory."""

MOST_SEARCHED, MOST_COARSE = 60_000_000, 4_000_000
"""Cells in which the ends of an opening are looked for, some 5 bytes each; of more than the second, only every so many
of them are looked at."""

STEP_MM = 0.1
"""Sizes are proposed in steps of this."""

SIZES = "Sizes that print open"

MOST_MORE_MM = 5.0
"""No size is proposed that is more than this above the asked width."""


_large = Lock()


def vent_as_printed(part: PixelPart, tool: Tool, others: Sequence[Tool] = (), of: str = "") -> PrintedOpening:
    """A planned vent. tool: in build axes, from outside to inside; others: vents drilled as well."""
    if tool.spread > 0.0:  # a countersink is wider than the hole that it leads to, and that one is measured
        whole = (2.0 * tool.radius,) * 5
        return PrintedOpening.of_widths(of, _point(np.asarray(tool.start)), whole, exact=False)
    at = 0.5 * (np.asarray(tool.start) + np.asarray(tool.end))
    box = box_of(part, tool)
    if _is_too_large(part, box):
        low = (box.k0 + 2.0) * part.light.layer
        return PrintedOpening.of_widths(of, _point(at), _by_formula(part, 2.0 * tool.radius, low), exact=False)
    with _large if _lit(part, box).cells > MANY_CELLS else nullcontext():
        widths = _widths(part, _bored(part, tool), [tool, *others])
    return PrintedOpening.of_widths(of, _point(at), (2.0 * tool.radius, *widths))


def printed_width(part: PixelPart, tool: Tool, others: Sequence[Tool] = ()) -> float:
    """The `printed_mm` of `vent_as_printed`, without what each cause took: in a quarter of the time."""
    if _is_too_large(part, box_of(part, tool)):
        return vent_as_printed(part, tool, others).printed_mm
    way = _bored(part, tool)
    (stage,) = solidity_in(part, way.box, [tool, *others], all_causes=True)
    return width_of(way, stage, part.light.pixel, part.light.layer)


def opening_as_printed(part: PixelPart, opening: Opening, tools: Sequence[Tool] = (), of: str = "") -> PrintedOpening:
    """An existing opening of the part. tools: planned vents, drilled as well."""
    at, width = _point(opening.at), float(opening.width)
    by_formula = width > WIDEST_MM or _searched(part, opening).cells > MOST_SEARCHED
    with _large if _searched(part, opening).cells > MANY_CELLS else nullcontext():
        way = None if by_formula else way_through(part, opening, tools)
        if by_formula or (way is not None and _is_too_large(part, way.box)):
            low = at[2] - 0.5 * width
            return PrintedOpening.of_widths(of, at, _by_formula(part, width, low), exact=False)
        if way is None:
            return PrintedOpening.of_widths(of, at, (width, 0.0, 0.0, 0.0, 0.0))
        return PrintedOpening.of_widths(of, at, (width, *_widths(part, way, tools)))


def size_that_prints(
    part: PixelPart,
    tool: Tool,
    least_mm: float,
    others: Sequence[Tool] = (),
    progress: Progress = silent,
) -> float | None:
    """The smallest diameter in mm, in steps of STEP_MM, that prints at least `least_mm` wide along the same axis; of a
    slot the width, as long as it is.

    None if nothing up to MOST_MORE_MM more does. A larger hole never prints narrower, so steps up from a first guess
    or down from it find the smallest. Cancels between sizes.
    """
    tried = 0

    def prints(steps: int) -> bool:
        nonlocal tried
        progress(SIZES, tried / (tried + 4.0))  # how many there will be is not known
        tried += 1
        drill = replace(tool, radius=0.5 * steps * STEP_MM)
        return printed_width(part, drill, others) >= least_mm - 1e-9

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


def _by_formula(part: PixelPart, width: float, low: float) -> tuple[float, ...]:
    """Widths of a wide opening from `low` mm up, at least: a pixel, the shift of straight edges under the light of one
    layer and then of all above as well, a ceiling that comes down in full."""
    p = part.light.profile

    def sides(ratio: float) -> float:
        return 2.0 * max(0.0, edge_shift(p.blur_mm, ratio))

    ratio = p.exposure_ratio
    summed = max(ratio, summed_ratio(p.penetration_mm, ratio, p.layer_height_mm))
    first = width - p.pixel_mm
    ceiling = print_through(p.penetration_mm, ratio, p.layer_height_mm)
    widths = [width, first, first - sides(ratio), first - sides(summed) - ceiling]
    base = low < part.light.base * p.layer_height_mm
    more = 2.0 * p.base_spread_mm + sides(p.base_exposure * summed) - sides(summed) if base else 0.0
    return *widths, max(0.0, widths[-1] - more)


def _lit(part: PixelPart, box: Box) -> Box:
    """A box with all that lights it."""
    light = part.light
    return box.grown(light.margin, min(light.settle + 1, max(0, light.layers - box.k1)))


def _is_too_large(part: PixelPart, box: Box) -> bool:
    return _lit(part, box).cells > MOST_CELLS


def box_of(part: PixelPart, tool: Tool) -> Box:
    """The cells of all that a tool drills, and two more round them."""
    edge = max(part.light.pixel, part.light.layer)
    a, b = np.asarray(tool.start), np.asarray(tool.end)
    u = (b - a) / np.linalg.norm(b - a)
    across = tool.far * np.sqrt(np.maximum(0.0, 1.0 - u**2))
    return Box.around(np.array([a - across, a + across, b - across, b + across]), 2.0 * edge, part)


def _bored(part: PixelPart, tool: Tool) -> Way:
    edge = max(part.light.pixel, part.light.layer)
    a, b = np.asarray(tool.start), np.asarray(tool.end)
    box = box_of(part, tool)
    cells = box.centres(part)
    along, off = place_along(tool, *cells)
    drilled = inside(tool, *cells, more=edge)
    wall = drilled & material_in(part, box)
    core = wall & (off <= max(1.5 * edge, 0.2 * tool.radius))
    # Where there was a hole before, the wall is all that the drill takes off; else what its axis goes through.
    met = along[core] if core.any() else along[wall]
    middle = 0.5 * float(np.linalg.norm(b - a))
    begin, end = (float(met.min()), float(met.max())) if len(met) else (middle, middle)
    # Out of the wall there is room all round: the middle of the drill is enough of it.
    free = drilled & ~wall & (off <= tool.radius)
    inner = off <= max(MIDDLE * tool.radius, MIDDLE_MM)
    # What lies behind the wall that is drilled, such as the far side of a narrow room, does not make the hole narrower.
    bounds = (along >= met.min() - edge) & (along <= met.max() + edge) if len(met) else None
    ends = free & inner & (along < begin), free & inner & (along > end)
    return Way(box, drilled & (wall | inner), ends, bounds)


def _searched(part: PixelPart, opening: Opening) -> Box:
    reach = np.array([opening.at - REACH_MM * opening.outwards, opening.at + REACH_MM * opening.outwards])
    return Box.around(reach, float(opening.width) + 4.0 * max(part.light.pixel, part.light.layer), part)


def way_through(part: PixelPart, opening: Opening, tools: Sequence[Tool]) -> Way | None:
    """The way through an existing opening: from its throat out and in to where it is wider."""
    pixel, layer = part.light.pixel, part.light.layer
    half = 0.5 * float(opening.width)
    box = _searched(part, opening)
    step = max(1, int(np.ceil((box.cells / MOST_COARSE) ** (1.0 / 3.0))))
    void = ~material_in(part, box, tools)[::step, ::step, ::step]
    unit = step * np.array([layer, pixel, pixel])
    clear = distance_transform_edt(np.pad(void, 1, constant_values=True), sampling=unit)
    clear = np.asarray(clear)[1:-1, 1:-1, 1:-1]
    # A box without any material has no distances.
    clear = np.minimum(clear, box.shape[0] * layer + REACH_MM) if not void.all() else np.full(void.shape, REACH_MM)
    ends = [_end(part, box, clear, opening, sign, half, step) for sign in (1.0, -1.0)]
    if ends[0] is None or ends[1] is None:
        return None
    (first, r1), (last, r2) = ends[0], ends[1]
    near = Box.around(np.array([first, opening.at, last]), 1.5 * half + 4.0 * max(pixel, layer), part)
    z, y, x = near.centres(part)
    balls = [
        np.asarray((x - p[0]) ** 2 + (y - p[1]) ** 2 + (z - p[2]) ** 2 <= r * r) for p, r in ((first, r1), (last, r2))
    ]
    return Way(near, np.ones(near.shape, dtype=bool), (balls[0], balls[1]))


def _end(
    part: PixelPart, box: Box, clear: FloatArray, opening: Opening, sign: float, half: float, every: int
) -> tuple[FloatArray, float] | None:
    """Where an opening ends on one side, and the radius of a ball there: walked in small steps, kept in the middle.

    clear: of every so many cells of the box.
    """
    z, y, x = (float(c.ravel()[0]) for c in box.centres(part))
    unit = every * np.array([part.light.pixel, part.light.pixel, part.light.layer])
    origin = np.array([x, y, z]) - 0.5 * unit
    place = np.asarray(opening.at, dtype=np.float64)
    step = sign * float(unit.min()) * np.asarray(opening.outwards)
    best: tuple[FloatArray, float] | None = None
    for _ in range(int(REACH_MM / float(unit.min()))):
        index = np.floor((place - origin) / unit).astype(np.int64)[::-1]
        if (index < 0).any() or (index >= clear.shape).any():
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


def _widths(part: PixelPart, way: Way, tools: Sequence[Tool]) -> list[float]:
    """The width at each stage; where a stage changed nothing, nothing is measured anew."""
    widths: list[float] = []
    stages = solidity_in(part, way.box, tools)
    for k, stage in enumerate(stages):
        same = k > 0 and np.array_equal(stage, stages[k - 1])
        widths.append(widths[-1] if same else width_of(way, stage, part.light.pixel, part.light.layer))
    return widths
