"""The smallest window: every card whole, beside the view, and the panels come to rest."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QEvent, QObject
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot
from ui.conftest import LONG_MS, looked_at

from ventplanner import resources
from ventplanner.ui.window import MainWindow


class Resizes(QObject):
    """Counts how often a widget gets another size."""

    def __init__(self) -> None:
        super().__init__()
        self.count = 0

    def eventFilter(self, _watched: QObject, event: QEvent) -> bool:  # noqa: N802 - Qt's name
        self.count += event.type() == QEvent.Type.Resize
        return False


def test_the_smallest_window_comes_to_rest_with_its_cards_whole(
    real: MainWindow, opened: Callable[[Path | str], MainWindow], qtbot: QtBot
) -> None:
    real.resize(real.minimumSize())
    window = opened(resources.sample("seal-pup"))
    qtbot.waitUntil(lambda: window.session.is_flow_known, timeout=LONG_MS)
    for word in ("", "cavity A", f"proposal {window.session.proposals[0].id}"):
        window.session.select(word)
        QApplication.processEvents()
        panel = window.card
        assert panel.card is not None
        assert panel.viewport().width() >= panel.card.minimumSizeHint().width(), word
    qtbot.waitUntil(lambda: looked_at(window), timeout=LONG_MS)
    resizes = Resizes()
    assert window.stage.view is not None
    window.stage.view.installEventFilter(resizes)
    qtbot.wait(400)
    assert resizes.count <= 2
