"""Which profile is used is said where its name stands, and that of a plan is exchanged for the saved one by a click."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QPushButton
from ui.conftest import Answers
from ui.fake_session import FakeSession, press
from ui.test_window_profile import _choose, _form, _name_it, _type

from ventplanner.app.history import History
from ventplanner.profile import PRESETS, Profile
from ventplanner.ui.bench import SETTING
from ventplanner.ui.dialogs.profile import OF_THE_PLAN
from ventplanner.ui.window import MainWindow

LEFT = Qt.MouseButton.LeftButton
MINE = Profile("Harbour grey", viscosity_mpas=420.0)
OTHER = replace(MINE, viscosity_mpas=220.0, lift_speed_mm_min=30.0)


@pytest.fixture
def planned(window: MainWindow, session: FakeSession) -> MainWindow:
    """A plan that keeps OTHER is opened, while MINE is saved under its name."""
    window.bench.profiles.save(MINE)
    _open_plan(session, OTHER)
    return window


def _open_plan(session: FakeSession, profile: Profile) -> None:
    assert session.state is not None
    session.path = session.plan_path = "/parts/bell-buoy.ventplan"
    session.history = History(replace(session.state, profile=profile), "Open bell-buoy.ventplan")
    session.is_unsaved = False
    session.part_changed.emit()
    session._tell()


def _told(window: MainWindow) -> list[str]:
    return [text for text in window.notices.texts if "profile" in text]


def _answer(window: MainWindow, text: str) -> None:
    (button,) = [b for b in window.notices.findChildren(QPushButton) if b.text() == text]
    QTest.mouseClick(button, LEFT)


def test_the_usual_profile_is_called_by_its_name_alone(window: MainWindow, session: FakeSession) -> None:
    assert window.bench.button.text().startswith("Ordinary resin  ·")
    assert _told(window) == []


def test_a_profile_of_the_plan_is_said_quietly(window: MainWindow, session: FakeSession) -> None:
    _open_plan(session, MINE)
    assert window.bench.button.text().startswith("Harbour grey (of the plan)  ·  420 mPa·s")
    assert "of the plan" in window.bench.button.accessibleName()
    assert "Other parts: Ordinary resin" in window.bench.button.toolTip()
    assert _told(window) == []  # there is no other of this name
    assert window.settings.get(SETTING, Profile().name) == Profile().name
    session.close_part()
    assert window.bench.button.text().startswith("Ordinary resin  ·")


def test_a_plan_that_differs_from_the_saved_profile_says_in_what_and_the_saved_one_is_a_click_away(
    planned: MainWindow, session: FakeSession
) -> None:
    (told,) = _told(planned)
    assert "viscosity 220 mPa·s instead of 420 mPa·s, lift speed 30 mm/min instead of 60 mm/min" in told
    assert session.profile == OTHER
    _answer(planned, "Use the saved one")
    assert session.profile == MINE
    assert session.is_unsaved
    assert _told(planned) == []
    assert planned.settings.get(SETTING, Profile().name) == Profile().name  # other parts keep theirs
    press(planned, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert session.profile == OTHER
    assert _told(planned) == []  # that is known by now
    assert "instead of" in planned.bench.button.toolTip()


def test_the_profile_of_the_plan_may_stay(planned: MainWindow, session: FakeSession) -> None:
    _answer(planned, "Keep the plan's")
    assert (session.profile, session.is_unsaved, _told(planned)) == (OTHER, False, [])
    session.set_job(None)
    assert _told(planned) == []


def test_the_form_shows_both_and_changes_from_one_to_the_other(planned: MainWindow, session: FakeSession) -> None:
    form = _form(planned)
    assert form.chosen.currentData() == OF_THE_PLAN
    assert form.entries["viscosity_mpas"].value() == 220.0
    assert form.changed.text() == "of this plan, not among yours"
    assert not form.delete.isEnabled()
    assert not form.rename.isEnabled()
    _choose(form, "Harbour grey")
    assert form.entries["viscosity_mpas"].value() == 420.0
    assert form.changed.text() == "yours"
    _choose(form, OF_THE_PLAN)
    assert form.entries["viscosity_mpas"].value() == 220.0
    _choose(form, "Harbour grey")
    QTest.mouseClick(form.use, LEFT)
    assert session.profile == MINE
    assert planned.settings.get(SETTING, "") == "Harbour grey"
    assert planned.bench.button.text().startswith("Harbour grey  ·")
    assert session.undo_name == "Change profile Harbour grey"


def test_using_what_only_the_plan_has_changes_nothing_for_other_parts(
    planned: MainWindow, session: FakeSession
) -> None:
    QTest.mouseClick(_form(planned).use, LEFT)
    assert (session.profile, session.is_unsaved) == (OTHER, False)
    assert session.usual_profile == Profile()
    assert planned.bench.profiles.get("Harbour grey") == MINE


def test_changing_the_profile_of_the_plan_saves_it_under_another_name(
    planned: MainWindow, session: FakeSession
) -> None:
    form = _form(planned)
    _type(form, "density_kg_m3", "1200")
    QTest.mouseClick(form.use, LEFT)
    _name_it(form, "From the plan")
    assert session.profile == replace(OTHER, name="From the plan", density_kg_m3=1200.0)
    assert planned.bench.profiles.get("Harbour grey") == MINE
    assert planned.settings.get(SETTING, "") == "From the plan"


def test_changing_the_saved_one_does_not_change_the_plan(planned: MainWindow, session: FakeSession) -> None:
    form = _form(planned)
    _choose(form, "Harbour grey")
    _type(form, "density_kg_m3", "1200")
    QTest.mouseClick(form.save, LEFT)
    assert planned.bench.profiles.get("Harbour grey") == replace(MINE, density_kg_m3=1200.0)
    assert (session.profile, session.is_unsaved) == (OTHER, False)


def test_deleting_the_usual_profile_does_not_change_the_plan(
    window: MainWindow, session: FakeSession, answers: Callable[..., Answers]
) -> None:
    window.bench.profiles.save(MINE)
    window.bench.use(MINE)
    _open_plan(session, PRESETS[1])
    form = _form(window)
    _choose(form, "Harbour grey")
    asked = answers("Delete it")
    QTest.mouseClick(form.delete, LEFT)
    assert "in use" not in asked.asked[0]
    assert session.profile == PRESETS[1]
    assert session.usual_profile == Profile()
    assert window.settings.get(SETTING, "") == Profile().name
