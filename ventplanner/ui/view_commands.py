"""The commands about how the part is looked at: standing or hanging, sides, the cut, colours."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import TYPE_CHECKING

from ventplanner.ui.command import Command, with_part
from ventplanner.ui.selection import place_word

if TYPE_CHECKING:
    from ventplanner.ui.chart_scale import Quantity
    from ventplanner.ui.session import Session
    from ventplanner.ui.theme import Choice
    from ventplanner.ui.view.eye import Side
    from ventplanner.ui.view.plane import Facing
    from ventplanner.ui.window import MainWindow


def _look(side: Side, window: MainWindow) -> None:
    window.with_view(lambda view: view.look(side))


def _choose_theme(choice: Choice, window: MainWindow) -> None:
    window.choose_theme(choice)


def _has_theme(choice: Choice, window: MainWindow) -> bool:
    return window.theme.choice == choice


def _view() -> Iterator[Command]:
    yield Command(
        "standing",
        "View",
        "&Standing",
        lambda w: w.set_hanging(False),
        ("S",),
        "Plate below",
        with_part,
        on=lambda w: not w.stage.hanging,
    )
    yield Command(
        "hanging",
        "View",
        "&Hanging",
        lambda w: w.set_hanging(True),
        ("H",),
        "Plate above, as in the printer",
        with_part,
        on=lambda w: w.stage.hanging,
    )
    yield Command(
        "level",
        "View",
        "&Level view",
        lambda w: w.with_view(lambda v: v.level()),
        ("L",),
        "Build axis upright: part and chart on one scale",
        with_part,
        apart=True,
    )
    yield Command(
        "fit",
        "View",
        "&Fit view",
        lambda w: w.with_view(lambda v: v.fit()),
        ("F",),
        "The whole part, in the middle",
        with_part,
    )
    yield Command(
        "fit_selection",
        "View",
        "Fit s&election",
        lambda w: w.with_view(lambda v: v.fit_to(place_word(w.session))),
        ("Shift+F",),
        "What is selected, as large as it goes",
        lambda w: bool(place_word(w.session)),
    )


def _sides() -> Iterator[Command]:
    sides: tuple[Side, ...] = ("front", "back", "left", "right", "top", "bottom")
    for key, side in enumerate(sides, 1):
        yield Command(
            f"look_{side}",
            "View",
            f"From the {side}",
            partial(_look, side),
            (str(key),),
            f"Look from the {side}",
            with_part,
            apart=key == 1,
        )
    yield Command(
        "whole", "View", "&Whole part", lambda w: w.show_whole(), ("W",), "Show the part printed to its end", with_part
    )


def _face(side: Facing, window: MainWindow) -> None:
    window.with_view(lambda view: view.cutting.face(side))


def _is_faced(side: Facing, window: MainWindow) -> bool:
    view = window.stage.view
    return view is not None and view.cutting.is_facing(side)


def cut_open(window: MainWindow) -> bool:
    """The picture is cut open."""
    return window.section_on


def _section() -> Iterator[Command]:
    yield Command(
        "section",
        "Section",
        "&Cut open",
        lambda w: w.switch_section(),
        ("C",),
        "A plane that cuts the picture of the part open",
        with_part,
        on=cut_open,
    )
    sides: tuple[tuple[Facing, str, str], ...] = (
        ("front", "&Front", "Cut square to the direction from the front"),
        ("right", "&Side", "Cut square to the direction from the right"),
        ("top", "&Top", "Cut level, and look at it from the top"),
    )
    for key, (side, text, tip) in enumerate(sides, 1):
        yield Command(
            f"cut_{side}",
            "Section",
            text,
            partial(_face, side),
            (f"Alt+{key}",),
            tip,
            with_part,
            on=partial(_is_faced, side),
            apart=key == 1,
        )
    yield Command(
        "cut_viewer",
        "Section",
        "Facing &me",
        partial(_face, "viewer"),
        ("Alt+4",),
        "Cut square to the way you look",
        with_part,
    )


def _section_moves() -> Iterator[Command]:
    def put_through(window: MainWindow) -> None:
        window.with_view(lambda view: view.cutting.put_through(place_word(window.session)))

    yield Command(
        "cut_through",
        "Section",
        "Through the selection",
        put_through,
        ("T",),
        "Cut along the axis of the selected vent, or through the selected cavity",
        lambda w: bool(place_word(w.session)),
        lambda w: f"Th&rough {_thing(w.session)}",
        apart=True,
    )
    for name, text, key, steps, tip in (
        ("cut_more", "&Deeper", "Alt+Down", -1.0, "Move the plane by 1 mm, so that more is cut away"),
        ("cut_less", "&Less deep", "Alt+Up", 1.0, "Move the plane by 1 mm, so that less is cut away"),
    ):
        yield Command(
            name,
            "Section",
            text,
            lambda w, steps=steps: w.with_view(lambda view: view.cutting.step(steps)),  # type: ignore[misc]
            (key,),
            tip,
            cut_open,
            apart=name == "cut_more",
        )
    yield Command(
        "cut_flip",
        "Section",
        "Fl&ip",
        lambda w: w.with_view(lambda view: view.cutting.flip()),
        ("Alt+X",),
        "Cut the other side away",
        cut_open,
    )


def _colours() -> Iterator[Command]:
    texts: dict[Choice, str] = {"system": "Colours of the s&ystem", "light": "L&ight", "dark": "&Dark"}
    for choice, text in texts.items():
        yield Command(
            f"theme_{choice}",
            "View",
            text,
            partial(_choose_theme, choice),
            (),
            f"{text.replace('&', '')} colours" if choice != "system" else "Light or dark as the system says",
            on=partial(_has_theme, choice),
            apart=choice == "system",
        )
    yield Command(
        "full_screen",
        "View",
        "F&ull screen",
        lambda w: w.switch_full_screen(),
        ("F11",),
        "The whole screen",
        on=lambda w: w.isFullScreen(),
        apart=True,
    )


def _show_quantity(quantity: Quantity, window: MainWindow) -> None:
    window.stage.set_quantity(quantity)


def _is_shown(quantity: Quantity, window: MainWindow) -> bool:
    return window.stage.quantity == quantity


def _chart() -> Iterator[Command]:
    texts: tuple[tuple[Quantity, str, str], ...] = (
        ("area", "Chart of sealed area", "Sealed area at every height"),
        ("suction", "Chart of suction", "Suction at the lift at every height, an estimate"),
        ("force", "Chart of force", "Force of the suction at every height, an estimate"),
        ("section", "Chart of material", "Material in each layer, before and after hollowing"),
    )
    for key, (quantity, text, tip) in enumerate(texts, 1):
        yield Command(
            f"chart_{quantity}",
            "View",
            text,
            partial(_show_quantity, quantity),
            (f"Ctrl+{key}",),
            tip,
            with_part,
            on=partial(_is_shown, quantity),
            apart=key == 1,
        )


VIEW_COMMANDS: tuple[Command, ...] = (*_view(), *_sides(), *_chart(), *_colours(), *_section(), *_section_moves())


def _thing(session: Session) -> str:
    """What is selected, whether it is proposed or accepted."""
    word = place_word(session).replace("proposal", "vent").replace("joining", "passage")
    return word or "the selection"
