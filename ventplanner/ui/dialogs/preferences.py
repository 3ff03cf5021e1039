"""Mouse, units and colours: what is chosen once for all parts. Every choice takes effect at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QHBoxLayout, QVBoxLayout

from ventplanner.ui.panels.fields import Choice, button, label, row

if TYPE_CHECKING:
    from ventplanner.ui.preferences import Button
    from ventplanner.ui.theme import Choice as ThemeChoice
    from ventplanner.ui.units import System
    from ventplanner.ui.window import MainWindow

K = TypeVar("K")

UNITS: dict[System, str] = {"mm": "Millimetres", "inch": "Inches"}
TURNS: dict[Button, str] = {"left": "Left button", "middle": "Middle button", "right": "Right button"}
WHEELS = {True: "Larger", False: "Smaller"}
COLOURS: dict[ThemeChoice, str] = {"system": "As the system says", "light": "Light", "dark": "Dark"}


class PreferencesDialog(QDialog):
    """One row for each choice, and below it what it means."""

    def __init__(self, window: MainWindow) -> None:
        super().__init__(window)
        self.setWindowTitle("Mouse, units and colours")
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self._window = window
        chosen = window.preferences
        column = self._column = QVBoxLayout(self)
        column.setContentsMargins(22, 18, 22, 16)
        column.setSpacing(4)
        self.unit = self._row(
            "Lengths, areas, volumes",
            UNITS,
            chosen.unit,
            lambda unit: self._prefer(unit=unit),
            "What is shown and typed; files and plans stay in millimetres. A figure may always be typed with its unit:"
            " 2.5 mm, 0.1 in, 1/8 in.",
        )
        self.turn = self._row(
            "Turn the part with the",
            TURNS,
            chosen.turn,
            lambda turn: self._prefer(turn=turn),
            "The other buttons move the picture; so does this one with Shift. A click with the left button selects,"
            " and vents and the section are dragged with it.",
        )
        self.wheel = self._row(
            "Wheel turned away from you",
            WHEELS,
            chosen.away_is_larger,
            lambda larger: self._prefer(away_is_larger=larger),
            "Whether the picture becomes larger or smaller then.",
        )
        self.colours = self._row(
            "Colours", COLOURS, window.theme.choice, window.choose_theme, "Of the window, the view and the chart."
        )
        line = row(stretch=True)
        line.addWidget(button("Close", self.accept))
        column.addStretch(1)
        column.addLayout(line)
        self.setMinimumWidth(500)

    def _row(self, name: str, texts: Mapping[K, str], chosen: K, do: Callable[[K], object], about: str) -> Choice:
        field = Choice()
        field.addItems(list(texts.values()))
        field.setCurrentText(texts[chosen])
        field.setFixedWidth(190)
        field.setAccessibleName(name)
        field.setAccessibleDescription(about)
        keys = list(texts)
        field.currentIndexChanged.connect(lambda at: do(keys[at]))
        head = label(name)
        head.setBuddy(field)
        line = QHBoxLayout()
        line.addWidget(head, 1)
        line.addWidget(field)
        self._column.addLayout(line)
        self._column.addWidget(label(about, "muted", wrap=True))
        self._column.addSpacing(12)
        return field

    def _prefer(self, **changes: object) -> None:
        self._window.prefer(replace(self._window.preferences, **changes))  # type: ignore[arg-type]
