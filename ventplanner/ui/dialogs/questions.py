"""Questions with a few answers, and errors with their way out."""

from __future__ import annotations

import re
import sys
from collections.abc import Sequence
from functools import partial

from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QDialog, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from ventplanner import __version__
from ventplanner.errors import NotVerifiedError, VentplannerError
from ventplanner.hollow_parameters import HOLLOW_PARAMETERS
from ventplanner.ui.panels.fields import button, label
from ventplanner.ui.theme import scaled_font
from ventplanner.ui.units import sentence

WIDTH = 480


class Question(QDialog):
    """A title, what there is to know, and answers: the first is the main one, the second that of Escape.

    safe: Return gives the second, too, because the first cannot be taken back.

    listed: the texts are things in a list, not sentences that follow each other.
    """

    def __init__(
        self,
        parent: QWidget | None,
        title: str,
        texts: Sequence[str],
        answers: Sequence[str],
        listed: bool = False,
        safe: bool = False,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("ventplanner")
        self.setModal(True)
        self.answer = answers[1] if len(answers) > 1 else answers[0]
        column = QVBoxLayout(self)
        column.setContentsMargins(22, 20, 22, 16)
        column.setSpacing(10)
        head = label(title, wrap=True)
        head.setFont(scaled_font(1.25, head.font().Weight.DemiBold))
        head.setMinimumWidth(WIDTH)
        column.addWidget(head)
        column.addWidget(_texts(texts, listed=listed))
        column.addSpacing(8)
        self.buttons = {text: button(text, partial(self._give, text)) for text in answers}
        self.extra = QHBoxLayout()
        line = QHBoxLayout()
        line.addLayout(self.extra)
        line.addStretch(1)
        for text in (*answers[2:], *answers[1:2], answers[0]):
            line.addWidget(self.buttons[text])
        column.addLayout(line)
        main = self.buttons[answers[0]]
        main.setProperty("kind", "primary")
        of_return = self.buttons[answers[1]] if safe else main
        of_return.setDefault(True)
        of_return.setFocus()
        self.setAccessibleName(title)
        self.setAccessibleDescription(" ".join(texts))

    def _give(self, answer: str) -> None:
        self.answer = answer
        self.accept()


def _texts(texts: Sequence[str], listed: bool) -> QWidget:
    inside = QWidget()
    column = QVBoxLayout(inside)
    column.setContentsMargins(0, 0, 0, 0)
    column.setSpacing(6)
    for text in texts:
        line = label(f"•  {text}" if listed else text, wrap=True, select=True)
        line.setMinimumWidth(WIDTH - 40)
        column.addWidget(line)
    column.addStretch(1)
    if len(texts) <= 6:
        return inside
    area = QScrollArea()
    area.setWidgetResizable(True)
    area.setWidget(inside)
    area.setMinimumHeight(220)
    area.setAccessibleName("What there is to know")
    return area


def ask(parent: QWidget | None, title: str, texts: Sequence[str], *answers: str, safe: bool = False) -> str:
    """Ask and wait; Escape and closing give the second answer, and Return, too, if that is the safe one."""
    question = Question(parent, title, texts, answers, listed=len(texts) > 1, safe=safe)
    question.exec()
    question.deleteLater()
    return question.answer


def tell(parent: QWidget | None, error: BaseException, what: str) -> None:
    """Tell that something failed: what, why, and the way out; the details can be copied. Does not wait."""
    title, texts = told(error, what)
    question = Question(parent, title, texts, ["Close"], listed=isinstance(error, NotVerifiedError))
    copy = button("Copy details", lambda: QGuiApplication.clipboard().setText(details(error, what)), "quiet")
    question.extra.addWidget(copy)
    question.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    question.open()


def told(error: BaseException, what: str) -> tuple[str, list[str]]:
    """An error as a title and sentences."""
    title = what or "That did not work"
    if isinstance(error, NotVerifiedError):
        differences = [sentence(f"{d[:1].upper()}{d[1:]}.") for d in error.differences]
        return f"{title}: not verified", [*differences, error.way_out]
    if isinstance(error, VentplannerError):
        return title, [sentence(text) for text in (error.cause, for_window(error.way_out)) if text]
    return "Something went wrong in the program", [
        f"{type(error).__name__}: {error}",
        "Your work is still here; save it. The details, copied, help whoever mends the program.",
    ]


def for_window(way_out: str) -> str:
    """The way out without the options of the command line; those of hollowing have names in its form."""
    for option in ("; --unit", " (--unit)", " (--pitch)", "--pitch"):
        way_out = way_out.replace(option, "")
    for parameter in HOLLOW_PARAMETERS.values():
        way_out = way_out.replace(f" ({parameter.flag})", "")
        way_out = re.sub(rf"{parameter.flag}(?![\w-])", f"'{parameter.label}'", way_out)
    return way_out.replace(" (--to-plate)", " (P)")


def details(error: BaseException, what: str) -> str:
    """What helps to find the cause: versions, and where it happened."""
    import traceback

    where = "".join(traceback.format_exception(error))
    return f"ventplanner {__version__}, Python {sys.version.split()[0]}, {sys.platform}\n{what}\n\n{where}"
