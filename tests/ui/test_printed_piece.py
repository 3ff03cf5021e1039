"""The part of a card that tells how openings and cups print, in words."""

from __future__ import annotations

from types import SimpleNamespace as Stub

import pytest
from PySide6.QtWidgets import QLabel
from ui.fake_session import FakeSession

from ventplanner.printed.model import PrintedCup, PrintedOpening
from ventplanner.ui import units
from ventplanner.ui.panels.cavity_card import CavityCard
from ventplanner.ui.panels.printed_piece import CavityPrinted, prints, states
from ventplanner.ui.window import MainWindow

AT = (0.0, 0.0, 5.0)
OPEN = PrintedOpening.of_widths("A", AT, (2.0, 2.0, 1.95, 1.8, 1.8))
SHUT = PrintedOpening.of_widths("A", AT, (0.4, 0.35, 0.3, 0.3, 0.0))
WIDE = PrintedOpening.of_widths("A", AT, (9.0, 9.0, 8.9, 8.9, 8.9), exact=False)


def test_what_took_how_much_is_told() -> None:
    assert prints(OPEN) == "Prints 1.8 mm of 2.0 mm: bleed 0.05 mm, print-through 0.15 mm."
    assert prints(WIDE) == "Prints at least 8.9 mm of 9.0 mm: bleed 0.10 mm."
    told = "Prints closed (base layers). Of 0.4 mm was taken: raster 0.05 mm, bleed 0.05 mm, base layers 0.30 mm."
    assert prints(SHUT) == told


def test_it_is_told_in_inches_where_these_are_chosen() -> None:
    units.use("inch")
    try:
        assert prints(OPEN) == "Prints 0.071 in of 0.079 in: bleed 0.002 in, print-through 0.0059 in."
    finally:
        units.use("mm")


def test_both_states_of_a_cup_stand_side_by_side() -> None:
    cup = PrintedCup("A", "A1", "breathing", "sealed", 3.2, None, 100.0, 20.0)
    assert states(cup) == "model: breathes; as printed: sealed from 3.2 mm"


def test_the_card_of_a_cavity_tells_its_openings_narrowest_first(window: MainWindow, session: FakeSession) -> None:
    cup = PrintedCup("A", "A1", "breathing", "sealed", 3.2, None, 100.0, 20.0)
    fine = PrintedCup("A", "A2", "breathing", "breathing", None, None, 0.0, 0.0)
    session.printed = Stub(
        cups=lambda name: (cup, fine) if name == "A" else (),
        openings=lambda name: (OPEN, SHUT) if name == "A" else (),
        found=Stub(cups=(cup, fine)),
    )
    session.select("cavity A")
    card = window.card.card
    assert isinstance(card, CavityCard)
    texts = [shown.text() for shown in card.printed.figures.findChildren(QLabel)]
    assert texts[:2] == ["Cup A1", "model: breathes; as printed: sealed from 3.2 mm"]
    assert texts.index(prints(SHUT)) < texts.index(prints(OPEN))
    assert card.printed.told.text() == "Cup A1 breathes in the model, but not as printed."
    assert card.printed.told.property("role") == "bad"
    assert "Estimates" in card.printed.note.text()
    assert not card.printed.check.isVisible()


@pytest.mark.parametrize(("awaited", "text"), [(False, "has not been checked"), (True, "is being worked out")])
def test_what_is_not_known_is_said(session: FakeSession, awaited: bool, text: str) -> None:
    session.is_printed_awaited = awaited
    piece = CavityPrinted(session, "A")  # type: ignore[arg-type]
    piece.refresh()
    assert text in piece.told.text()
    assert piece.check.isHidden() is awaited
    assert piece.note.isHidden()
    if not awaited:
        piece.check.click()
        assert ("check_printed",) in session.calls
