"""All words of a sheet changed in one go: how units are written on paper."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

from ventplanner.io.inches import told
from ventplanner.sheet.model import Block, Figure, Figures, Heading, Paragraph, Points, Sheet, Table

Change = Callable[[str], str]

_BARE = re.compile(r"\([-\d., ]+\)")
_POWER = re.compile(r"(?<=\d )mm([23])\b")


def on_paper(text: str) -> str:
    """Raised figures instead of those that every terminal can show."""
    return _POWER.sub(lambda found: {"2": "mm²", "3": "mm³"}[found[1]], text)


def in_inches(text: str) -> str:
    """Lengths, areas and places in inches, volumes in mL; a cell that is a place and nothing else, too."""
    if _BARE.fullmatch(text):
        return told(f"{text} mm").removesuffix(" in")
    return told(text.replace("of the file in mm;", "of the file in inches;"), pour_by_ml=True)


def worded(sheet: Sheet, change: Change) -> Sheet:
    """The sheet with all its words changed but for its title and its state, which name files."""
    blocks = tuple(_block(block, change) for block in sheet.blocks)
    return replace(sheet, subtitle=change(sheet.subtitle), blocks=blocks, foot=change(sheet.foot))


def _block(block: Block, change: Change) -> Block:
    match block:
        case Heading(text, about):
            return Heading(change(text), change(about))
        case Paragraph(text, is_muted):
            return Paragraph(change(text), is_muted)
        case Points(sentences, ticks):
            return Points(tuple(map(change, sentences)), ticks)
        case Table(header, rows, right, wide):
            changed = tuple(tuple(map(change, row)) for row in rows)
            return Table(tuple(map(change, header)), changed, right, wide)
        case Figures(figures):
            return Figures(tuple(_figure(figure, change) for figure in figures))


def _figure(figure: Figure, change: Change) -> Figure:
    return replace(figure, caption=change(figure.caption), told=change(figure.told))
