"""The commands about other places for a vent."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from ventplanner.ui.command import Command, looked_at
from ventplanner.ui.selection import vent

if TYPE_CHECKING:
    from ventplanner.ui.window import MainWindow


def _has_vent(window: MainWindow) -> bool:
    """A vent or a proposal is selected, and the part was looked at."""
    session = window.session
    return session.findings is not None and vent(session, session.selected) is not None


def _places() -> Iterator[Command]:
    yield Command(
        "next_place",
        "Vents",
        "Next place &for this vent",
        lambda w: w.session.step_place(1),
        ("J",),
        "Put the selected vent to the next of some clearly different places",
        _has_vent,
        apart=True,
    )
    yield Command(
        "previous_place",
        "Vents",
        "Place &before",
        lambda w: w.session.step_place(-1),
        ("Shift+J",),
        "Put the selected vent to the place before",
        _has_vent,
    )
    yield Command(
        "keep_place",
        "Vents",
        "&Keep this place for comparing",
        lambda w: w.session.keep_place(),
        ("Ctrl+J",),
        "Draw the curve of the present place in the chart, and put its figures beside those of the next ones",
        _has_vent,
        on=lambda w: w.session.is_kept(w.session.selected),
    )
    yield Command(
        "why_not",
        "Vents",
        "Why not &here?",
        lambda w: w.say(w.stage.why_not()),
        ("Shift+V",),
        "Say of the place under the pointer why no vent fits there, or what it would cost",
        looked_at,
    )


PLACES_COMMANDS: tuple[Command, ...] = tuple(_places())
