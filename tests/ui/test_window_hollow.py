"""Hollowing in the window: offered for a solid part, a form of the declared parameters, told when it is done."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import bodies
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QComboBox, QLabel, QLineEdit
from pytestqt.qtbot import QtBot
from ui.fake_session import FakeSession, press

from ventplanner.app.edits import Edit, set_rules
from ventplanner.app.hollow_edit import HollowFacts, hollow_part
from ventplanner.app.keeping_clear import mark
from ventplanner.errors import ParameterError
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.pose import Pose
from ventplanner.geometry.solid import Solid
from ventplanner.hollow_parameters import HOLLOW_PARAMETERS
from ventplanner.hollowing.rules import HollowRules
from ventplanner.ui.dialogs.hollow import HollowDialog
from ventplanner.ui.dialogs.hollow_preview import NOT_YET
from ventplanner.ui.dialogs.questions import Question, told
from ventplanner.ui.panels.hollow_card import HollowCard
from ventplanner.ui.panels.todo import SOLID
from ventplanner.ui.window import MainWindow
from ventplanner.ui.work.previewing import Cut, HollowPreviews

MOST_MS = 60_000

FACTS = HollowFacts(
    2.5, 2.4931, 2.5004, 0.9, (12_300.0, 400.0), 2, 40_000.0, 900.0, 420.0, 7.3, False, 0.25, 180.0,
    ("The mesh has a hole; the wall is kept there, too, as if under a cone.",),
)  # fmt: skip


def _form(window: MainWindow) -> HollowDialog:
    press(window, Qt.Key.Key_H, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier)
    return next(d for d in window.findChildren(HollowDialog) if d.isVisible())


def _type(form: HollowDialog, name: str, text: str) -> None:
    field = form.entries[name].field
    assert isinstance(field, QLineEdit)
    field.setFocus()
    field.selectAll()
    QTest.keyClicks(field, text)


def test_the_form_has_each_rule_with_its_range_and_hollows_by_what_is_entered(
    window: MainWindow, session: FakeSession
) -> None:
    form = _form(window)
    assert set(form.entries) == set(HOLLOW_PARAMETERS)
    assert form.entries["solid_depth_mm"].isHidden()  # nothing is marked
    assert not form.keep_solid.field.isEnabled()
    assert "0.3 to 50 mm" in form.entries["wall_mm"]._about.text()
    assert form.entries["cell_mm"].isHidden()
    filling = form.entries["filling"].field
    assert isinstance(filling, QComboBox)
    filling.setCurrentText("struts")
    assert not form.entries["cell_mm"].isHidden()
    _type(form, "wall_mm", "100")
    form.apply.click()
    assert form.isVisible()
    assert "Give 0.3 to 50 mm" in form.entries["wall_mm"]._about.text()
    _type(form, "wall_mm", "1,5")
    form.apply.click()
    assert not form.isVisible()
    assert session.calls[-1] == ("hollow", HollowRules(wall_mm=1.5, filling="struts"), None)


def test_a_section_follows_what_is_entered_and_says_that_it_is_coarse(
    window: MainWindow, session: FakeSession, qtbot: QtBot
) -> None:
    form = _form(window)
    preview, picture = form.preview, form.preview.picture
    _type(form, "wall_mm", "2")
    qtbot.waitUntil(lambda: picture.shown is not None and picture.shown.preview.exact_mm == 0.2, timeout=MOST_MS)
    shown = picture.shown
    assert shown is not None
    assert "mL of resin saved" in preview.told.text()
    assert preview.coarse.text().startswith("Coarse: drawn on a grid of")
    assert preview.place.text() in picture.accessibleDescription()
    preview.side.setCurrentText("seen from the top")
    preview.slider.setValue(30)
    qtbot.waitUntil(lambda: picture.shown is not None and picture.shown.cut == Cut("top", 0.3), timeout=MOST_MS)
    assert picture.shown.preview is shown.preview  # only the cut is another one
    _type(form, "wall_mm", "45")
    qtbot.waitUntil(lambda: "nothing of the part can be hollowed" in picture.accessibleDescription(), timeout=MOST_MS)
    assert "--" not in picture.accessibleDescription()
    _type(form, "wall_mm", "200")  # not allowed
    assert picture.accessibleDescription() == NOT_YET
    form.reject()
    assert not session.hollow_previews.is_busy


def test_the_section_is_of_bodies_that_overlap_made_one(qtbot: QtBot) -> None:
    part = bodies.solid(bodies.block((0, 0, 0), (10, 10, 10)), bodies.block((6, 0, 0), (16, 10, 10)))
    previews = HollowPreviews()
    state: Any = SimpleNamespace(solid=part, pose=Pose())
    with qtbot.waitSignal(previews.came, timeout=MOST_MS) as came:
        previews.ask(state, HollowRules(2.0, radius_mm=0.0), None, Cut())
    (shown,) = came.args
    assert shown.preview.part_mm3 == pytest.approx(1600.0)
    # One hollow, 2 mm under all faces; apart they would have one each, with walls in the other's.
    assert shown.preview.skins.volumes == pytest.approx([12.0 * 6.0 * 6.0], rel=0.02)
    previews.stop()


def test_what_is_kept_clear_can_stay_solid_inside_too(window: MainWindow, session: FakeSession) -> None:
    assert session.state is not None
    marks = FaceMask.at(len(session.state.solid.faces), [0, 1])
    session._edit(lambda state: mark(state, marks, "Keep a face clear"))
    form = _form(window)
    assert form.entries["solid_depth_mm"].isHidden()
    form.keep_solid.field.setCurrentIndex(1)
    _type(form, "solid_depth_mm", "6")
    form.apply.click()
    assert session.calls[-1] == ("hollow", HollowRules(solid_depth_mm=6.0), marks)


def test_numbers_that_do_not_go_together_are_told_in_the_words_of_the_form(
    window: MainWindow, session: FakeSession
) -> None:
    form = _form(window)
    _type(form, "grid_mm", "2")
    form.apply.click()
    question = next(q for q in form.findChildren(Question) if q.isVisible())
    assert "--" not in question.accessibleDescription()
    assert "too coarse" in question.accessibleDescription()
    question.reject()
    with pytest.raises(ParameterError) as caught:
        HollowRules(open_side="plate", solid_below_mm=1.0)
    assert told(caught.value, "")[1][1] == "Leave out 'side that is left open' or 'height that stays solid'."
    form.reject()


def test_a_solid_part_is_offered_to_be_hollowed(
    window: MainWindow, session: FakeSession, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert window.todo.hollow.isHidden()
    whole = session.findings
    bare = SimpleNamespace(**{**vars(whole), "cavities": (), "cups": SimpleNamespace(filtered_count=0)})
    monkeypatch.setattr(FakeSession, "findings", property(lambda _: bare))
    monkeypatch.setattr(FakeSession, "left", ())
    session.changed.emit()
    assert window.todo.hollow.isVisible()
    assert window.todo.hollow.text() == SOLID
    window.todo.hollow.click()
    form = next(d for d in window.findChildren(HollowDialog) if d.isVisible())
    form.reject()


def test_what_was_done_is_told_until_it_is_undone(window: MainWindow, session: FakeSession) -> None:
    def edit(state: Any) -> Edit:
        solid = Solid(state.solid.vertices, state.solid.faces, state.solid.bodies, replace(state.solid.source))
        return hollow_part(state, solid, FACTS)

    session._edit(edit)
    session.hollowed.emit(FACTS)
    card = window.card.card
    assert isinstance(card, HollowCard)
    texts = " ".join(child.text() for child in card.findChildren(QLabel))
    for figure in ("12.7 mL, 32 %", "14 g", "2.493 mm", "900 mm²", "420 mm²", "7.3 mm", "sealed now"):
        assert figure in texts
    card.chart.click()
    assert window.stage.chart is None or window.stage.quantity == "section"
    hollow = session.history
    assert hollow is not None
    session.history = hollow.did(*set_rules(hollow.state, replace(hollow.state.rules, diameter_mm=3.0)))
    session.changed.emit()
    assert window.card.card is card
    assert card.undo.isHidden()
    assert card._sealed.isHidden()  # what came later may be vents
    session.history = hollow
    session.changed.emit()
    assert not card.undo.isHidden()
    assert not card._sealed.isHidden()
    card.undo.click()
    assert not isinstance(window.card.card, HollowCard)
