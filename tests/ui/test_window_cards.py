"""The cards, the form of the options and the popup of the pose: figures by number, refused with reasons."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QComboBox,
    QLabel,
    QLineEdit,
    QMenu,
    QToolButton,
    QVBoxLayout,
    QWidget,
)
from ui.fake_session import FakeSession, press, type_into

from ventplanner.options import InsideLimits
from ventplanner.ui.dialogs.settings import SettingsDialog
from ventplanner.ui.panels.card import Card, Pill
from ventplanner.ui.panels.fields import label
from ventplanner.ui.panels.result_card import ResultCard
from ventplanner.ui.panels.rows import Row, rows
from ventplanner.ui.panels.tree import fitting_title
from ventplanner.ui.panels.vent_card import UNSIZED, ProposalCard, VentCard
from ventplanner.ui.window import MainWindow
from ventplanner.ui.work.messages import Exported

Key = Qt.Key
LEFT = Qt.MouseButton.LeftButton


# Cards


class Growing(Card):
    """Says more each time."""

    def refresh(self) -> bool:
        block = QWidget()
        QVBoxLayout(block).addWidget(label("Some sentences that need more than one line of the card. " * 3, wrap=True))
        self.column.addWidget(block)
        return True


def test_what_a_card_says_more_is_laid_out_before_it_is_painted(window: MainWindow, session: FakeSession) -> None:
    card = Growing(session)  # type: ignore[arg-type]
    window.card.show_card(card)
    for _ in range(12):
        session.changed.emit()
        lines = card.findChildren(QLabel)
        assert [line for line in lines if not line.isVisible()] == []
        assert [line for line in lines if line.height() < line.heightForWidth(line.width())] == []


def test_the_card_of_a_proposal_accepts_by_click(window: MainWindow, session: FakeSession) -> None:
    session.select("proposal 3")
    card = window.card.card
    assert isinstance(card, ProposalCard)
    QTest.mouseClick(card.accept, LEFT)
    assert [v.id for v in session.plan.vents] == ["3"]
    assert isinstance(window.card.card, VentCard)


@pytest.mark.parametrize(
    ("typed", "kept", "told"),
    [
        ("3", 3.0, "3.0"),
        ("2,75", 2.75, "2.75"),
        ("3 mm", 3.0, "3.0"),
        ("0.3 cm", 3.0, "3.0"),
        ("0,125 in", 3.175, "3.18"),
    ],
)
def test_a_diameter_is_typed_with_point_or_comma_and_unit(
    window: MainWindow, session: FakeSession, typed: str, kept: float, told: str
) -> None:
    session.accept("3")
    card = window.card.card
    assert isinstance(card, VentCard)
    type_into(card.diameter, typed)
    assert session.plan.vents[0].diameter_mm == pytest.approx(kept)
    assert session.undo_name == f"Set diameter of vent 3 to {told} mm"


@pytest.mark.parametrize("typed", ["0.1", "25", "wide", "", "2.5 kg", "1.2.3"])
def test_a_diameter_that_is_not_allowed_is_refused_with_a_reason(
    window: MainWindow, session: FakeSession, typed: str
) -> None:
    session.accept("3")
    card = window.card.card
    assert isinstance(card, VentCard)
    type_into(card.diameter, typed if typed else " ")
    assert session.plan.vents[0].diameter_mm == 2.5
    assert session.undo_name == "Accept vent 3"
    assert card.diameter.property("wrong") is True
    assert card.diameter.toolTip()
    QTest.keyClick(card.diameter, Key.Key_Up)  # what was typed wrongly is no trap


def test_a_proposal_says_that_its_width_is_not_known_yet(window: MainWindow, session: FakeSession) -> None:
    session.is_sizing = True
    session.select("proposal 3")
    card = window.card.card
    assert isinstance(card, ProposalCard)
    assert card._why.text().endswith(UNSIZED)
    session.is_sizing = False
    session.changed.emit()
    assert UNSIZED not in card._why.text()


def test_a_figure_typed_on_a_proposal_accepts_it_with_that_figure(window: MainWindow, session: FakeSession) -> None:
    session.select("proposal 3")
    card = window.card.card
    assert isinstance(card, ProposalCard)
    shown = " ".join(label.text() for label in card.findChildren(QLabel))
    assert "Type a figure, and the vent is accepted with it" in shown
    assert "0° is right, 90° is back" in shown
    card.diameter.setFocus()
    type_into(card.diameter, "3")
    assert [(v.id, v.diameter_mm) for v in session.plan.vents] == [("3", 3.0)]
    assert session.undo_name == "Accept vent 3: set diameter to 3.0 mm"
    accepted = window.card.card
    assert isinstance(accepted, VentCard)
    # Typing goes on where it was.
    assert window.focusWidget() is accepted.diameter
    type_into(accepted.beyond, "0.9")
    assert session.plan.vents[0].beyond_mm == 0.9
    session.undo()
    session.undo()
    assert session.plan.vents == ()
    assert "3" in [v.id for v in session.proposals]


def test_slope_turns_the_axis_and_level_puts_it_back(window: MainWindow, session: FakeSession) -> None:
    session.accept("3")
    card = window.card.card
    assert isinstance(card, VentCard)
    type_into(card.slope, "30")
    assert session.plan.vents[0].axis == pytest.approx((0.75**0.5, 0.0, 0.5))
    QTest.mouseClick(card.level, LEFT)
    assert session.plan.vents[0].axis == pytest.approx((1.0, 0.0, 0.0))


def test_return_in_a_field_or_on_a_button_is_not_the_command_accept(window: MainWindow, session: FakeSession) -> None:
    session.select("proposal 1")
    card = window.card.card
    assert isinstance(card, ProposalCard)
    card.aside.setFocus()
    QTest.keyClick(card.aside, Key.Key_Return)
    assert (session.plan.vents, [v.id for v in session.set_aside]) == ((), ["1"])


def test_a_cavity_is_left_as_it_is_with_a_note(window: MainWindow, session: FakeSession) -> None:
    session.select("proposal 4")
    press(window, Key.Key_L, Qt.KeyboardModifier.ControlModifier)
    assert session.selected == "cavity C"
    note = window.focusWidget()
    assert isinstance(note, QLineEdit)
    QTest.keyClicks(note, "it is filled with plaster")
    leave = next(b for b in window.card.findChildren(QAbstractButton) if b.text() == "Leave it as it is")
    QTest.mouseClick(leave, LEFT)
    assert session.plan.left_alone == (("C", "it is filled with plaster"),)
    type_into(note, "it is filled with sand")
    assert session.plan.left_alone == (("C", "it is filled with sand"),)


def test_the_note_of_a_cavity_is_there_again_after_it_was_worked_on(window: MainWindow, session: FakeSession) -> None:
    session.leave_alone("C", "filled with plaster")
    session.select("cavity C")
    pill = window.card.findChild(Pill)
    assert pill is not None
    assert pill.accessibleName() == "left, sealed"
    again = next(b for b in window.card.findChildren(QAbstractButton) if b.text() == "Work on it again")
    QTest.mouseClick(again, LEFT)
    assert session.plan.left_alone == ()
    session.select("cavity B")
    session.select("cavity C")
    (note,) = [x for x in window.card.findChildren(QLineEdit) if x.isVisible()]
    assert note.text() == "filled with plaster"


def test_rows_keep_their_order_when_a_proposal_is_accepted(window: MainWindow, session: FakeSession) -> None:
    def order() -> list[str]:
        return [row.badge for row in walk(rows(session)) if row.kind == "vent"]  # type: ignore[arg-type]

    def walk(tree: tuple[Row, ...]) -> list[Row]:
        return [found for row in tree for found in (row, *walk(row.children))]

    before = order()
    for name in ("3", "2", "4", "1"):
        session.accept(name)
        assert order() == before


def test_the_card_of_the_part_reads_the_file_in_another_unit(window: MainWindow, session: FakeSession) -> None:
    unit = window.card.findChild(QComboBox)
    assert unit.currentText() == "mm"
    unit.setFocus()
    QTest.keyClick(unit, Key.Key_Down)
    assert session.calls[-1] == ("set_unit", "cm")


def test_a_vent_in_a_narrow_list_keeps_its_height(window: MainWindow, session: FakeSession) -> None:
    row = next(row for cavity in rows(session) for row in cavity.children if row.kind == "vent")  # type: ignore[arg-type]
    metrics = window.fontMetrics()
    wide = metrics.horizontalAdvance(row.title)
    assert fitting_title(row, metrics, wide + 1) == row.title
    height = row.title.partition(" at ")[2]
    assert fitting_title(row, metrics, wide - 1) == f"at {height}"


def test_the_result_says_what_the_command_line_says_after_vent(window: MainWindow, session: FakeSession) -> None:
    damage = (("faces without area", 2, (1.0, 2.0, 3.0)), ("vertices where skins touch", 1, None))
    notes = ("The file gives no unit: mm is assumed.", "Columns every 0.2 mm.")
    session.exported.emit(Exported("/parts/vented.stl", (), 2, 100, 3.0, (), notes, damage))
    card = window.card.card
    assert isinstance(card, ResultCard)
    shown = [label.text() for label in card.findChildren(QLabel)]
    assert "Faces without area: 2, one of them at (1.0, 2.0, 3.0) mm" in shown
    assert "Vertices where skins touch: 1" in shown
    assert set(notes) < set(shown)
    (show,) = [b for b in card.findChildren(QAbstractButton) if b.text() == "Show place"]
    assert show.accessibleName() == "Show place: faces without area"
    QTest.mouseClick(show, LEFT)
    assert session.calls[-1] == ("show_place", (1.0, 2.0, 3.0), "faces without area")


# The form of the options


def test_the_form_holds_every_option_and_applies_what_changed(window: MainWindow, session: FakeSession) -> None:
    window.dialogs.show_settings()
    form = window.findChild(SettingsDialog)
    assert {"pitch_mm", "nested", "late_mm3", "diameter_mm", "vents_per_cavity"} <= set(form.entries)
    for name, text in (("pitch_mm", "0,3"), ("diameter_mm", "3 mm"), ("vents_per_cavity", "1"), ("thin_mm", "0.8")):
        field = form.entries[name].field
        assert isinstance(field, QLineEdit)
        field.clear()
        QTest.keyClicks(field, text)
    nested = form.entries["nested"].field
    assert isinstance(nested, QComboBox)
    nested.setCurrentText("solid")
    QTest.mouseClick(form.apply, LEFT)
    assert session.state is not None
    assert (session.state.options.pitch_mm, session.state.options.nested) == (0.3, "solid")
    assert (session.state.rules.diameter_mm, session.state.rules.vents_per_cavity) == (3.0, 1)
    assert session.state.limits == InsideLimits(thin_mm=0.8)
    assert session.undo_name == "Set thickness of a thin wall to 0.8 mm"


def test_the_form_refuses_in_the_parameters_own_words(window: MainWindow, session: FakeSession) -> None:
    window.dialogs.show_settings()
    form = window.findChild(SettingsDialog)
    field = form.entries["diameter_mm"].field
    assert isinstance(field, QLineEdit)
    field.clear()
    QTest.keyClicks(field, "99")
    problem = form.entries["diameter_mm"].problem()
    assert problem == "The diameter of proposed vents cannot be 99 mm. Give 0.3 to 20 mm."
    QTest.mouseClick(form.apply, LEFT)
    assert form.isVisible()
    QTest.mouseClick(form.usual, LEFT)
    QTest.mouseClick(form.apply, LEFT)
    assert session.undo_name is None


# How it hangs


def test_the_popup_turns_the_part_and_lays_it_on_the_plate(window: MainWindow, session: FakeSession) -> None:
    press(window, Key.Key_O)
    popup = window.stage.tools.popup
    assert popup is not None
    QTest.mouseClick(popup.axes[(1.0, 0.0, 0.0)], LEFT)
    assert session.state is not None
    assert session.state.pose.to_plate == (1.0, 0.0, 0.0)
    type_into(popup.tilt, "45")
    assert session.state.pose.to_plate == pytest.approx((0.5**0.5, 0.0, -(0.5**0.5)))
    type_into(popup.gap, "7,5")
    assert session.state.pose.gap_mm == 7.5
    QTest.mouseClick(popup.held["plate"], LEFT)
    assert session.state.pose.on == "plate"
    assert not popup.gap.isEnabled()
    popup.hide()


def test_standing_and_hanging_exclude_each_other(window: MainWindow, session: FakeSession) -> None:
    press(window, Key.Key_H)
    standing, hanging = (window.actions_by_name[name] for name in ("standing", "hanging"))
    assert (standing.isChecked(), hanging.isChecked(), window.stage.hanging) == (False, True, True)
    press(window, Key.Key_S)
    assert (standing.isChecked(), hanging.isChecked()) == (True, False)


def test_in_a_small_window_every_tool_is_there_whole_or_behind_more(window: MainWindow, session: FakeSession) -> None:
    tools = window.stage.tools
    for width in (900, 860, 1000, 1280, 1400):
        window.resize(width, 600)
        QApplication.processEvents()
        shown = [t for t in tools.findChildren(QToolButton) if t.isVisible()]
        assert all(t.width() >= t.sizeHint().width() for t in shown)
        assert all(t.mapTo(tools, t.rect().topRight()).x() < tools.width() for t in shown)
        there = {t.defaultAction().objectName() for t in shown if t.defaultAction() is not None}
        wanted = {"standing", "hanging", "level", "section", "face", "keep_clear"}
        if there == wanted:
            assert not tools.more.isVisible()
            continue
        QTest.mouseClick(tools.more, LEFT)
        menu = QApplication.activePopupWidget()
        assert isinstance(menu, QMenu)
        assert there | {a.objectName() for a in menu.actions()} == wanted
        menu.close()
    assert not tools.more.isVisible()


def test_in_the_smallest_window_no_card_lies_over_the_view(window: MainWindow, session: FakeSession) -> None:
    window.resize(window.minimumSize())
    session.accept("2")
    for word in ("", "cavity A", "cup A1", "proposal 3", "vent 2"):
        session.select(word)
        QApplication.processEvents()
        left, right = window.stage.geometry(), window.card.geometry()
        assert left.right() < right.left(), word
        assert right.right() < window.width(), word


def test_a_note_that_is_being_changed_is_saved_with_the_plan(window: MainWindow, session: FakeSession) -> None:
    session.leave_alone("A", "filled with plaster")
    session.plan_path = "/parts/bell-buoy.ventplan"
    session.select("cavity A")
    (note,) = [x for x in window.card.findChildren(QLineEdit) if x.isVisible()]
    note.setFocus()
    note.selectAll()
    QTest.keyClicks(note, "filled with sand")
    QTest.keyClick(note, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier)
    assert ("save", "/parts/bell-buoy.ventplan") in session.calls
    assert session.plan.left_alone == (("A", "filled with sand"),)
    assert not session.is_unsaved  # it was taken into the plan before that was saved


# Sections


def choose(box: QComboBox, text: str) -> None:
    box.setCurrentText(text)
    box.activated.emit(box.currentIndex())


def test_a_vent_becomes_a_slot_is_turned_and_countersunk_and_only_rows_that_count_are_shown(
    window: MainWindow, session: FakeSession
) -> None:
    session.accept("3")
    card = window.card.card
    assert isinstance(card, VentCard)
    rows = card.section
    assert not any(field.isVisible() for field in (rows.length, rows.turn, rows.wide, rows.deep))
    choose(rows.shape, "slot")
    vent = session.plan.vents[0]
    assert (vent.outline.shape, vent.outline.length_mm) == ("slot", pytest.approx(3 * vent.diameter_mm))
    assert rows.length.isVisible()
    assert rows.turn.isVisible()
    type_into(rows.length, "8,5")
    assert session.undo_name == "Set length of vent 3 to 8.5 mm"
    type_into(rows.turn, "30")
    assert session.undo_name == "Turn the section of vent 3"
    assert rows.turn.value == pytest.approx(30.0)
    choose(rows.entry, "countersunk")
    assert session.undo_name == "Countersink vent 3"
    assert rows.wide.isVisible()
    type_into(rows.wide, "1")
    assert "not wider" in card._wrong.text()
    type_into(rows.wide, "4.2")
    sink = session.plan.vents[0].countersink
    assert sink is not None
    assert sink.width_mm == pytest.approx(4.2)
    choose(rows.shape, "round")
    choose(rows.entry, "straight")
    assert (session.plan.vents[0].outline.shape, session.plan.vents[0].countersink) == ("round", None)
    assert not any(field.isVisible() for field in (rows.length, rows.turn, rows.wide, rows.deep))
    assert any("slot" in name for name in session.names)
