"""Makes the sheet of a finished job. Every figure in it is one of the report, so sheet and JSON tell the same."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from ventplanner import __version__
from ventplanner.analysis.findings import Findings
from ventplanner.flow.model import Flow
from ventplanner.io.inches import INCH
from ventplanner.io.summary import CAUTIONS
from ventplanner.io.wording import kpa, mm, place, pressure, volume
from ventplanner.plan.model import Plan, Point, Vent
from ventplanner.sheet import views
from ventplanner.sheet.charts import before_after
from ventplanner.sheet.model import Block, Figure, Figures, Heading, Paragraph, Points, Sheet, Table, Word
from ventplanner.sheet.vent_table import rows
from ventplanner.sheet.wording import in_inches, on_paper, worded
from ventplanner.sheet_parameters import Lengths

Json = dict[str, Any]

SIDE_MM = (86.0, 78.0)
SECTION_MM = (41.0, 34.0)
CHART_MM = (86.0, 52.0)
POSE_MM = (41.0, 44.0)

SCALES: dict[Lengths, tuple[float, str]] = {"mm": (5.0, "5 mm"), "inch": (0.2 * INCH, "0.2 in")}
"""The length of the scale in a section, mm, and what stands by it."""

MOST_SECTIONS = 40
"""More are not drawn, and it is said: a page holds some twenty."""

SUCTION_FROM_KPA = 0.01
"""The suction is drawn on a logarithmic scale from here: unvented it is a thousand times more."""


@dataclass(frozen=True)
class Move:
    """One move of the pour plan in words. gravity: unit vector in the file's axes. through: ids of the vents through
    which something runs out. on_plate: it hangs on the plate still."""

    do: str
    lasts: str
    ran: str
    gravity: Point
    through: frozenset[str]
    on_plate: bool


@dataclass(frozen=True)
class Pour:
    """How the part empties, in words. stays: what stays in it in all; where: where and why. inside: of each cavity that
    can be emptied what INSIDE says; warnings: on those that cannot."""

    moves: tuple[Move, ...]
    stays: str
    where: tuple[str, ...]
    inside: tuple[tuple[str, ...], ...]
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]


INSIDE = ("Cavity", "Reached", "Fill and empty", "Blind pockets: soaking alone would take", "Light cures")
"""What a row of `Pour.inside` says."""


@dataclass(frozen=True, eq=False)
class Job:
    """What the sheet is made of. report: what `vent` reports as JSON. after: findings of the written part, read again.
    flow, flow_after: before and with the vents. written: the file of the vented part.
    pour: how it empties, if that was worked out."""

    report: Json
    findings: Findings
    plan: Plan
    after: Findings
    flow: Flow
    flow_after: Flow
    written: Path
    pour: Pour | None = None


NOTHING_LEFT = " Nothing is left to do."


def compose(job: Job, lengths: Lengths = "mm") -> Sheet:
    """The sheet, with lengths in mm or inches. Reads the written file for its digest; raises OSError if it cannot."""
    report = job.report
    blocks: list[Block] = [
        *_part(report),
        *_sides(job),
        *_holes(report),
        *_sections(job, lengths),
        *_charts(job, lengths),
    ]
    blocks += [*_printing(report), *_washing(job), *_verified(job), *_left(report)]
    name = _name(report["file"]) or "Part"
    foot = (
        f"ventplanner {__version__}. Estimates for planning, no guarantee; the resin's safety data sheet comes first."
    )
    return worded(
        Sheet(f"Vents of {name}", _pose(report), state_of(job), tuple(blocks), foot),
        in_inches if lengths == "inch" else on_paper,
    )


def state_of(job: Job) -> str:
    """The first line: what was done, and what is left."""
    report, written = job.report, _name(job.written)
    n = len(report["vents"]) + len(report["passages"])
    holes = f"{n} {'hole' if n == 1 else 'holes'} drilled, written" if n else "No hole drilled; written"
    done = f"{holes} and verified: {written}."
    if left := len(report["left"]):
        return f"{done} {left} {'thing is' if left == 1 else 'things are'} left to do."
    beyond = ["the suction"] if report.get("flow", {}).get("remarks") else []
    beyond += ["the draining"] if job.pour is not None and job.pour.warnings else []
    return (
        f"{done} Nothing is left to do but what is said of {' and '.join(beyond)}." if beyond else done + NOTHING_LEFT
    )


def _name(path: str | Path) -> str:
    """The last part of a path on one line; what is no letter in the names of the system becomes a question mark."""
    return " ".join(Path(path).name.encode(errors="replace").decode().split())


def _direction(way: Sequence[float]) -> str:
    """As it is typed, with true minus signs."""
    return "(" + ", ".join(f"{round(x, 4) + 0.0:g}" for x in way).replace("-", "−") + ")"


def _pose(report: Json) -> str:
    pose = report["pose"]
    direction = _direction(pose["to_plate"])
    held = "flat on the plate" if pose["on"] == "plate" else f"on supports, {pose['gap_mm']:g} mm from the plate"
    return f"Direction {direction} of the file points at the plate; {held}."


def _part(report: Json) -> Iterator[Block]:
    part = report["part"]
    low, high = part["bounds_mm"]
    size = " × ".join(mm(b - a) for a, b in zip(low, high, strict=True))
    yield Heading("Part")
    yield Paragraph(f"{size} mm, {part['triangles']:,} triangles, {volume(part['volume_mm3'])} of resin.")
    if part["health"]:
        yield Paragraph(f"The mesh has {', '.join(_note(note) for note in part['health'])}.")
    header = ("Cavity", "Volume", "As it came", "With the vents", "Openings now")
    after = {c["id"]: c for c in report["cavities_after"]}
    cells = []
    for cavity in report["cavities"]:
        now = after.get(cavity["id"])
        widths = ", ".join(mm(o["width_mm"]) for o in now["openings"][:8]) if now else ""
        state = now["state"] if now else "joined to another, or open all round"
        opened = f"{widths} mm wide" if widths else "none" if now else ""
        cells.append((cavity["id"], volume(cavity["volume_mm3"]), cavity["state"], state, opened))
    if cells:
        yield Table(header, tuple(cells), frozenset({1}), frozenset({4}))
    else:
        yield Paragraph("There is no cavity and no cup above the filter.")


def _note(note: Json) -> str:
    at = (
        "" if note["at_mm"] is None else f", {'' if note['count'] == 1 else 'one of them '}at {place(note['at_mm'])} mm"
    )
    return f"{note['what']} ({note['count']}{at})"


def _drilled(job: Job) -> tuple[Vent, ...]:
    """All holes that open on the outside."""
    outer = (p.outer for p in job.plan.passages if p.outer is not None)
    return (*job.plan.vents, *outer)


def _sides(job: Job) -> Iterator[Block]:
    frame = job.findings.scene.frame
    holes = views.mouths(_drilled(job), frame)
    figures = views.sides(job.after.scene, holes, *SIDE_MM)
    front = _direction(frame.direction_to_file(np.array([0.0, -1.0, 0.0])).tolist())
    told = f"The part stands with the plate side down; its front is the side in the direction {front} of the file."
    yield Heading("Where the vents are" if holes else "What it looks like", told)
    yield Figures(figures)
    seen = {shape.text for figure in figures for shape in figure.shapes if isinstance(shape, Word)}
    hidden = [h.name for h in holes if h.name not in seen]
    if hidden:
        whose = "its section" if len(hidden) == 1 else "their sections"
        yield Paragraph(f"Seen from none of these sides: {', '.join(hidden)}. See {whose}.", is_muted=True)


def _holes(report: Json) -> Iterator[Block]:
    found = list(rows(report))
    told = "Places are x, y, z of the file in mm; tilt is between the hole and the build direction."
    yield Heading("Holes", told if found else "")
    vents = [row for row in found if row["kind"] != "passage"]
    if vents:
        header = ("No.", "Kind", "Into", "Wide", "Prints", "Wall", "Tilt", "On the skin at", "Why")
        cells = [
            (row["id"], row["kind"], row["cavity"], _wide(row), _printed(row), f"{row['wall_mm']:.1f} mm",
             f"{row['tilt_deg']:.0f}°", place((row["x_mm"], row["y_mm"], row["z_mm"])), row["reason"])
            for row in vents
        ]  # fmt: skip
        yield Table(header, tuple(cells), frozenset({3, 4, 5, 6}), frozenset({8}))
    if report["passages"]:
        header = ("Passage", "From", "To", "Wide", "Prints", "Long", "Wall round it", "Starts at", "Why")
        printed = {row["id"]: _printed(row) for row in found if row["kind"] == "passage"}
        cells = [
            (p["id"], p["from_cup"] or p["from"], p["to"], f"{p['diameter_mm']:g} mm", printed[p["id"]],
             f"{p['length_mm']:.1f} mm", f"{p['clearance_mm']:.1f} mm", place(p["start_mm"]), p["reason"])
            for p in report["passages"]
        ]  # fmt: skip
        yield Table(header, tuple(cells), frozenset({3, 4, 5, 6}), frozenset({8}))
    if not found:
        yield Paragraph("No hole was drilled.")


def _wide(row: Json) -> str:
    shape = {"round": "", "square": " square", "slot": f" slot, {row['section_length_mm'] or 0:g} long"}[row["section"]]
    sink = f", sunk to {row['sink_width_mm']:g}" if row["sink_width_mm"] else ""
    return f"{row['diameter_mm']:g} mm{shape}{sink}"


def _printed(row: Json) -> str:
    width = row["printed_mm"]
    if width is None:
        return ""
    return f"{width:.1f} mm" if width > 0.0 else "closed"


def _sections(job: Job, lengths: Lengths) -> Iterator[Block]:
    legs = [vent for vent in _drilled(job) if vent.kind in ("vent", "widen")]
    legs += [leg for passage in job.plan.passages for leg in passage.legs]
    if not legs:
        return
    frame = job.findings.scene.frame
    told = (
        "The written file, cut along each hole: material grey, the arrow shows the way in, up is away from the plate."
    )
    yield Heading("Through the walls", told)
    yield Figures(
        tuple(views.section(job.after.scene, leg, frame, SECTION_MM, SCALES[lengths]) for leg in legs[:MOST_SECTIONS])
    )
    if len(legs) > MOST_SECTIONS:
        yield Paragraph(f"{len(legs) - MOST_SECTIONS} more sections are not drawn.", is_muted=True)


def _charts(job: Job, lengths: Lengths) -> Iterator[Block]:
    report = job.report
    yield Heading("Before and after" if _drilled(job) or job.plan.passages else "While it is printed")
    if figures := _curves(job, lengths):
        yield Figures(figures)
    else:
        yield Paragraph("Nothing is sealed off at any height.")
    flow = report["flow"]
    cups = flow["cups_after"]
    if cups:
        air = flow["air_pressure_pa"]
        header = ("Cup", "Suction at the lift", "Vent unfinished", "Going down", "Force", "Worst at")
        cells = [
            (c["cup"] or c["cavity"] or f"at {mm(c['starts_height_mm'])} mm", pressure(c["peak_suction_pa"], air),
             pressure(c["startup_suction_pa"], air) if c["startup_suction_pa"] > 0.0 else "none",
             pressure(c["peak_overpressure_pa"], air), f"{c['peak_force_n']:.1f} N", f"{mm(c['height_mm'])} mm")
            for c in cups
        ]  # fmt: skip
        yield Table(header, tuple(cells), frozenset(range(1, 6)))
        if any("closed" in row for row in cells):
            yield Paragraph("Closed: there is no way in yet, so it sucks up to the pressure of the air.", is_muted=True)
    limit = f"The limit is {kpa(flow['suction_limit_pa'])}. Suction is an estimate, not measured."
    yield Paragraph(limit, is_muted=True)
    if flow["remarks"]:
        yield Points(tuple(flow["remarks"]))


def _curves(job: Job, lengths: Lengths) -> tuple[Figure, ...]:
    """The charts that show anything. What comes to less than the filter is too little to be anybody's business."""
    per, unit, square = (INCH, "in", "in²") if lengths == "inch" else (1.0, "mm", "mm²")
    along = f"build height, {unit}"
    areas = [
        (np.asarray(curve["height_mm"]) / per, np.asarray(curve["area_mm2"]) / per**2)
        for curve in (job.report["sealed_area"], job.report["sealed_area_after"])
    ]
    figures = []
    if job.report["cavities"] and max(float(a.max(initial=0.0)) for _, a in areas) > 0.0:
        figures.append(before_after("Sealed area", square, areas[0], areas[1], CHART_MM, along))
    curves = [c for c in (job.flow.curves, job.flow_after.curves) if c is not None]
    kpas = [(c.height / per, 0.001 * c.worst_suction) for c in curves]
    if len(kpas) == 2 and max(float(s.max(initial=0.0)) for _, s in kpas) > SUCTION_FROM_KPA:
        both = "Suction at the lift", "kPa", kpas[0], kpas[1], CHART_MM, along
        figures.append(before_after(*both, log_from=SUCTION_FROM_KPA))
    return tuple(figures)


def _printing(report: Json) -> Iterator[Block]:
    yield Heading("Print")
    advice = report["flow"]["advice"]
    if advice:
        settings = tuple((a["setting"], a["figure"], _sentence(a["why"])) for a in advice)
        yield Table(("Setting", "Figure", "Why"), settings, wide=frozenset({2}))
    more = [
        *report["assumptions"],
        *report["flow"]["assumptions"],
        *report.get("as_printed", {}).get("assumptions", []),
    ]
    yield Paragraph("Taken for granted:", is_muted=True)
    yield Points(tuple(more))


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


DRAINING = "Let the part drain over the vat or a tray, in several poses, until it only drips."
WASHING = (
    "Rinse the inside through the vents with clean solvent; let it run out; again with fresh solvent.",
    "Let the inside dry: no smell and no gloss is left at the vents.",
    "Cure only when the inside is clean and dry, with light into the vents if it can reach in.",
    "Leave the vents open. Cured waste and used solvent go where local rules say.",
)
SOLID = (
    "Let it drip off over the vat or a tray. There is no hollow to drain.",
    "Wash it with clean solvent; again with fresh solvent. Let it dry: no gloss is left.",
    "Cure it. Cured waste and used solvent go where local rules say.",
)
"""Common practice, no source."""


def _washing(job: Job) -> Iterator[Block]:
    pour = job.pour
    if pour is None or not job.report["cavities"]:
        yield Heading("Drain, rinse and cure", "Tick off as it is done.")
        yield Points((DRAINING, *WASHING) if job.report["cavities"] else SOLID, ticks=True)
    else:
        yield Heading("Drain", "Tick off as it is done. Each picture shows the part as it is held; down is down.")
        yield from _poured(job, pour)
        yield Heading("Rinse and cure", "Tick off as it is done.")
        yield Points(WASHING, ticks=True)
        if pour.warnings:
            yield Points(pour.warnings)
        if pour.inside:
            yield Table(INSIDE, pour.inside, frozenset({1, 2}), frozenset({3, 4}))
            told = "Reached: in a straight line from outside, by a jet, a brush or light."
            yield Paragraph(f"{told} Blind pockets: flush them with a syringe.", is_muted=True)
    yield Heading("Mind")
    # What is said of draining begins with gloves as well, and says more about them.
    yield Points(CAUTIONS if pour is None else (*pour.cautions, *CAUTIONS[1:]))


def _poured(job: Job, pour: Pour) -> Iterator[Block]:
    frame, scene = job.findings.scene.frame, job.after.scene
    holes = views.mouths(_drilled(job), frame)
    yield Figures(
        tuple(
            views.held(scene, holes, frame, move.gravity, move.through, POSE_MM, f"Step {n}", on_plate=move.on_plate)
            for n, move in enumerate(pour.moves, start=1)
        )
    )
    steps = (f"{n}. {m.do} {m.lasts} {m.ran}" for n, m in enumerate(pour.moves, start=1))
    yield Points(tuple(steps), ticks=True)
    yield Paragraph(pour.stays)
    if pour.where:
        yield Points(pour.where)


def _verified(job: Job) -> Iterator[Block]:
    yield Heading("Verified")
    digest = hashlib.sha256(job.written.read_bytes()).hexdigest()
    yield Points(
        (
            f"{_name(job.written)}, read again after it was written: every edge has two faces, what no hole touches is"
            " unchanged, and each hole removed the volume that was foretold.",
            "Two other grids of columns show the same cups breathing as the plan foretold.",
            f"SHA-256 {digest}",
            f"Made of {_name(job.report['file'])} with ventplanner {__version__}.",
        )
    )


def _left(report: Json) -> Iterator[Block]:
    if report["left"]:
        yield Heading("Left to do")
        yield Points(tuple(report["left"]), ticks=True)
