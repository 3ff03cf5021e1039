"""Every command of the window, once: its text, its keys, when it can be given and what it does.

Menus, tool buttons, the command search and the page of keys are all made from this table.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from ventplanner.ui import deciding
from ventplanner.ui.command import MENUS, Command, looked_at, with_part
from ventplanner.ui.draining_commands import DRAINING_COMMANDS
from ventplanner.ui.marking_commands import MARKING_COMMANDS
from ventplanner.ui.places_commands import PLACES_COMMANDS
from ventplanner.ui.posing_commands import POSING_COMMANDS
from ventplanner.ui.printing_commands import PRINTING_COMMANDS
from ventplanner.ui.selection import cavity_of, chosen, left_cup
from ventplanner.ui.units import edit_name
from ventplanner.ui.view_commands import VIEW_COMMANDS

if TYPE_CHECKING:
    from ventplanner.ui.dialogs.dialogs import Dialogs
    from ventplanner.ui.window import MainWindow

__all__ = ["COMMANDS", "MENUS", "Command"]


def _file() -> Iterator[Command]:
    yield Command(
        "open", "File", "&Open…", lambda w: w.files.ask_and_open(), ("Ctrl+O",), "Open a part or a saved plan"
    )
    yield Command(
        "save",
        "File",
        "&Save",
        lambda w: w.files.save(),
        ("Ctrl+S",),
        "Save the plan with its part",
        with_part,
        apart=True,
    )
    yield Command(
        "save_as",
        "File",
        "Save &as…",
        lambda w: w.files.save_as(),
        ("Ctrl+Shift+S",),
        "Save the plan under another name",
        with_part,
    )
    yield Command(
        "export",
        "File",
        "Drill and &export…",
        lambda w: w.files.export(),
        ("Ctrl+E",),
        "Drill the accepted vents, write the part and verify the file",
        lambda w: w.may_export,
        apart=True,
    )
    yield Command(
        "sheet",
        "File",
        "&Write the sheet…",
        lambda w: w.files.write_sheet(),
        ("Ctrl+Shift+E",),
        "A sheet for the bench about the exported file: pictures, holes, settings, steps; or the holes as a table",
        lambda w: w.session.may_write_sheet,
    )


def _more_files() -> Iterator[Command]:
    yield Command(
        "reload",
        "File",
        "&Read the file again",
        lambda w: w.session.reload(),
        ("F5",),
        "Take the part as it is now on disk",
        with_part,
        apart=True,
    )
    yield Command(
        "load_supports",
        "File",
        "Load s&upports…",
        lambda w: w.files.ask_for_supports(),
        (),
        "Show the supports of a second file, and keep vents off them; they are never exported",
        with_part,
    )
    yield Command(
        "close", "File", "&Close the part", lambda w: w.files.close_part(), ("Ctrl+W",), "Back to the start", with_part
    )
    yield Command("quit", "File", "&Quit", lambda w: w.close(), ("Ctrl+Q",), "Leave the program", apart=True)


def _edit() -> Iterator[Command]:
    yield Command(
        "undo",
        "Edit",
        "&Undo",
        lambda w: w.session.undo(),
        ("Ctrl+Z",),
        "Take the last edit back",
        lambda w: bool(w.session.undo_name),
        lambda w: f"&Undo {edit_name(w.session.undo_name)}" if w.session.undo_name else "&Undo",
    )
    yield Command(
        "redo",
        "Edit",
        "&Redo",
        lambda w: w.session.redo(),
        ("Ctrl+Shift+Z", "Ctrl+Y"),
        "Bring back what was undone",
        lambda w: bool(w.session.redo_name),
        lambda w: f"&Redo {edit_name(w.session.redo_name)}" if w.session.redo_name else "&Redo",
    )
    yield Command(
        "history",
        "Edit",
        "&History…",
        lambda w: w.dialogs.show_history(),
        ("Ctrl+H",),
        "All edits, to go back to any of them",
        with_part,
    )


def _forms() -> Iterator[Command]:
    yield Command(
        "settings",
        "Edit",
        "&Pitch, filters and vents…",
        lambda w: w.dialogs.show_settings(),
        ("Ctrl+,",),
        "How the part is analysed, and what proposed vents are like",
        with_part,
        apart=True,
    )
    yield Command(
        "profile",
        "Edit",
        "Pri&nter and resin…",
        lambda w: w.dialogs.show_profile(),
        ("Ctrl+R",),
        "Viscosity, lift speed, light, limits: what suction is computed for",
    )
    yield Command(
        "preferences",
        "Edit",
        "&Mouse, units and colours…",
        lambda w: w.dialogs.show_preferences(),
        ("Ctrl+M",),
        "Millimetres or inches, which button turns the part, the direction of the wheel",
    )


def _part() -> Iterator[Command]:
    yield Command(
        "hollow",
        "Part",
        "Hollo&w the part…",
        lambda w: w.dialogs.show_hollow(),
        ("Ctrl+Shift+H",),
        "From a solid part to one with an even wall: thickness, what stays solid, ribs, lattice",
        with_part,
        apart=True,
    )
    yield Command(
        "mend",
        "Part",
        "Men&d the part…",
        lambda w: w.session.mend_wanted.emit(),
        ("Ctrl+Shift+M",),
        "See what would be done to a damaged mesh, step by step, and do it",
        with_part,
    )
    yield Command(
        "whole_part",
        "Part",
        "&About the part",
        lambda w: w.step_back(),
        ("Esc",),
        "Show the figures of the whole part",
        with_part,
        apart=True,
    )


def _vents() -> Iterator[Command]:
    yield Command(
        "accept",
        "Vents",
        "&Accept",
        lambda w: deciding.accept(w.session),
        ("Return", "Enter"),
        "Take the selected proposal into the plan",
        lambda w: bool(w.session.proposals or chosen(w.session, "joining")),
    )
    yield Command(
        "accept_all",
        "Vents",
        "Accept a&ll",
        lambda w: w.session.accept_all(),
        ("Ctrl+Return", "Ctrl+Enter"),
        "Take all proposals into the plan",
        lambda w: bool(w.session.proposals),
    )
    yield Command(
        "aside",
        "Vents",
        "&Set aside",
        lambda w: deciding.set_aside(w.session),
        ("X",),
        "Do not offer the selected proposal any more",
        lambda w: bool(chosen(w.session, "proposal") or chosen(w.session, "joining")),
    )
    yield Command(
        "remove",
        "Vents",
        "&Remove",
        lambda w: deciding.remove(w.session),
        ("Del", "Backspace"),
        "Take the selected vent or passage out of the plan",
        lambda w: bool(chosen(w.session, "vent") or chosen(w.session, "passage")),
    )


def _more_vents() -> Iterator[Command]:
    yield Command(
        "new_vent",
        "Vents",
        "New &vent here…",
        lambda w: w.say(w.stage.new_vent()),
        ("V",),
        "Drill one more vent: where the pointer is, or where you click next",
        looked_at,
        apart=True,
    )
    yield Command(
        "size_by_need",
        "Vents",
        "Si&ze accepted holes by need",
        lambda w: w.session.size_by_need(),
        ("Ctrl+Shift+W",),
        "Make each accepted vent and passage as wide as suction, overpressure and print ask of it, where it is",
        lambda w: bool(w.session.widths_by_need),
    )
    yield Command(
        "propose_again",
        "Vents",
        "Propose a&gain for this cup",
        lambda w: w.session.propose_again(left_cup(w.session)),
        (),
        "Offer the vent again that was moved away from the selected cup or set aside",
        lambda w: bool(left_cup(w.session)),
    )


def _walk() -> Iterator[Command]:
    yield Command(
        "next",
        "Vents",
        "&Next proposal",
        lambda w: w.session.next_proposal(),
        ("N",),
        "Select the next proposal",
        lambda w: bool(w.session.proposals),
        apart=True,
    )
    yield Command(
        "previous",
        "Vents",
        "&Previous proposal",
        lambda w: w.session.previous_proposal(),
        ("Shift+N",),
        "Select the proposal before",
        lambda w: bool(w.session.proposals),
    )
    yield Command(
        "leave",
        "Vents",
        "Leave the &cavity as it is…",
        lambda w: w.leave_cavity(),
        ("Ctrl+L",),
        "Say why a cavity gets no vent",
        lambda w: bool(cavity_of(w.session, w.session.selected)),
        apart=True,
    )


def _pages() -> Iterator[Command]:
    yield Command(
        "how_it_prints",
        "Help",
        "How it &prints…",
        lambda w: w.dialogs.show_how_it_prints(),
        tip="What the layers show, and what as printed means",
    )
    yield Command(
        "about_suction",
        "Help",
        "How su&ction is estimated…",
        lambda w: w.dialogs.show_about_suction(),
        tip="What the figures of suction mean, what they rest on, and where they end",
    )
    yield Command(
        "hard_places",
        "Help",
        "Vents in &hard places…",
        lambda w: w.dialogs.show_hard_places(),
        tip="Other places, surfaces to be kept clear, passages inside, supports",
    )
    yield Command(
        "about_hollowing",
        "Help",
        "How a part is h&ollowed…",
        lambda w: w.dialogs.show_about_hollowing(),
        tip="What hollowing does, what goes by the pose, and what comes next",
    )
    yield Command(
        "about_mending",
        "Help",
        "How a part is &mended…",
        lambda w: w.dialogs.show_about_mending(),
        tip="What mending does, what it never does, and how to refuse a step",
    )
    yield Command(
        "about_draining",
        "Help",
        "How a part &drains…",
        lambda w: w.dialogs.show_about_draining(),
        tip="What the moves after the print mean, and what they rest on",
    )
    yield Command(
        "about_orienting",
        "Help",
        "How an orien&tation is found…",
        lambda w: w.dialogs.show_about_orienting(),
        tip="What the map and the short list of directions mean, and what is left to you",
    )


def _help() -> Iterator[Command]:
    def ask(window: MainWindow) -> Dialogs:
        return window.dialogs

    yield Command(
        "search", "Help", "&Search commands…", lambda w: ask(w).show_search(), ("Ctrl+K",), "Find any command"
    )
    yield Command("keys", "Help", "&Keys…", lambda w: ask(w).show_keys(), ("F1",), "All commands with their keys")
    yield from _pages()
    yield Command("log", "Help", "Show the &log", lambda w: ask(w).show_log(), tip="The folder of the log", apart=True)
    yield Command("about", "Help", "&About…", lambda w: ask(w).show_about(), tip="Version and licence")


COMMANDS: tuple[Command, ...] = (
    *_file(),
    *_more_files(),
    *_edit(),
    *_forms(),
    *VIEW_COMMANDS,
    *POSING_COMMANDS,
    *_part(),
    *MARKING_COMMANDS,
    *_vents(),
    *_more_vents(),
    *_walk(),
    *PLACES_COMMANDS,
    *PRINTING_COMMANDS,
    *DRAINING_COMMANDS,
    *_help(),
)
