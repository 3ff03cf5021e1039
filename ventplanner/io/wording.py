"""Figures in words, as all plain reports give them."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

WIDTH = 110
"""Longer lines are wrapped, whatever the terminal: the text is the same wherever it goes."""


def mm(value: float) -> str:
    """One decimal, and never "-0.0"."""
    return f"{round(value, 1) + 0.0:.1f}"


def volume(mm3: float) -> str:
    """mm3 or mL."""
    if mm3 >= 1000:
        return f"{mm3 / 1000:.1f} mL"
    return f"{mm3:.0f} mm3" if mm3 >= 9.95 else f"{mm(mm3)} mm3"


def place(point: Sequence[float]) -> str:
    """Coordinates in mm."""
    return "(" + ", ".join(mm(x) for x in point) + ")"


def kpa(pascal: float) -> str:
    """Two digits, whole ones from 10 kPa on."""
    return f"{pascal / 1000:.2g} kPa" if pascal < 9950 else f"{pascal / 1000:.0f} kPa"


def pressure(pascal: float, air: float) -> str:
    """kPa, or that all the air presses. air: Pa."""
    return "closed" if pascal >= air * (1.0 - 1e-9) else kpa(pascal)


def table(header: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> Iterator[str]:
    """Aligned columns, two spaces apart; the last one is wrapped."""
    columns = list(zip(header, *rows, strict=True))[:-1]
    widths = [max(map(len, column)) for column in columns]
    indent = sum(widths) + 2 * len(widths)
    for *cells, last in (header, *rows):
        start = "".join(f"{cell:<{width}}  " for cell, width in zip(cells, widths, strict=True))
        wrapped = textwrap.wrap(last, max(WIDTH - indent, 30), break_long_words=False) or [""]
        yield (start + wrapped[0]).rstrip()
        yield from (" " * indent + line for line in wrapped[1:])
