"""Flow and printed widths as plain data for the report: pressures in Pa, forces in N, widths in mm."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from ventplanner.analysis.rooms import FINEST_VOXELS
from ventplanner.flow.model import Flow, RoomFlow
from ventplanner.flow.sizing import speed_for
from ventplanner.plan.model import Plan
from ventplanner.printed.engine import Widths
from ventplanner.printed.model import Point, PrintedCup, PrintedOpening

Json = dict[str, Any]


def flow_json(
    before: Flow, after: Flow | None = None, printed: Flow | None = None, advice: Sequence[Json] = ()
) -> Json:
    """The key `flow` of the report: of the part as it is, with the vents of a plan, and with all as wide as printed.

    advice: how to set the printer, as plain data."""
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
        "remarks": list(remarks(before if after is None else after)),
        "advice": list(advice),
        "assumptions": list((after or before).notes),
    }
    if after is not None:
        report["cups_after"] = [_row(row) for row in after.cups]
    if printed is not None:
        report["cups_after_as_printed"] = [_row(row) for row in printed.cups]
    return report


def remarks(flow: Flow) -> tuple[str, ...]:
    """What is beyond the limits of the profile, and what would keep it, as sentences; worst first."""
    profile = flow.profile
    limit = 1000.0 * profile.suction_limit_kpa
    texts = []
    for row in flow.cups:
        name = row.cup or row.cavity or f"The hollow at {row.starts:.1f} mm"
        if row.capped and row.peak_suction >= profile.air_pressure_pa * (1.0 - 1e-9):
            how = "is closed"
            if row.cavity is None:  # the exact analysis knows no cup here: it is open, but by how little?
                how = f"has no way out wider than {2.0 * FINEST_VOXELS * flow.rooms.voxels.size:.1f} mm"
            texts.append(f"{name} {how}: it pulls up to what the air can press ({_kpa(row.peak_suction)}).")
            continue
        said, ways = [], []
        if row.peak_suction > limit:
            said.append(f"{_kpa(row.peak_suction)} at the lift")
            ways.append(f"lift at {speed_for(row.peak_suction, profile.lift_speed_mm_min, profile):.0f} mm/min")
        if row.steady_overpressure > limit:
            said.append(f"{_kpa(row.steady_overpressure)} going down")
            ways.append(
                f"lower at {speed_for(row.steady_overpressure, profile.lower_speed_mm_min, profile):.0f} mm/min"
            )
        if said:
            texts.append(f"{name}: {', '.join(said)}; {', '.join(ways)}, or make its vents wider.")
        elif row.startup_suction > limit:
            much, where = _kpa(row.startup_suction), f"{row.starts:.1f} mm"
            texts.append(
                f"{name} sucks {much} while its first vent is being printed, from {where} on: a vent lower down begins"
                " sooner."
            )
    return tuple(texts)


def _kpa(pascal: float) -> str:
    return f"{pascal / 1000:.2g} kPa" if pascal < 9950 else f"{pascal / 1000:.0f} kPa"


def printed_json(widths: Widths, to_file: Callable[[Point], Sequence[float]], plan: Plan | None = None) -> Json:
    """The key `as_printed` of the report. to_file: from build axes to those of the file. plan: of what `widths.vents`
    are the widths, vents and then legs of passages."""
    count = len(widths.vents) if plan is None else len(plan.vents)
    legs = [] if plan is None else [leg.id for passage in plan.passages for leg in passage.drills]
    inside = zip(legs, widths.vents[count:], strict=False)
    cups = {} if widths.cups is None else {"cups": [_printed_cup(cup) for cup in widths.cups]}
    return {
        "openings": [_opening(one, to_file) for one in widths.openings],
        "vents": [_opening(one, to_file) for one in widths.vents[:count]],
        **({} if plan is None else {"passages": [{"id": leg} | _opening(one, to_file) for leg, one in inside]}),
        **cups,
        "assumptions": list(widths.notes),
    }


def _opening(one: PrintedOpening, to_file: Callable[[Point], Sequence[float]]) -> Json:
    return {
        "at_mm": [_number(x) for x in to_file(one.at)],
        "nominal_mm": _number(one.nominal_mm),
        "printed_mm": _number(one.printed_mm),
        "open": one.open,
        "cause": one.cause or None,
        "taken_mm": {cause.replace(" ", "_").replace("-", "_"): _number(mm) for cause, mm in one.taken.items()},
    }


def _printed_cup(cup: PrintedCup) -> Json:
    return {
        "cavity": cup.cavity or None,
        "cup": cup.cup or None,
        "nominal_state": cup.nominal,
        "printed_state": cup.printed,
        "from_height_mm": None if cup.from_mm is None else _number(cup.from_mm),
        "to_height_mm": None if cup.to_mm is None else _number(cup.to_mm),
        "sealed_volume_mm3": _number(cup.volume_mm3),
        "peak_area_mm2": _number(cup.peak_area_mm2),
    }


def _row(row: RoomFlow) -> Json:
    return {
        "cavity": row.cavity,
        "cup": row.cup,
        "starts_height_mm": _number(row.starts),
        "peak_suction_pa": _number(row.peak_suction),
        "peak_suction_span_pa": [_number(p) for p in row.span],
        "startup_suction_pa": _number(row.startup_suction),
        "peak_overpressure_pa": _number(row.peak_overpressure),
        "steady_overpressure_pa": _number(row.steady_overpressure),
        "peak_force_n": _number(row.peak_force),
        "height_mm": _number(row.height),
        "capped": row.capped,
        "draws_air_from_height_mm": _number(row.draws_air_from) if row.draws_air else None,
        "draws_air_to_height_mm": _number(row.draws_air_to) if row.draws_air else None,
        "air_mm3": _number(row.air_mm3),
    }


def _number(value: float) -> float:
    return round(float(value), 6) + 0.0
