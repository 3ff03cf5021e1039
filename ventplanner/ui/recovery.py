"""The offer to go on with work that a crash interrupted."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from ventplanner.ui.words import count, file_name

if TYPE_CHECKING:
    from ventplanner.ui.journal import Abandoned
    from ventplanner.ui.panels.notices import Notices
    from ventplanner.ui.session import Session

MOST_OFFERED = 3


def offer_all(session: Session, notices: Notices) -> None:
    """Offer whatever was interrupted lately: where nothing is open yet."""
    for found in session.recoverable()[:MOST_OFFERED]:
        _offer(session, notices, found)


def offer_for_part(session: Session, notices: Notices) -> None:
    """Offer what was interrupted on the part that is open, as long as nothing was decided about it."""
    if session.state is None or session.is_unsaved:
        return
    for found in session.recoverable():
        if session.path in (found.entry.path, found.entry.plan_path):
            _offer(session, notices, found)
            return


def _offer(session: Session, notices: Notices, found: Abandoned) -> None:
    name = file_name(found.entry.plan_path or found.entry.path) or "a part"
    notices.say(
        f"The work on {name} was interrupted ({count(found.entry.vents, 'vent')} accepted). Go on with it?",
        ("Go on", partial(session.recover, found)),
        ("Discard", found.discard),
    )
