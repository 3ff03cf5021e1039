"""What lies over a layer: drills with their numbers, letters of cavities, a scale; and what of it is under a pixel."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen, QPolygonF

from ventplanner.geometry.solid import FloatArray
from ventplanner.ui.layer.plane import Plane, level_cut, outline_at
from ventplanner.ui.picture import Picture, ShownVent
from ventplanner.ui.theme import cavity_colour, ink_on
from ventplanner.ui.units import per_shown, shown_unit
from ventplanner.ui.view import fonts
from ventplanner.ui.view.colours import Colours
from ventplanner.ui.view.draw_room import nice_step

if TYPE_CHECKING:
    from ventplanner.app.layers import Layer

LETTER_PX, GRIP_PX = 10.0, 5.0
FRONT = "front of the part"


@dataclass(frozen=True, eq=False)
class Cut:
    """A drill cut at the layer's height, its outline, (n, 2) mm, and that of its countersink, if it is there."""

    vent: ShownVent
    outline: FloatArray
    flare: FloatArray | None = None


def cuts_at(picture: Picture | None, z: float) -> tuple[Cut, ...]:
    """The drills of a picture that are at a build height."""
    vents = () if picture is None else picture.vents
    found = []
    for vent in vents:
        outline, flare = outline_at(vent, z), None if vent.flare is None else level_cut(vent.flare, z)
        if outline is not None:
            found.append(Cut(vent, outline, flare))
        elif flare is not None:
            found.append(Cut(vent, flare))
    return tuple(found)


@dataclass(frozen=True, eq=False)
class Overlay:
    """All that it depends on. font: the window's; height: pixels of the sheet."""

    plane: Plane
    colours: Colours
    picture: Picture | None
    layer: Layer | None
    cuts: tuple[Cut, ...]
    font: QFont
    height: int

    @property
    def chosen_place(self) -> int:
        """Place of the selected cavity (or the one whose cup is selected), -1 for none."""
        if self.picture is None:
            return -1
        kind, _, name = self.picture.selected.partition(" ")
        name = name.rstrip("0123456789") if kind == "cup" else name
        places = (k for k, c in enumerate(self.picture.cavities) if c.id == name)
        return next(places, -1) if kind in ("cavity", "cup") else -1

    def word_at(self, place: QPointF) -> str:
        """What is under a pixel, as a selection says it; "" for nothing."""
        for cut in self.cuts:
            polygon = self._on_screen(cut.outline)
            near = polygon.boundingRect().adjusted(-GRIP_PX, -GRIP_PX, GRIP_PX, GRIP_PX)
            is_small = max(near.width(), near.height()) < 4.0 * GRIP_PX and near.contains(place)
            if is_small or polygon.containsPoint(place, Qt.FillRule.OddEvenFill) or self._pill(cut).contains(place):
                return cut.vent.word
        if self.layer is None:
            return ""
        for at, x, y in self.layer.letters:
            column, row = self.plane.to_px(x, y)
            if max(abs(place.x() - column), abs(place.y() - row)) <= LETTER_PX:
                return self._cavity(at)
        return self._cavity(self.layer.cavity_at(*self.plane.to_mm(place.x(), place.y())))

    def paint(self, painter: QPainter) -> None:
        """Paint it."""
        painter.setFont(fonts.bold(self.font))
        for cut in self.cuts:
            self._paint_cut(painter, cut)
        for letter in self.layer.letters if self.layer is not None else ():
            self._paint_letter(painter, *letter)
        self._paint_scale(painter)

    def _cavity(self, at: int) -> str:
        known = self.picture.cavities if self.picture is not None else ()
        return f"cavity {known[at].id}" if 0 <= at < len(known) else ""

    def _on_screen(self, outline: FloatArray) -> QPolygonF:
        return QPolygonF([QPointF(*self.plane.to_px(x, y)) for x, y in outline.tolist()])

    def _paint_cut(self, painter: QPainter, cut: Cut) -> None:
        colours = self.colours
        chosen = self.picture is not None and self.picture.selected == cut.vent.word
        polygons = [self._on_screen(outline) for outline in (cut.flare, cut.outline) if outline is not None]
        painter.setBrush(Qt.BrushStyle.NoBrush)
        # A halo, so that the outline is seen on material and void alike.
        painter.setPen(QPen(QColor(colours.paper), 5.4 if chosen else 3.8))
        for polygon in polygons:
            painter.drawPolygon(polygon)
        pen = QPen(QColor(colours.ink), 2.8 if chosen else 1.6)
        if cut.vent.status != "accepted":
            pen.setDashPattern([3.0, 2.2])
        painter.setPen(pen)
        for polygon in polygons:
            painter.drawPolygon(polygon)
        pill = self._pill(cut)
        fill, ink = (colours.chosen, colours.chosen_ink) if chosen else (colours.pill, colours.pill_ink)
        painter.setPen(QPen(QColor(colours.paper if chosen else colours.ink), 1.2))
        painter.setBrush(QColor(fill))
        painter.drawRoundedRect(pill, 4, 4)
        painter.setPen(QColor(ink))
        painter.drawText(pill, Qt.AlignmentFlag.AlignCenter, cut.vent.id)

    def _pill(self, cut: Cut) -> QRectF:
        """Where the number of a drill stands: beyond its outer end."""
        metrics = QFontMetricsF(fonts.bold(self.font))
        box = self._on_screen(cut.outline).boundingRect()
        wide, tall = metrics.horizontalAdvance(cut.vent.id) + 10.0, metrics.height() + 2.0
        out = np.subtract(cut.vent.start[:2], cut.vent.end[:2])
        far = float(np.linalg.norm(out))
        x, y = (out / far).tolist() if far > 1e-6 else (1.0, 0.0)
        # The middle of the label lies where it just clears the outline's box.
        reach = min(
            (0.5 * (box.width() + wide) + 4.0) / max(abs(x), 1e-6),
            (0.5 * (box.height() + tall) + 4.0) / max(abs(y), 1e-6),
        )
        centre = box.center() + QPointF(x * reach, -y * reach)
        return QRectF(centre.x() - 0.5 * wide, centre.y() - 0.5 * tall, wide, tall)

    def _paint_letter(self, painter: QPainter, at: int, x: float, y: float) -> None:
        known = self.picture.cavities if self.picture is not None else ()
        if at >= len(known):
            return
        column, row = self.plane.to_px(x, y)
        colour, chosen = cavity_colour(known[at].colour), self.chosen_place == at
        painter.setPen(QPen(QColor(self.colours.ink if chosen else self.colours.paper), 2.4 if chosen else 1.4))
        painter.setBrush(colour)
        painter.drawEllipse(QPointF(column, row), LETTER_PX, LETTER_PX)
        painter.setPen(ink_on(colour))
        box = QRectF(column - 2 * LETTER_PX, row - LETTER_PX, 4 * LETTER_PX, 2 * LETTER_PX)
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, known[at].id)

    def _paint_scale(self, painter: QPainter) -> None:
        """A length in the corner, and which side of the part is below."""
        colours, unit = self.colours, per_shown("mm")
        step = nice_step(self.plane.mm_per_px / unit)
        wide, text = step * unit / self.plane.mm_per_px, f"{step:g} {shown_unit('mm')}"
        metrics = QFontMetricsF(painter.font())
        scale = QRectF(8, self.height - 30, max(wide, metrics.horizontalAdvance(text)) + 14, 22)
        front = QRectF(scale.right() + 6, scale.top(), metrics.horizontalAdvance(FRONT) + 14, 22)
        middle = 0.5 * (self.plane.width - front.width())
        front.moveLeft(max(front.left(), middle))
        paper = QColor(colours.paper)
        paper.setAlpha(228)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(paper)
        painter.drawRoundedRect(scale, 4, 4)
        has_room = front.right() <= self.plane.width - 4.0
        if has_room:
            painter.drawRoundedRect(front, 4, 4)
        row, left = scale.bottom() - 3, scale.left() + 7
        painter.setPen(QPen(QColor(colours.ink), 1.6))
        painter.drawLine(QPointF(left, row), QPointF(left + wide, row))
        painter.setPen(QColor(colours.ink))
        painter.drawText(QPointF(left, row - 4), text)
        if not has_room:
            return
        painter.setPen(QColor(colours.muted))
        painter.drawText(front, Qt.AlignmentFlag.AlignCenter, FRONT)
