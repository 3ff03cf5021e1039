"""Notices above the work: a sentence and a few answers, which take it away again."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from PySide6.QtWidgets import QFrame, QHBoxLayout, QVBoxLayout, QWidget

from ventplanner.ui.panels.fields import button, label
from ventplanner.ui.words import file_name

Answer = tuple[str, Callable[[], object]]


class Notices(QWidget):
    """One below the other; takes no room when there is none."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(12, 10, 12, 2)
        self._column.setSpacing(6)
        self._shown: dict[str, QFrame] = {}
        self.hide()

    @property
    def texts(self) -> tuple[str, ...]:
        """What is said now."""
        return tuple(self._shown)

    def say(self, text: str, *answers: Answer) -> None:
        """Say something, once; each answer takes it away and does what it says."""
        if text in self._shown:
            return
        notice = QFrame()
        notice.setObjectName("notice")
        line = QHBoxLayout(notice)
        line.setContentsMargins(14, 7, 8, 7)
        line.setSpacing(8)
        line.addWidget(label(text, wrap=True), 1)
        for name, do in answers:
            line.addWidget(button(name, partial(self._answered, text, do)))
        self._shown[text] = notice
        self._column.addWidget(notice)
        self.show()

    def clear(self) -> None:
        """Nothing to say any more."""
        for text in self.texts:
            self._take(text)

    def _answered(self, text: str, do: Callable[[], object]) -> None:
        self._take(text)
        do()

    def take_back(self, text: str) -> None:
        """What was said is said no more; nothing happens if it was answered already."""
        self._take(text)

    def _take(self, text: str) -> None:
        notice = self._shown.pop(text, None)
        if notice is not None:
            notice.hide()
            notice.deleteLater()
        self.setVisible(bool(self._shown))


def tell_file_changed(notices: Notices, path: str, gone: bool, read_again: Callable[[], object]) -> None:
    """An open file is another one on disk now, or is gone from there; what was said of it before no longer holds."""
    name = file_name(path)
    deleted = f"{name} was deleted or moved by another program. What is open stays; save it to keep it."
    changed = f"{name} was changed on disk by another program."
    notices.take_back(changed if gone else deleted)
    if gone:
        notices.say(deleted, ("Understood", lambda: None))
    else:
        notices.say(changed, ("Read it again", read_again), ("Keep what is open", lambda: None))
