"""Drawn over the frame: the sections of the part, filled and hatched, with the live cups in them lit up."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPainterPath, QPen, QPolygonF

from ventplanner.geometry.solid import FloatArray
from ventplanner.ui.view.colours import mixed
from ventplanner.ui.view.eye import across
from ventplanner.ui.view.polygons import polygon_of
from ventplanner.ui.view.section import Outlines, Section
from ventplanner.ui.view.shown import Shown

_EDGE_ON = 1e-6


def draw_sections(painter: QPainter, shown: Shown) -> None:
    """Each section that is seen from the side that was taken away; edge on, its line."""
    for section, cut in shown.cuts:
        facing = float(shown.eye.axes[2] @ np.asarray(section.normal))
        if facing < -_EDGE_ON or not len(cut.start):
            continue
        painter.save()
        others = [s for s in shown.sections if s != section]
        for other in others:
            painter.setClipPath(_kept_side(shown, section, other), Qt.ClipOperation.IntersectClip)
        if facing > _EDGE_ON:
            _fill(painter, shown, cut)
        _lines(painter, shown, section, cut)
        painter.restore()


def _fill(painter: QPainter, shown: Shown, cut: Outlines) -> None:
    live = _live_groups(shown)
    material, sealed = QPainterPath(), QPainterPath()
    material.setFillRule(Qt.FillRule.WindingFill)
    pixels = shown.eye.to_screen(cut.start)[:, :2]
    for loop in cut.loops:
        polygon = polygon_of(pixels[loop])
        material.addPolygon(polygon)
        material.closeSubpath()
        if set(np.unique(cut.group[loop]).tolist()) <= live:
            sealed.addPolygon(polygon)
            sealed.closeSubpath()
    colours = shown.colours
    painter.setPen(Qt.PenStyle.NoPen)
    painter.fillPath(material, QColor(colours.cut))
    hatch = QBrush(QColor(mixed(colours.cut, colours.ink, 0.28)), Qt.BrushStyle.BDiagPattern)
    painter.fillPath(material, hatch)
    # Lit up: light in the open mouth, the outline in the colour of the state.
    glow = QColor("#ffffff")
    glow.setAlpha(120)
    painter.fillPath(sealed, glow)


def _lines(painter: QPainter, shown: Shown, section: Section, cut: Outlines) -> None:
    live = _live_groups(shown) if section.normal == (0.0, 0.0, 1.0) and shown.printed is not None else set()
    start, stop = (shown.eye.to_screen(ends)[:, :2] for ends in (cut.start, cut.stop))
    is_live = np.isin(cut.group, list(live))
    edge = QPen(QColor(mixed(shown.colours.cut, shown.colours.ink, 0.7)), 1.2)
    glow = QPen(QColor(shown.colours.sealed), 3.0, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for pen, chosen in ((edge, ~is_live), (glow, is_live)):
        painter.setPen(pen)
        for loop in cut.loops:
            for run in _runs(loop, chosen):
                painter.drawPolyline(polygon_of(np.concatenate((start[run], stop[run[-1:]]))))


def _runs(loop: NDArray[np.int64], chosen: NDArray[np.bool_]) -> list[NDArray[np.int64]]:
    """The stretches of a loop whose segments are chosen."""
    mine = chosen[loop]
    if mine.all():
        return [loop]
    bounds = np.flatnonzero(np.diff(np.concatenate(([0], mine.astype(np.int8), [0]))))
    return [loop[a:b] for a, b in zip(bounds[::2], bounds[1::2], strict=True)]


def _live_groups(shown: Shown) -> set[int]:
    if shown.picture is None:
        return set()
    names = {name for name, _ in shown.live}
    return {k for k, cavity in enumerate(shown.picture.cavities) if cavity.id in names}


def _kept_side(shown: Shown, section: Section, other: Section) -> QPainterPath:
    """Where the other plane leaves this section, in the view: a half plane, far beyond the edges of the picture."""
    reach = 1e4 * shown.eye.mm_per_px
    middle = np.asarray(shown.eye.focus)
    middle = middle - float(section.beyond(middle)) * np.asarray(section.normal)
    square = middle + reach * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) @ across(np.asarray(section.normal))
    kept = shown.eye.to_screen(_clipped(square, other))[:, :2]
    path = QPainterPath()
    path.addPolygon(QPolygonF([QPointF(x, y) for x, y in kept.tolist()]))
    path.closeSubpath()
    return path


def _clipped(polygon: FloatArray, section: Section) -> FloatArray:
    """A convex polygon cut by a plane (Sutherland & Hodgman 1974)."""
    side = section.beyond(polygon)
    out = []
    for k in range(len(polygon)):
        here, after = polygon[k], polygon[(k + 1) % len(polygon)]
        a, b = float(side[k]), float(side[(k + 1) % len(polygon)])
        if a <= 0:
            out.append(here)
        if (a <= 0) != (b <= 0):
            out.append(here + a / (a - b) * (after - here))
    return np.array(out).reshape(-1, 3)
