"""The results as plain data: one JSON object for programs (schema "ventplanner/1").

Lengths are mm along the file's axes; `*_height_mm` are build heights, 0 at the part's lowest point in the pose and
growing away from the plate.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from ventplanner.analysis.cavities import Cavity, FoundCup
from ventplanner.analysis.cups import SealedArea
from ventplanner.analysis.findings import Findings, sentence
from ventplanner.analysis.inside import Inside
from ventplanner.flow.model import Flow
from ventplanner.geometry.outline import Outline, turn_of
from ventplanner.geometry.pose import BuildFrame
from ventplanner.io.alternatives_json import alternatives_json
from ventplanner.io.flow_report import flow_json, printed_json
from ventplanner.io.inside_report import inside_json
from ventplanner.plan.alternatives import Alternatives
from ventplanner.plan.model import NoVent, Passage, Plan, Vent
from ventplanner.printed.engine import Widths

SCHEMA = "ventplanner/1"
DIGITS = 6
"""Decimals of a mm that are written: a nanometre, far below what any of it means, and no 0.30000000000000004."""

Json = dict[str, Any]


def inspection(
    findings: Findings,
    flow: Flow | None = None,
    printed: Widths | None = None,
    advice: Sequence[Json] = (),
    inside: Inside | None = None,
) -> Json:
    """What `inspect` reports. flow: of the part as it is; printed: its openings; inside: islands and the like; without
    them they are not told.

    advice: how to set the printer, as plain data."""
    solid, scene = findings.solid, findings.scene
    source = solid.source
    return {
        "schema": SCHEMA,
        "file": source.path,
        "part": {
            "triangles": len(solid.faces),
            "volume_mm3": _number(findings.volume),
            "bounds_mm": [_point(corner) for corner in solid.bounds],
            "unit": {"given": source.unit_given, "assumed": source.unit_assumed},
            "health": [
                {"what": n.what, "count": n.count, "at_mm": None if n.at_mm is None else _point(n.at_mm)}
                for n in findings.health
            ],
        },
        "pose": {
            "to_plate": _point(findings.pose.to_plate),
            "on": findings.pose.on,
            "gap_mm": _number(findings.pose.gap_mm),
        },
        "pitch_mm": _number(scene.resolution.pitch_mm),
        "filtered": {"count": findings.cups.filtered_count, "volume_mm3": _number(findings.cups.filtered_volume)},
        "assumptions": list(assumptions(findings)),
        "keep_clear": _kept_clear(findings),
        "cavities": [_cavity(c, scene.frame) for c in findings.cavities],
        "sealed_area": _curve(findings.cups.sealed_area),
        "left": list(findings.left),
        **({} if flow is None else {"flow": flow_json(flow, advice=advice)}),
        **({} if printed is None else {"as_printed": _printed(printed, scene.frame)}),
        **({} if inside is None else {"inside": inside_json(inside, scene.frame)}),
    }


def venting(
    findings: Findings,
    plan: Plan,
    after: Findings,
    left: tuple[str, ...],
    verified: bool,
    flow: tuple[Flow, Flow, Flow] | None = None,
    printed: Widths | None = None,
    demands: tuple[Sequence[Json], Sequence[Json]] = ((), ()),
) -> Json:
    """What `vent` reports: the inspection of the part as it came, and the vents and the re-read part.

    flow: of the part as it came, with its vents, and with all as wide as it prints. printed: openings and vents.
    demands: what the limits ask of each vent, and how to set the printer, as plain data.
    """
    report = inspection(findings)
    report["left"] = list(left)
    report["vents"] = [_vent(v, findings.scene.frame) for v in plan.vents]
    report["passages"] = [_passage(p) for p in plan.passages]
    report["cavities_after"] = [_cavity(c, after.scene.frame) for c in after.cavities]
    report["sealed_area_after"] = _curve(after.cups.sealed_area)
    report["verified"] = verified
    if flow is not None:
        report["flow"] = flow_json(*flow, advice=demands[1]) | {"sizing": list(demands[0])}
    if printed is not None:
        report["as_printed"] = _printed(printed, findings.scene.frame, plan)
    return report


def _kept_clear(findings: Findings) -> Json:
    kept = findings.kept_clear
    if kept is None:
        return {"faces": 0, "area_mm2": 0.0}
    return {"faces": kept.mask.count, "area_mm2": _number(kept.mask.area(findings.part))}


def with_alternatives(report: Json, others: Mapping[str, Alternatives]) -> Json:
    """A report of `venting` that also tells where each vent could be instead. others: by the vents' ids."""
    return report | {"vents": [vent | alternatives_json(others.get(vent["id"])) for vent in report["vents"]]}


def _printed(widths: Widths, frame: BuildFrame, plan: Plan | None = None) -> Json:
    return printed_json(widths, lambda at: frame.to_file(np.asarray(at)).tolist(), plan)


def assumptions(findings: Findings) -> tuple[str, ...]:
    """Everything that was taken for granted, as sentences."""
    source = findings.solid.source
    unit = () if source.unit_given else (f"The file gives no unit: {source.unit_assumed} is assumed.",)
    hint = (source.unit_hint,) if source.unit_hint else ()
    bodies = findings.solid.bodies
    listed: tuple[str, ...] = ()
    if len(bodies) > 1 and not any("form one part" in note for note in source.notes):
        names = ", ".join(b.name for b in bodies[:12]) + (", …" if len(bodies) > 12 else "")
        listed = (f"{len(bodies)} bodies form one part: {names}.",)
    return (*unit, *hint, *source.notes, *listed, *findings.notes)


def left_after(plan: Plan, after: Findings) -> tuple[str, ...]:
    """What is left to do once the plan is carried out: cups without a vent and why, and whatever else is closed.

    after: of the drilled part, under the names of the plan (`ventplanner.plan.carried`).
    """
    texts = [
        f"Cup {m.cup or 'without a name'}: no vent, because {m.reason}"
        + (f"; closest miss: {m.closest}" if m.closest else "")
        + f".{_inside(m)}"
        for m in plan.missing
    ]
    explained = {m.cup for m in plan.missing}
    on_purpose = {cavity for cavity, _ in plan.left_alone}
    for cavity in after.cavities:
        bad = [c.id for c in cavity.cups if c.state != "breathing"]
        if cavity.id not in on_purpose and any(name not in explained for name in bad):
            texts.append(sentence(cavity))
    texts += [f"Cavity {cavity} is left as it is" + (f": {note}." if note else ".") for cavity, note in plan.left_alone]
    return tuple(texts)


def _inside(missing: NoVent) -> str:
    """What a passage would do for a cup without a vent, or why there is none."""
    if missing.join is not None:
        size = f"{missing.join.diameter_mm:g} mm wide and {missing.join.length_mm:.1f} mm long"
        seen = "" if missing.join.outer is None else " and on out through the skin (an extra hole that is seen)"
        return f" A passage inside to cavity {missing.join.to}{seen}, {size}, would help: --passages auto makes it."
    return f" {missing.no_join[:1].upper()}{missing.no_join[1:]}." if missing.no_join else ""


def left_as_printed(plan: Plan, widths: Widths) -> tuple[str, ...]:
    """What is left to do about vents that print closed: open in the model is not enough."""
    texts = []
    named = [(f"Vent {v.id}", v) for v in plan.vents] + [
        (f"Passage {p.id}", drill) for p in plan.passages for drill in p.drills
    ]
    for k, ((name, vent), one) in enumerate(zip(named, widths.vents, strict=False)):
        if not one.open:
            why = f" ({one.cause})" if one.cause else ""
            better = widths.would_print.get(k)
            way_out = f" {better:.1f} mm would print open there." if better else " Put it elsewhere."
            texts.append(f"{name} of {vent.diameter_mm:g} mm prints closed{why}.{way_out}")
    return tuple(texts)


def to_text(report: Json) -> str:
    """The report as JSON text in ASCII, so that any terminal and any file name will do; ValueError if a number is not
    finite."""
    return json.dumps(report, allow_nan=False, separators=(",", ":"))


def _cavity(cavity: Cavity, frame: BuildFrame) -> Json:
    return {
        "id": cavity.id,
        "state": cavity.state,
        "volume_mm3": _number(cavity.volume),
        "bounds_mm": [_point(corner) for corner in cavity.bounds],
        "openings": [
            {"at_mm": _point(frame.to_file(o.at)), "width_mm": _number(max(o.width, 0.0))} for o in cavity.openings
        ],
        "cups": [_cup(c, frame) for c in cavity.cups],
    }


def _cup(found: FoundCup, frame: BuildFrame) -> Json:
    cup = found.cup
    return {
        "id": found.id,
        "state": found.state,
        "start_mm": _point(frame.to_file(cup.start)),
        "from_height_mm": _number(cup.from_height),
        "joins_height_mm": None if cup.joins_height is None else _number(cup.joins_height),
        "to_height_mm": None if cup.to_height is None else _number(cup.to_height),
        "closed_by": cup.closed_by,
        "peak_area_mm2": _number(cup.peak_area),
        # The middle of the step with the largest area may lie a hair before the cup begins.
        "peak_height_mm": _number(max(cup.peak_height, cup.from_height)),
        "sealed_volume_mm3": _number(cup.sealed_volume),
    }


def _vent(vent: Vent, frame: BuildFrame) -> Json:
    sink = vent.countersink
    return {
        "id": vent.id,
        "cavity": vent.cavity,
        "cup": vent.cup,
        "kind": vent.kind,
        "entry_mm": _point(vent.entry_mm),
        "exit_mm": _point(vent.exit_mm),
        "axis": [round(float(x), 9) + 0.0 for x in vent.axis],
        "diameter_mm": _number(vent.diameter_mm),
        "wall_mm": _number(vent.wall_mm),
        "section": _section(vent, frame),
        "countersink": {
            "width_mm": None if sink is None else _number(sink.width_mm),
            "depth_mm": None if sink is None else _number(sink.depth_mm),
        },
        "reason": vent.reason,
    }


def _section(vent: Vent, frame: BuildFrame) -> Json:
    outline = vent.outline
    along, outwards = (frame.direction_to_build(np.asarray(way)) for way in (outline.along, vent.axis))
    x, y, z = along.tolist()
    turn = turn_of(Outline(outline.shape, outline.length_mm, (x, y, z)), -outwards)
    return {
        "shape": outline.shape,
        "length_mm": _number(outline.length_mm) if outline.shape == "slot" else None,
        "turn_deg": _number(turn),
        "along": None if outline.is_round else [round(float(x), 9) + 0.0 for x in outline.along],
    }


def _passage(passage: Passage) -> Json:
    points, outer = [_point(p) for p in passage.points_mm], passage.outer
    return {
        "id": passage.id,
        "from": passage.cavity,
        "from_cup": passage.cup,
        "to": passage.to,
        "start_mm": points[0],
        "end_mm": points[-1],
        "points_mm": points,
        "diameter_mm": _number(passage.diameter_mm),
        "length_mm": _number(passage.length_mm),
        "clearance_mm": _number(passage.clearance_mm),
        "outer_mm": None if outer is None else _point(outer.entry_mm),
        "reason": passage.reason,
    }


def _curve(curve: SealedArea) -> Json:
    return {
        "height_mm": [_number(h) for h in curve.height],
        "area_mm2": [_number(a) for a in curve.area],
    }


def _number(value: float | np.floating[Any]) -> float:
    number = float(value)
    if not math.isfinite(number):
        raise ValueError(f"{number} has no place in a report.")
    return round(number, DIGITS) + 0.0


def _point(values: Any) -> list[float]:
    return [_number(x) for x in values]
