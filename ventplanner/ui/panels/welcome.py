"""What the window shows without a part: an invitation, the samples, and what was open before."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPaintEvent, QPen
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from ventplanner.ui.panels.fields import button, clear, label, restyle, row
from ventplanner.ui.panels.notices import Notices
from ventplanner.ui.theme import colours, scaled_font
from ventplanner.ui.view.colours import CAVITY_COLOURS
from ventplanner.ui.words import file_name

FORMATS = "STL, 3MF, OBJ, PLY, OFF, or a saved plan"


class Welcome(QWidget):
    """`open_path` opens a file, `choose` asks for one."""

    def __init__(
        self, choose: Callable[[], object], open_path: Callable[[str], object], samples: Sequence[str]
    ) -> None:
        super().__init__()
        self._open = open_path
        self._recent = QVBoxLayout()
        self._recent.setSpacing(2)
        self._recent_title = label("Lately", "heading")
        self.notices = Notices()
        self._drop = QFrame()
        self._drop.setObjectName("drop")
        self._drop.setMaximumWidth(720)
        self._drop.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Maximum)
        inside = QHBoxLayout(self._drop)
        inside.setContentsMargins(36, 34, 36, 34)
        inside.setSpacing(40)
        inside.addWidget(Emblem(), 0, Qt.AlignmentFlag.AlignTop)
        column = QVBoxLayout()
        column.setSpacing(8)
        inside.addLayout(column, 1)
        title = label("Drop a part here", wrap=True)
        title.setFont(scaled_font(1.9, title.font().Weight.DemiBold))
        self.choose = button("Open a file…", choose, "primary")
        text = (
            "Every cavity that cannot breathe while it is printed is found, and a vent is proposed where each starts."
            " A solid part can be hollowed first."
        )
        column.addWidget(title)
        column.addWidget(label(text, "muted", wrap=True))
        column.addSpacing(6)
        column.addLayout(row(self.choose, label(FORMATS, "muted"), spacing=12))
        column.addSpacing(18)
        column.addWidget(label("Or look at a sample", "heading"))
        column.addLayout(self._samples(samples))
        column.addSpacing(12)
        column.addWidget(self._recent_title)
        column.addLayout(self._recent)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(28, 28, 28, 28)
        layout.addWidget(self.notices)
        layout.addStretch(2)
        middle = QHBoxLayout()
        middle.addStretch(1)
        middle.addWidget(self._drop, 8)
        middle.addStretch(1)
        layout.addLayout(middle)
        layout.addStretch(3)
        self.show_recent(())

    def _samples(self, samples: Sequence[str]) -> QGridLayout:
        grid = QGridLayout()
        grid.setSpacing(6)
        for at, path in enumerate(samples):
            name = Path(path).stem.replace("-", " ").capitalize()
            made = button(name, partial(self._open, path), name=f"Open the sample {name}")
            grid.addWidget(made, at // 3, at % 3)
        return grid

    def show_recent(self, paths: Sequence[str]) -> None:
        """List the files that were open before."""
        clear(self._recent)
        self._recent_title.setVisible(bool(paths))
        for path in paths[:4]:
            made = button(file_name(path), partial(self._open, path), "quiet", tip=path)
            made.setStyleSheet("text-align: left;")
            self._recent.addWidget(made, 0, Qt.AlignmentFlag.AlignLeft)

    def show_drop(self, over: bool) -> None:
        """Whether a file hangs over the window now."""
        restyle(self._drop, "over", over)


class Emblem(QWidget):
    """A part as it hangs in the printer: plate above, film below, two hollows, and a vent where each starts."""

    def __init__(self) -> None:
        super().__init__()
        self.setFixedSize(self.sizeHint())

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """One size."""
        return QSize(150, 232)

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Drawn, so that it is sharp on every screen."""
        c = colours()
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(QColor(c.ink), 4, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
        painter.drawLine(QPointF(10, 8), QPointF(140, 8))
        painter.setPen(QPen(QColor(c.edge), 1))
        for x in (52, 75, 98):
            painter.drawLine(QPointF(x, 10), QPointF(x, 30))
        painter.setPen(QPen(QColor(c.edge), 1.2))
        painter.setBrush(QColor(c.hover))
        painter.drawPath(_bell(75, 30, 214, 62, 132))
        painter.setPen(Qt.PenStyle.NoPen)
        for colour, bounds in ((CAVITY_COLOURS[0], (41, 110, 52, 92)), (CAVITY_COLOURS[1], (122, 203, 92, 108))):
            painter.setBrush(QColor(colour))
            painter.drawPath(_bell(75, *bounds))
        painter.setPen(QPen(QColor(c.ink), 1.6, Qt.PenStyle.DashLine))
        painter.setBrush(QColor(c.paper))
        painter.drawRect(QRectF(97, 45, 30, 7))
        painter.drawRect(QRectF(117, 127, 30, 7))
        painter.setPen(QPen(QColor(c.edge), 1.2, Qt.PenStyle.DotLine))
        painter.drawLine(QPointF(4, 222), QPointF(146, 222))


def _bell(x: float, top: float, bottom: float, narrow: float, wide: float) -> QPainterPath:
    """A bell between two heights: flat and half as wide as `narrow` at its top, round below, `wide` at its belly."""
    belly, half, reach = top + 0.58 * (bottom - top), 0.5 * narrow, 0.5 * wide
    path = QPainterPath(QPointF(x - half, top))
    path.lineTo(x + half, top)
    path.cubicTo(x + half + 0.7 * (reach - half), top, x + reach, belly - 0.5 * (belly - top), x + reach, belly)
    path.cubicTo(x + reach, belly + 0.6 * (bottom - belly), x + 0.6 * reach, bottom, x, bottom)
    path.cubicTo(x - 0.6 * reach, bottom, x - reach, belly + 0.6 * (bottom - belly), x - reach, belly)
    path.cubicTo(x - reach, belly - 0.5 * (belly - top), x - half - 0.7 * (reach - half), top, x - half, top)
    return path
