"""Drawn over the frame: proposals as dashed outlines of their drills, labels, and the drill that is being dragged."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen, QPolygonF

from ventplanner.ui.picture import ShownVent
from ventplanner.ui.units import area
from ventplanner.ui.view import drill_shape
from ventplanner.ui.view.colours import mixed
from ventplanner.ui.view.eye import across
from ventplanner.ui.view.labels import Label, vent_text
from ventplanner.ui.view.polygons import polygon_of
from ventplanner.ui.view.shown import Shown


def draw_vents(painter: QPainter, shown: Shown) -> None:
    """Proposals dashed; of accepted vents only the outline, and only when it is selected or under the pointer."""
    selected = shown.picture.selected if shown.picture else ""
    for vent in shown.vents():
        chosen, hovered = vent.word == selected, vent.word == shown.hovered
        outlines = [polygon_of(outline) for outline in drill_shape.outlines(vent, shown.eye)]
        if vent.status == "accepted":
            if chosen or hovered:
                painter.setBrush(Qt.BrushStyle.NoBrush)
                for pen in (QPen(QColor(shown.colours.pill), 4.0), QPen(QColor(shown.colours.pill_ink), 1.6)):
                    painter.setPen(pen)
                    for outline in outlines:
                        painter.drawPolygon(outline)
            continue
        _dashed(painter, shown, vent, outlines[0], chosen or hovered)


def _dashed(painter: QPainter, shown: Shown, vent: ShownVent, outline: QPolygonF, strong: bool) -> None:
    # One that points away from the viewer is on the far side of the part, and stands back.
    outward = np.asarray(vent.start) - np.asarray(vent.end)
    far = float(outward @ shown.eye.axes[2]) < -0.35 * float(np.linalg.norm(outward))
    fill = QColor(shown.colours.ghost)
    fill.setAlpha(210 if strong else 70 if far else 150)
    ink = QColor(shown.colours.ghost_ink)
    ink.setAlpha(150 if far and not strong else 255)
    painter.setBrush(fill)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.drawPolygon(outline)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    pen = QPen(ink, 2.2 if strong else 1.5)
    pen.setDashPattern([4.0, 2.6])
    painter.setPen(pen)
    painter.drawPolygon(outline)
    thin = QPen(ink, 1.0)
    thin.setDashPattern([2.0, 2.5])
    painter.setPen(thin)
    painter.drawPolygon(polygon_of(drill_shape.mouth(vent, shown.eye)))


def draw_labels(painter: QPainter, shown: Shown, labels: tuple[Label, ...]) -> None:
    """White pills; the selected one dark."""
    bold = QFont(painter.font())
    bold.setWeight(QFont.Weight.DemiBold)
    painter.setFont(bold)
    for label in reversed(labels):
        _leader(painter, shown, label)
    for label in reversed(labels):
        _pill(painter, shown, label)


def _leader(painter: QPainter, shown: Shown, label: Label) -> None:
    """A thin line to what the label speaks of, when it does not stand beside it."""
    middle = label.rect.center()
    apart = max(
        abs(middle.x() - label.anchor.x()) - label.rect.width() / 2, abs(middle.y() - label.anchor.y()) - 26.0, 0.0
    )
    if apart > 14.0:
        painter.setPen(QPen(QColor(shown.colours.muted), 1.0))
        painter.drawLine(middle, label.anchor)


def _pill(painter: QPainter, shown: Shown, label: Label) -> None:
    colours = shown.colours
    ground = QColor(colours.chosen if label.is_chosen else colours.pill)
    ink = QColor(colours.chosen_ink if label.is_chosen else colours.pill_ink)
    if label.word.startswith("cavity") and not label.is_chosen:
        ink = QColor(mixed(colours.cavity(label.colour), "#000000", 0.45))
    radius = label.rect.height() / 2
    shade = QColor(0, 0, 0, 34)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(shade)
    painter.drawRoundedRect(label.rect.translated(0, 1.2).adjusted(-0.6, -0.2, 0.6, 0.6), radius, radius)
    painter.setBrush(ground)
    if label.is_chosen or label.is_hovered:
        painter.setPen(QPen(QColor(colours.chosen_ink if label.is_chosen else colours.ink), 1.4))
    painter.drawRoundedRect(label.rect, radius, radius)
    painter.setPen(ink)
    painter.drawText(label.rect, Qt.AlignmentFlag.AlignCenter, label.text)


def draw_dragged(painter: QPainter, shown: Shown) -> None:
    """The drill in hand, solid, with its figure; where it does not fit, empty and with the reason."""
    if shown.dragged is None:
        return
    colours, is_refused = shown.colours, bool(shown.refusal)
    outline = drill_shape.outline(shown.dragged, shown.eye)
    painter.setBrush(Qt.BrushStyle.NoBrush if is_refused else QColor(colours.pill_ink))
    painter.setPen(QPen(QColor(colours.pill), 4.0 if is_refused else 1.6))
    for part in drill_shape.outlines(shown.dragged, shown.eye)[::-1]:
        painter.drawPolygon(polygon_of(part))
    if is_refused:
        pen = QPen(QColor(colours.sealed), 2.2)
        pen.setDashPattern([3.0, 2.0])
        painter.setPen(pen)
        painter.drawPolygon(polygon_of(outline))
    metrics = QFontMetricsF(painter.font())
    text = f"✕ does not fit: {shown.refusal}" if is_refused else vent_text(shown.dragged)
    wide, tall = metrics.horizontalAdvance(text) + 20.0, metrics.height() + 8.0
    left = min(outline[:, 0].max() + 12.0, shown.eye.width - wide - 8.0)
    rect = QRectF(left, outline[:, 1].min() - tall - 4.0, wide, tall)
    painter.setPen(QPen(QColor(colours.sealed), 1.6) if is_refused else Qt.PenStyle.NoPen)
    painter.setBrush(QColor(colours.pill if is_refused else colours.chosen))
    painter.drawRoundedRect(rect, tall / 2, tall / 2)
    painter.setPen(QColor(colours.pill_ink if is_refused else colours.chosen_ink))
    painter.drawText(rect, Qt.AlignmentFlag.AlignCenter, text)


def draw_face(painter: QPainter, shown: Shown) -> None:
    """A ring on the skin with an arrow out of it: the face that would go to the plate."""
    if shown.face is None:
        return
    place, normal = shown.face
    angle = np.linspace(0.0, 2.0 * np.pi, 48, endpoint=False)
    size = 18.0 * shown.eye.mm_per_px
    ring = place + size * np.column_stack((np.cos(angle), np.sin(angle))) @ across(normal)
    pixels = shown.eye.to_screen(np.concatenate((ring, [place, place + 2.2 * size * normal])))[:, :2]
    fill = QColor(shown.colours.pill)
    fill.setAlpha(150)
    painter.setBrush(fill)
    painter.setPen(QPen(QColor(shown.colours.pill_ink), 1.8))
    painter.drawPolygon(polygon_of(pixels[:-2]))
    painter.drawLine(QPointF(*pixels[-2]), QPointF(*pixels[-1]))
    painter.setBrush(QColor(shown.colours.pill_ink))
    painter.drawEllipse(QPointF(*pixels[-1]), 3.5, 3.5)


def draw_live(painter: QPainter, shown: Shown) -> None:
    """Beside the last printed layer: which cavities are sealed in it, and over how much area."""
    if not shown.live or shown.printed is None:
        return
    text = "   ".join(f"{name} sealed, {area(mm2)}" for name, mm2 in shown.live[:4])
    metrics = QFontMetricsF(painter.font())
    wide, tall = metrics.horizontalAdvance("▲ " + text) + 22.0, metrics.height() + 8.0
    low, high = shown.box
    middle = np.append(0.5 * (low + high)[:2], shown.printed)
    x, y, _ = shown.eye.to_screen(middle)
    row = y + 14.0 if shown.eye.hanging else y - tall - 14.0
    rect = QRectF(min(max(x - wide / 2, 60.0), shown.eye.width - wide - 10.0), row, wide, tall)
    painter.setPen(QPen(QColor(shown.colours.sealed), 1.6))
    painter.setBrush(QColor(shown.colours.pill))
    painter.drawRoundedRect(rect, tall / 2, tall / 2)
    painter.setPen(QColor(mixed(shown.colours.sealed, "#000000", 0.25)))
    painter.drawText(rect, Qt.AlignmentFlag.AlignCenter, "▲ " + text)


def draw_notice(painter: QPainter, shown: Shown) -> None:
    """A quiet line at the top."""
    text = shown.notice or shown.posed
    if not text:
        return
    metrics = QFontMetricsF(painter.font())
    wide, tall = metrics.horizontalAdvance(text) + 22.0, metrics.height() + 8.0
    rect = QRectF(0.5 * (shown.eye.width - wide), 12.0, wide, tall)
    painter.setPen(Qt.PenStyle.NoPen)
    ground = QColor(shown.colours.pill)
    ground.setAlpha(225)
    painter.setBrush(ground)
    painter.drawRoundedRect(rect, tall / 2, tall / 2)
    painter.setPen(QColor(shown.colours.pill_ink))
    painter.drawText(rect, Qt.AlignmentFlag.AlignCenter, text)
