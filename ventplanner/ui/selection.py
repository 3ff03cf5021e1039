"""What is selected, in words: "cavity A", "cup A1", "vent 3", "proposal 3", or nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ventplanner.app.edits import moved_away
from ventplanner.app.joining import named
from ventplanner.plan.model import Vent

if TYPE_CHECKING:
    from ventplanner.ui.session import Session


def split(selected: str) -> tuple[str, str]:
    """Kind and id; ("part", "") when nothing is selected."""
    kind, _, name = selected.partition(" ")
    return (kind, name) if name else ("part", "")


def chosen(session: Session, kind: str) -> str:
    """Id of the selected thing if it is of this kind, else ""."""
    found, name = split(session.selected)
    return name if found == kind else ""


def vent(session: Session, selected: str) -> Vent | None:
    """The vent or proposal of these words, None if there is none."""
    kind, name = split(selected)
    among = {"vent": session.plan.vents, "proposal": session.proposals}.get(kind, ())
    return next((v for v in among if v.id == name), None)


def cavity_of(session: Session, selected: str) -> str:
    """Id of the cavity that the selected thing is, or is in; "" if none."""
    kind, name = split(selected)
    if kind == "cavity":
        return name
    if kind == "cup":
        found = session.findings.cavities if session.findings is not None else ()
        return next((c.id for c in found if any(cup.id == name for cup in c.cups)), "")
    if kind in ("passage", "joining"):
        passage = named(session.plan.passages if kind == "passage" else session.joins, name)
        return "" if passage is None else passage.cavity
    found_vent = vent(session, selected)
    return found_vent.cavity if found_vent is not None else ""


def left_cup(session: Session) -> str:
    """Id of the selected cup, or of the selected cavity's only one, if its proposal was moved away or set aside."""
    state, findings = session.state, session.findings
    if state is None or findings is None:
        return ""
    kind, name = split(session.selected)
    own = next(([cup.id for cup in c.cups] for c in findings.cavities if kind == "cavity" and c.id == name), [])
    cup = name if kind == "cup" else own[0] if len(own) == 1 else ""
    offered = any(v.cup == cup for v in session.proposals)
    aside = any(v.cup == cup for v in session.set_aside)
    return cup if cup and (moved_away(state, cup) or (aside and not offered)) else ""


def last_note(session: Session, cavity: str) -> str:
    """The note that a cavity had when it was last left as it is: it is there again when it is to be left once more."""
    return next((note for name, note in session.notes if name == cavity), "")


def place_word(session: Session) -> str:
    """What is selected as far as the view has a place for it: a vent, a proposal or a cavity; "" for nothing."""
    kind, _ = split(session.selected)
    if kind in ("vent", "proposal", "passage", "joining"):
        return session.selected
    cavity = cavity_of(session, session.selected)
    return f"cavity {cavity}" if cavity else ""
