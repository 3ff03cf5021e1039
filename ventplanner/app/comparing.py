"""A place of a vent that is kept, to be compared with others: the figures of two places, and the curves with one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from ventplanner.analysis.findings import Findings
from ventplanner.app.breathing import Breathing
from ventplanner.app.outlook import Outlook
from ventplanner.flow.suction import breathe
from ventplanner.plan.model import Plan
from ventplanner.plan.score import Terms
from ventplanner.plan.venting import holes_of, tools_of
from ventplanner.progress import Progress, silent

Side = Literal["kept", "here", ""]


@dataclass(frozen=True)
class Row:
    """One figure of two places, in words, and which place is better in it ("": neither)."""

    name: str
    kept: str
    here: str
    better: Side


@dataclass(frozen=True)
class _Figure:
    """What is told of a place. factor: from the term to what is told."""

    name: str
    term: str
    unit: str
    decimals: int = 1
    factor: float = 1.0
    more_is_better: bool = False

    def told(self, value: float) -> str:
        """A value in words."""
        return f"{self.factor * value:.{self.decimals}f} {self.unit}"


_FIGURES = (
    _Figure("Opens above start", "lost_mm", "mm"),
    _Figure("To next opening", "apart_mm", "mm", more_is_better=True),
    _Figure("Stays sealed", "sealed_left_mm3", "mm3", 0),
    _Figure("Worst suction", "suction_pa", "kPa", 1, 0.001),
    _Figure("Prints wide", "printed_mm", "mm", 2, more_is_better=True),
    _Figure("Left, hanging", "left_hanging_ml", "mL"),
    _Figure("Left, standing", "left_standing_ml", "mL"),
    _Figure("Seen in views", "seen", "%", 0, 100.0),
    _Figure("Wall", "wall_mm", "mm"),
    _Figure("Free before it", "access_mm", "mm", 0, more_is_better=True),
)


def rows(kept: Terms, here: Terms) -> Iterator[Row]:
    """The figures that are known of both places. What reads the same is no better in either."""
    for figure in _FIGURES:
        a, b = (getattr(terms, figure.term) for terms in (kept, here))
        if a is None or b is None:
            continue
        texts = figure.told(a), figure.told(b)
        better: Side = "" if texts[0] == texts[1] else "kept" if (a > b) == figure.more_is_better else "here"
        yield Row(figure.name, *texts, better)


@dataclass(frozen=True, eq=False)
class Curves:
    """How a part prints and breathes with a plan. flow: None if rooms and throats are not known."""

    outlook: Outlook
    flow: Breathing | None


def curves(findings: Findings, plan: Plan, known: Breathing | None, progress: Progress = silent) -> Curves:
    """The curves with a plan. known: the flow of this part with another plan."""
    outlook = Outlook(findings, findings.scene.cups(tools_of(findings, plan)))
    if known is None or known.ground.findings.scene is not findings.scene:
        return Curves(outlook, None)
    holes = holes_of(plan, findings.scene.frame)
    after = breathe(known.ground, known.after.profile, holes, progress=progress)
    return Curves(outlook, Breathing(known.ground, known.before, after))
