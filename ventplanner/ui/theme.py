"""The look: few colours with one meaning each, in light and dark, and the style sheet made of them.

State colours are reserved (Okabe & Ito 2008, "Color universal design"): green breathes, vermilion is sealed or late.
They never stand alone: a word and a symbol say the same. Text reaches a contrast of 4.5:1 (WCAG 2.2, 1.4.3), what
draws the eye 3:1 (1.4.11).
"""

from __future__ import annotations

from dataclasses import dataclass
from string import Template
from typing import Literal

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtGui import QColor, QFont, QGuiApplication, QPalette
from PySide6.QtWidgets import QApplication

from ventplanner.ui.view.colours import BREATHING, CAVITY_COLOURS, SEALED

Choice = Literal["system", "light", "dark"]
CHOICES: tuple[Choice, ...] = ("system", "light", "dark")


@dataclass(frozen=True)
class Colours:
    """Every colour of the window. `good` and `bad` are the state colours as marks, `..._text` the same for words."""

    dark: bool
    paper: str
    raised: str
    hover: str
    line: str
    edge: str
    ink: str
    muted: str
    faint: str
    notice: str
    notice_line: str
    good: str
    good_text: str
    bad: str
    bad_text: str


LIGHT = Colours(
    dark=False,
    paper="#f6f4f0",
    raised="#fdfcfa",
    hover="#ece8e1",
    line="#dcd7ce",
    edge="#8f8b84",
    ink="#22272a",
    muted="#5e625f",
    faint="#9b9891",
    notice="#fdf3e0",
    notice_line="#ead9b8",
    good=BREATHING,
    good_text="#00694d",
    bad=SEALED,
    bad_text="#a04600",
)
DARK = Colours(
    dark=True,
    paper="#1d2022",
    raised="#26292c",
    hover="#303437",
    line="#3a3f42",
    edge="#7d8385",
    ink="#e9e6e0",
    muted="#a9a8a2",
    faint="#6d7173",
    notice="#322a1c",
    notice_line="#4f432b",
    good=BREATHING,
    good_text="#4cc9a3",
    bad=SEALED,
    bad_text="#f0893e",
)


class Theme(QObject):
    """The look of the application; `changed` when it becomes light or dark."""

    changed = Signal()

    def __init__(self, app: QApplication, choice: Choice = "system") -> None:
        super().__init__(app)
        self._app = app
        self._choice: Choice = choice
        self.colours = LIGHT
        app.setStyle("Fusion")
        app.setFont(_font(app.font()))
        app.styleHints().colorSchemeChanged.connect(self._settle)
        self._settle()

    @property
    def choice(self) -> Choice:
        """What the user chose."""
        return self._choice

    def choose(self, choice: Choice) -> None:
        """Follow the system, or be light or dark whatever it says."""
        self._choice = choice
        self._settle()

    def _settle(self) -> None:
        dark = self._choice == "dark"
        if self._choice == "system":
            dark = QGuiApplication.styleHints().colorScheme() == Qt.ColorScheme.Dark
        self.colours = DARK if dark else LIGHT
        palette = palette_of(self.colours)
        if palette != self._app.palette() or not self._app.styleSheet():
            self._app.setPalette(palette)
            self._app.setStyleSheet(style_sheet(self.colours))
            self.changed.emit()


def colours() -> Colours:
    """The colours in use, for what is painted by hand."""
    dark = QGuiApplication.palette().color(QPalette.ColorRole.Window).lightness() < 128
    return DARK if dark else LIGHT


def cavity_colour(number: int) -> QColor:
    """The colour of the cavity with this number."""
    return QColor(CAVITY_COLOURS[number % len(CAVITY_COLOURS)])


def ink_on(colour: QColor) -> QColor:
    """White or ink, whichever is easier to read on a colour."""
    white, ink = QColor("#ffffff"), QColor(LIGHT.ink)
    return white if contrast(colour, white) >= contrast(colour, ink) else ink


def contrast(one: QColor, other: QColor) -> float:
    """Contrast ratio of two colours, 1 to 21 (WCAG 2.2, "contrast ratio" and "relative luminance")."""
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _luminance(colour: QColor) -> float:
    def linear(value: float) -> float:
        return value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4

    return 0.2126 * linear(colour.redF()) + 0.7152 * linear(colour.greenF()) + 0.0722 * linear(colour.blueF())


def scaled_font(factor: float, weight: QFont.Weight = QFont.Weight.Normal) -> QFont:
    """The application's font, larger or smaller."""
    font = QFont(QApplication.font())
    font.setPointSizeF(font.pointSizeF() * factor)
    font.setWeight(weight)
    return font


def _font(font: QFont) -> QFont:
    """The system's font; not smaller than 9.5 points, which the figures need."""
    if 0 < font.pointSizeF() < 9.5:
        font.setPointSizeF(9.5)
    return font


def palette_of(c: Colours) -> QPalette:
    """The palette for widgets that draw themselves in the system's way."""
    palette = QPalette()
    role = QPalette.ColorRole
    for which, colour in (
        (role.Window, c.paper),
        (role.WindowText, c.ink),
        (role.Base, c.raised),
        (role.AlternateBase, c.paper),
        (role.Text, c.ink),
        (role.Button, c.raised),
        (role.ButtonText, c.ink),
        (role.BrightText, c.bad_text),
        (role.ToolTipBase, c.ink),
        (role.ToolTipText, c.paper),
        (role.PlaceholderText, c.muted),
        (role.Highlight, c.ink),
        (role.HighlightedText, c.paper),
        (role.Link, c.ink),
        (role.LinkVisited, c.ink),
        (role.Mid, c.line),
        (role.Accent, c.ink),
    ):
        palette.setColor(which, QColor(colour))
    for which in (role.Text, role.WindowText, role.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, which, QColor(c.faint))
    return palette


def style_sheet(c: Colours) -> str:
    """The style sheet in these colours."""
    return Template(_SHEET).substitute({name: value for name, value in vars(c).items() if isinstance(value, str)})


_SHEET = """
* { outline: none; }
QMainWindow, QDialog { background: $paper; }
QToolTip { background: $ink; color: $paper; border: 1px solid $ink; padding: 4px 6px; }

QMenuBar { background: $paper; border-bottom: 1px solid $line; padding: 2px 6px; }
QMenuBar::item { padding: 8px 10px; border-radius: 5px; background: transparent; }
QMenuBar::item:selected, QMenuBar::item:pressed { background: $hover; color: $ink; }
QMenu { background: $raised; border: 1px solid $line; padding: 5px; }
QMenu::item { padding: 5px 26px 5px 26px; border-radius: 4px; border: 1px solid transparent; }
QMenu::item:selected { background: $hover; color: $ink; border-color: $edge; }
QMenu::item:disabled { color: $faint; background: transparent; border-color: transparent; }
QMenu::separator { height: 1px; background: $line; margin: 5px 8px; }
QMenu::right-arrow { width: 9px; }
QStatusBar { background: $paper; border-top: 1px solid $line; color: $muted; }
QStatusBar::item { border: none; }

QPushButton, QToolButton {
    background: $raised; color: $ink; border: 1px solid $line; border-radius: 6px; padding: 5px 12px; min-height: 18px;
}
QPushButton:hover, QToolButton:hover { background: $hover; }
QPushButton:pressed, QToolButton:pressed { background: $line; }
QToolButton[kind="icon"] { background: transparent; border: 1px solid transparent; padding: 5px 7px; }
QToolButton[kind="icon"]:hover { background: $hover; }
QToolButton[kind="title"] {
    background: transparent; color: $muted; border: 1px solid transparent; padding: 3px 6px; min-height: 16px;
}
QToolButton[kind="title"]:hover { background: $hover; }
QToolButton[kind="title"]:focus { border: 2px solid $ink; padding: 2px 5px; }
QToolButton[kind="icon"]:focus { border: 2px solid $ink; padding: 4px 6px; }
QPushButton:disabled, QToolButton:disabled { color: $faint; background: transparent; }
QPushButton:focus, QToolButton:focus { border: 2px solid $ink; padding: 4px 11px; }
QToolButton:checked { background: $ink; color: $paper; border-color: $ink; }
QToolButton:checked:hover { background: $muted; border-color: $muted; }
QToolButton:checked:focus { border: 3px double $paper; padding: 3px 10px; }
QPushButton[kind="primary"] { background: $ink; color: $paper; border: 1px solid $ink; padding: 7px 16px; }
QPushButton[kind="primary"]:hover { background: $muted; border-color: $muted; }
QPushButton[kind="primary"]:focus { border: 3px double $paper; padding: 5px 14px; }
QPushButton[kind="primary"]:disabled { background: $hover; border-color: $line; color: $muted; }
QPushButton[kind="quiet"], QToolButton[kind="quiet"] { background: transparent; border: 1px solid transparent; }
QPushButton[kind="quiet"]:hover, QToolButton[kind="quiet"]:hover { background: $hover; }
QPushButton[kind="quiet"]:focus, QToolButton[kind="quiet"]:focus { border: 2px solid $ink; }
QPushButton[kind="sentence"] {
    background: transparent; border: 1px solid transparent; border-bottom: 1px solid $edge; border-radius: 0;
    padding: 3px 2px; text-align: left;
}
QPushButton[kind="sentence"]:hover { background: $notice_line; }
QPushButton[kind="sentence"]:focus { border: 2px solid $ink; border-radius: 4px; padding: 2px 1px; }
QPushButton[kind="search"] { color: $muted; text-align: left; padding: 3px 10px; min-width: 190px; }
QPushButton[kind="search"]:focus { padding: 2px 9px; }
QToolButton::menu-indicator, QPushButton::menu-indicator { image: none; width: 0; }

QFrame#segments { background: $raised; border: 1px solid $line; border-radius: 7px; }
QFrame#segments QToolButton {
    border: 1px solid transparent; border-radius: 5px; background: transparent; padding: 4px 10px;
}
QFrame#segments QToolButton:hover { background: $hover; }
QFrame#segments QToolButton:checked { background: $ink; color: $paper; }
QFrame#segments QToolButton:focus { border: 2px solid $edge; padding: 3px 9px; }
QFrame#segments QToolButton:disabled { color: $faint; }

QCheckBox::indicator:unchecked {
    width: 12px; height: 12px; border: 1px solid $edge; border-radius: 3px; background: $raised;
}

QLineEdit, QPlainTextEdit, QComboBox {
    background: $raised; color: $ink; border: 1px solid $edge; border-radius: 5px; padding: 3px 7px;
    selection-background-color: $ink; selection-color: $paper;
}
QLineEdit:focus, QPlainTextEdit:focus, QComboBox:focus { border: 2px solid $ink; padding: 2px 6px; }
QLineEdit:disabled, QComboBox:disabled { color: $faint; border-color: $line; }
QLineEdit[wrong="true"] { border: 2px solid $bad; padding: 2px 6px; }
QComboBox::drop-down { border: none; width: 18px; }
QComboBox QAbstractItemView { background: $raised; border: 1px solid $line; selection-background-color: $hover;
    selection-color: $ink; }

QTreeView, QListView, QTreeWidget, QListWidget {
    background: transparent; border: 1px solid transparent; border-radius: 6px;
}
QListView::item { padding: 5px 8px; border-radius: 4px; color: $ink; }
QListView::item:selected { background: $hover; color: $ink; }
QDialog QListWidget { border: 1px solid $line; background: $raised; padding: 3px; }
QDialog QListWidget:focus { border: 2px solid $ink; padding: 2px; }
QAbstractScrollArea { background: transparent; }
QAbstractScrollArea::corner { background: transparent; border: none; }
QHeaderView { background: $paper; border: none; }
QHeaderView::section {
    background: $paper; color: $muted; border: none; border-bottom: 1px solid $line; padding: 5px 8px;
}
QDialogButtonBox { dialogbuttonbox-buttons-have-icons: 0; }
QFileDialog QToolButton { padding: 3px; min-height: 0; }
QFileDialog QToolButton:checked { background: $hover; border-color: $edge; }
QFileDialog QToolButton:focus { border: 2px solid $ink; padding: 2px; }
QFileDialog QTreeView, QFileDialog QListView { background: $raised; border: 1px solid $line; }
QFileDialog QTreeView:focus, QFileDialog QListView:focus { border: 2px solid $ink; }
QScrollArea, QScrollArea > QWidget > QWidget { background: transparent; border: none; }
QScrollBar:vertical { background: transparent; width: 10px; margin: 0; }
QScrollBar:horizontal { background: transparent; height: 10px; margin: 0; }
QScrollBar::handle { background: $line; border-radius: 3px; margin: 2px; min-height: 24px; min-width: 24px; }
QScrollBar[idle="true"]::handle { background: transparent; }
QScrollBar::handle:hover { background: $edge; }
QScrollBar::add-line, QScrollBar::sub-line { width: 0; height: 0; }
QScrollBar::add-page, QScrollBar::sub-page { background: transparent; }
QSplitter::handle { background: $line; }
QSplitter::handle:hover { background: $edge; }
QProgressBar { background: $hover; border: none; border-radius: 3px; }
QProgressBar::chunk { background: $ink; border-radius: 3px; }

QLabel[role="heading"] { color: $muted; font-weight: 600; }
QLabel[role="muted"] { color: $muted; }
QLabel[role="old"] { color: $faint; }
QLabel[role="wrong"] { color: $bad_text; }
QLabel[role="good"] { color: $good_text; font-weight: 600; }
QLabel[role="bad"] { color: $bad_text; font-weight: 600; }
QFrame#rule { background: $line; border: none; max-height: 1px; min-height: 1px; }
QFrame#verdict { background: $paper; border: none; border-bottom: 1px solid $line; }
QFrame#todo { background: $paper; border: none; border-top: 1px solid $line; }
QFrame#todo[left="true"] { background: $notice; border-top: 1px solid $notice_line; }
QFrame#popup { background: $raised; border: 1px solid $edge; }
QFrame#notice { background: $notice; border: 1px solid $notice_line; border-radius: 8px; }
QFrame#drop { background: transparent; border: 2px dashed $line; border-radius: 12px; }
QFrame#drop[over="true"] { background: $hover; border: 2px solid $ink; }
"""
