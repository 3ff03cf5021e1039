"""The legend of the layer view: a piece of each pattern, with its word and its area in the layer."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QPoint, QRect, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from ventplanner.ui.layer.painting import swatch
from ventplanner.ui.layer.states import CURED, OUTSIDE, WORDS
from ventplanner.ui.theme import colours as window_colours
from ventplanner.ui.units import area
from ventplanner.ui.view.colours import LIGHT, Colours

if TYPE_CHECKING:
    from ventplanner.app.layers import Layer

_SWATCH = QSize(26, 15)
_GAP, _APART, _LINE = 7, 18, 22


class Legend(QWidget):
    """Flows from line to line as the width asks for it."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._colours = LIGHT
        self._layer: Layer | None = None
        policy = QSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Preferred)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        self.setAccessibleName("Legend")
        self.show_layer(None)

    def show_layer(self, layer: Layer | None) -> None:
        """Tell the areas of this layer."""
        self._layer = layer
        told = [self._text(state) for state in WORDS if self._is_told(state)]
        self.setAccessibleDescription("; ".join(told))
        self.setMinimumHeight(self.heightForWidth(max(self.width(), 1)))
        self.updateGeometry()
        self.update()

    def set_colours(self, colours: Colours) -> None:
        """Light or dark."""
        self._colours = colours
        self.update()

    @property
    def entries(self) -> tuple[str, ...]:
        """What it says, in its order."""
        return tuple(self._text(state) for state in WORDS if self._is_told(state))

    def _is_told(self, state: int) -> bool:
        """What only a print can have is not told of the model."""
        return state != CURED or (self._layer is not None and self._layer.source == "printed")

    def _text(self, state: int) -> str:
        if self._layer is None or state == OUTSIDE:
            return WORDS[state]
        return f"{WORDS[state]} {area(self._layer.area(state))}"

    def _places(self, width: int) -> list[tuple[int, QPoint, int]]:
        """State, corner and width of each entry."""
        metrics = self.fontMetrics()
        x = y = 0
        found = []
        for state in WORDS:
            if not self._is_told(state):
                continue
            wide = _SWATCH.width() + _GAP + metrics.horizontalAdvance(self._text(state)) + 2
            if x and x + wide > width:
                x, y = 0, y + _LINE
            found.append((state, QPoint(x, y), wide))
            x += wide + _APART
        return found

    def hasHeightForWidth(self) -> bool:  # noqa: N802 - Qt's name
        """More lines where it is narrow."""
        return True

    def heightForWidth(self, width: int) -> int:  # noqa: N802 - Qt's name
        """As high as its lines."""
        return self._places(width)[-1][1].y() + _LINE

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """No line is cut off."""
        super().resizeEvent(event)
        self.setMinimumHeight(self.heightForWidth(self.width()))

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Two columns or so."""
        return QSize(320, self.heightForWidth(320))

    def minimumSizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """One entry."""
        return QSize(150, _LINE)

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Each piece with its words."""
        painter = QPainter(self)
        ratio = self.devicePixelRatioF()
        for state, corner, wide in self._places(self.width()):
            box = QRect(corner + QPoint(0, (_LINE - _SWATCH.height()) // 2), _SWATCH)
            painter.drawImage(box.topLeft(), swatch(state, self._colours, box.width(), box.height(), ratio))
            painter.setPen(QPen(QColor(window_colours().edge), 1.0))
            painter.drawRect(box)
            painter.setPen(QColor(window_colours().ink))
            text = QRect(corner.x() + _SWATCH.width() + _GAP, corner.y(), wide, _LINE)
            painter.drawText(text, int(Qt.AlignmentFlag.AlignVCenter), self._text(state))
        painter.end()
