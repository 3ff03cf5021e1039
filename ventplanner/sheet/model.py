"""A document of plain blocks, and figures of plain shapes: what every format of the sheet can draw. Sizes in mm."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Pixels = NDArray[np.uint8]
Anchor = Literal["start", "middle", "end"]

INK, MUTED, RULE, PAPER = 0.0, 0.38, 0.72, 1.0
"""Shades of grey: the sheet is read in black and white."""


@dataclass(frozen=True)
class Line:
    """A polyline of (x, y) points, y downwards; dash: lengths of ink and gap in mm, or none."""

    points: tuple[tuple[float, float], ...]
    shade: float = INK
    width: float = 0.25
    dash: tuple[float, float] | None = None


@dataclass(frozen=True)
class Disc:
    """A filled circle with an outline."""

    at: tuple[float, float]
    radius: float
    shade: float = PAPER
    edge: float = INK


@dataclass(frozen=True)
class Word:
    """Text with its baseline at `at`; size: height of the letters' body in mm."""

    at: tuple[float, float]
    text: str
    size: float = 2.6
    shade: float = INK
    anchor: Anchor = "start"
    bold: bool = False


Shape = Line | Disc | Word


@dataclass(frozen=True, eq=False)
class Figure:
    """A drawing of this size, over a picture that fills it if there is one.

    pixels: (h, w) uint8 grey. caption: below it. told: what it shows, for who cannot see it.
    """

    width: float
    height: float
    shapes: tuple[Shape, ...] = ()
    pixels: Pixels | None = None
    caption: str = ""
    told: str = ""


@dataclass(frozen=True)
class Heading:
    """The title of a section; `about`: a sentence under it."""

    text: str
    about: str = ""


@dataclass(frozen=True)
class Paragraph:
    """Plain text."""

    text: str
    is_muted: bool = False


@dataclass(frozen=True)
class Points:
    """Sentences one below the other; with `ticks` each has a box to tick off."""

    sentences: tuple[str, ...]
    ticks: bool = False


@dataclass(frozen=True)
class Table:
    """Cells of text. right: numbers of the columns that stand to the right, as figures do. wide: of those that may
    wrap."""

    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: frozenset[int] = frozenset()
    wide: frozenset[int] = frozenset()


@dataclass(frozen=True, eq=False)
class Figures:
    """Figures side by side, as many in a row as there is room for."""

    figures: tuple[Figure, ...]


Block = Heading | Paragraph | Points | Table | Figures


@dataclass(frozen=True, eq=False)
class Sheet:
    """The whole document. state: one line that stands out under the title."""

    title: str
    subtitle: str
    state: str
    blocks: tuple[Block, ...] = field(default=())
    foot: str = ""
