"""A session's part hollowed: in the worker, as one edit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

import msgspec
from PySide6.QtCore import QObject, Signal

from ventplanner.app.hollow_edit import HollowFacts, hollow_part
from ventplanner.app.state import AppState, key_of
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.hollowing.rules import HollowRules
from ventplanner.ui.journal import Journal
from ventplanner.ui.work import jobs as j
from ventplanner.ui.work.analyst import Analyse
from ventplanner.ui.work.closing import Closing
from ventplanner.ui.work.messages import HOLLOWING, HollowOrder, Part
from ventplanner.ui.work.previewing import HollowPreviews

if TYPE_CHECKING:
    from ventplanner.ui.picture import ShownSections

STAYS = "The part stays as it is"


class Hollowing(Closing):
    """Hollowing needs seconds and holds the interpreter lock at times: so it is done by the worker."""

    hollowed = Signal(object)
    """The part was hollowed: its `HollowFacts`."""

    def __init__(self, parent: QObject | None, analyse: Analyse, journal: Journal | None, workers: int) -> None:
        super().__init__(parent, analyse, journal, workers)
        self._hollow_rules = HollowRules()
        self._hollowed_as: tuple[AppState, ShownSections] | None = None
        self.hollow_previews = HollowPreviews(self)
        self._pool.done.connect(self._hollow_came)
        self._pool.failed.connect(self._not_hollowed)
        self._pool.busy_changed.connect(
            lambda: self._set_busy(j.HOLLOWING, self._pool.is_busy(HOLLOWING), cancellable=True)
        )

    @property
    def hollow_rules(self) -> HollowRules:
        """The rules that were last hollowed by; the usual ones at first."""
        return self._hollow_rules

    @property
    def sections_shown(self) -> ShownSections | None:
        """Material in each layer before and after, of a part that was hollowed and hangs as it did then."""
        state = self.state
        if state is None or self._hollowed_as is None:
            return None
        then, shown = self._hollowed_as
        return shown if state.solid is then.solid and state.pose.to_plate == then.pose.to_plate else None

    def hollow(self, rules: HollowRules, keep_solid: FaceMask | None = None) -> None:
        """Hollow the part as it hangs, but for what is under some faces; `hollowed` or `failed` tells the end."""
        self._hollow_rules = rules

        def begin() -> None:
            state = self.state
            if state is None or self._pool.is_busy(HOLLOWING):
                return
            pose = state.pose

            def order(part: Part) -> HollowOrder:
                return HollowOrder(part, pose, rules, keep_solid)

            self._pool.submit(HOLLOWING, self._hollow_key(state), state.solid, order)

        self._after_fit(begin)

    def cancel_hollowing(self) -> None:
        """Give it up."""
        self._pool.cancel(HOLLOWING)
        self.said.emit(f"Hollowing was cancelled. {STAYS}.")

    def _hollow_key(self, state: AppState) -> str:
        """What the hollow rests on: the part and how it hangs, not the vents."""
        pose = state.pose
        return f"{self._opened_count} {key_of(state.solid.digest, pose.to_plate, pose.on, pose.gap_mm)}"

    def _hollow_came(self, name: str, key: str, answer: object) -> None:
        state = self.state
        if name != HOLLOWING or state is None:
            return
        if key != self._hollow_key(state):
            self.said.emit(f"The part or how it hangs has changed meanwhile. {STAYS}.")
            return
        found = cast("dict[str, Any]", answer)
        facts = msgspec.json.decode(bytes(found["facts"]), type=HollowFacts)

        def then() -> None:
            if self.state is not None:
                self._hollowed_as = self.state, _sections(facts)
            self.hollowed.emit(facts)
            self._tell_changed()

        self._replace_part(
            found,
            lambda now, solid: hollow_part(now, solid, facts),
            lambda now: key == self._hollow_key(now),
            then,
        )

    def _not_hollowed(self, name: str, _key: str, error: object) -> None:
        if name == HOLLOWING:
            self._fail(error, "The part was not hollowed")


def _sections(facts: HollowFacts) -> ShownSections:
    import numpy as np

    from ventplanner.ui.picture import Band, ShownSections

    heights = np.asarray(facts.layer_mm * (0.5 + np.arange(len(facts.before_mm2))), dtype=np.float64)
    return ShownSections(heights, (Band("part", -1, np.array(facts.before_mm2), np.array(facts.after_mm2)),))
