"""The rows of the cavity tree as plain data: what is shown, in which order, under which word."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from ventplanner.app.routes import in_short
from ventplanner.plan.model import Passage, Vent
from ventplanner.plan.reached import routes as routes_of
from ventplanner.ui.units import diameter, section
from ventplanner.ui.words import STATE_WORDS, count, left_words, mm, volume

if TYPE_CHECKING:
    from ventplanner.analysis.cavities import Cavity
    from ventplanner.ui.session import Session

Kind = Literal["cavity", "cup", "vent"]


@dataclass(frozen=True)
class Row:
    """`word` is what a click selects, as in `Picture.selected`. `mark` is what its symbol shows, `state` its word.

    short: the title where there is little room; "" if it has no shorter form.
    """

    word: str
    kind: Kind
    badge: str
    colour: int
    title: str
    detail: str
    mark: str
    state: str
    children: tuple[Row, ...] = ()
    short: str = ""

    @property
    def spoken(self) -> str:
        """The row for a screen reader."""
        name = self.word[:1].upper() + self.word[1:]
        return ", ".join(text for text in (name, self.title, self.detail, self.state) if text)


def rows(session: Session) -> tuple[Row, ...]:
    """A row for each cavity, below it its cups (where there is more than one) and its vents."""
    findings, picture = session.findings, session.picture
    if findings is None or picture is None:
        return ()
    routes = routes_of(findings, session.plan)
    states = {c.id: ("left", left_words(c)) if c.left_alone else (c.state, "") for c in picture.cavities}
    colours = {c.id: c.colour for c in picture.cavities}
    heights = {v.word: v.entry[2] for v in picture.vents}
    # By number, whether proposed or accepted: a row keeps its place when that changes, and when a vent is dragged.
    vents: list[tuple[Vent | Passage, Row]] = []
    vents += sorted(_vents(session, heights), key=lambda pair: _numbers(pair[0].id))
    vents += sorted(_passages(session), key=lambda pair: _numbers(pair[0].id))
    return tuple(
        _cavity(
            session,
            cavity,
            colours.get(cavity.id, 0),
            states.get(cavity.id, (cavity.state, "")),
            vents,
            in_short(routes[cavity.id]),
        )
        for cavity in findings.cavities
    )


def _cavity(
    session: Session,
    cavity: Cavity,
    colour: int,
    state: tuple[str, str],
    vents: list[tuple[Vent | Passage, Row]],
    way_out: str,
) -> Row:
    own = [(vent, row) for vent, row in vents if vent.cavity == cavity.id]
    several = len(cavity.cups) > 1
    named = {cup.id for cup in cavity.cups}
    cups = [
        _cup(session, cavity, number, tuple(row for vent, row in own if vent.cup == cup.id))
        for number, cup in enumerate(cavity.cups)
    ]
    loose = [row for vent, row in own if not several or vent.cup not in named]
    starts = min((c.cup.from_height for c in cavity.cups), default=None)
    return Row(
        f"cavity {cavity.id}",
        "cavity",
        cavity.id,
        colour,
        volume(cavity.volume),
        way_out if starts is None else f"from {mm(starts)}, {way_out}",
        state[0],
        state[1] or STATE_WORDS[state[0]],
        (*(cups if several else ()), *loose),
    )


def _cup(session: Session, cavity: Cavity, number: int, vents: tuple[Row, ...]) -> Row:
    found = cavity.cups[number]
    state = state_of_cup(session, cavity, number)
    title = f"from {mm(found.cup.from_height)}"
    return Row(f"cup {found.id}", "cup", found.id, 0, title, "", state, STATE_WORDS[state], vents)


def state_of_cup(session: Session, cavity: Cavity, number: int) -> str:
    """State of a cup with the accepted vents, as far as they are computed."""
    found = cavity.cups[number]
    preview = session.preview
    if preview is None or session.findings is None:
        return found.state
    after = int(preview.cup_at(found.cup.start[None] + (0.0, 0.0, 1e-4))[0])
    return "breathing" if after < 0 else preview.cups[after].state(session.findings.options)


def _vents(session: Session, heights: dict[str, float]) -> Iterator[tuple[Vent, Row]]:
    for status, vents in (("vent", session.plan.vents), ("proposal", session.proposals)):
        for vent in vents:
            word = f"{status} {vent.id}"
            height = heights.get(word)
            where = "" if height is None else f" at {mm(height)}"
            title = f"{'wider to ' if vent.kind == 'widen' else ''}{section(vent.diameter_mm, vent.outline)}{where}"
            short = "" if height is None else f"at {mm(height)}"
            accepted = status == "vent"
            mark, state = ("accepted", "accepted") if accepted else ("proposed", "proposed")
            yield vent, Row(word, "vent", vent.id, 0, title, "", mark, state, short=short)


def _passages(session: Session) -> Iterator[tuple[Passage, Row]]:
    for kind, state, passages in (
        ("passage", "accepted", session.plan.passages),
        ("joining", "proposed", session.joins),
    ):
        for passage in passages:
            where = "" if passage.to == passage.cavity else f" to {passage.to}"
            title = f"inside{where}, {diameter(passage.diameter_mm)}"
            yield passage, Row(f"{kind} {passage.id}", "vent", passage.id, 0, title, "", state, state, short="inside")


def _numbers(vent_id: str) -> tuple[str, int]:
    """What ids are sorted by: "v2" before "v10"."""
    stem = vent_id.rstrip("0123456789")
    return stem, int(vent_id[len(stem) :] or 0)


def left_out(session: Session) -> str:
    """What the filter left out, "" if nothing."""
    findings = session.findings
    if findings is None or not findings.cups.filtered_count:
        return ""
    cups = count(findings.cups.filtered_count, "smaller cup")
    return f"{cups} below {volume(findings.options.ignore_below_mm3)} left out"
