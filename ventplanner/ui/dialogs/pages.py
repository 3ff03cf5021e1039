"""Small dialogs: history, command search, keys, about."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QModelIndex, QObject, QPersistentModelIndex, Qt
from PySide6.QtGui import QAction, QKeyEvent, QKeySequence, QPainter
from PySide6.QtWidgets import (
    QDialog,
    QGridLayout,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QScrollArea,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QVBoxLayout,
    QWidget,
)

from ventplanner import __version__
from ventplanner.ui.commands import COMMANDS, MENUS, Command
from ventplanner.ui.dialogs.help_texts import Pages
from ventplanner.ui.panels.fields import button, label, row
from ventplanner.ui.theme import scaled_font
from ventplanner.ui.units import edit_name, sentence

if TYPE_CHECKING:
    from ventplanner.ui.session import Session

Index = QModelIndex | QPersistentModelIndex
NAME, BESIDE = Qt.ItemDataRole.UserRole, Qt.ItemDataRole.UserRole + 1


MOUSE = (
    ("Turn the part", "drag (Ctrl+M: with which button)"),
    ("Move the picture", "drag with another button"),
    ("Larger, smaller", "wheel"),
    ("Move a vent along the skin", "drag the vent"),
    ("The same, keeping its direction", "Shift and drag"),
    ("Drill one more vent", "right click on the skin, or V where the pointer is"),
    ("Move the section", "drag its handle, or Shift and wheel"),
    ("Show the part printed so far", "drag the handle of the chart"),
    ("In the layers: up and down by a layer", "Shift and wheel"),
)


class _Page(QDialog):
    def __init__(self, title: str, parent: QWidget | None) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(20, 18, 20, 16)
        self.column.setSpacing(8)

    def add_close(self) -> None:
        """A button that closes, at the right."""
        close = button("Close", self.accept)
        line = row(stretch=True)
        line.addWidget(close)
        self.column.addLayout(line)


class History(_Page):
    """All edits; a click on one goes there, back or forth."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__("History", parent)
        self._session = session
        self.list = QListWidget()
        self.list.setAccessibleName("Edits")
        self.column.addWidget(label("Each line is the work as it was after that edit.", "muted", wrap=True))
        self.column.addWidget(self.list, 1)
        self.add_close()
        self.resize(360, 460)
        self._show()
        session.changed.connect(self._show)
        self.list.currentRowChanged.connect(self._go)

    def _show(self) -> None:
        if self._session.state is None:
            self.reject()
            return
        now = self._session.index
        self.list.blockSignals(True)
        self.list.clear()
        for at, name in enumerate(map(edit_name, self._session.names)):
            item = QListWidgetItem(name or "Opened")
            if at > now:
                item.setForeground(self.palette().placeholderText())
                item.setText(f"{name}  (undone)")
            self.list.addItem(item)
        self.list.setCurrentRow(now)
        self.list.blockSignals(False)

    def _go(self, at: int) -> None:
        if at >= 0 and at != self._session.index:
            self._session.jump(at)


class Search(_Page):
    """Type some words of a command; Return gives it."""

    def __init__(self, actions: dict[str, QAction], parent: QWidget | None = None) -> None:
        super().__init__("Search commands", parent)
        self._actions = actions
        self.field = QLineEdit()
        self.field.setPlaceholderText("What would you like to do?")
        self.field.setAccessibleName("Words of a command")
        self.list = QListWidget()
        self.list.setAccessibleName("Commands")
        self.list.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.list.setItemDelegate(_Beside(self.list))
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.column.addWidget(self.field)
        self.column.addWidget(self.list, 1)
        self.resize(620, 460)
        self.field.textChanged.connect(self._show)
        self.field.returnPressed.connect(self._give)
        self.list.itemActivated.connect(lambda _: self._give())
        self.list.itemClicked.connect(lambda _: self._give())
        self.field.installEventFilter(self)
        self._show("")

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802 - Qt's name
        """Arrow keys in the field move in the list."""
        moves = (Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_PageUp, Qt.Key.Key_PageDown)
        if event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent) and event.key() in moves:
            self.list.keyPressEvent(event)
            return True
        return super().eventFilter(watched, event)

    def _show(self, text: str) -> None:
        self.list.clear()
        for command in found(text):
            if command.name == "search":
                continue
            action = self._actions[command.name]
            key = action.shortcut().toString(QKeySequence.SequenceFormat.NativeText)
            title = action.text().replace("&", "")
            item = QListWidgetItem(title)
            item.setData(NAME, command.name)
            item.setData(BESIDE, (command.tip, key))
            item.setData(Qt.ItemDataRole.AccessibleTextRole, f"{title}. {command.tip}. {key}")
            if not action.isEnabled():
                item.setFlags(Qt.ItemFlag.NoItemFlags)
            self.list.addItem(item)
        if not self.list.count():
            none = QListWidgetItem(f"No command has these words: {' '.join(text.split())}")
            none.setData(BESIDE, ("", ""))
            none.setFlags(Qt.ItemFlag.NoItemFlags)
            self.list.addItem(none)
        first = next((k for k in range(self.list.count()) if self.list.item(k).flags()), -1)
        self.list.setCurrentRow(first)

    def _give(self) -> None:
        item = self.list.currentItem()
        if item is not None and item.flags():
            self.accept()
            self._actions[item.data(NAME)].trigger()


class _Beside(QStyledItemDelegate):
    """Draws what a command does and its keys beside its name."""

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        """The row, then the rest in a quieter colour."""
        super().paint(painter, option, index)
        tip, key = index.data(BESIDE)
        painter.save()
        painter.setPen(option.palette.placeholderText().color())
        box = option.rect.adjusted(10, 0, -10, 0)
        flags = int(Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight)
        painter.drawText(box, flags, key)
        metrics = painter.fontMetrics()
        left = max(metrics.horizontalAdvance(index.data()) + 22, 200)
        box.setRight(box.right() - metrics.horizontalAdvance(key) - 16)
        box.setLeft(box.left() + left)
        shown = metrics.elidedText(tip, Qt.TextElideMode.ElideRight, box.width())
        painter.drawText(box, int(Qt.AlignmentFlag.AlignVCenter), shown)
        painter.restore()


def found(text: str) -> list[Command]:
    """The commands in which every word of `text` begins a word; those whose name has them come first."""
    words = text.lower().split()

    def hits(where: str) -> bool:
        there = where.lower().replace("…", "").split()
        return all(any(t.startswith(w) for t in there) for w in words)

    by_name = [c for c in COMMANDS if hits(c.plain)]
    return [*by_name, *(c for c in COMMANDS if c not in by_name and hits(f"{c.plain} {c.tip} {c.menu}"))]


class Keys(_Page):
    """All commands that have keys, and what the mouse does."""

    def __init__(self, actions: dict[str, QAction], parent: QWidget | None = None) -> None:
        super().__init__("Keys", parent)
        inside = QWidget()
        grid = QGridLayout(inside)
        grid.setHorizontalSpacing(28)
        grid.setVerticalSpacing(5)
        line = 0
        for menu in MENUS:
            grid.addWidget(label(menu, "heading"), line, 0, 1, 2)
            line += 1
            for command in COMMANDS:
                if command.menu == menu and command.keys:
                    shown = [_native(key) for key in command.keys[:2] if key not in ("Enter", "Ctrl+Enter")]
                    grid.addWidget(label(command.plain.rstrip("…")), line, 0)
                    grid.addWidget(label(" or ".join(shown), "muted"), line, 1)
                    line += 1
        grid.addWidget(label("Mouse", "heading"), line, 0, 1, 2)
        for at, (what, how) in enumerate(MOUSE, line + 1):
            grid.addWidget(label(what), at, 0)
            grid.addWidget(label(how, "muted"), at, 1)
        grid.setColumnStretch(0, 1)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setWidget(inside)
        area.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setAccessibleName("Keys")
        self.column.addWidget(area, 1)
        self.add_close()
        self.resize(560, 640)


class Texts(_Page):
    """A page of texts: headings, each with its paragraphs."""

    def __init__(self, title: str, texts: Pages, parent: QWidget | None = None) -> None:
        super().__init__(title, parent)
        inside = QWidget()
        rows = QVBoxLayout(inside)
        rows.setContentsMargins(0, 0, 14, 0)
        rows.setSpacing(8)
        for heading, paragraphs in texts:
            rows.addWidget(label(heading, "heading"))
            for text in paragraphs:
                rows.addWidget(label(sentence(text), wrap=True, select=True))
            rows.addSpacing(8)
        rows.addStretch(1)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setWidget(inside)
        area.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setAccessibleName(title)
        self.column.addWidget(area, 1)
        self.add_close()
        self.resize(560, 640)


class About(_Page):
    """Version, licence, and what the program stands on."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("About ventplanner", parent)
        title = label(f"ventplanner {__version__}")
        title.setFont(scaled_font(1.5, title.font().Weight.DemiBold))
        self.column.addWidget(title)
        for text in (
            "Finds every hollow of a resin print that cannot breathe, places the vents, and drills them.",
            "MIT licence. It stands on Python, NumPy, SciPy, Numba, trimesh, Manifold, VTK, PyVista, and Qt through"
            " PySide6 (LGPL, unmodified).",
            "The figures are estimates for planning, not a guarantee.",
        ):
            self.column.addWidget(label(text, wrap=True))
        self.column.addSpacing(6)
        self.add_close()
        self.setFixedWidth(420)


def _native(key: str) -> str:
    return QKeySequence(key).toString(QKeySequence.SequenceFormat.NativeText)
