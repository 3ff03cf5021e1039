"""The job `orient`: which way up a part needs least, told in words; nothing is chosen."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass

from ventplanner.analysis.findings import Findings
from ventplanner.app.directions import in_words
from ventplanner.app.jobs import Wish, find
from ventplanner.io.orient_report import RULE, use
from ventplanner.io.report import assumptions
from ventplanner.io.wording import WIDTH, kpa, mm, table, volume
from ventplanner.orienting.model import Candidate, Search, Wanted
from ventplanner.orienting.search import search
from ventplanner.progress import Progress, silent

NOTES = (
    "Vents are those that would be proposed anew in each orientation; the vents of a saved plan are not looked at.",
    "Suction is of the vented part, once a vent is complete. Left is the resin below the lowest ways out of its"
    " cavities, hanging or plate side down, whichever is less; a plan to drain it may leave less, or more where air"
    " cannot get in (ventplanner drain).",
)


@dataclass(frozen=True, eq=False)
class Oriented:
    """A finished `orient` job. notes: what was taken for granted, sentences."""

    findings: Findings
    found: Search
    notes: tuple[str, ...]


def orient_part(wish: Wish, wanted: Wanted, progress: Progress = silent) -> Oriented:
    """Read and analyse the part of a wish, and search. Raises what `ventplanner.app.jobs.find` raises."""
    findings = find(wish, progress)
    found = search(findings, wish.rules, wish.profile, wish.limits, wanted, progress)
    return Oriented(findings, found, (*NOTES, *_about_supports(findings, found), *assumptions(findings)))


def _about_supports(findings: Findings, found: Search) -> tuple[str, ...]:
    second = findings.obstacles.supports.name if findings.obstacles is not None else ""
    names = [name for name in ("the part's own file" if found.is_bare else "", second) if name]
    if not names:
        return ()
    return (
        f"Supports in {' and '.join(names)} are made for the present orientation: they count there, and in no other.",
    )


_HEAD = ("", "Rests on", "Vents", "Suction", "Sealed", "Left", "Seen", "Islands", "Ceilings", "Height", "Section")


def orient_text(done: Oriented) -> str:
    """What `orient` prints."""
    found, path = done.found, done.findings.solid.source.path
    count, tried = len(found.candidates), len(found.map.to_plate)
    lines = [f"{path}: {tried} directions tried; {count} {'is' if count == 1 else 'are'} worked out in full."]
    if not done.findings.cavities and not any(c.figures.vents for c in found.candidates):
        lines += ["No hollow was found in it, so it needs no vent; height, section and the like still differ."]
    every = {"now": found.present, **{str(n): one for n, one in enumerate(found.candidates, start=1)}}
    lines += ["", *table(_HEAD, [_row(name, one) for name, one in every.items()]), ""]
    whole = [(name, use(one.pose), f"towards the plate: {in_words(one.pose.to_plate)}") for name, one in every.items()]
    lines += [*table(("", "To use it in other jobs", ""), whole), ""]
    for text in (f"{RULE} None is chosen for you.", *done.notes):
        lines += textwrap.wrap(text, WIDTH, break_long_words=False)
    return "\n".join(lines)


def _row(name: str, one: Candidate) -> tuple[str, ...]:
    f = one.figures
    on = f"{one.face_mm2:.0f} mm2 flat" if one.pose.on == "plate" and one.face_mm2 else one.pose.on
    vents = f"{f.vents}, {f.unserved} missing" if f.unserved else str(f.vents)
    return (
        name, on, vents, kpa(f.peak_suction_pa or 0.0), volume(f.sealed_mm3), volume(f.left_mm3 or 0.0),
        f"{100 * (f.seen or 0.0):.0f} %", str(f.islands), f"{f.overhang_mm2:.0f} mm2", f"{mm(f.height_mm)} mm",
        f"{f.largest_section_mm2:.0f} mm2",
    )  # fmt: skip
