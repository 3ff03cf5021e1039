"""Cups for which no vent is found: the reason is known to the session, told in what is left to do, and on the cards."""

from __future__ import annotations

from PySide6.QtWidgets import QLabel
from pytestqt.qtbot import QtBot
from ui.session_kit import opened_, part_, session_, settle  # noqa: F401  the names that end in _ are fixtures

from ventplanner.options import VentRules
from ventplanner.ui.panels.cavity_card import CavityCard, CupCard
from ventplanner.ui.session import Session


def test_the_reason_why_a_cup_has_no_vent_is_told(opened: Session, qtbot: QtBot) -> None:
    # Cavity A has walls of 2 mm below and 4 mm at the sides, B of 3 mm and more.
    opened.set_rules(VentRules(longest_wall_mm=2.5))
    settle(qtbot, opened)
    (none,) = opened.missing
    assert (none.cavity, none.cup) == ("B", "B1")
    assert "the wall is longer than 2.5 mm" in none.reason
    left = {x.target: x.text for x in opened.left}
    assert f"no vent was found for it, because {none.reason}" in left["cup B1"]

    for card in (CupCard(opened, "B1"), CavityCard(opened, "B")):
        qtbot.addWidget(card)
        card.refresh()
        shown = [label.text() for label in card.findChildren(QLabel) if not label.isHidden()]
        assert any(text.startswith(f"No vent was found for it: {none.reason}.") for text in shown)
        assert any("Hang the part otherwise" in text for text in shown)
    fine = CavityCard(opened, "A")
    qtbot.addWidget(fine)
    fine.refresh()
    assert not any("No vent was found" in label.text() for label in fine.findChildren(QLabel) if not label.isHidden())

    # With other rules there is one again, and nothing is said any more.
    opened.set_rules(VentRules())
    settle(qtbot, opened)
    assert opened.missing == ()
