"""What a search for an orientation found, as plain data. Directions along the file's axes, lengths mm, pressures Pa."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import Any

from ventplanner.geometry.pose import Pose
from ventplanner.io.report import SCHEMA
from ventplanner.orienting.model import Candidate, Map, Search
from ventplanner.parameters import GAP_MM

Json = dict[str, Any]

RULE = (
    "First come orientations in which every cup gets a vent, then those within the limit of suction; of these those"
    " with fewer vents, less sealed volume, fewer islands, less of too flat ceilings, less height."
)
"""The order of the short list, as `orienting.shortlist` has it."""


def orient_json(path: str | None, found: Search, pitch_mm: float, assumptions: Sequence[str] = ()) -> Json:
    """One object of schema "ventplanner/1"."""
    return {
        "schema": SCHEMA,
        "file": path,
        "pitch_mm": _number(pitch_mm),
        "present": candidate_json(found.present),
        "candidates": [candidate_json(one) for one in found.candidates],
        "rule": RULE,
        "map": _map(found.map),
        "assumptions": list(assumptions),
    }


def candidate_json(one: Candidate) -> Json:
    """An orientation and its figures."""
    told = {f.name: getattr(one.figures, f.name) for f in fields(one.figures)}
    return {
        "to_plate": [_number(x, 9) for x in one.pose.to_plate],
        "on": one.pose.on,
        "gap_mm": _number(one.pose.gap_mm),
        "face_mm2": _number(one.face_mm2),
        **{name: value if value is None or isinstance(value, int) else _number(value) for name, value in told.items()},
        "use": use(one.pose),
    }


def use(pose: Pose) -> str:
    """The options that take an orientation; the gap only where it is not the usual one."""
    gap = f" {GAP_MM.flag} {pose.gap_mm:g}" if pose.on == "supports" and pose.gap_mm != GAP_MM.default else ""
    return f"--to-plate {','.join(f'{_number(x, 6):.6g}' for x in pose.to_plate)} --on {pose.on}{gap}"


def _map(found: Map) -> Json:
    return {
        "to_plate": [[_number(x) for x in one] for one in found.to_plate],
        **{name: [_number(x) for x in values] for name, values in found.figures.items()},
        "on_front": [int(x) for x in found.on_front],
    }


def _number(value: float, digits: int = 6) -> float:
    return round(float(value), digits) + 0.0
