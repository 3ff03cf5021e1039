"""`propose`: vents for every cup that does not breathe, each confirmed by looking at the part again with it drilled.

Lengths and limits without a named source are own judgement.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from ventplanner.analysis.cups import Cup, Cups, State
from ventplanner.analysis.findings import Findings
from ventplanner.geometry.columns import Tool
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.options import VentRules
from ventplanner.plan import candidates, extras, hiding, widening
from ventplanner.plan.fitting import WELL_OPEN, Fit, as_vent, fit, through, tool_of_vent
from ventplanner.plan.model import NoVent, Passage, Plan, Vent
from ventplanner.plan.passage_search import Search
from ventplanner.plan.passages import Nowhere, find_passage
from ventplanner.plan.reached import free_name
from ventplanner.plan.refusal import OPENS_ANOTHER, TOO_LATE
from ventplanner.plan.spacing import clear_of
from ventplanner.progress import Progress, silent

SMALLER_MM = (5.0, 4.0, 3.0, 2.5, 2.0, 1.5, 1.2, 1.0)
"""Diameters that are tried when the asked one does not fit, largest first."""

TRIES = 30
"""Best ways that are fitted exactly for one cup and diameter."""

ENOUGH_HALF_BLOCKED = 10
"""After so many holes that run half into a floor, a better one is not to be expected: the cup is narrow there."""

WORTH_A_SMALLER_DRILL, STILL_LARGE = 0.4, 0.6
"""A hole blocked by more than this share gives way to a smaller one that is not, down to this share of the diameter."""

NEXT_TO_NOTHING_MM = 0.1

NO_PLACE_LEFT = "no place for a vent is outside the surface that is to be kept clear"


@dataclass
class _Work:
    """What is decided so far. The only mutable thing here; it never leaves `propose`."""

    findings: Findings
    rules: VentRules
    fits: list[Fit] = field(default_factory=list)
    vents: list[Vent] = field(default_factory=list)
    missing: list[NoVent] = field(default_factory=list)
    passages: list[Passage] = field(default_factory=list)

    @property
    def tools(self) -> tuple[Tool, ...]:
        inside = tuple(tool_of_vent(self.findings, d) for passage in self.passages for d in passage.drills)
        return (*(f.tool for f in self.fits), *inside)

    def accept(self, fit: Fit, kind: str, cavity: str, cup: str, reason: str) -> None:
        self.fits.append(fit)
        self.vents.append(as_vent(self.findings, fit, str(len(self.vents) + 1), (cavity, cup, kind), reason))


def propose(
    findings: Findings,
    rules: VentRules | None = None,
    *,
    keep_clear: FaceMask | None = None,
    progress: Progress = silent,
) -> Plan:
    """Propose vents until every cup above the filter breathes, or say why one does not.

    Cups are taken from the plate upwards. For each: an existing opening just too high is widened, else the way with
    the least height lost and wall (see `candidates`) that fits exactly, cuts one wall once, and with which the
    re-analysed part shows the cup breathing. Then cavities with fewer openings than asked get more, where they give
    the most height between openings. No vent cuts a face of `keep_clear`, nor what the findings keep clear already.
    Deterministic.

    With `rules.prefer` above 0 all vents are then moved to where being hidden and breathing well weigh so (see
    `hiding.hidden`).
    """
    rules = rules or VentRules()
    if keep_clear is not None:
        findings = findings.keeping_clear(keep_clear)
    usual = _usual(findings, rules, progress)
    return hiding.hidden(findings, rules, usual, progress) if rules.prefer > 0.0 else usual


def _usual(findings: Findings, rules: VentRules, progress: Progress) -> Plan:
    """Vents where the part breathes best."""
    work = _Work(findings, rules)
    given_up: set[tuple[float, ...]] = set()
    current = findings.cups
    first_bad = max(1, len(_bad(findings, current)))
    while True:
        bad = [k for k in _bad(findings, current) if _place(current.cups[k]) not in given_up]
        if not bad:
            break
        progress("Proposing vents", min(0.9, 1.0 - len(bad) / (first_bad + 1)))
        number = bad[0]
        cavity, cup_name = _names(findings, current.cups[number])
        after = _joined_in_its_cavity(work, current, number, cavity, cup_name)
        if after is None:
            after = _vent_for(work, current, number, cavity, cup_name)
        if after is None:
            after = _joined_instead(work, current, number, cavity, cup_name)
        if after is None:
            given_up.add(_place(current.cups[number]))
        else:
            current = after
    for extra in extras.more_openings(findings, work.rules, tuple(work.fits), tuple(work.vents)):
        work.accept(extra.fit, extra.kind, extra.cavity, _first_cup(findings, extra.cavity), extra.reason)
    progress("Proposing vents", 1.0)
    return Plan(
        tuple(work.vents),
        tuple(work.missing),
        part=findings.part.digest,
        pose=findings.pose,
        options=findings.options,
        passages=tuple(work.passages),
    )


def _joined_in_its_cavity(work: _Work, current: Cups, number: int, cavity: str, cup: str) -> Cups | None:
    """A cup inside a cavity, joined to the rest of it where that breathes: no hole is seen outside."""
    if work.rules.passages == "off" or current.cups[number].joins_height is None:
        return None
    found = find_passage(_passage_search(work, current, number, (cavity, cup), inside=True), free_name(work.passages))
    if isinstance(found, Nowhere):
        return None
    work.passages.append(found.passage)
    return found.after


def _joined_instead(work: _Work, current: Cups, number: int, cavity: str, cup: str) -> Cups | None:
    """A passage for the cup that was just found to get no vent; if none is wanted, the one that would help is told."""
    missing = work.missing.pop()
    name = free_name((*work.passages, *(m.join for m in work.missing if m.join is not None)))
    found = find_passage(_passage_search(work, current, number, (cavity, cup)), name)
    if isinstance(found, Nowhere):
        work.missing.append(replace(missing, no_join=found.sentence))
    elif work.rules.passages == "off":
        work.missing.append(replace(missing, join=found.passage))
    else:
        work.passages.append(found.passage)
        return found.after
    return None


def _passage_search(work: _Work, current: Cups, number: int, names: tuple[str, str], *, inside: bool = False) -> Search:
    return Search(work.findings, current, number, *names, work.rules, work.tools, inside)


def _bad(findings: Findings, cups: Cups) -> list[int]:
    return [k for k, cup in enumerate(cups.cups) if cup.state(findings.options) != "breathing"]


def _place(cup: Cup) -> tuple[float, ...]:
    return tuple(np.round(cup.start, 4).tolist())


def _names(findings: Findings, cup: Cup) -> tuple[str, str]:
    """Names of the cavity and cup at a cup's start; after other vents it may be a part of the cup it was."""
    number = int(findings.cups.cup_at((cup.start + np.array([0.0, 0.0, 1e-4]))[None])[0])
    for cavity in findings.cavities:
        for found in cavity.cups:
            if found.number == number:
                return cavity.id, found.id
    return "", ""


def _first_cup(findings: Findings, cavity_id: str) -> str:
    cups = findings.cavity(cavity_id).cups
    return cups[0].id if cups else ""


@dataclass(frozen=True)
class _Found:
    """A hole for a cup, its kind and reason, and the cups with it."""

    fit: Fit
    kind: str
    reason: str
    after: Cups


def _vent_for(work: _Work, current: Cups, number: int, cavity: str, cup_name: str) -> Cups | None:
    """Place one vent for a cup; the cups as they are with it, or None, with the reason noted."""
    found = _search(work, current, number, cavity)
    if isinstance(found, _Found):
        work.accept(found.fit, found.kind, cavity, cup_name, found.reason)
        return found.after
    if work.findings.kept_clear is not None:
        # Whether it is the marked surface that leaves no place is not guessed: without it, would there be one?
        free = _search(replace(work, findings=work.findings.keeping_clear(None)), current, number, cavity)
        if isinstance(free, _Found):
            found = NO_PLACE_LEFT, _without_marks(work.findings, free.fit)
    work.missing.append(NoVent(cavity, cup_name, *found))
    return None


def _search(work: _Work, current: Cups, number: int, cavity: str) -> _Found | tuple[str, str]:
    """A hole for a cup: an opening made wider, else a new one. Or why there is none, and the closest miss."""
    cup = current.cups[number]
    wide = widening.widened(work.findings, current, number, cavity, work.rules)
    if wide is not None and clear_of(wide.fit, work.fits):
        after = _confirmed(work, wide.fit, cup, cavity)
        if isinstance(after, Cups):
            return _Found(wide.fit, "widen", wide.reason, after)
    refused: dict[str, int] = {}
    targets = candidates.targets_near_start(current.tree, current, number)
    best: tuple[Fit, Cups] | None = None
    misses = None
    for diameter in _diameters(work.rules.diameter_mm):
        if best is not None and diameter < STILL_LARGE * work.rules.diameter_mm:
            break
        ways, missed = candidates.ways_out(
            work.findings, current.tree, cup, targets, 0.5 * diameter, work.rules.longest_wall_mm
        )
        misses = misses or missed
        found = _first_that_works(work, ways, cup, cavity, 0.5 * diameter, refused)
        if found is not None and (best is None or found[0].blocked <= WELL_OPEN):
            best = found
        if not len(ways) or (best is not None and best[0].blocked <= WORTH_A_SMALLER_DRILL):
            break  # a smaller drill finds no shorter wall, and none is needed
    if best is None:
        return _why_not(misses, refused, work.rules)
    return _Found(best[0], "vent", _reason(work, *best, cup), best[1])


def _without_marks(findings: Findings, found: Fit) -> str:
    """The hole that there would be, but for the surface to be kept clear."""
    place = ", ".join(f"{x:.1f}" for x in findings.scene.frame.to_file(found.outer))
    return f"one of {2.0 * found.radius:g} mm would fit at ({place}) mm, in that surface"


def _first_that_works(
    work: _Work, ways: candidates.Ways, cup: Cup, cavity: str, radius: float, refused: dict[str, int]
) -> tuple[Fit, Cups] | None:
    """The best way whose drill fits and with which the cup breathes; half-blocked ones only if no other does."""
    half_blocked: list[Fit] = []
    for way in ways.varied(TRIES):
        about = (float(ways.inner[way]), float(ways.outer[way]))
        found = fit(work.findings, ways.origin[way], ways.direction[way], radius, about)
        reason = found if isinstance(found, str) else _objection(work, found)
        if isinstance(found, str) or reason:
            refused[reason] = refused.get(reason, 0) + 1
        elif found.blocked > WELL_OPEN:
            half_blocked.append(found)
            if len(half_blocked) == ENOUGH_HALF_BLOCKED:
                break
        elif isinstance(after := _confirmed(work, found, cup, cavity), Cups):
            return found, after
        else:
            refused[after] = refused.get(after, 0) + 1
    for found in sorted(half_blocked, key=lambda f: f.blocked):
        after = _confirmed(work, found, cup, cavity)
        if isinstance(after, Cups):
            return found, after
        refused[after] = refused.get(after, 0) + 1
    return None


def _objection(work: _Work, found: Fit) -> str:
    if found.wall > work.rules.longest_wall_mm:
        return f"the wall is longer than {work.rules.longest_wall_mm:g} mm"
    return "" if clear_of(found, work.fits) else "it would come too near another vent"


def _confirmed(work: _Work, found: Fit, cup: Cup, cavity: str) -> Cups | str:
    """The cups with one more hole, if with it this cup breathes and no other sealed cavity was opened; or why not, in a
    few words."""
    after = work.findings.scene.cups((*work.tools, found.tool))
    if _state_at(work.findings, after, cup) != "breathing":
        return TOO_LATE
    vented = {cavity, *(v.cavity for v in work.vents)}
    others = [c.cup.start for x in work.findings.cavities if x.id not in vented for c in x.cups if c.state == "sealed"]
    numbers = after.cup_at(np.array(others).reshape(-1, 3) + np.array([0.0, 0.0, 1e-4]))
    if any(k < 0 or after.cups[k].to_height is not None for k in numbers):
        return OPENS_ANOTHER
    return after


def _state_at(findings: Findings, cups: Cups, cup: Cup) -> State:
    """The state, among these cups, of what is at another cup's start."""
    number = int(cups.cup_at((cup.start + np.array([0.0, 0.0, 1e-4]))[None])[0])
    return cups.cups[number].state(findings.options) if number >= 0 else "breathing"


def _diameters(asked: float) -> tuple[float, ...]:
    return (asked, *(d for d in SMALLER_MM if d < asked - 1e-9))


def _reason(work: _Work, found: Fit, after: Cups, cup: Cup) -> str:
    tree = after.tree
    run = int(tree.runs.run_at((cup.start + np.array([0.0, 0.0, 1e-4]))[None])[0])
    opens = float(tree.opens[tree.branch_of_run[run]]) if run >= 0 else -np.inf
    lost = max(0.0, opens - cup.from_height)
    place = "at the start of the cup" if lost < NEXT_TO_NOTHING_MM else f"{lost:.1f} mm above the start of the cup"
    text = f"Opens {place}, {through(found.wall)}"
    if 2.0 * found.radius < work.rules.diameter_mm - 1e-9:
        text += f"; {work.rules.diameter_mm:g} mm does not fit there"
    return text + "."


def _why_not(misses: candidates.Misses | None, refused: dict[str, int], rules: VentRules) -> tuple[str, str]:
    """Why no vent was found (a clause), and the closest miss."""
    if misses is None:
        return "no straight way was found", ""
    listed = sorted(refused.items(), key=lambda item: (-item[1], item[0]))
    seen = dict(refused)
    too_long = f"the wall is longer than {rules.longest_wall_mm:g} mm"
    for text, count in ((too_long, misses.too_long), ("it ends in another hollow", misses.enclosed)):
        if count:
            seen[text] = seen.get(text, 0) + count
    parts = [f"{text} ({n})" for text, n in sorted(seen.items(), key=lambda item: (-item[1], item[0]))]
    reason = f"none of {misses.tried} straight ways leads through one wall to the outside"
    reason += f": {'; '.join(parts)}" if parts else ""
    if listed:
        return reason, listed[0][0]
    return (
        reason,
        f"the shortest goes through {misses.shortest_mm:.2f} mm of wall" if misses.shortest_mm is not None else "",
    )
