"""Asks for a name, and says at once what is wrong with one."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QHBoxLayout, QLineEdit, QVBoxLayout, QWidget

from ventplanner.errors import ParameterError
from ventplanner.profile import LONGEST_NAME
from ventplanner.ui.panels.fields import button, label

WIDTH = 400


class Naming(QDialog):
    """`check` returns the name as it will be kept, or raises ParameterError; `do` gets it when it was given."""

    def __init__(
        self, parent: QWidget, title: str, given: str, check: Callable[[str], str], do: Callable[[str], object]
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setModal(True)
        self._check, self._do = check, do
        self.field = QLineEdit(given)
        self.field.setMaxLength(LONGEST_NAME)
        self.field.setAccessibleName("Name")
        self.field.selectAll()
        self.problem = label("", "wrong", wrap=True)
        head = label("Name")
        head.setBuddy(self.field)
        self.cancel = button("Cancel", self.reject)
        self.save = button(title.rstrip("…"), self.accept, "primary")
        self.save.setDefault(True)
        line = QHBoxLayout()
        line.addStretch(1)
        line.addWidget(self.cancel)
        line.addWidget(self.save)
        column = QVBoxLayout(self)
        column.setContentsMargins(22, 18, 22, 16)
        column.setSpacing(8)
        for widget in (head, self.field, self.problem):
            column.addWidget(widget)
        column.addLayout(line)
        self.setMinimumWidth(WIDTH)
        self.field.textChanged.connect(lambda _: self._look())
        self._look()

    def _look(self) -> str:
        """The name, "" if it cannot be one; then why is said."""
        why, name = "", ""
        try:
            name = self._check(self.field.text())
        except ParameterError as error:
            why = f"{error.cause} {error.way_out}"
        self.problem.setText(why if self.field.text().strip() else "")
        self.save.setEnabled(bool(name))
        return name

    def accept(self) -> None:
        """Take the name, if it can be one."""
        name = self._look()
        if name:
            super().accept()
            self._do(name)
