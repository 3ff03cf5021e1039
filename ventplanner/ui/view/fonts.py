"""The two fonts of the view and the chart, made from the window's own."""

from __future__ import annotations

from PySide6.QtGui import QFont


def small(font: QFont) -> QFont:
    """A little smaller, for figures along a scale."""
    made = QFont(font)
    made.setPointSizeF(max(7.0, font.pointSizeF() * 0.9))
    return made


def bold(font: QFont) -> QFont:
    """As small, and heavier, for labels."""
    made = small(font)
    made.setWeight(QFont.Weight.DemiBold)
    return made
