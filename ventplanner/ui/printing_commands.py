"""The commands about how the part prints: its layers, as printed, the test piece."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from ventplanner.ui.command import Command, with_part

if TYPE_CHECKING:
    from ventplanner.ui.window import MainWindow


def _sees_layers(window: MainWindow) -> bool:
    return window.stage.has_layers and window.session.state is not None


def _switch_layers(window: MainWindow) -> None:
    window.stage.show_layers(not window.stage.has_layers)
    window.refresh_commands()


def _set_printed(printed: bool, window: MainWindow) -> None:
    window.stage.layers.set_printed(printed)  # the chart follows
    window.refresh_commands()


def _can_check(window: MainWindow) -> bool:
    session = window.session
    known = session.findings is not None and not session.stale
    return known and session.printed is None and not session.is_printed_awaited


def _layers() -> Iterator[Command]:
    yield Command(
        "layers",
        "Printing",
        "&Layers",
        _switch_layers,
        ("Y",),
        "One layer from above, at the height of the handle",
        with_part,
        on=lambda w: w.stage.has_layers,
    )
    yield Command(
        "layers_model",
        "Printing",
        "&Model",
        lambda w: _set_printed(False, w),
        (),
        "Layers and chart of the model",
        with_part,
        on=lambda w: not w.stage.layers.printed_wanted,
    )
    yield Command(
        "layers_printed",
        "Printing",
        "As &printed",
        lambda w: _set_printed(not w.stage.layers.printed_wanted, w),
        ("A",),
        "Layers and chart as the printer's light makes the part, or of the model again",
        with_part,
        on=lambda w: w.stage.layers.printed_wanted,
    )


def _moves() -> Iterator[Command]:
    yield Command(
        "layers_fit",
        "Printing",
        "&Fit",
        lambda w: w.stage.layers.sheet.fit(),
        ("Shift+Y",),
        "The whole layer, in the middle",
        _sees_layers,
    )
    for name, text, key, step, where in (
        ("layer_up", "Layer &up", ".", 1, "farther from the plate"),
        ("layer_down", "Layer &down", ",", -1, "nearer to the plate"),
    ):
        yield Command(
            name,
            "Printing",
            text,
            lambda w, step=step: w.stage.layers.step(step),  # type: ignore[misc]
            (key,),
            f"The next layer {where}",
            _sees_layers,
            apart=step > 0,
        )


def _checks() -> Iterator[Command]:
    yield Command(
        "check_printed",
        "Printing",
        "&Check as printed",
        lambda w: w.session.check_printed(),
        ("Shift+A",),
        "Work out which openings and vents print closed, and how wide the others print",
        _can_check,
        apart=True,
    )
    yield Command(
        "test_piece",
        "Printing",
        "&Test piece…",
        lambda w: w.dialogs.show_test_piece(),
        (),
        "Write a small piece with holes, and fit the profile to which of them print open",
    )


PRINTING_COMMANDS: tuple[Command, ...] = (*_layers(), *_moves(), *_checks())
