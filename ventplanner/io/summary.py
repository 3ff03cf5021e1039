"""The results in words, for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from ventplanner.io.inside_report import inside_lines
from ventplanner.io.wording import WIDTH, kpa, mm, place, pressure, table, volume

Json = dict[str, Any]

CAUTIONS = (
    "Uncured resin is a skin sensitiser: nitrile gloves, changed after a splash; eye protection; fresh air, most of"
    " all when washing. Isopropanol is highly flammable.",
    "Leave the vents open: plugged, even a trace of wet resin gases off and cracks the part. Compressed air throws"
    " resin: away from people, with eye protection, never against a blocked hole.",
    "The figures are estimates for planning, not a guarantee; the safety data sheet of the resin and local rules"
    " come first.",
)


def inspection_text(report: Json) -> str:
    """What `inspect` prints."""
    flow = report.get("flow")
    suction = ["", *_flow(flow["cups"], flow, "Suction as it is:")] if flow else []
    inside = ["", *told] if (told := list(inside_lines(report["inside"])) if "inside" in report else []) else []
    lines = [*_head(report), *_found(report), *suction, *inside, "", *_left(report), "", *_assumptions(report)]
    return "\n".join(lines)


def venting_text(report: Json, out: str, plan: str | None = None) -> str:
    """What `vent` prints; `out` and `plan` are the files it wrote."""
    lines = [*_head(report), *_found(report), "", *_vents(report["vents"], report["passages"])]
    lines += [*_printed(report.get("as_printed"), report["vents"])]
    lines += ["", "The written file, read again:", "", *_cavities(report["cavities_after"])]
    flow = report.get("flow")
    if flow:
        lines += ["", *_flow(flow["cups_after"], flow, "Suction with the vents:")]
    lines += ["", *_left(report), "", *_assumptions(report), "", *_section("Mind:", CAUTIONS)]
    lines += ["", f"Verified and written: {out}"] + ([f"Plan saved: {plan}"] if plan else [])
    return "\n".join(lines)


def _head(report: Json) -> Iterator[str]:
    from ventplanner.analysis.findings import OVERLAPPING_SKINS  # loaded by now: there is a report

    part, pose = report["part"], report["pose"]
    low, high = part["bounds_mm"]
    size = " x ".join(mm(b - a) for a, b in zip(low, high, strict=True))
    name = " ".join(Path(report["file"]).name.split()) or "Part"
    yield f"{name}: {size} mm, {part['triangles']:,} triangles, {volume(part['volume_mm3'])} of resin"
    direction = ",".join(f"{x:g}" for x in pose["to_plate"])
    held = "lies flat on the plate" if pose["on"] == "plate" else f"hangs on supports, {pose['gap_mm']:g} mm from it"
    yield f"Direction {direction} of the file points at the plate; the part {held}."
    for note in part["health"]:
        which = "" if note["count"] == 1 else "one of them "
        where = "" if note["at_mm"] is None else f", {which}at {place(note['at_mm'])}"
        way_out = "; ventplanner mend makes them one" if note["what"] == OVERLAPPING_SKINS else ""
        yield f"Mesh: {note['what']}: {note['count']}{where}{way_out}"


def _found(report: Json) -> Iterator[str]:
    """Cavities and cups, and what the filter left out."""
    yield ""
    yield from _cavities(report["cavities"])
    if report["cavities"]:
        yield ""
        yield "Heights count from the part's lowest point, away from the plate; places are x, y, z of the file, in mm."
        if any(cup["sealed_volume_mm3"] > 1.001 * c["volume_mm3"] for c in report["cavities"] for cup in c["cups"]):
            yield "A cavity counts up to its throat, a cup up to where it opens, so a cup can hold more."
    filtered = report["filtered"]
    if filtered["count"]:
        cups = "1 smaller cup is" if filtered["count"] == 1 else f"{filtered['count']} smaller cups are"
        together = "" if filtered["count"] == 1 else " together"
        if not report["cavities"]:
            yield ""
        yield f"{cups} below the filter, {volume(filtered['volume_mm3'])}{together}."


def _cavities(cavities: list[Json]) -> Iterator[str]:
    if not cavities:
        yield "There is no cavity and no cup above the filter."
        return
    yield from table(("Cavity", "State", "Volume", "Openings"), [_cavity(c) for c in cavities])
    cups = [_cup(cup) for cavity in cavities for cup in cavity["cups"]]
    if cups:
        yield ""
        yield from table(("Cup", "State", "Sealed from", "to", "Peak area", "Sealed", "Starts at"), cups)


def _cavity(cavity: Json) -> tuple[str, ...]:
    openings = cavity["openings"]
    widths = ", ".join(mm(o["width_mm"]) for o in openings[:6])
    more = f" and {len(openings) - 6} more" if len(openings) > 6 else ""
    return cavity["id"], cavity["state"], volume(cavity["volume_mm3"]), f"{widths} mm wide{more}" if widths else "none"


def _cup(cup: Json) -> tuple[str, ...]:
    to = cup["to_height_mm"]
    notes = [place(cup["start_mm"])]
    if cup["closed_by"] == "plate":
        notes.append("closed by the plate")
    if cup["joins_height_mm"] is not None:
        notes.append(f"joins an older cup at {mm(cup['joins_height_mm'])} mm")
    return (
        cup["id"],
        cup["state"],
        f"{mm(cup['from_height_mm'])} mm",
        "the end" if to is None else f"{mm(to)} mm",
        f"{cup['peak_area_mm2']:.0f} mm2",
        volume(cup["sealed_volume_mm3"]),
        ", ".join(notes),
    )


def _vents(vents: list[Json], passages: list[Json]) -> Iterator[str]:
    if not vents and not passages:
        yield "No hole was drilled."
    if vents:
        yield from _vent_table(vents)
    if vents and passages:
        yield ""
    if passages:
        rows = [
            (p["id"], p["from_cup"] or p["from"], p["to"], *(f"{p[k]:.1f} mm" for k in _PASSAGE_MM), p["reason"])
            for p in passages
        ]
        yield from table(("Passage", "From", "To", "Wide", "Long", "Wall round it", "Why"), rows)


_PASSAGE_MM = ("diameter_mm", "length_mm", "clearance_mm")


def _vent_table(vents: list[Json]) -> Iterator[str]:
    rows = [
        (v["id"], v["kind"], v["cavity"], f"{v['diameter_mm']:g} mm", place(v["entry_mm"]), v["reason"]) for v in vents
    ]
    yield from table(("Vent", "Kind", "Into", "Wide", "On the skin at", "Why"), rows)


def _flow(cups: list[Json], flow: Json, title: str) -> Iterator[str]:
    """The suction of each cup, worst first."""
    yield title
    if not cups:
        yield "  There is no hollow that sucks."
        return
    yield from table(("Cup", "At the lift", "Or from", "Vent unfinished", "Going down", "Force", "Worst at"), [
        _flow_row(cup, flow) for cup in cups
    ])  # fmt: skip
    remarks = flow["remarks"]
    yield from (
        _section("Beyond the limit:", remarks)
        if remarks
        else (f"At the lift and going down all stay below the limit of {kpa(flow['suction_limit_pa'])}.",)
    )
    yield "Suction is an estimate, not measured."


def _flow_name(cup: Json) -> str:
    if cup["cup"]:
        return str(cup["cup"])
    where = f"at {mm(cup['starts_height_mm'])} mm"
    return f"{cup['cavity']} {where}" if cup["cavity"] else f"hollow {where}"


def _flow_row(cup: Json, flow: Json) -> tuple[str, ...]:
    air = flow["air_pressure_pa"]
    low, high = cup["peak_suction_span_pa"]
    return (
        _flow_name(cup),
        pressure(cup["peak_suction_pa"], air),
        "" if cup["capped"] or low == high else f"{kpa(low)} to {kpa(high)}",
        pressure(cup["startup_suction_pa"], air) if cup["startup_suction_pa"] > 0.0 else "none",
        pressure(cup["peak_overpressure_pa"], air),
        f"{cup['peak_force_n']:.1f} N",
        f"{mm(cup['height_mm'])} mm",
    )


def _printed(printed: Json | None, vents: list[Json]) -> Iterator[str]:
    """How wide the vents and passages print, and what took most of it."""
    if printed is None or not (holes := [*printed["vents"], *printed["passages"]]):
        return
    names = [*(vent["id"] for vent in vents), *(one["id"] for one in printed["passages"])]
    yield ""
    yield "As printed (an estimate that rests on the profile):"
    rows = []
    for name, one in zip(names, holes, strict=True):
        taken = [f"{cause.replace('_', ' ')} {much:.2f}" for cause, much in one["taken_mm"].items() if much >= 0.005]
        width = f"{one['printed_mm']:.1f} mm" if one["open"] else "closed"
        rows.append((name, f"{one['nominal_mm']:.1f} mm", width, ", ".join(taken)))
    yield from table(("Hole", "In the model", "Prints", "Taken by, in mm"), rows)


def _left(report: Json) -> Iterator[str]:
    if report["left"]:
        yield from _section("Left to do:", report["left"])
    elif report.get("flow", {}).get("remarks"):
        yield "Nothing is left to do but what is said of the suction."
    else:
        yield "Nothing is left to do."


def _assumptions(report: Json) -> Iterator[str]:
    more = [text for part in ("flow", "as_printed") for text in report.get(part, {}).get("assumptions", [])]
    yield from _section("Taken for granted:", [*report["assumptions"], *more])


def _section(title: str, sentences: Sequence[str]) -> Iterator[str]:
    yield title
    for text in sentences:
        yield from textwrap.wrap(text, WIDTH, initial_indent="  ", subsequent_indent="    ", break_long_words=False)
