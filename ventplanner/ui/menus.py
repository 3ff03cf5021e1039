"""Menus and actions, made from the table of commands."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMenu

from ventplanner.ui.commands import COMMANDS, MENUS, Command
from ventplanner.ui.words import file_name

if TYPE_CHECKING:
    from ventplanner.ui.window import MainWindow

_ROLES = {
    "quit": QAction.MenuRole.QuitRole,
    "about": QAction.MenuRole.AboutRole,
}
_ONE_OF = (
    ("standing", "hanging"),
    ("mark_brush", "mark_flood", "mark_face"),
    ("layers_model", "layers_printed"),
    ("theme_system", "theme_light", "theme_dark"),
    ("chart_area", "chart_suction", "chart_force"),
)


def make_actions(window: MainWindow) -> dict[str, QAction]:
    """An action for each command, by its name."""
    actions = {command.name: _action(window, command) for command in COMMANDS}
    for names in _ONE_OF:
        group = QActionGroup(window)
        for name in names:
            group.addAction(actions[name])
    return actions


def _action(window: MainWindow, command: Command) -> QAction:
    action = QAction(command.text, window)
    action.setObjectName(command.name)
    action.setShortcuts([QKeySequence(key) for key in command.keys])
    action.setShortcutContext(Qt.ShortcutContext.WindowShortcut)
    action.setStatusTip(command.tip)
    key = QKeySequence(command.keys[0]).toString(QKeySequence.SequenceFormat.NativeText) if command.keys else ""
    action.setToolTip(f"{command.tip}  ({key})" if key else command.tip)
    action.setMenuRole(_ROLES.get(command.name, QAction.MenuRole.NoRole))
    if command.on is not None:
        action.setCheckable(True)
    action.triggered.connect(lambda: command.do(window))
    window.addAction(action)
    return action


def refresh(window: MainWindow, actions: dict[str, QAction]) -> None:
    """What can be done now, and how it is called."""
    for command in COMMANDS:
        action = actions[command.name]
        action.setEnabled(command.enabled(window))
        if command.told is not None:
            action.setText(command.told(window))
        if command.on is not None:
            _switch(action, command.on(window))


def _switch(action: QAction, on: bool) -> None:
    """Switch it; of a group, the one that is switched on switches the others off."""
    if on or action.actionGroup() is None:
        action.setChecked(on)


def fill_menu_bar(window: MainWindow, actions: dict[str, QAction]) -> None:
    """All menus, in order."""
    bar = window.menuBar()
    for title in MENUS:
        menu = bar.addMenu(f"&{title}")
        for command in COMMANDS:
            if command.menu != title:
                continue
            if command.apart:
                menu.addSeparator()
            menu.addAction(actions[command.name])
            if command.name == "open":
                _add_files(window, menu)
            if command.name == "previous":
                _add_list(menu, "&Bring back", lambda: _set_aside(window))


def _add_files(window: MainWindow, menu: QMenu) -> None:
    _add_list(menu, "Open &lately used", lambda: _files(window, window.files.recent))
    _add_list(menu, "Open a sa&mple", lambda: _files(window, window.files.samples))


Entries = Sequence[tuple[str, Callable[[], object]]]


def _files(window: MainWindow, paths: Sequence[str]) -> Entries:
    return [(file_name(path), lambda path=path: window.files.open(path)) for path in paths]  # type: ignore[misc]


def _set_aside(window: MainWindow) -> Entries:
    session = window.session
    return [
        (f"Vent {v.id} of cavity {v.cavity}", lambda v=v: session.bring_back(v.id))  # type: ignore[misc]
        for v in session.set_aside
    ]


def _add_list(menu: QMenu, title: str, entries: Callable[[], Entries]) -> None:
    """A menu that is filled when it is opened."""
    below = QMenu(title, menu)
    menu.addMenu(below)

    def fill() -> None:
        below.clear()
        for text, do in entries():
            below.addAction(text.replace("&", "&&"), do)
        if below.isEmpty():
            below.addAction("None").setEnabled(False)

    below.aboutToShow.connect(fill)
