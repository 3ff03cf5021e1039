"""Where the window stands and how it is divided, from one start to the next."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QByteArray, QSize
from PySide6.QtGui import QGuiApplication

if TYPE_CHECKING:
    from ventplanner.ui.settings import Settings
    from ventplanner.ui.window import MainWindow


NARROW = 1150
"""Below this width of the window the panels at the sides are narrower: tree and card, in pixels."""
WIDE_SIDES, NARROW_SIDES = (288, 288), (236, 244)


class Place:
    """Keeps and restores the window's place; what cannot be restored is left as it is."""

    def __init__(self, window: MainWindow, settings: Settings) -> None:
        self._window = window
        self._settings = settings
        self._divided_by_user = False

    def share_out(self) -> None:
        """Divide the window between the panels, unless the user has done so."""
        if self._divided_by_user or not hasattr(self._window, "splitter"):
            return
        tree, card = NARROW_SIDES if self._window.width() < NARROW else WIDE_SIDES
        self._window.splitter.setSizes([tree, self._window.width() - tree - card, card])

    def _divided(self) -> None:
        self._divided_by_user = True

    def keep(self) -> None:
        """Note where everything is."""
        window = self._window
        self._settings.set("window", bytes(window.saveGeometry().toBase64().data()).decode("ascii"))
        panels = bytes(window.splitter.saveState().toBase64().data()).decode("ascii")
        self._settings.set("panels", panels if self._divided_by_user else "")
        self._settings.set("hanging", window.stage.hanging)
        self._settings.save()

    def restore(self) -> None:
        """Put everything where it was, or, the first time, in the middle of the screen."""
        window = self._window
        geometry = self._settings.get("window", "")
        if not geometry or not window.restoreGeometry(QByteArray.fromBase64(geometry.encode("ascii", "ignore"))):
            window.resize(_first_size())
        panels = QByteArray.fromBase64(self._settings.get("panels", "").encode("ascii", "ignore"))
        self._divided_by_user = not panels.isEmpty() and window.splitter.restoreState(panels)
        window.splitter.splitterMoved.connect(self._divided)
        self.share_out()
        window.stage.set_hanging(self._settings.get("hanging", False))


def _first_size() -> QSize:
    """Most of the screen, but no more than helps."""
    screen = QGuiApplication.primaryScreen()
    room = screen.availableSize() if screen is not None else QSize(1280, 800)
    return QSize(min(1440, room.width() * 9 // 10), min(900, room.height() * 9 // 10))
