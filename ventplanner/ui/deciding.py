"""What the keys for decisions do to whatever is selected: a vent or a passage, proposed or accepted."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ventplanner.ui.selection import chosen

if TYPE_CHECKING:
    from ventplanner.ui.session import Session


def accept(session: Session) -> None:
    """Accept the selected proposal; without one, select the first, so that nothing is accepted unseen."""
    if name := chosen(session, "proposal"):
        session.accept(name)
    elif name := chosen(session, "joining"):
        session.join(name)
    else:
        session.next_proposal()


def set_aside(session: Session) -> None:
    """Do not offer the selected proposal any more."""
    if name := chosen(session, "joining"):
        session.set_join_aside(name)
    else:
        session.set_aside_proposal(chosen(session, "proposal"))


def remove(session: Session) -> None:
    """Take what is selected out of the plan."""
    if name := chosen(session, "passage"):
        session.remove_passage(name)
    else:
        session.remove(chosen(session, "vent"))
