"""The vents, widenings and passages as CSV: one row for each, the figures of the report."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from typing import Any

Json = dict[str, Any]

COLUMNS = (
    "id", "kind", "cavity", "cup", "to", "x_mm", "y_mm", "z_mm", "axis_x", "axis_y", "axis_z", "diameter_mm",
    "wall_mm", "printed_mm", "tilt_deg", "section", "section_length_mm", "sink_width_mm", "sink_depth_mm", "reason",
)  # fmt: skip
"""Places and axes in the file's axes; tilt_deg: between the axis and the direction to the plate, 0 to 90."""


def to_csv(report: Json) -> str:
    """The report of `vent` as a table (RFC 4180), numbers as the JSON has them."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for row in rows(report):
        writer.writerow(["" if row[name] is None else row[name] for name in COLUMNS])
    return out.getvalue()


def rows(report: Json) -> Iterator[Json]:
    """One object for each hole: the keys of COLUMNS."""
    printed = report.get("as_printed", {})
    to_plate = report["pose"]["to_plate"]
    for vent, one in _paired(report["vents"], printed.get("vents", ())):
        section, sink = vent["section"], vent["countersink"]
        yield {
            "id": vent["id"], "kind": vent["kind"], "cavity": vent["cavity"], "cup": vent["cup"], "to": None,
            **_place(vent["entry_mm"], vent["axis"]), "diameter_mm": vent["diameter_mm"], "wall_mm": vent["wall_mm"],
            "printed_mm": one, "tilt_deg": tilt(vent["axis"], to_plate), "section": section["shape"],
            "section_length_mm": section["length_mm"], "sink_width_mm": sink["width_mm"],
            "sink_depth_mm": sink["depth_mm"], "reason": vent["reason"],
        }  # fmt: skip
    for passage, one in _paired(report["passages"], printed.get("passages", ())):
        axis = _direction(passage["start_mm"], passage["end_mm"])
        yield {
            "id": passage["id"], "kind": "passage", "cavity": passage["from"], "cup": passage["from_cup"],
            "to": passage["to"], **_place(passage["start_mm"], axis), "diameter_mm": passage["diameter_mm"],
            "wall_mm": passage["length_mm"], "printed_mm": one, "tilt_deg": tilt(axis, to_plate), "section": "round",
            "section_length_mm": None, "sink_width_mm": None, "sink_depth_mm": None, "reason": passage["reason"],
        }  # fmt: skip


def tilt(axis: Sequence[float], to_plate: Sequence[float]) -> float:
    """Degrees between an axis and the build direction, 0 (upright) to 90 (level)."""
    import math

    dot = abs(sum(a * b for a, b in zip(axis, to_plate, strict=True)))
    long = math.hypot(*axis) * math.hypot(*to_plate)
    return round(math.degrees(math.acos(min(1.0, dot / long))), 1)


def _paired(holes: Sequence[Json], printed: Sequence[Json]) -> Iterator[tuple[Json, float | None]]:
    """Each hole with its printed width, where that is known."""
    for k, hole in enumerate(holes):
        yield hole, printed[k]["printed_mm"] if k < len(printed) else None


def _place(at: Sequence[float], axis: Sequence[float]) -> Json:
    return dict(zip(("x_mm", "y_mm", "z_mm", "axis_x", "axis_y", "axis_z"), (*at, *axis), strict=True))


def _direction(a: Sequence[float], b: Sequence[float]) -> list[float]:
    import math

    long = math.dist(a, b) or 1.0
    return [round((q - p) / long, 9) for p, q in zip(a, b, strict=True)]  # as vents have theirs
