"""An entry of the short list: its number, what it is called, what it costs; all of it can be clicked."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetrics, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QAbstractButton, QSizePolicy

from ventplanner.ui.orient.marks import RADIUS, draw_mark
from ventplanner.ui.panels.fields import pressed_by_enter
from ventplanner.ui.theme import colours, scaled_font

_PAD, _BESIDE, _BETWEEN = 7, 30, 2
_WRAP = int(Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop)


class Entry(QAbstractButton):
    """name: "1", "2", or "" for the present orientation, whose mark is a diamond."""

    def __init__(self, name: str, do: Callable[[], object]) -> None:
        super().__init__()
        self._name = name
        self._title = self._line = ""
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Minimum)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        self.setCheckable(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAttribute(Qt.WidgetAttribute.WA_Hover)
        self.clicked.connect(lambda: do())  # noqa: PLW0108 - the signal hands over whether it is checked

    def tell(self, title: str, line: str, *, looked_at: bool) -> None:
        """What it says, and whether it is the one that is looked at."""
        self._title, self._line = title, line
        self.setChecked(looked_at)
        number = f"{self._name}: " if self._name else ""
        self.setAccessibleName(f"{number}{title}{', looked at' if looked_at else ''}. {line}")
        self.setMinimumHeight(self.heightForWidth(max(self.width(), 1)))
        self.updateGeometry()
        self.update()

    def nextCheckState(self) -> None:  # noqa: N802 - Qt's name
        """What is looked at is told, not clicked."""

    def event(self, event: QEvent) -> bool:
        """Return presses it, too."""
        return pressed_by_enter(self, event) or super().event(event)

    def hasHeightForWidth(self) -> bool:  # noqa: N802 - Qt's name
        """Its text flows."""
        return True

    def heightForWidth(self, width: int) -> int:  # noqa: N802 - Qt's name
        """As high as its lines."""
        title, line = self._rows(width)
        return round(title.height() + line.height()) + 2 * _PAD + _BETWEEN

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Some three lines."""
        return QSize(240, self.heightForWidth(240))

    def minimumSizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Narrow; no line is cut off."""
        return QSize(160, 2 * self.fontMetrics().height())

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """More lines where it is narrow."""
        super().resizeEvent(event)
        self.setMinimumHeight(self.heightForWidth(self.width()))

    def _rows(self, width: int) -> tuple[QRectF, QRectF]:
        """Where the title and the line are."""
        room = max(width - _BESIDE - _PAD, 40)
        boxes = []
        top = float(_PAD)
        for font, text in ((_bold(), self._title), (self.font(), self._line)):
            high = QFontMetrics(font).boundingRect(0, 0, room, 10_000, _WRAP, text).height()
            boxes.append(QRectF(_BESIDE, top, room, high))
            top += high + _BETWEEN
        return boxes[0], boxes[1]

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Mark, title, line; raised where it is looked at or pointed at."""
        look = colours()
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box = QRectF(self.rect()).adjusted(1, 1, -1, -1)
        chosen, pointed = self.isChecked(), self.underMouse()
        painter.setPen(QPen(QColor(look.ink if self.hasFocus() else look.line), 2.0 if self.hasFocus() else 1.0))
        if not (chosen or self.hasFocus()):
            painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(look.hover if pointed else look.raised) if chosen or pointed else Qt.BrushStyle.NoBrush)
        painter.drawRoundedRect(box, 6, 6)
        title, line = self._rows(self.width())
        high = QFontMetrics(_bold()).height()
        painter.setFont(scaled_font(0.88))
        draw_mark(painter, QPointF(_PAD + RADIUS, title.top() + 0.5 * high), self._name, chosen=chosen)
        painter.setFont(_bold())
        painter.setPen(QColor(look.ink))
        painter.drawText(title, _WRAP, self._title)
        painter.setFont(self.font())
        painter.setPen(QColor(look.muted))
        painter.drawText(line, _WRAP, self._line)
        painter.end()


def _bold() -> QFont:
    return scaled_font(1.0, QFont.Weight.DemiBold)
