"""A session's place that is kept for comparing: its curves, in a thread, as long as nothing but its vent moves."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from ventplanner.ui.journal import Journal
from ventplanner.ui.picture import ShownKept
from ventplanner.ui.work.analyst import Analyse
from ventplanner.ui.work.elsewhere import Elsewhere
from ventplanner.ui.work.lanes import Lane

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ventplanner.app.comparing import Curves, Row
    from ventplanner.app.elsewhere import Walk
    from ventplanner.plan.model import Plan
    from ventplanner.progress import Progress

_CANNOT = "The place kept for comparing could not be worked out"


@dataclass(frozen=True, eq=False)
class Kept:
    """A place of a walk. word: what its vent is called by now. rest: key of all that must stay as it is. plan: with the
    vent there. curves: None before they are known."""

    word: str
    walk: Walk
    rest: str
    plan: Plan
    curves: Curves | None = None

    @property
    def name(self) -> str:
        """What the place is called."""
        return self.walk.name_of(self.walk.at)


class Comparing(Elsewhere):
    """Keeps one place of the vent that is walked."""

    def __init__(self, parent: QObject | None, analyse: Analyse, journal: Journal | None, workers: int) -> None:
        super().__init__(parent, analyse, journal, workers)
        self._kept: Kept | None = None
        self._to_keep = ""
        self._drawn: tuple[object, ShownKept | None] = (None, None)
        self._comparing = Lane("kept place", self, impatient=True)
        self._comparing.done.connect(lambda _, found: self._curves_came(found))
        self._comparing.failed.connect(lambda _, error: self._fail(error, _CANNOT))
        self.flow_changed.connect(self._ask_for_curves)

    @property
    def kept(self) -> Kept | None:
        """The place that is kept; None as soon as the part, the rules or another hole is another one."""
        kept, state = self._kept, self.state
        if kept is None or state is None or self.stale or self._find(kept.word) is None:
            return None
        from ventplanner.app.elsewhere import rest_key

        return kept if rest_key(state, kept.walk) == kept.rest else None

    def is_kept(self, word: str) -> bool:
        """Whether a place of this vent is kept."""
        kept = self.kept
        return kept is not None and kept.word == word

    def keep_place(self) -> None:
        """Keep the present place of the selected vent for comparing, or keep none any more. Its places are looked for
        first, if need be."""
        word, state = self.selected, self.state
        if self.is_kept(word):
            self._kept = None
            self._tell_changed()
            return
        now = self.walk_of(word)
        if now is None or state is None:
            self._to_keep = word
            self.look_for_places(word)
            return
        from ventplanner.app.elsewhere import rest_key

        plan = state.plan
        for vent in now.places[now.at].vents:
            plan = plan.with_vent(replace(vent, id=now.vent.id) if vent is now.places[now.at].vents[0] else vent)
        self._kept = Kept(word, now, rest_key(state, now), plan)
        self._ask_for_curves()
        self._tell_changed()

    def compared(self, word: str) -> Iterator[Row]:
        """The figures of the kept place and of the present one; nothing where there are no two."""
        kept, now = self.kept, self.walk_of(word)
        if kept is None or now is None or kept.word != word or self._is_there_now(kept):
            return
        from ventplanner.app.comparing import rows

        yield from rows(kept.walk.places[kept.walk.at].terms, now.places[now.at].terms)

    def _is_there_now(self, kept: Kept) -> bool:
        """Whether the vent stands in the place that is kept."""
        return kept.walk.is_of(self._find(kept.word), self.plan)

    @property
    def kept_shown(self) -> ShownKept | None:
        """The kept place for the chart; None before its curves are known."""
        kept = self.kept
        if kept is None or kept.curves is None:
            return None
        now = self.walk_of(kept.word)
        here = "now" if now is None else "" if self._is_there_now(kept) else f"{now.name_of(now.at)}, now"
        key = (kept, here)
        if self._drawn[0] != key:
            from ventplanner.ui.picturing import shown_kept

            self._drawn = (key, shown_kept(kept.curves, kept.walk.vent.cavity, f"{kept.name}, kept", here))
        return self._drawn[1]

    def take_place(self, word: str, at: int) -> None:
        """As before; what is kept follows its vent when that gets another name."""
        was = self._kept
        super().take_place(word, at)
        if was is not None and was.word == word != self._walked and self._walk is not None:
            named = replace(was.walk, vent=replace(was.walk.vent, id=self._walk.vent.id))
            self._kept = replace(was, word=self._walked, walk=named)
            self._tell_changed()

    def _places_came(self, word: str, found: Walk | None, rest: str) -> None:
        super()._places_came(word, found, rest)
        if self._to_keep == word and self.walk_of(word) is not None and not self._places.is_busy:
            self._to_keep = ""
            if word == self.selected:
                self.keep_place()

    def _widths_came(self, before: Walk, after: Walk) -> None:
        kept = self._kept
        if kept is not None and kept.walk.found is before.found:
            self._kept = replace(kept, walk=replace(kept.walk, found=after.found))
        super()._widths_came(before, after)

    def _ask_for_curves(self) -> None:
        """Once when it is kept, and again when the flow is known."""
        kept, findings, known = self._kept, self.findings, self.breathing
        if kept is None or findings is None:
            return
        if known is not None and known.ground.findings.scene is not findings.scene:
            known = None
        if kept.curves is not None and (kept.curves.flow is not None or known is None):
            return
        plan = kept.plan

        def work(progress: Progress) -> object:
            from ventplanner.app.comparing import curves

            return kept, curves(findings, plan, known, progress)

        self._comparing.ask(f"{id(kept)} {known is not None}", work)

    def _curves_came(self, found: tuple[Kept, Curves]) -> None:
        if self._kept is not None and self._kept.plan is found[0].plan:
            self._kept = replace(self._kept, curves=found[1])
            self._tell_changed()
            self._ask_for_curves()

    def _end(self) -> None:
        self._comparing.stop()
        self._kept, self._to_keep = None, ""
        super()._end()
