"""Which labels stand where: letters on cavities, numbers and diameters at vents, none upon another."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QFontMetricsF

from ventplanner.geometry.solid import FloatArray
from ventplanner.ui.picture import ShownVent
from ventplanner.ui.units import section
from ventplanner.ui.view.draw_room import note_boxes
from ventplanner.ui.view.shown import Shown
from ventplanner.ui.words import STATE_WORDS, left_words

_ALL_WORDED = 8
"""Up to so many drills all say their diameter; of more, only the one that is selected or under the pointer does."""

_ROOM_PX = 50.0
"""And as many less as the view has not this much width for each: the labels of a small view would cover the part."""

_AWAY_PX = 16.0
_ROUND_THE_ANCHOR = ((0, 0), (0, -1), (0, 1), (-1, -1), (1, -1), (-1, 1), (1, 1), (0, -2), (0, 2))


@dataclass(frozen=True)
class Label:
    """A pill. word: what a click on it means (as `Picture.selected`). anchor: the pixel that it speaks of."""

    word: str
    text: str
    rect: QRectF
    anchor: QPointF
    colour: int = -1
    is_chosen: bool = False
    is_hovered: bool = False


def placed(shown: Shown, metrics: QFontMetricsF) -> tuple[Label, ...]:
    """All labels, the most important first; one that finds no free place is left out."""
    if shown.picture is None:
        return ()
    out: list[Label] = []
    notes = note_boxes(shown, metrics)
    for wanted, must in _wanted(shown, metrics):
        size = wanted.rect.size()
        for across, down in _ROUND_THE_ANCHOR:
            rect = wanted.rect.translated(across * (size.width() + 4), down * (size.height() + 4))
            rect = _within_view(rect, wanted.anchor, shown)
            if not any(rect.intersects(taken) for taken in (*notes, *(other.rect for other in out))):
                break
        else:
            if not must:
                continue
            rect = wanted.rect
        out.append(Label(wanted.word, wanted.text, rect, wanted.anchor, wanted.colour, must, wanted.is_hovered))
    return tuple(out)


def _within_view(rect: QRectF, anchor: QPointF, shown: Shown) -> QRectF:
    """A label moved so that nothing of it is cut off, unless what it speaks of is out of the view itself."""
    room = QRectF(0.0, 0.0, shown.eye.width, shown.eye.height)
    if not room.contains(anchor) or room.width() < rect.width() or room.height() < rect.height():
        return rect
    across = min(max(rect.left(), 2.0), room.right() - rect.width() - 2.0)
    down = min(max(rect.top(), 2.0), room.bottom() - rect.height() - 2.0)
    return QRectF(across, down, rect.width(), rect.height())


def _wanted(shown: Shown, metrics: QFontMetricsF) -> Iterator[tuple[Label, bool]]:
    """Labels where they would like to be, and whether they must be there (they are selected)."""
    assert shown.picture is not None
    selected = shown.picture.selected
    candidates = [*_of_vents(shown, metrics), *_of_cavities(shown, metrics)]
    candidates.sort(key=lambda label: (label.word != selected, label.word != shown.hovered))
    for label in candidates:
        yield label, label.word == selected


def _of_cavities(shown: Shown, metrics: QFontMetricsF) -> Iterator[Label]:
    assert shown.picture is not None
    selected = shown.picture.selected
    for cavity in shown.picture.cavities:
        if shown.is_gone(cavity.label_at):
            continue
        word = f"cavity {cavity.id}"
        x, y, _ = shown.eye.to_screen(cavity.label_at)
        hovered = word == shown.hovered
        state = left_words(cavity) if cavity.left_alone else STATE_WORDS[cavity.state]
        text = f"{cavity.id} · {state}" if hovered else cavity.id
        yield Label(word, text, _pill(metrics, text, x, y), QPointF(x, y), cavity.colour, word == selected, hovered)


def _of_vents(shown: Shown, metrics: QFontMetricsF) -> Iterator[Label]:
    assert shown.picture is not None
    selected = shown.picture.selected
    colour_of = {c.id: c.colour for c in shown.picture.cavities}
    vents = list(shown.vents())
    worded = len(vents) <= min(_ALL_WORDED, shown.eye.width / _ROOM_PX)
    for vent in vents:
        hovered = vent.word == shown.hovered
        says_all = worded or hovered or vent.word == selected
        text = vent_text(vent) if says_all else vent.id
        anchor, away = _outwards(vent, shown)
        wide = metrics.horizontalAdvance(text) / 2
        x, y = anchor + away * np.array([_AWAY_PX + wide, _AWAY_PX])
        yield Label(
            vent.word,
            text,
            _pill(metrics, text, x, y),
            QPointF(*anchor),
            colour_of.get(vent.cavity, -1),
            vent.word == selected,
            hovered,
        )


def vent_text(vent: ShownVent) -> str:
    """What a vent's label says."""
    widened = "widened to " if vent.kind == "widen" else ""
    return f"{vent.id} · {widened}{section(vent.diameter, vent.outline)}"


def _outwards(vent: ShownVent, shown: Shown) -> tuple[FloatArray, FloatArray]:
    """Pixel of the outer end, and the unit direction in the view in which it points."""
    start, end = shown.eye.to_screen(np.array([vent.start, vent.end]))[:, :2]
    along = start - end
    length = float(np.linalg.norm(along))
    return start, along / length if length > 2.0 else np.array([0.0, -1.0])


def _pill(metrics: QFontMetricsF, text: str, x: float, y: float) -> QRectF:
    tall = metrics.height() + 6.0
    wide = max(metrics.horizontalAdvance(text) + 18.0, tall + 4.0)
    return QRectF(round(x - wide / 2), round(y - tall / 2), round(wide), round(tall))
