"""What would bring out what stays in a part after the print, as edits: a vent moved, or one or two added."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from ventplanner.analysis.findings import Findings
from ventplanner.app import edits
from ventplanner.app.draining import is_much, not_alone, would_help
from ventplanner.app.edits import Edit
from ventplanner.app.pouring import pour_key
from ventplanner.app.state import AppState, key_of, marks_key
from ventplanner.draining.changes import Change, changes
from ventplanner.draining.model import Drained
from ventplanner.errors import InputError
from ventplanner.plan.model import Plan, Vent
from ventplanner.profile import Profile
from ventplanner.progress import Progress, silent


@dataclass(frozen=True, eq=False)
class Help:
    """A change that was tried and brings out more. key: of what it was found for. text: what it would bring. deed: what
    taking it does. vents: as they are then, in the file's axes; replaces: id of the one that is moved, "" for none.
    is_offered: they are proposals, to be accepted."""

    key: str
    text: str
    deed: str
    vents: tuple[Vent, ...]
    replaces: str
    is_offered: bool = False


def help_key(state: AppState, profile: Profile, offered: Sequence[Vent] = ()) -> str:
    """Key of what would help: the pour plan, what is to be kept clear, the cavities that are left as they are, and the
    proposals that are open."""
    asked = [(vent.id, *vent.cut) for vent in offered]
    return key_of("help", pour_key(state, profile), marks_key(state), sorted(_left_alone(state)), asked)


def is_worth_help(done: Drained, plan: Plan) -> bool:
    """Whether more than a little stays, but for cavities that are left as they are on purpose."""
    return is_much(done, plan)


def helps(
    findings: Findings,
    state: AppState,
    done: Drained,
    profile: Profile,
    progress: Progress = silent,
    offered: Sequence[Vent] = (),
) -> tuple[Help, ...]:
    """The best change for each cavity that keeps much and is not left as it is on purpose. Raises Cancelled."""
    key = help_key(state, profile, offered)
    marked, wanted = findings.keeping_clear(state.keep_clear), not_alone(done, state.plan)
    found = changes(marked, state.plan, wanted, profile, progress, offered)
    return tuple(
        Help(key, _text(one, state.plan), _deed(one), one.vents, one.replaces, one.is_offered) for one in found
    )


def take(state: AppState, profile: Profile, wanted: Help, names: Sequence[str], offered: Sequence[Vent] = ()) -> Edit:
    """The change as one edit. names: free ids, one for each vent that is added. offered: proposals that are open.
    Raises InputError if it was found for another plan."""
    if help_key(state, profile, offered) != wanted.key:
        raise InputError("This was found for another plan.", "Ask again what would help.")
    if wanted.is_offered:
        edit = edits.accept(state, *wanted.vents)
        return edit._replace(name=f"{edit.name} to drain more")
    if wanted.replaces:
        edit = edits.move(state, wanted.vents[0])
        return edit._replace(name=f"{edit.name} to drain more", coalesce_key=None)
    for vent, name in zip(wanted.vents, names, strict=True):
        edit = edits.add(state, replace(vent, id=name))
        state = edit.state
    what = f"vent {names[0]}" if len(names) == 1 else f"vents {' and '.join(names)}"
    return Edit(f"Add {what} to drain more", state)


def _text(change: Change, plan: Plan) -> str:
    """As a sentence, and what else becomes of a vent that is moved."""
    text, now = would_help(change), change.vents[0]
    for was in plan.vents:
        alike = (was.diameter_mm, was.outline, was.countersink) == (now.diameter_mm, now.outline, now.countersink)
        if was.id == change.replaces and not alike:
            text += f" It would be a plain round hole of {now.diameter_mm:g} mm there."
    return text


def _deed(change: Change) -> str:
    if change.is_offered:
        count = len(change.vents)
        return f"Accept proposal {change.vents[0].id}" if count == 1 else f"Accept these {count} proposals"
    if change.replaces:
        return f"Move vent {change.replaces}"
    return "Add this vent" if len(change.vents) == 1 else f"Add these {len(change.vents)} vents"


def _left_alone(state: AppState) -> frozenset[str]:
    return frozenset(cavity for cavity, _ in state.plan.left_alone)
