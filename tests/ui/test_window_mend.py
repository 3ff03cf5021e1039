"""Mending in the window: offered for a damaged part, told step by step with its places, refused step by step."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel, QPushButton
from ui.fake_session import FakeSession, press, type_into

from ventplanner.analysis.findings import OVERLAPPING_SKINS
from ventplanner.analysis.health import FLIPPED_FACES, OPEN_EDGES, HealthNote
from ventplanner.app.mend_edit import MendFacts, MendStep, mend_part
from ventplanner.errors import MeshError
from ventplanner.geometry.solid import Solid
from ventplanner.mending.model import Loss
from ventplanner.mending.rules import MendRules
from ventplanner.ui.mending_offer import REFUSED
from ventplanner.ui.panels.mend_card import ALL_REFUSED, LOOKING, NOTHING, MendCard, MendedCard
from ventplanner.ui.panels.part_card import PartCard
from ventplanner.ui.window import MainWindow

FACTS = MendFacts(
    (
        MendStep("orient", "faces turned over", 5, ((1.0, 2.0, 3.0),)),
        MendStep("untangle", "skins drawn anew", 1, (), Loss(0.02, -3.0)),
        MendStep("holes", "holes filled", 2, ((4.0, 5.0, 6.0), (7.0, 8.0, 9.0))),
    ),
    ((OPEN_EDGES, 4, (0.0, 0.0, 1.0)),),
    (),
    ("part",),
    (1000.0, 1010.0),
)


def _card(window: MainWindow) -> MendCard:
    both = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier
    press(window, Qt.Key.Key_M, both)
    card = window.card.card
    assert isinstance(card, MendCard)
    return card


def _texts(card: object) -> str:
    return " ".join(child.text() for child in card.findChildren(QLabel))  # type: ignore[attr-defined]


def test_nothing_is_changed_before_each_step_is_told_and_each_can_be_refused(
    window: MainWindow, session: FakeSession
) -> None:
    card = _card(window)
    assert session.calls[-1] == ("look_for_damage", MendRules())
    assert card.told.text() == LOOKING
    assert not card.mend.isEnabled()
    session.mend_found.emit(FACTS)
    assert list(card.boxes) == ["orient", "holes", "untangle"]
    for text in (
        "Faces turned over: 5",
        "Holes filled: 2",
        "Open edges: 4",
        "Skins drawn anew: 1; nowhere more than 0.02 mm off, 3.0 mm³ less",
        "1.0 mL before, then 10 mm³ more",
    ):
        assert text in _texts(card), text
    show = next(b for b in card.findChildren(QPushButton) if b.accessibleName() == "Show next place: Holes filled: 2")
    for at, told in (((4.0, 5.0, 6.0), "1 of 2"), ((7.0, 8.0, 9.0), "2 of 2"), ((4.0, 5.0, 6.0), "1 of 2")):
        show.click()
        assert session.calls[-1] == ("show_place", at, f"holes filled, {told}")
    card.boxes["holes"].click()
    assert session.calls[-1] == ("look_for_damage", MendRules(without=frozenset({"holes"})))
    assert not card.mend.isEnabled()
    session.mend_found.emit(replace(FACTS, steps=FACTS.steps[:1]))
    assert not card.boxes["holes"].isChecked()
    card.boxes["orient"].click()
    session.mend_found.emit(replace(FACTS, steps=()))
    assert card.told.text() == ALL_REFUSED
    assert not card.mend.isEnabled()
    card.boxes["orient"].click()
    session.mend_found.emit(FACTS)
    card.mend.click()
    assert session.calls[-1] == ("mend",)
    card.leave.click()
    assert session.calls[-1] == ("forget_mending",)
    assert isinstance(window.card.card, PartCard)


def test_what_cannot_be_closed_is_told_with_its_place_and_a_wider_hole_may_be_allowed(
    window: MainWindow, session: FakeSession
) -> None:
    card = _card(window)
    session.mend_found.emit(MeshError("It cannot be closed.", "Allow wider ones with --largest-hole.", (1.0, 2.0, 3.0)))
    assert card.told.text() == "It cannot be closed. Allow wider ones in the field below."
    next(b for b in card.findChildren(QPushButton) if b.text() == "Show place").click()
    assert session.calls[-1] == ("show_place", (1.0, 2.0, 3.0), "what cannot be closed")
    type_into(card.largest, "2,5 cm")
    assert session.calls[-1] == ("look_for_damage", MendRules(largest_mm=25.0))
    type_into(card.tolerance, "7")  # not allowed
    assert session.calls[-1] == ("look_for_damage", MendRules(largest_mm=25.0))
    assert card.tolerance.property("wrong")
    session.mend_found.emit(replace(FACTS, steps=()))
    assert card.told.text() == NOTHING


def test_what_nothing_closes_is_drawn_anew_only_when_that_is_ticked(window: MainWindow, session: FakeSession) -> None:
    card = _card(window)
    session.mend_found.emit(MeshError("The part cannot be closed.", "Have broken skins drawn anew with --redraw."))
    assert list(card.boxes) == ["redraw"]
    assert not card.boxes["redraw"].isChecked()
    assert "drawn anew by the box below" in card.told.text()
    card.boxes["redraw"].click()
    assert session.calls[-1] == ("look_for_damage", MendRules(redraw=True))
    lost = MendStep("redraw", "pieces of skins drawn anew", 3, (), Loss(1.5, None, 0.42, 2500.0))
    session.mend_found.emit(replace(FACTS, steps=(*FACTS.steps, lost)))
    assert card.boxes["redraw"].isChecked()
    assert card.mend.isEnabled()
    told = "3; nowhere more than 1.5 mm off, what is finer than 0.42 mm may be gone, 2.5 mL more or less by how gaps"
    assert told in _texts(card)
    card.boxes["redraw"].click()
    assert session.calls[-1] == ("look_for_damage", MendRules())


def test_the_mended_part_is_told_until_it_is_undone(window: MainWindow, session: FakeSession) -> None:
    card = _card(window)
    session.mend_found.emit(FACTS)

    def edit(state: Any) -> Any:
        return mend_part(state, Solid(state.solid.vertices, state.solid.faces, state.solid.bodies), FACTS)

    session._edit(edit)
    assert window.card.card is not card
    session.mended.emit(FACTS)
    done = window.card.card
    assert isinstance(done, MendedCard)
    assert "Holes filled: 2" in _texts(done)
    assert session.state is not None
    assert (
        session.state.solid.source.notes[-1]
        == "The part was mended. faces turned over: 5; skins drawn anew: 1; holes filled: 2."
    )
    QTest.mouseClick(done.undo, Qt.MouseButton.LeftButton)
    assert isinstance(window.card.card, PartCard)


def test_a_damaged_part_is_offered_to_be_mended_once(
    window: MainWindow, session: FakeSession, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = session.findings
    assert "Mend" not in " ".join(window.notices.texts)
    notes = HealthNote(OPEN_EDGES, 4, (0.0, 0.0, 1.0)), HealthNote(FLIPPED_FACES, 5), HealthNote(OVERLAPPING_SKINS, 2)
    torn = SimpleNamespace(**{**vars(whole), "health": notes})
    monkeypatch.setattr(FakeSession, "findings", property(lambda _: torn))
    session.open("/parts/torn.stl")
    text = "The mesh is damaged: 4 open edges, 5 flipped faces. What is found in it may be wrong."
    assert text in window.notices.texts
    part = window.card.card
    assert isinstance(part, PartCard)
    assert part.mend.isVisible()
    said = {one.text() for one in part.findChildren(QLabel)}
    assert "Overlapping skins: 2. Mend (Ctrl+Shift+M) makes them one" in said
    offer = next(b for b in window.notices.findChildren(QPushButton) if b.text() == "Mend…")
    offer.click()
    assert isinstance(window.card.card, MendCard)
    assert text not in window.notices.texts
    session.changed.emit()
    assert text not in window.notices.texts
    monkeypatch.setattr(FakeSession, "findings", None)
    session.failed.emit(MeshError("It is torn.", "Mend it."), "It was not looked at")
    assert REFUSED in window.notices.texts
