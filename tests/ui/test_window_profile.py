"""Printer and resin: the form is filled in as people do, and nothing that was typed is lost without a question."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog, QLineEdit, QWidget
from pytestqt.qtbot import QtBot
from ui.conftest import Answers
from ui.fake_session import FakeSession, press

from ventplanner.io.profile_json import read_profile, write_profile
from ventplanner.profile import PRESETS, Profile
from ventplanner.profile_parameters import PROFILE_PARAMETERS
from ventplanner.ui.bench import SETTING
from ventplanner.ui.dialogs.naming import Naming
from ventplanner.ui.dialogs.profile import ProfileDialog
from ventplanner.ui.profiles import Profiles
from ventplanner.ui.settings import Settings
from ventplanner.ui.theme import Theme
from ventplanner.ui.window import MainWindow

LEFT = Qt.MouseButton.LeftButton
Key = Qt.Key


def _form(window: MainWindow) -> ProfileDialog:
    press(window, Key.Key_R, Qt.KeyboardModifier.ControlModifier)
    return next(d for d in window.findChildren(ProfileDialog) if d.isVisible())


def _type(form: ProfileDialog, name: str, text: str) -> None:
    field = form.entries[name].field
    assert isinstance(field, QLineEdit)
    form._go_to(name)
    field.selectAll()
    QTest.keyClicks(field, text)


def _name_it(form: QWidget, name: str) -> None:
    naming = next(d for d in form.findChildren(Naming) if d.isVisible())
    naming.field.selectAll()
    QTest.keyClicks(naming.field, name)
    QTest.keyClick(naming.field, Key.Key_Return)


def _choose(form: ProfileDialog, name: str) -> None:
    at = next(k for k in range(form.chosen.count()) if form.chosen.itemData(k) == name)
    form.chosen.setCurrentIndex(at)
    form.chosen.activated.emit(at)


def test_every_number_has_its_field_with_range_meaning_and_source(window: MainWindow, session: FakeSession) -> None:
    form = _form(window)
    assert set(form.entries) == set(PROFILE_PARAMETERS)
    for name, entry in form.entries.items():
        said = entry.field.accessibleDescription()
        parameter = PROFILE_PARAMETERS[name]
        assert f"({parameter.source})" in said
        assert entry.value() == getattr(Profile(), name)
        assert parameter.label in entry.field.accessibleName()
    assert form.groups.count() == 5
    form.groups.setFocus()
    QTest.keyClick(form.groups, Key.Key_Home)
    assert form.entries["pixel_mm"].isVisible()
    assert not form.entries["viscosity_mpas"].isVisible()


def test_a_ready_made_profile_is_used_and_remembered(window: MainWindow, session: FakeSession) -> None:
    form = _form(window)
    _choose(form, "Thick resin")
    QTest.mouseClick(form.use, LEFT)
    assert session.profile == PRESETS[2]
    assert window.settings.get(SETTING, "") == "Thick resin"
    assert "Thick resin" in window.bench.button.text()
    assert "1000 mPa·s, lift 40 mm/min" in window.bench.button.text()


def test_a_changed_ready_made_profile_is_saved_under_a_name_before_it_is_used(
    window: MainWindow, session: FakeSession
) -> None:
    form = _form(window)
    _type(form, "viscosity_mpas", "420")
    assert form.changed.text() == "changed, not saved"
    assert form.use.text() == "Save as… and use"
    QTest.mouseClick(form.use, LEFT)
    _name_it(form, "Harbour grey")
    assert session.profile == replace(Profile("Harbour grey"), viscosity_mpas=420.0)
    assert Profiles(window.bench.profiles.folder).own == (session.profile,)
    assert not form.isVisible()


def test_a_name_that_is_taken_is_refused_where_it_is_typed(window: MainWindow, session: FakeSession) -> None:
    form = _form(window)
    _type(form, "viscosity_mpas", "420")
    QTest.mouseClick(form.save_as, LEFT)
    naming = next(d for d in form.findChildren(Naming) if d.isVisible())
    naming.field.selectAll()
    QTest.keyClicks(naming.field, "thin RESIN")
    assert "already" in naming.problem.text()
    assert not naming.save.isEnabled()
    QTest.keyClick(naming.field, Key.Key_Escape)
    assert form.entries["viscosity_mpas"].value() == 420.0


def test_a_number_that_is_not_allowed_is_shown_and_nothing_is_used(window: MainWindow, session: FakeSession) -> None:
    form = _form(window)
    _type(form, "density_kg_m3", "1150 kg/m3")
    assert not form.entries["density_kg_m3"].problem()
    _type(form, "pixel_mm", "7")
    form.groups.setCurrentRow(4)
    QTest.mouseClick(form.use, LEFT)
    assert form.isVisible()
    assert session.profile == Profile()
    assert form.entries["pixel_mm"].isVisible()
    assert "0.005 to 0.5 mm" in form.entries["pixel_mm"].problem()


@pytest.mark.parametrize(("answer", "stays"), [("Stay", True), ("Do not save", False)])
def test_closing_with_changes_asks(
    window: MainWindow, session: FakeSession, answers: Callable[..., Answers], answer: str, stays: bool
) -> None:
    asked = answers(answer)
    form = _form(window)
    _type(form, "lift_speed_mm_min", "33")
    QTest.mouseClick(form.cancel, LEFT)
    assert len(asked.asked) == 1
    assert form.isVisible() == stays
    assert session.profile == Profile()
    if stays:
        assert form.entries["lift_speed_mm_min"].value() == 33.0


def test_choosing_another_profile_with_changes_saves_them_if_that_is_wanted(
    window: MainWindow, session: FakeSession, answers: Callable[..., Answers]
) -> None:
    window.bench.profiles.save(Profile("Mine"))
    form = _form(window)
    _choose(form, "Mine")
    _type(form, "lift_speed_mm_min", "33")
    answers("Save")
    _choose(form, "Thin resin")
    mine = window.bench.profiles.get("Mine")
    assert mine is not None
    assert mine.lift_speed_mm_min == 33.0
    assert form.chosen.currentData() == "Thin resin"
    assert form.entries["viscosity_mpas"].value() == 150.0


def test_the_profile_in_use_is_renamed_and_deleted(
    window: MainWindow, session: FakeSession, answers: Callable[..., Answers]
) -> None:
    window.bench.profiles.save(Profile("Mine"))
    form = _form(window)
    assert not form.rename.isEnabled()
    _choose(form, "Mine")
    QTest.mouseClick(form.use, LEFT)
    form = _form(window)
    _type(form, "lift_speed_mm_min", "33")
    QTest.mouseClick(form.rename, LEFT)
    _name_it(form, "Ours")
    assert session.profile == Profile("Ours")
    assert window.settings.get(SETTING, "") == "Ours"
    assert form.is_changed  # what was typed is still there, and still not saved
    QTest.mouseClick(form.save, LEFT)
    assert session.profile.lift_speed_mm_min == 33.0
    asked = answers("Delete it")
    QTest.mouseClick(form.delete, LEFT)
    assert "takes its place" in asked.asked[0]
    assert session.profile == Profile()
    assert window.bench.profiles.own == ()


def test_a_profile_goes_out_to_a_file_and_comes_back(
    window: MainWindow, session: FakeSession, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    form = _form(window)
    _type(form, "viscosity_mpas", "777")
    target = str(tmp_path / "out")
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (target, ""))
    QTest.mouseClick(form.give_out, LEFT)
    assert read_profile(f"{target}.json").viscosity_mpas == 777.0
    assert form.is_changed
    write_profile(tmp_path / "in.json", Profile("From a friend"))
    write_profile(tmp_path / "same.json", replace(Profile(), viscosity_mpas=9.0))
    form.show_profile(Profile())
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(tmp_path / "in.json"), ""))
    QTest.mouseClick(form.take_in, LEFT)
    assert form.chosen.currentData() == "From a friend"
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(tmp_path / "same.json"), ""))
    QTest.mouseClick(form.take_in, LEFT)
    _name_it(form, "Same but thin")
    assert [p.name for p in window.bench.profiles.own] == ["From a friend", "Same but thin"]


def test_a_file_that_is_no_profile_is_told(
    window: MainWindow,
    session: FakeSession,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    answers: Callable[..., Answers],
    qtbot: QtBot,
) -> None:
    (tmp_path / "no.json").write_text("{}")
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(tmp_path / "no.json"), ""))
    asked = answers("Close")
    QTest.mouseClick(_form(window).take_in, LEFT)
    qtbot.waitUntil(lambda: bool(asked.asked))
    assert "no.json is no profile" in asked.asked[0]
    assert window.bench.profiles.own == ()


def test_the_next_start_uses_the_chosen_profile_and_tells_what_is_gone(
    qtbot: QtBot, theme: Theme, tmp_path: Path
) -> None:
    settings = Settings(tmp_path / "settings.json")
    mine = replace(Profile("Mine"), viscosity_mpas=420.0)
    Profiles(tmp_path / "profiles").save(mine)
    settings.set(SETTING, "Mine")
    first = MainWindow(FakeSession(), settings, theme)  # type: ignore[arg-type]
    qtbot.addWidget(first)
    assert first.session.profile == mine
    first.leave_at_once()
    Profiles(tmp_path / "profiles").delete("Mine")
    (tmp_path / "profiles" / "broken.json").write_text("no")
    second = MainWindow(FakeSession(), settings, theme)  # type: ignore[arg-type]
    qtbot.addWidget(second)
    assert second.session.profile == Profile()
    second.offer_recovery()
    told = " ".join(second.welcome.notices.texts)
    assert "'Mine' is not there any more" in told
    assert "broken.json.broken" in told
    second.session.open("/parts/bell-buoy.stl")
    assert not any("profile" in text for text in second.notices.texts)  # once is enough
    second.leave_at_once()
