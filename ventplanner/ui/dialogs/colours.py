"""Choose colours of the part's file: what has them is kept clear."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QColor, QIcon, QPainter, QPalette, QPixmap
from PySide6.QtWidgets import QCheckBox, QDialog, QFrame, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from ventplanner.ui.panels.fields import button, label
from ventplanner.ui.units import area
from ventplanner.ui.words import count

if TYPE_CHECKING:
    from ventplanner.app.file_colours import Coloured
    from ventplanner.ui.session import Session
    from ventplanner.ui.window import MainWindow

WIDTH, MOST_SHOWN = 420, 8
SWATCH = QSize(34, 18)
OFFER = "This file has colours: keep one of them clear of vents?"


class ColoursDialog(QDialog):
    """A box to tick for each colour, with its swatch and its area. What is ticked is kept clear, as one edit."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Keep clear what is coloured")
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setModal(True)
        self._session = session
        self._state = session.state
        self.boxes: dict[QCheckBox, Coloured] = {}
        marked = self._state is not None and self._state.keep_clear is not None
        about = "No vent is proposed or accepted where the part has the colours that are ticked."
        more = " What is marked already stays marked." if marked else ""
        column = QVBoxLayout(self)
        column.setContentsMargins(22, 18, 22, 16)
        column.setSpacing(10)
        column.addWidget(label(about + more, "muted", wrap=True))
        column.addWidget(self._list(session.file_colours.found))
        column.addLayout(self._answers())
        self.setMinimumWidth(WIDTH)
        self._look()

    def _list(self, found: tuple[Coloured, ...]) -> QScrollArea:
        rows = QWidget()
        inner = QVBoxLayout(rows)
        inner.setContentsMargins(0, 0, 12, 0)
        inner.setSpacing(6)
        for one in found:
            box = QCheckBox(one.name)
            box.setIcon(_swatch(one.name, self.palette().color(QPalette.ColorRole.WindowText), self))
            box.setIconSize(SWATCH)
            much = f"{area(one.area)}, {count(one.faces.count, 'triangle', 'triangles')}"
            box.setAccessibleName(f"Colour {one.name}, {much}")
            box.toggled.connect(self._look)
            self.boxes[box] = one
            line = QHBoxLayout()
            line.addWidget(box, 1)
            line.addWidget(label(much, "muted"))
            inner.addLayout(line)
        inner.addStretch(1)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setAccessibleName("Colours of the file")
        scroll.setWidget(rows)
        high = rows.sizeHint().height()
        scroll.setMinimumHeight(min(high, high * MOST_SHOWN // max(1, len(found))) + 4)
        return scroll

    def _answers(self) -> QHBoxLayout:
        self.cancel = button("Cancel", self.reject)
        self.keep = button("Keep clear", self.accept, "primary")
        self.keep.setDefault(True)
        line = QHBoxLayout()
        line.addStretch(1)
        line.addWidget(self.cancel)
        line.addWidget(self.keep)
        return line

    @property
    def chosen(self) -> tuple[Coloured, ...]:
        """What is ticked."""
        return tuple(one for box, one in self.boxes.items() if box.isChecked())

    def _look(self) -> None:
        self.keep.setEnabled(bool(self.chosen))

    def accept(self) -> None:
        """Keep clear what is ticked; nothing if the part is another one by now."""
        chosen, now = self.chosen, self._session.state
        super().accept()
        if chosen and now is not None and self._state is not None and now.solid is self._state.solid:
            self._session.keep_coloured(chosen)


def _swatch(name: str, rim: QColor, widget: QWidget) -> QIcon:
    """A patch of a colour, with a rim by which it is seen on any ground."""
    ratio = widget.devicePixelRatioF()
    picture = QPixmap(SWATCH * ratio)
    picture.setDevicePixelRatio(ratio)
    picture.fill(QColor(name))
    painter = QPainter(picture)
    painter.setPen(rim)
    painter.drawRect(0, 0, SWATCH.width() - 1, SWATCH.height() - 1)
    painter.end()
    return QIcon(picture)


def choose_colours(window: MainWindow) -> None:
    """Open the dialog; what was offered is done by that."""
    window.notices.take_back(OFFER)
    ColoursDialog(window.session, window).open()


def offer_colours(window: MainWindow) -> None:
    """Say once, of a part that is painted in its file and has no marks, that its colours can be kept clear."""
    colours, state = window.session.file_colours, window.session.state
    if not colours.found or state is None or state.keep_clear is not None or colours.offered_for == state.path:
        return
    from ventplanner.app.file_colours import worth_offering

    if worth_offering(colours.found):
        colours.offered_for = state.path
        window.notices.say(OFFER, ("Choose…", lambda: choose_colours(window)), ("No", lambda: None))
