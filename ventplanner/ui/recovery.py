"""The offer to go on with work that a crash interrupted."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QWidget

from ventplanner.ui.dialogs.questions import ask
from ventplanner.ui.words import count, file_name

if TYPE_CHECKING:
    from ventplanner.ui.files import Files
    from ventplanner.ui.journal import Abandoned
    from ventplanner.ui.panels.notices import Notices
    from ventplanner.ui.session import Session

MOST_OFFERED = 3


class Recovery(QObject):
    """Offers it until it is answered: to go on, not now, or to discard it, which is asked about once more."""

    def __init__(self, session: Session, files: Files, window: QWidget) -> None:
        super().__init__(window)
        self._session = session
        self._files = files
        self._window = window
        self._put_off: set[Path] = set()
        self._where: set[Notices] = set()  # the start page and the page of the part may both offer the same

    def offer(self, notices: Notices) -> None:
        """Offer what was interrupted lately: first the work on the part that is open, if there is one.

        Work on that part itself is not offered once something has been decided about it anew.
        """
        session = self._session
        found = [x for x in session.recoverable() if x.file not in self._put_off]
        own = [x for x in found if session.path and session.path in (x.entry.path, x.entry.plan_path)]
        others = [x for x in found if x not in own]
        if session.state is not None and session.is_unsaved:
            own = []
        for journal in (*own[:1], *others)[:MOST_OFFERED]:
            self._offer(notices, journal)

    def _offer(self, notices: Notices, found: Abandoned) -> None:
        self._where.add(notices)
        notices.say(
            _offered(found),
            ("Go on", partial(self._go_on, found)),
            ("Not now", partial(self._not_now, found)),
            ("Discard…", partial(self._discard, notices, found)),
        )

    def _go_on(self, found: Abandoned) -> None:
        self._take_back(found)
        self._files.leave_and(partial(self._session.recover, found))

    def _not_now(self, found: Abandoned) -> None:
        self._take_back(found)
        self._put_off.add(found.file)

    def _take_back(self, found: Abandoned) -> None:
        for notices in self._where:
            notices.take_back(_offered(found))

    def _discard(self, notices: Notices, found: Abandoned) -> None:
        accepted = f"It has {count(found.entry.vents, 'accepted vent')}, and cannot be brought back."
        title = f"Discard the interrupted work on {_name(found)}?"
        if ask(self._window, title, [accepted], "Discard it", "Keep it", safe=True) == "Discard it":
            self._take_back(found)
            found.discard()
        else:
            self._offer(notices, found)


def _offered(found: Abandoned) -> str:
    accepted = count(found.entry.vents, "vent")
    return f"The work on {_name(found)} was interrupted ({accepted} accepted). Go on with it?"


def _name(found: Abandoned) -> str:
    return file_name(found.entry.plan_path or found.entry.path) or "a part"
