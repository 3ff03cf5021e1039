"""What a look inside found, as plain data and in words."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from ventplanner.geometry.pose import BuildFrame
from ventplanner.geometry.solid import FloatArray
from ventplanner.io.wording import place

if TYPE_CHECKING:
    from ventplanner.analysis.inside import Inside  # the window reads texts beside this before it is shown

Json = dict[str, Any]

MOST = 200
"""So many of a kind are listed at most; a foam has a hundred thousand specks. `counts` tells how many there are."""

SHOWN = 4
"""So many places of a kind are named in words."""


def inside_json(inside: Inside, frame: BuildFrame) -> Json:
    """The key `inside` of the report: lengths in mm, places along the file's axes."""

    def at(point: FloatArray) -> list[float]:
        return [_number(x) for x in frame.to_file(point[None])[0]]

    limits = inside.limits
    return {
        "thin_below_mm": limits.thin_mm,
        "overhang_deg": limits.overhang_deg,
        "counts": {
            "islands": len(inside.islands),
            "ceilings": len(inside.ceilings),
            "specks": len(inside.specks),
            "thin": len(inside.thin),
        },
        "islands": [
            {
                "start_mm": at(i.start),
                "cavity": i.cavity or None,
                "from_height_mm": _number(i.from_height),
                "joins_height_mm": None if i.joins_height is None else _number(i.joins_height),
                "held_height_mm": None if i.held_height is None else _number(i.held_height),
                "start_area_mm2": _number(i.start_area),
                "peak_area_mm2": _number(i.peak_area),
                "volume_mm3": _number(i.volume),
            }
            for i in inside.islands[:MOST]
        ],
        "ceilings": [
            {
                "cavity": c.cavity,
                "at_mm": at(c.at),
                "from_height_mm": _number(c.from_height),
                "to_height_mm": _number(c.to_height),
                "area_mm2": _number(c.area),
                "steepness_deg": _number(c.steepness_deg),
            }
            for c in inside.ceilings[:MOST]
        ],
        "specks": [{"at_mm": at(s.at), "volume_mm3": _number(s.volume)} for s in inside.specks[:MOST]],
        "thin": [
            {
                "at_mm": at(t.at),
                "thickness_mm": _number(t.thickness),
                "area_mm2": _number(t.area),
                "between": [side or "outside" for side in t.between],
            }
            for t in inside.thin[:MOST]
        ],
    }


def inside_lines(inside: Json) -> Iterator[str]:
    """The same in a few lines: how many of each kind, and the places of the first. inside: `inside_json`."""
    counts = inside["counts"]
    if not any(counts.values()):
        return
    yield "Look inside (hinders nothing):"
    told = (
        ("islands", "Starts in mid-air", _island),
        ("ceilings", f"Ceiling under {inside['overhang_deg']:g} degrees", _ceiling),
        ("specks", "Speck of closed void", _speck),
        ("thin", f"Wall under {inside['thin_below_mm']:g} mm", _thin),
    )
    for kind, title, words in told:
        if not counts[kind]:
            continue
        first = sorted(inside[kind], key=lambda one: -one["volume_mm3"]) if kind == "islands" else inside[kind]
        listed = "; ".join(words(one) for one in first[:SHOWN])
        more = f"; and {counts[kind] - SHOWN} more" if counts[kind] > SHOWN else ""
        text = f"{title}, {counts[kind]}: {listed}{more}."
        yield from textwrap.wrap(text, 110, initial_indent="  ", subsequent_indent="    ", break_long_words=False)


def _island(one: Json) -> str:
    where = f" in {one['cavity']}" if one["cavity"] else ""
    held = one["held_height_mm"]
    until = "never held" if held is None else f"held from {held:.1f} mm"
    return f"{place(one['start_mm'])}{where} at {one['from_height_mm']:.1f} mm, {until}"


def _ceiling(one: Json) -> str:
    return f"{one['area_mm2']:.0f} mm2 in {one['cavity']} at {one['from_height_mm']:.1f} mm, {place(one['at_mm'])}"


def _speck(one: Json) -> str:
    return f"{one['volume_mm3']:.2g} mm3 at {place(one['at_mm'])}"


def _thin(one: Json) -> str:
    between = " and ".join(dict.fromkeys(one["between"]))
    return f"{one['thickness_mm']:.2f} mm at {place(one['at_mm'])} ({between})"


def _number(value: Any) -> float:
    return round(float(value), 6) + 0.0
