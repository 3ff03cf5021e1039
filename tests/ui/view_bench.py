"""A view and a chart side by side on a real screen, and the mouse that works them."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QColor, QImage, QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QHBoxLayout, QWidget
from pytestqt.qtbot import QtBot
from ui.pictures import block

from ventplanner.ui.chart import Chart
from ventplanner.ui.picture import Picture, ShownVent
from ventplanner.ui.view.colours import LIGHT
from ventplanner.ui.view.sheet import Sheet
from ventplanner.ui.view.view import View

LEFT, MIDDLE = Qt.MouseButton.LeftButton, Qt.MouseButton.MiddleButton


class Bench(QWidget):
    """A view and its chart side by side, as in the window."""

    def __init__(self) -> None:
        super().__init__()
        self.view, self.chart = View(), Chart()
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addWidget(self.view, 1)
        row.addWidget(self.chart)
        self.view.mapping_changed.connect(self.chart.set_mapping)
        self.chart.printed_dragged.connect(self.view.set_printed)
        self.chart.zoomed.connect(self.view.zoom_at_row)
        self.chart.panned.connect(self.view.pan_rows)

    def show_picture(self, picture: Picture | None) -> None:
        self.view.show_picture(picture)
        self.chart.show_picture(picture)

    @property
    def sheet(self) -> Sheet:
        return self.view.findChild(Sheet)


def a_bench(qapp: QApplication) -> Iterator[Bench]:
    bench = Bench()
    bench.resize(800, 600)
    bench.show()
    QTest.qWaitForWindowExposed(bench)
    yield bench
    bench.view.close()
    bench.close()
    bench.deleteLater()
    qapp.processEvents()


def fresh(_bench: Bench, qtbot: QtBot) -> Bench:
    """The bench with a fresh cube in it, level, standing, from the front."""
    _bench.view.set_printed(None)
    _bench.chart.set_printed(None)
    _bench.view.set_section(None)
    _bench.view.set_tool("look")
    _bench.view.set_hanging(False)
    _bench.chart.set_hanging(False)
    _bench.view.set_colours(LIGHT)
    _bench.show_picture(None)
    _bench.show_picture(block())
    _bench.view.look("front")
    _bench.view.fit()
    settle(_bench, qtbot)
    return _bench


def settle(bench: Bench, qtbot: QtBot) -> None:
    """Until the picture is drawn in full."""
    qtbot.wait(1)
    qtbot.waitUntil(lambda: not bench.view.is_busy, timeout=60_000)  # the first frame may compile shaders


def pixel(view: View, point: tuple[float, float, float]) -> QPoint:
    x, y, _ = view.eye.to_screen(np.array(point))
    return QPoint(round(x), round(y))


def red(image: QImage, place: QPoint) -> tuple[int, int, int]:
    colour = QColor(image.pixel(place))
    return colour.red(), colour.green(), colour.blue()


def frame_of(bench: Bench) -> np.ndarray:
    """(h, w, 3) pixels of the frame alone, without what is painted over it."""
    image = bench.sheet.frame.image.convertToFormat(QImage.Format.Format_RGB888)
    rows = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), image.bytesPerLine())
    return rows[:, : 3 * image.width()].reshape(image.height(), image.width(), 3).astype(int)


def middle_of(vent: ShownVent) -> tuple[float, float, float]:
    x, y, z = (0.5 * (a + b) for a, b in zip(vent.start, vent.end, strict=True))
    return x, y, z


def rgb_bytes(colour: str) -> tuple[int, ...]:
    return tuple(int(colour[k : k + 2], 16) for k in (1, 3, 5))


def move(widget: QWidget, place: QPoint, button: Qt.MouseButton = Qt.MouseButton.NoButton) -> None:
    """A move of the pointer with a button held: QTest.mouseMove cannot hold one."""
    from PySide6.QtCore import QEvent
    from PySide6.QtGui import QMouseEvent

    at = QPointF(place)
    event = QMouseEvent(
        QEvent.Type.MouseMove, at, QPointF(widget.mapToGlobal(place)), Qt.MouseButton.NoButton, button,
        Qt.KeyboardModifier.NoModifier,
    )  # fmt: skip
    QApplication.sendEvent(widget, event)


def drag(widget: QWidget, begin: QPoint, end: QPoint, button: Qt.MouseButton, qtbot: QtBot, steps: int = 5) -> None:
    QTest.mousePress(widget, button, pos=begin)
    for k in range(1, steps + 1):
        share = k / steps
        away = end - begin
        move(widget, begin + QPoint(round(away.x() * share), round(away.y() * share)), button)
        qtbot.wait(5)
    QTest.mouseRelease(widget, button, pos=end)


def wheel(
    widget: QWidget, place: QPointF, turned: int, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier
) -> None:
    event = QWheelEvent(
        place, QPointF(widget.mapToGlobal(place.toPoint())), QPoint(), QPoint(0, turned),
        Qt.MouseButton.NoButton, modifier, Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(widget, event)
