"""The commands about other places for a vent, and about passages by hand."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

from ventplanner.ui.command import Command, looked_at, with_part
from ventplanner.ui.selection import vent
from ventplanner.ui.words import looked_from

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
        "along_view",
        "Vents",
        "Drill along &this view",
        _along_view,
        ("Ctrl+Shift+D",),
        "Turn the selected vent about its entry, so that its axis runs as the view looks now",
        _has_vent,
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


def _lays(window: MainWindow) -> bool:
    laying = window.stage.laying
    return laying is not None and laying.is_on


def _passages() -> Iterator[Command]:
    yield Command(
        "new_passage",
        "Vents",
        "New passag&e inside…",
        lambda w: w.say(w.stage.new_passage()),
        ("Shift+I",),
        "Join two hollows inside: click the one, then the other; what material stays round it is told on the way",
        looked_at,
        on=_lays,
    )


def _along_view(window: MainWindow) -> None:
    """The selected vent points away from who looks; its card's angles are the typed way."""
    view, state = window.stage.view, window.session.state
    if view is not None and state is not None:
        x, y, z = (float(v) for v in -(state.pose.rotation.T @ view.eye.axes[2]))
        window.session.set_axis(window.session.selected, (x, y, z))


def _from_here(window: MainWindow) -> None:
    """The view's direction, in the file's axes, is the one that places are hidden from."""
    view, state = window.stage.view, window.session.state
    if view is None or state is None:
        return
    x, y, z = (round(float(v), 3) + 0.0 for v in state.pose.rotation.T @ view.eye.axes[2])
    window.session.set_rules(replace(state.rules, seen_from=(x, y, z)))
    window.say(f"The part is looked at {looked_from((x, y, z))}: vents are hidden from there.")


def _all_around(window: MainWindow) -> None:
    state = window.session.state
    if state is not None:
        window.session.set_rules(replace(state.rules, seen_from=None))
        window.say(f"The part is looked at {looked_from(None)}.")


def _has_side(window: MainWindow) -> bool:
    state = window.session.state
    return state is not None and state.rules.seen_from is not None


def _looking() -> Iterator[Command]:
    yield Command(
        "seen_from_here",
        "Vents",
        "Hide vents from this v&iew",
        _from_here,
        ("Ctrl+Shift+J",),
        "This is how the part is looked at where it stands: share of views and hidden places go by it",
        with_part,
        apart=True,
    )
    yield Command(
        "seen_all_around",
        "Vents",
        "Hide vents from all si&des",
        _all_around,
        (),
        "The part is looked at from all sides, at eye level",
        _has_side,
    )


PLACES_COMMANDS: tuple[Command, ...] = (*_places(), *_passages(), *_looking())
