"""The commands about draining the part after the print."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from ventplanner.ui.command import Command, looked_at

if TYPE_CHECKING:
    from ventplanner.ui.window import MainWindow


def _has(by: int, window: MainWindow) -> bool:
    mode = window.draining
    return mode.is_on and 0 <= mode.at + by < mode.count


def _draining() -> Iterator[Command]:
    yield Command(
        "drain",
        "Printing",
        "D&rain…",
        lambda w: w.draining.switch(),
        ("D",),
        "How to hold and turn the part after the print, so that least resin stays in it; or back to the part",
        looked_at,
        on=lambda w: w.draining.is_on,
        apart=True,
    )
    yield Command(
        "drain_next",
        "Printing",
        "&Next move",
        lambda w: w.draining.go(1),
        ("M",),
        "Show the next move of draining",
        lambda w: _has(1, w),
    )
    yield Command(
        "drain_before",
        "Printing",
        "Move &before",
        lambda w: w.draining.go(-1),
        ("Shift+M",),
        "Show the move of draining before",
        lambda w: _has(-1, w),
    )
    yield Command(
        "drain_hold",
        "Printing",
        "&Hold it like this",
        lambda w: w.draining.hold(),
        ("Shift+D",),
        "Down in the view is down: what is in the part runs until it rests",
        lambda w: w.draining.count > 0,
    )
    yield Command(
        "drain_fill",
        "Printing",
        "Fill it a&gain",
        lambda w: w.draining.fill(),
        (),
        "The hollows full of resin, with the part held as it is now, until nothing runs out any more",
        lambda w: w.draining.count > 0,
    )


DRAINING_COMMANDS: tuple[Command, ...] = tuple(_draining())
