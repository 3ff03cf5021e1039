"""The places where a vent could be instead, as plain data for the report; resources/json-format.md tells the keys."""

from __future__ import annotations

from typing import Any

from ventplanner.plan.alternatives import Alternative, Alternatives
from ventplanner.plan.model import Vent
from ventplanner.plan.score import Terms

DIGITS = 6
"""Decimals that are written, as in the rest of the report."""

Json = dict[str, Any]


def alternatives_json(found: Alternatives | None) -> Json:
    """`figures` of a vent's own place and its `alternatives`; null and none where they are not known."""
    if found is None:
        return {"figures": None, "alternatives": []}
    return {"figures": figures(found.present.terms), "alternatives": [_alternative(p) for p in found.places]}


def figures(terms: Terms) -> Json:
    """What a place brings with it."""
    return {
        "lost_mm": _number(terms.lost_mm),
        "sealed_left_mm3": _number(terms.sealed_left_mm3),
        "apart_mm": _number(terms.apart_mm),
        "late": terms.late,
        "worst_suction_pa": _number(terms.suction_pa),
        "printed_mm": _number(terms.printed_mm),
        "left_hanging_ml": _number(terms.left_hanging_ml),
        "left_standing_ml": _number(terms.left_standing_ml),
        "wall_mm": _number(terms.wall_mm),
        "seen_share": _number(terms.seen),
        "access_mm": _number(terms.access_mm),
        "edge_mm": _number(terms.edge_mm),
        "bend_deg": _number(terms.bend_deg),
        "hole_gap_mm": _number(terms.gap_mm),
        "wall_beside_mm": _number(terms.thin_mm),
        "support_gap_mm": _number(terms.support_mm),
        "base_layers_mm": _number(terms.base_mm),
    }


def _alternative(place: Alternative) -> Json:
    return {
        "holes": [_hole(v) for v in place.vents],
        "figures": figures(place.terms),
        "reason": " ".join(v.reason for v in place.vents),
    }


def _hole(vent: Vent) -> Json:
    return {
        "entry_mm": [_number(x) for x in vent.entry_mm],
        "exit_mm": [_number(x) for x in vent.exit_mm],
        "axis": [round(x, 9) + 0.0 for x in vent.axis],
        "diameter_mm": _number(vent.diameter_mm),
        "wall_mm": _number(vent.wall_mm),
    }


def _number(value: float | None) -> float | None:
    return None if value is None else round(value, DIGITS) + 0.0
