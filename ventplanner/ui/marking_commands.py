"""The commands that mark the surface to be kept clear."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import TYPE_CHECKING

from ventplanner.ui.command import Command
from ventplanner.ui.dialogs.colours import choose_colours

if TYPE_CHECKING:
    from ventplanner.ui.panels.marking import Marking, Way
    from ventplanner.ui.window import MainWindow


def _of(window: MainWindow) -> Marking | None:
    return window.stage.marking


def _may(window: MainWindow) -> bool:
    marking = _of(window)
    return marking is not None and marking.may_mark


def _is_on(window: MainWindow) -> bool:
    marking = _of(window)
    return marking is not None and marking.is_on


def _switch(window: MainWindow) -> None:
    if (marking := _of(window)) is not None:
        marking.set_on(not marking.is_on)


def _set_way(way: Way, window: MainWindow) -> None:
    if (marking := _of(window)) is not None:
        marking.set_way(way)


def _has_way(way: Way, window: MainWindow) -> bool:
    marking = _of(window)
    return marking is not None and marking.way == way


def _erases(window: MainWindow) -> bool:
    marking = _of(window)
    return marking is not None and marking.erasing


def _switch_erasing(window: MainWindow) -> None:
    if (marking := _of(window)) is not None:
        marking.set_erasing(not marking.erasing)


def _step(steps: int, window: MainWindow) -> None:
    if (marking := _of(window)) is not None:
        marking.step_radius(steps)


def _see(window: MainWindow) -> None:
    if (marking := _of(window)) is not None:
        marking.mark_seen()


def _clear(window: MainWindow) -> None:
    if (marking := _of(window)) is not None:
        marking.clear()


def _has_marks(window: MainWindow) -> bool:
    state = window.session.state
    return state is not None and state.keep_clear is not None


_WAYS: tuple[tuple[Way, str, str, str], ...] = (
    ("brush", "&Brush", "B", "Mark what is under a round brush"),
    ("flood", "To &creases", "G", "Mark the surface around a place, up to the edges where it bends"),
    ("face", "&Triangles", "I", "Mark one triangle after the other"),
)


def _marking() -> Iterator[Command]:
    yield Command(
        "keep_clear",
        "Part",
        "&Keep clear…",
        _switch,
        ("K",),
        "Mark the surface in which no vent may be",
        _may,
        on=_is_on,
        apart=True,
    )
    for way, text, key, tip in _WAYS:
        yield Command(
            f"mark_{way}", "Part", text, partial(_set_way, way), (key,), tip, _is_on, on=partial(_has_way, way)
        )
    yield Command(
        "mark_erase", "Part", "&Erase", _switch_erasing, ("E",), "Erase marks; Shift does so, too", _is_on, on=_erases
    )
    yield Command("mark_larger", "Part", "&Larger brush", partial(_step, 1), ("]",), "A larger brush", _is_on)
    yield Command("mark_smaller", "Part", "S&maller brush", partial(_step, -1), ("[",), "A smaller brush", _is_on)
    yield Command(
        "mark_seen",
        "Part",
        "All &seen",
        _see,
        ("Shift+K",),
        "Mark, or erase, all that is seen of the whole part from here",
        _is_on,
    )
    yield Command(
        "mark_coloured",
        "Part",
        "Keep clear what is c&oloured…",
        choose_colours,
        (),
        "Choose colours of the part's file: no vent may be where it has them",
        lambda w: bool(w.session.file_colours.found),
    )
    yield Command("mark_clear", "Part", "Keep &nothing clear", _clear, (), "Take all marks off the part", _has_marks)


MARKING_COMMANDS: tuple[Command, ...] = tuple(_marking())
