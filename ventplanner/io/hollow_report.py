"""What hollowing did, as plain data and in words. Lengths mm, areas mm2, volumes mm3, weights g."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any

from ventplanner.hollowing.hollow import Hollowed
from ventplanner.hollowing.sections import LAYER_MM

Json = dict[str, Any]


def hollow_json(done: Hollowed, density_kg_m3: float) -> Json:
    """One object of schema "ventplanner/1". density_kg_m3: of the liquid resin, for the weight that is saved."""
    largest_before, largest_after = done.sections.largest
    source = done.original.source
    return {
        "schema": "ventplanner/1",
        "file": source.path,
        "part": {
            "triangles": len(done.original.faces),
            "volume_mm3": _number(done.part_mm3),
            "unit": {"given": source.unit_given, "assumed": source.unit_assumed},
        },
        "pose": {"to_plate": list(done.pose.to_plate), "on": done.pose.on, "gap_mm": done.pose.gap_mm},
        "rules": asdict(done.rules),
        "hollows": [{"volume_mm3": _number(volume)} for volume in done.hollow_mm3],
        "too_small": done.dropped,
        "triangles_after": len(done.solid.faces),
        "saved": {
            "volume_mm3": _number(done.saved_mm3),
            "share": _number(done.saved_mm3 / done.part_mm3),
            "weight_g": _number(1e-6 * density_kg_m3 * done.saved_mm3),
            "density_kg_m3": _number(density_kg_m3),
        },
        "wall": {
            "asked_mm": _number(done.rules.wall_mm),
            "least_mm": _number(done.wall_least_mm),
            "mean_mm": _number(done.wall_mean_mm),
            "share": _number(done.wall_share),
        },
        "draining": {
            "inner_area_mm2": _number(done.inner_mm2),
            "hydraulic_mm": _number(4.0 * done.saved_mm3 / done.inner_mm2),
            "way_through_mm": None if done.rules.filling == "none" else _number(done.rules.way_through_mm),
        },
        "sections": {
            "layer_mm": LAYER_MM,
            "before_mm2": [_number(x) for x in done.sections.before],
            "after_mm2": [_number(x) for x in done.sections.after],
            "largest_before_mm2": _number(largest_before),
            "largest_after_mm2": _number(largest_after),
        },
        "grid_mm": _number(done.grid_mm),
        "memory_mb": _number(done.memory_mb),
        "assumptions": list(done.notes),
    }


def hollow_text(report: Json, out: str) -> str:
    """What `hollow` prints; `out` is the file it wrote."""
    saved, wall, sections, draining = (report[key] for key in ("saved", "wall", "sections", "draining"))
    volumes = [_volume(one["volume_mm3"]) for one in report["hollows"]]
    lines = [
        f"{report['file']}: {report['part']['triangles']} triangles, {_volume(report['part']['volume_mm3'])}.",
        "",
        f"Hollows, {len(volumes)}: {', '.join(volumes[:8])}{' and smaller ones' if len(volumes) > 8 else ''}.",
        f"Resin saved: {_volume(saved['volume_mm3'])}, {saved['weight_g']:.0f} g, {100 * saved['share']:.0f} % of the"
        " part.",
        f"Wall: {wall['asked_mm']:g} mm asked; nowhere under {_down(wall['least_mm'])} mm, {wall['mean_mm']:.3f} mm on"
        f" average where it alone decides ({100 * wall['share']:.0f} % of the inside).",
        f"Largest section: {sections['largest_before_mm2']:.0f} mm2 before, {sections['largest_after_mm2']:.0f} mm2"
        " after.",
    ]
    if draining["way_through_mm"] is not None:
        lines.append(
            f"Between the struts a ball of {draining['way_through_mm']:.1f} mm passes; resin flows as through a pipe of"
            f" {draining['hydraulic_mm']:.1f} mm (four volumes by the area of the inside)."
        )
    if report["too_small"]:
        lines.append(f"Left solid because they are too small: {report['too_small']}.")
    lines.append(f"Drawn on a grid of {report['grid_mm']:.3g} mm, with {report['memory_mb']:.0f} MB of memory at most.")
    lines += report["assumptions"]
    if report["rules"]["open_side"] == "none":
        lines += ["", "Each hollow is sealed now and needs vents: ventplanner vent " + out + " --out VENTED"]
    return "\n".join([*lines, "", f"Read again, compared and written: {out}"])


def _down(value: float) -> str:
    """Three decimals, never more than it is."""
    return f"{math.floor(1000.0 * value) / 1000.0:.3f}"


def _number(value: float) -> float:
    return round(float(value), 6) + 0.0


def _volume(mm3: float) -> str:
    return f"{mm3 / 1000.0:.1f} mL" if mm3 >= 1000.0 else f"{mm3:.0f} mm3"
