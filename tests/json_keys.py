"""The documented keys of the JSON, and how to list those of a report."""

from __future__ import annotations

from typing import Any

_CUP = (
    "id", "state", "start_mm", "from_height_mm", "joins_height_mm", "to_height_mm", "closed_by", "peak_area_mm2",
    "peak_height_mm", "sealed_volume_mm3",
)  # fmt: skip
_CAVITY = ("id", "state", "volume_mm3", "bounds_mm")
_VENT = ("id", "cavity", "cup", "kind", "entry_mm", "exit_mm", "axis", "diameter_mm", "wall_mm", "reason")
_AREA = ("height_mm", "area_mm2")

KEYS = {
    "schema", "file", "part.triangles", "part.volume_mm3", "part.bounds_mm", "part.unit.given", "part.unit.assumed",
    "part.health", "pose.to_plate", "pose.on", "pose.gap_mm", "pitch_mm", "filtered.count", "filtered.volume_mm3",
    "assumptions", "left", "verified",
    *(f"cavities.{k}" for k in (*_CAVITY, "openings", *(f"cups.{c}" for c in _CUP))),
    *(f"cavities_after.{k}" for k in (*_CAVITY, "openings.at_mm", "openings.width_mm", "cups")),
    *(f"{k}.{a}" for k in ("sealed_area", "sealed_area_after") for a in _AREA),
    *(f"vents.{k}" for k in _VENT),
}  # fmt: skip
"""Of a vented part that had one sealed cavity and has no cup left."""


def keys_of(value: Any, prefix: str = "") -> set[str]:
    """Dotted names of all leaves; a list of objects counts as one object."""
    if isinstance(value, dict):
        return set().union(*(keys_of(v, f"{prefix}.{k}" if prefix else k) for k, v in value.items()))
    if isinstance(value, list) and value and isinstance(value[0], dict):
        return set().union(*(keys_of(v, prefix) for v in value))
    return {prefix}
