"""The flow as plain data for the report: pressures in Pa, forces in N."""

from __future__ import annotations

from typing import Any

from ventplanner.flow.model import Flow, RoomFlow

Json = dict[str, Any]


def flow_json(before: Flow, after: Flow | None = None) -> Json:
    """The key `flow` of the report: of the part as it is, and with the vents of a plan."""
    profile = before.profile
    report: Json = {
        "profile": profile.name,
        "viscosity_mpas": _number(1000.0 * profile.viscosity_pas),
        "viscosity_span_mpas": [_number(1000.0 * v) for v in profile.viscosity_span_pas],
        "lift_speed_mm_min": profile.lift_speed_mm_min,
        "lower_speed_mm_min": profile.lower_speed_mm_min,
        "suction_limit_pa": _number(1000.0 * profile.suction_limit_kpa),
        "air_pressure_pa": _number(profile.air_pressure_pa),
        "cups": [_row(row) for row in before.cups],
        "assumptions": list((after or before).notes),
    }
    if after is not None:
        report["cups_after"] = [_row(row) for row in after.cups]
    return report


def _row(row: RoomFlow) -> Json:
    return {
        "cavity": row.cavity,
        "cup": row.cup,
        "starts_height_mm": _number(row.starts),
        "peak_suction_pa": _number(row.peak_suction),
        "peak_suction_span_pa": [_number(p) for p in row.span],
        "startup_suction_pa": _number(row.startup_suction),
        "peak_overpressure_pa": _number(row.peak_overpressure),
        "peak_force_n": _number(row.peak_force),
        "height_mm": _number(row.height),
        "capped": row.capped,
    }


def _number(value: float) -> float:
    return round(float(value), 6) + 0.0
