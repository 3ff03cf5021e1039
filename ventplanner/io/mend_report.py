"""What mending did, as plain data and in words. Lengths mm, volumes mm3."""

from __future__ import annotations

from typing import Any

from ventplanner.analysis.health import HealthNote
from ventplanner.geometry.topology import topology
from ventplanner.mending.mend import Mended
from ventplanner.mending.model import Loss

Json = dict[str, Any]

_SHOWN = 3


def mend_json(done: Mended) -> Json:
    """One object of schema "ventplanner/1"."""
    source, found = done.original.source, topology(done.solid)
    return {
        "schema": "ventplanner/1",
        "file": source.path,
        "part": {
            "triangles": len(done.original.faces),
            "volume_mm3": _number(done.original.volume),
            "unit": {"given": source.unit_given, "assumed": source.unit_assumed},
        },
        "rules": {
            "tolerance_mm": _number(done.rules.tolerance_mm),
            "largest_mm": None if done.rules.largest_mm is None else _number(done.rules.largest_mm),
            "nested": done.rules.nested,
            "redraw": done.rules.redraw,
            "without": sorted(done.rules.without),
        },
        "damage": [_note(note) for note in done.before],
        "steps": [
            {
                "step": one.step,
                "what": one.what,
                "count": one.count,
                "places_mm": [[_number(x) for x in place] for place in one.places_mm],
                **_loss(one.loss),
            }
            for one in done.records
        ],
        "left": [_note(note) for note in done.left],
        "mended": {
            "triangles": len(done.solid.faces),
            "volume_mm3": _number(done.solid.volume),
            "skins": found.n_skins,
            "cavities": int((found.volume_of_skin < 0).sum()),
            "is_closed": found.is_closed and found.is_oriented,
        },
        "assumptions": list(done.notes),
    }


def mend_text(report: Json, out: str) -> str:
    """What `mend` prints; `out` is the file it wrote."""
    part, after = report["part"], report["mended"]
    lines = [f"{report['file']}: {part['triangles']} triangles."]
    lines += [f"  {note['what']}: {note['count']}{_at(note['at_mm'])}" for note in report["damage"]]
    lines += ["", "Done:" if report["steps"] else "There was nothing to mend."]
    for one in report["steps"]:
        places = " ".join(_point(place) for place in one["places_mm"][:_SHOWN])
        more = " ..." if one["count"] > _SHOWN else ""
        lines.append(f"  {one['step']}: {one['what']}: {one['count']}, at {places}{more} mm{_lost(one)}")
    lines += ["", *report["assumptions"]] if report["assumptions"] else [""]
    state = "Closed" if after["is_closed"] else "Not closed"
    lines.append(
        f"{state}: {after['triangles']} triangles, {_skins(after['skins'], after['cavities'])};"
        f" {after['volume_mm3']:.1f} mm3 of material."
    )
    lines += [f"Left: {note['what']}: {note['count']}{_at(note['at_mm'])}" for note in report["left"]]
    return "\n".join([*lines, "", f"Read again, compared and written: {out}"])


def _skins(count: int, cavities: int) -> str:
    return f"{count} skin{'s' * (count != 1)}" + (f", {cavities} of them of cavities" if count > 1 else "")


def _note(note: HealthNote) -> Json:
    return {"what": note.what, "count": note.count, "at_mm": [_number(x) for x in note.at_mm] if note.at_mm else None}


def _loss(loss: Loss | None) -> Json:
    return {
        "distance_mm": None if loss is None else _number(loss.distance_mm),
        "volume_mm3": None if loss is None or loss.volume_mm3 is None else _number(loss.volume_mm3),
        "detail_mm": None if loss is None or loss.detail_mm is None else _number(loss.detail_mm),
        "doubt_mm3": None if loss is None or loss.detail_mm is None else _number(loss.doubt_mm3),
    }


def _lost(step: Json) -> str:
    """The end of a line about a surface that was drawn anew."""
    if step["distance_mm"] is None:
        return ""
    told = f"; nowhere more than {step['distance_mm']:.2g} mm off"
    if step["volume_mm3"] is not None:
        told += f", {step['volume_mm3']:+.2g} mm3"
    if step["detail_mm"] is not None:
        told += f", what is finer than {step['detail_mm']:.2g} mm may be gone"
    return told + (
        f", about {step['doubt_mm3']:.2g} mm3 more or less by how gaps are spanned" if step["doubt_mm3"] else ""
    )


def _at(place: list[float] | None) -> str:
    return f", one at {_point(place)} mm" if place else ""


def _point(place: list[float]) -> str:
    return f"({', '.join(f'{x:.4g}' for x in place)})"


def _number(value: float) -> float:
    return round(float(value), 6) + 0.0
