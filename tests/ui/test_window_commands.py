"""The commands: one table, given by keys, menus and the search; the tree; what is left to do; jobs."""

from __future__ import annotations

from PySide6.QtCore import QModelIndex, Qt
from PySide6.QtGui import QKeySequence
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QWidget
from pytestqt.qtbot import QtBot
from ui.fake_session import FakeSession, Job, press

from ventplanner.ui.commands import COMMANDS, MENUS
from ventplanner.ui.dialogs import pages
from ventplanner.ui.panels.rows import rows
from ventplanner.ui.panels.tree import ROW
from ventplanner.ui.window import MainWindow

Key = Qt.Key
LEFT = Qt.MouseButton.LeftButton


# The table of commands


def test_every_command_has_its_own_name_menu_and_keys() -> None:
    names = [command.name for command in COMMANDS]
    keys = [QKeySequence(key).toString() for command in COMMANDS for key in command.keys]
    assert len(set(names)) == len(names)
    assert len(set(keys)) == len(keys)
    assert {command.menu for command in COMMANDS} == set(MENUS)
    assert all(command.tip and not command.tip.endswith(".") for command in COMMANDS)


def test_menus_hold_every_command(window: MainWindow) -> None:
    there = {a.objectName() for menu in window.menuBar().actions() for a in menu.menu().actions()}
    assert there >= {command.name for command in COMMANDS}


def test_letters_in_a_menu_are_not_used_twice() -> None:
    for menu in MENUS:
        letters = [c.text[c.text.index("&") + 1].lower() for c in COMMANDS if c.menu == menu and "&" in c.text]
        assert sorted(letters) == sorted(set(letters)), menu


def test_the_search_finds_a_command_by_the_beginnings_of_its_words() -> None:
    assert pages.found("ex dr")[0].name == "export"
    assert pages.found("level")[0].name == "level"
    assert pages.found("submarine") == []


def test_the_command_search_gives_the_command(window: MainWindow, session: FakeSession, qtbot: QtBot) -> None:
    press(window, Key.Key_K, Qt.KeyboardModifier.ControlModifier)
    search = window.findChild(pages.Search)
    QTest.keyClicks(search.field, "accept all")
    QTest.keyClick(search.field, Key.Key_Return)
    assert len(session.plan.vents) == 4


def test_the_page_of_keys_shows_every_key(window: MainWindow) -> None:
    window.dialogs.show_keys()
    page = window.findChild(pages.Keys)
    texts = {child.text() for child in page.findChildren(QWidget) if hasattr(child, "text")}
    for command in COMMANDS:
        assert not command.keys or command.plain.rstrip("…") in texts
    page.reject()


# Reviewing by keys


def test_return_first_selects_then_accepts(window: MainWindow, session: FakeSession) -> None:
    press(window, Key.Key_Return)
    assert (session.selected, session.plan.vents) == ("proposal 1", ())
    press(window, Key.Key_Return)
    assert [v.id for v in session.plan.vents] == ["1"]


def test_keys_walk_set_aside_remove_and_undo(window: MainWindow, session: FakeSession) -> None:
    press(window, Key.Key_N)
    press(window, Key.Key_N)
    assert session.selected == "proposal 2"
    press(window, Key.Key_N, Qt.KeyboardModifier.ShiftModifier)
    assert session.selected == "proposal 1"
    press(window, Key.Key_X)
    assert [v.id for v in session.set_aside] == ["1"]
    session.accept("3")
    press(window, Key.Key_Delete)
    assert session.plan.vents == ()
    press(window, Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert [v.id for v in session.plan.vents] == ["3"]
    press(window, Key.Key_Y, Qt.KeyboardModifier.ControlModifier)
    assert session.plan.vents == ()


def test_undo_and_redo_are_named(window: MainWindow, session: FakeSession) -> None:
    session.accept("3")
    assert window.actions_by_name["undo"].text() == "&Undo Accept vent 3"
    assert window.undo.accessibleName() == "Undo Accept vent 3"
    session.undo()
    assert window.actions_by_name["redo"].text() == "&Redo Accept vent 3"
    assert not window.actions_by_name["undo"].isEnabled()


def test_the_history_goes_to_any_edit(window: MainWindow, session: FakeSession) -> None:
    for name in ("1", "2", "3"):
        session.accept(name)
    window.dialogs.show_history()
    history = window.findChild(pages.History)
    history.list.setCurrentRow(1)
    assert [v.id for v in session.plan.vents] == ["1"]
    assert history.list.item(3).text() == "Accept vent 3  (undone)"
    history.reject()


# The tree


def words_of(window: MainWindow) -> list[str]:
    found: list[str] = []

    def walk(parent: QModelIndex) -> None:
        model = window.tree.tree.model()
        for at in range(model.rowCount(parent)):
            index = model.index(at, 0, parent)
            found.append(index.data(ROW).word)
            walk(index)

    walk(QModelIndex())
    return found


def test_cups_are_rows_only_where_a_cavity_has_several(window: MainWindow, session: FakeSession) -> None:
    assert words_of(window) == [
        *("cavity A", "cup A1", "proposal 1", "cup A2", "proposal 2"),
        *("cavity B", "proposal 3", "cavity C", "proposal 4"),
    ]


def test_a_click_and_arrow_keys_in_the_tree_select(window: MainWindow, session: FakeSession) -> None:
    tree = window.tree.tree
    cavity_b = tree.model().index(1, 0)
    QTest.mouseClick(tree.viewport(), LEFT, Qt.KeyboardModifier.NoModifier, tree.visualRect(cavity_b).center())
    assert session.selected == "cavity B"
    QTest.keyClick(tree, Key.Key_Down)
    assert session.selected == "proposal 3"
    session.select("cup C1")
    assert tree.currentIndex().data(ROW).word == "cavity C"


def test_every_row_says_its_state_in_words(session: FakeSession) -> None:
    session.accept("3")
    session.leave_alone("C", "")
    spoken = {row.word: row.spoken for row in rows(session)}  # type: ignore[arg-type]
    assert spoken["cavity A"] == "Cavity A, 17.7 mL, from 2.0 mm, no way out yet, sealed"
    assert spoken["cavity B"].endswith("breathes")
    assert spoken["cavity C"].endswith("left, sealed")


# What is left to do


def test_a_sentence_selects_what_it_is_about(window: MainWindow, session: FakeSession) -> None:
    assert len(window.todo.sentences) == 3
    shown = [b for b in window.todo.findChildren(QAbstractButton) if b.isVisible() and "sealed" in b.text()]
    QTest.mouseClick(shown[1], LEFT)
    assert session.selected == "proposal 3"


def test_sentences_that_do_not_fit_are_behind_a_button(window: MainWindow, session: FakeSession) -> None:
    window.resize(900, 700)
    QApplication.processEvents()
    assert window.todo.more.isVisible()
    assert window.todo.more.text() == "2 more…"


def test_nothing_left_is_said(window: MainWindow, session: FakeSession) -> None:
    session.accept_all()
    assert window.todo.sentences == ()
    texts = [child.text() for child in window.todo.findChildren(QWidget) if hasattr(child, "text")]
    assert "Nothing is left to do: every cavity breathes with 4 vents." in texts


def test_what_is_left_alone_is_not_said_to_breathe(window: MainWindow, session: FakeSession) -> None:
    session.accept_all()
    session.leave_alone("B", "as a weight")
    texts = [child.text() for child in window.todo.findChildren(QWidget) if hasattr(child, "text")]
    assert "Nothing is left to do: B is left as it is, all others breathe with 4 vents." in texts


# Jobs


def test_a_job_shows_its_share_and_can_be_cancelled(window: MainWindow, session: FakeSession, qtbot: QtBot) -> None:
    session.set_job(Job("Exporting", 0.4, True, "Verifying"))
    qtbot.waitUntil(window.busy.cancel.isVisible)
    texts = [child.text() for child in window.busy.findChildren(QWidget) if hasattr(child, "text")]
    assert "Exporting: verifying" in texts
    assert "40 %" in texts
    QTest.mouseClick(window.busy.cancel, LEFT)
    assert session.calls[-1] == ("cancel",)
    assert not window.may_export
    session.set_job(None)
    assert not window.busy.cancel.isVisible()
