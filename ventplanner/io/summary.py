"""The results in words, for a terminal."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

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
    return "\n".join((*_head(report), *_cavities(report["cavities"]), *_rest(report)))


def venting_text(report: Json, out: str) -> str:
    """What `vent` prints."""
    lines = [*_head(report), *_cavities(report["cavities"]), *_vents(report["vents"])]
    lines += ["", "As written, read again:", *_cavities(report["cavities_after"]), *_rest(report)]
    lines += ["", f"Verified and written: {out}", "", "Mind:"] + [f"  {text}" for text in CAUTIONS]
    return "\n".join(lines)


def _head(report: Json) -> Iterator[str]:
    part, pose = report["part"], report["pose"]
    low, high = part["bounds_mm"]
    size = " x ".join(f"{b - a:.1f}" for a, b in zip(low, high, strict=True))
    resin = _volume(part["volume_mm3"])
    yield f"{Path(report['file']).name}: {size} mm, {part['triangles']:,} triangles, {resin} of resin"
    direction = ",".join(f"{x:g}" for x in pose["to_plate"])
    held = "flat on the plate" if pose["on"] == "plate" else f"on supports, {pose['gap_mm']:g} mm from the plate"
    yield f"Hangs {held}; {direction} of the file points at the plate."
    for note in part["health"]:
        place = "" if note["at_mm"] is None else " near " + _place(note["at_mm"])
        yield f"Mesh: {note['what']}, {note['count']}{place}."


def _cavities(cavities: list[Json]) -> Iterator[str]:
    if not cavities:
        yield "No cavity and no cup above the filter."
    for cavity in cavities:
        widths = ", ".join(f"{o['width_mm']:.1f}" for o in cavity["openings"][:6])
        more = ", …" if len(cavity["openings"]) > 6 else ""
        opening = f"; openings {widths}{more} mm wide" if widths else ""
        yield f"{cavity['id']:<3} {cavity['state']:<9} {_volume(cavity['volume_mm3'])}{opening}"
        for cup in cavity["cups"]:
            yield f"    {cup['id']:<4} {_cup(cup)}"


def _cup(cup: Json) -> str:
    to = cup["to_height_mm"]
    until = "for good" if to is None else f"to {to:.1f} mm"
    by = " by the plate" if cup["closed_by"] == "plate" else ""
    text = f"{cup['state']}: closed{by} from {cup['from_height_mm']:.1f} mm {until}"
    text += f", at most {cup['peak_area_mm2']:.0f} mm2, {_volume(cup['sealed_volume_mm3'])}"
    if cup["joins_height_mm"] is not None:
        text += f"; joins an older cup at {cup['joins_height_mm']:.1f} mm"
    return f"{text}; starts at {_place(cup['start_mm'])}"


def _vents(vents: list[Json]) -> Iterator[str]:
    yield ""
    yield "Vents:" if vents else "No vent was needed."
    for vent in vents:
        kind = "widen" if vent["kind"] == "widen" else "vent"
        yield (
            f"{vent['id']:<3} {kind:<6}{vent['diameter_mm']:g} mm into {vent['cavity']} at {_place(vent['entry_mm'])}:"
            f" {vent['reason']}"
        )


def _rest(report: Json) -> Iterator[str]:
    filtered = report["filtered"]
    if filtered["count"]:
        noun = "cup" if filtered["count"] == 1 else "cups"
        yield f"{filtered['count']} {noun} below the filter left out, {filtered['volume_mm3']:.1f} mm3 together."
    yield ""
    yield "Left to do:" if report["left"] else "Nothing is left to do."
    for text in report["left"]:
        yield f"  {text}"
    yield ""
    yield "Taken for granted:"
    for text in report["assumptions"]:
        yield f"  {text}"


def _volume(mm3: float) -> str:
    return f"{mm3 / 1000:.1f} mL" if mm3 >= 1000 else f"{mm3:.0f} mm3"


def _place(point: list[float]) -> str:
    return "(" + ", ".join(f"{x:.1f}" for x in point) + ")"
