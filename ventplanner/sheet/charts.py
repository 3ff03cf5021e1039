"""Curves over the build height, before and after, as figures in black and white."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from ventplanner.geometry.solid import FloatArray
from ventplanner.sheet.model import INK, MUTED, RULE, Figure, Line, Shape, Word

LEFT, RIGHT, TOP, FOOT = 13.0, 3.0, 6.0, 9.0
"""mm of paper round the curves."""

MOST_POINTS = 400
"""A printed curve is no better for more; peaks are kept."""

LEAST_TOLD = 0.01
"""Anything less, of mm2 and of kPa, is not told in figures."""

Curve = tuple[Sequence[float] | FloatArray, Sequence[float] | FloatArray]


def before_after(
    title: str,
    unit: str,
    before: Curve,
    after: Curve,
    size: tuple[float, float],
    along: str,
    *,
    log_from: float | None = None,
) -> Figure:
    """A chart of two curves over the height: before thin and dashed, after thick.

    size: mm of paper. along: what the heights are, and their unit. log_from: the values are drawn on a logarithmic
    scale from this one on, all that are less at its foot.
    """
    width, height = size
    most = max(max((float(np.max(c[1])) for c in (before, after) if len(c[1])), default=0.0), 1e-9)
    tall = max(float(c[0][-1]) for c in (before, after) if len(c[0]))
    ticks = _decades(log_from, most) if log_from is not None else _ticks(most)
    top = max(ticks[-1], most)

    def x_of(at: float) -> float:
        return LEFT + (width - LEFT - RIGHT) * at / tall

    def y_of(value: float) -> float:
        if log_from is None:
            share = value / top
        else:
            share = math.log(max(value, log_from) / log_from) / math.log(top / log_from)
        return height - FOOT - (height - FOOT - TOP) * share

    shapes: list[Shape] = [Word((LEFT, 3.4), title, 2.8, bold=True)]
    for tick in ticks:
        shapes.append(Line(((LEFT, y_of(tick)), (width - RIGHT, y_of(tick))), RULE, 0.12))
        shapes.append(Word((LEFT - 1.2, y_of(tick) + 0.8), f"{tick:g}", 2.2, MUTED, "end"))
    for tick in _ticks(tall):
        shapes.append(Line(((x_of(tick), height - FOOT), (x_of(tick), height - FOOT + 1.0)), INK, 0.15))
        shapes.append(Word((x_of(tick), height - FOOT + 3.6), f"{tick:g}", 2.2, MUTED, "middle"))
    shapes.append(Word((width - RIGHT, height - 1.2), along, 2.2, MUTED, "end"))
    shapes.append(Word((width - RIGHT, 3.4), unit, 2.2, MUTED, "end"))
    shapes.append(Line(((LEFT, height - FOOT), (width - RIGHT, height - FOOT)), INK, 0.2))
    for curve, shade, thick, dash in ((before, MUTED, 0.25, (1.4, 0.9)), (after, INK, 0.5, None)):
        points = tuple((x_of(a), y_of(v)) for a, v in zip(*_thinned(curve), strict=True))
        if points:
            shapes.append(Line(points, shade, thick, dash))
    told = f"{title}: at most {_most(before)} {unit} before, {_most(after)} {unit} with the vents."
    caption = f"{told[:-1]} (dashed: before, solid: with the vents)."
    return Figure(width, height, tuple(shapes), None, caption, told)


def _most(curve: Curve) -> str:
    most = float(np.max(curve[1])) if len(curve[1]) else 0.0
    if 0.0 < most < LEAST_TOLD:
        return f"under {LEAST_TOLD:g}"
    return f"{most:.0f}" if most >= 100.0 else f"{most:.3g}"


def _thinned(curve: Curve) -> tuple[list[float], list[float]]:
    """No more points than paper can tell apart: of each stretch of heights the largest value stays."""
    at, value = (np.asarray(x, dtype=np.float64) for x in curve)
    stretch = max(1, math.ceil(len(at) / MOST_POINTS))
    if stretch == 1:
        return at.tolist(), value.tolist()
    starts = np.arange(0, len(at), stretch)
    return at[starts].tolist(), np.maximum.reduceat(value, starts).tolist()


def _ticks(most: float) -> list[float]:
    """Round numbers from 0 on, at most five, the last one not more than the most."""
    raw = most / 4.0
    ten = 10.0 ** math.floor(math.log10(raw))
    step = next(f * ten for f in (1.0, 2.0, 2.5, 5.0, 10.0) if f * ten >= raw)
    return [round(k * step, 10) for k in range(math.floor(most / step) + 1)]


def _decades(low: float, most: float) -> list[float]:
    count = max(1, math.floor(math.log10(max(most, low) / low) + 1e-9))
    return [round(low * 10.0**k, 10) for k in range(count + 1)]
