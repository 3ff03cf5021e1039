"""What is derived at once, in the window's own thread, and kept as long as what it is derived from stays the same."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

from ventplanner.plan.model import Passage, Plan, Vent

if TYPE_CHECKING:
    from ventplanner.analysis.findings import Findings
    from ventplanner.analysis.inside import Inside
    from ventplanner.app.breathing import Breathing
    from ventplanner.app.left import Left
    from ventplanner.app.outlook import Outlook
    from ventplanner.app.state import AppState
    from ventplanner.app.verdict import Verdict
    from ventplanner.ui.picture import Mesh, Picture, ShownFlow, ShownKept, ShownPrinted, ShownSections
    from ventplanner.ui.work.analyst import Analyst

T = TypeVar("T")


class Shown:
    """Outlook, things left to do, and picture; made anew only when they differ."""

    def __init__(self) -> None:
        self._made: dict[str, tuple[tuple[Hashable, ...], object, object]] = {}
        self._picture: Picture | None = None

    def outlook(self, analyst: Analyst) -> Outlook | None:
        """How the part prints with the accepted vents; None before that is known."""
        findings, preview = analyst.findings, analyst.shown_preview
        if findings is None or preview is None:
            return None

        def make() -> Outlook:
            from ventplanner.app.outlook import Outlook

            return Outlook(findings, preview)

        return self._kept("outlook", (findings, preview), make)

    def left(
        self, analyst: Analyst, state: AppState, offered: tuple[Vent, ...], joins: tuple[Passage, ...] = ()
    ) -> tuple[Left, ...]:
        """What is left to do; nothing as long as nothing is known."""
        outlook = self.outlook(analyst)
        if outlook is None:
            return ()
        proposals, looked_for = analyst.proposals, analyst.proposing.is_busy
        printing = analyst.printing
        printed = printing.found if printing.is_current else None
        ways = {v.id: way for v in state.plan.vents if (way := printing.way_out(v)) is not None} if printed else {}

        def make() -> tuple[Left, ...]:
            from ventplanner.app.left import left_to_do

            missing = proposals.missing if proposals is not None else ()
            open_ones = None if proposals is None and looked_for else offered
            searched = proposals is not None
            told = left_to_do(outlook, state.plan, open_ones, state.set_aside, missing, searched=searched, joins=joins)
            if state.keep_clear is not None and not analyst.is_stale:
                from ventplanner.app.keeping_clear import left_kept_clear

                told = (*told, *left_kept_clear(outlook.findings, state.keep_clear, state.plan))
            if printed is None:
                return told
            from ventplanner.app.printing import left_as_printed

            return (*told, *left_as_printed(printed, state.plan, ways))

        return self._kept("left", (outlook, state, proposals, offered, looked_for, printed, tuple(ways.values())), make)

    def remarks(self, found: Breathing | None, plan: Plan) -> tuple[Left, ...]:
        """Vents that are too small for the limits of the profile."""
        if found is None:
            return ()

        def make() -> tuple[Left, ...]:
            from ventplanner.app.suction import remarks

            return remarks(found, plan)

        return self._kept("remarks", (found, plan), make)

    def at_first(self, found: Breathing | None, plan: Plan) -> str:
        """Who sucks beyond the limit until its first hole is whole: a clause; "" if nobody does."""
        if found is None:
            return ""

        def make() -> str:
            from ventplanner.app.suction import at_first

            return at_first(found, plan)

        return self._kept("at first", (found, plan), make)

    def worth_a_look(self, inside: Inside | None) -> tuple[Left, ...]:
        """The remark about the inside of the part."""
        if inside is None:
            return ()

        def make() -> tuple[Left, ...]:
            from ventplanner.app.looking_inside import worth_a_look

            return worth_a_look(inside)

        return self._kept("inside", (inside,), make)

    def _supports(self, findings: Findings) -> Mesh | None:
        """Supports from a second file, in build axes."""
        obstacles = findings.obstacles
        if obstacles is None:
            return None

        def make() -> Mesh:
            from ventplanner.ui.picture import Mesh

            turn = findings.scene.frame.rotation.tobytes().hex()
            return Mesh(f"{obstacles.supports.digest} {turn}", obstacles.vertices, obstacles.faces)

        return self._kept("supports", (obstacles,), make)

    def verdict(self, analyst: Analyst, state: AppState) -> Verdict | None:
        """The whole part in one sentence; None as long as nothing is known."""
        outlook = self.outlook(analyst)
        if outlook is None or analyst.is_stale:
            return None

        def make() -> Verdict:
            from ventplanner.app.verdict import verdict

            return verdict(outlook, state.plan)

        return self._kept("verdict", (outlook, state.plan), make)

    def picture(
        self,
        analyst: Analyst,
        state: AppState,
        offered: tuple[Vent, ...],
        selected: str,
        bare: Picture | None,
        joins: tuple[Passage, ...] = (),
        kept: ShownKept | None = None,
        sections: ShownSections | None = None,
    ) -> Picture | None:
        """The picture; `bare` (the part alone) before anything is found."""
        outlook, drawn = self.outlook(analyst), analyst.backdrop
        halted = analyst.interrupted is not None and analyst.is_stale
        if outlook is None or drawn is None:
            return self._kept("bare", (bare, halted), lambda: None if bare is None else replace(bare, halted=halted))
        drilled: Mesh | None = analyst.drilled
        supports = self._supports(outlook.findings)
        flow = self._flow(analyst)
        coming = analyst.is_flow_coming
        printed, printed_coming = self._printed(analyst), analyst.is_stale or analyst.printed_flow.is_busy

        def make() -> Picture:
            from ventplanner.ui.picturing import picture

            self._picture = picture(
                drawn,
                outlook,
                state.plan,
                (*offered, *joins),
                drilled=drilled,
                selected=selected,
                stale=analyst.is_stale,
                before=self._picture,
            )
            more = replace(self._picture, halted=halted, flow=flow, flow_coming=coming)
            more = replace(more, printed=printed, printed_coming=printed_coming)
            self._picture = replace(more, supports=supports, kept=kept, sections=sections)
            return self._picture

        known = (outlook, drawn, state, analyst.proposals, offered, drilled)
        shown = (*known, selected, analyst.is_stale, halted, flow, coming)
        return self._kept("picture", (*shown, printed, printed_coming, supports, kept, sections), make)

    def _flow(self, analyst: Analyst) -> ShownFlow | None:
        found = analyst.breathing.found
        if found is None:
            return None

        def make() -> ShownFlow:
            from ventplanner.ui.picturing import shown_flow

            return shown_flow(found)

        curves = self._kept("curves", (found,), make)
        current = analyst.breathing.is_current and not analyst.is_stale
        return self._kept("flow", (curves, current), lambda: replace(curves, current=current))

    def _printed(self, analyst: Analyst) -> ShownPrinted | None:
        """The curves as printed, once they are known of the present plan."""
        found = analyst.printed_flow.found
        if found is None or analyst.is_stale or not analyst.printed_flow.is_current:
            return None

        def make() -> ShownPrinted:
            from ventplanner.ui.picturing import shown_printed

            return shown_printed(found)

        return self._kept("printed", (found,), make)

    def forget(self) -> None:
        """Another part."""
        self._made.clear()
        self._picture = None

    def _kept(self, name: str, of: tuple[object, ...], make: Callable[[], T]) -> T:
        # Identity tells whether anything differs: all of it is immutable, and comparing states would take longer.
        key = tuple(part if isinstance(part, str | bool) else id(part) for part in of)
        known = self._made.get(name)
        if known is not None and known[0] == key:
            return known[2]  # type: ignore[return-value]  # what `make` of this name made
        made = make()
        self._made[name] = (key, of, made)  # `of` is held, so that no other object gets its id
        return made
