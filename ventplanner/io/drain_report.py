"""How a part drains, as plain data. Lengths mm along the file's axes, volumes mm3, times s."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from ventplanner.draining.changes import Change
from ventplanner.draining.model import Drained, Step
from ventplanner.draining.reaching import Reached
from ventplanner.io.report import SCHEMA

Json = dict[str, Any]

LONGEST_S = 1e6
"""What would never be done is told as this."""


@dataclass(frozen=True)
class Words:
    """What is said of a pour plan: of each step, of each thing that stays, and as a whole."""

    moves: tuple[str, ...]
    reasons: tuple[str, ...]
    advice: tuple[str, ...]
    cautions: tuple[str, ...]
    assumptions: tuple[str, ...]


def drain_json(
    path: str | None, done: Drained, within: Sequence[Reached], changes: Sequence[Change], words: Words,
) -> Json:  # fmt: skip
    """One object of schema "ventplanner/1"."""
    return {
        "schema": SCHEMA,
        "file": path,
        "full_mm3": _number(done.full),
        "steps": [_step(step, text) for step, text in zip(done.steps, words.moves, strict=True)],
        "left_mm3": _number(done.left),
        "left_where": [
            {
                "cavity": one.cavity or None,
                "volume_mm3": _number(one.volume),
                "why": text,
                "kind": one.why,
                "at_mm": _point(one.at_mm),
            }
            for one, text in zip(done.left_where, words.reasons, strict=True)
        ],
        "film_mm3": _number(done.film),
        "at_most_mm3": _number(done.at_most),
        "inside": [_inside(one) for one in within],
        "changes": [_change(one) for one in changes],
        "advice": list(words.advice),
        "cautions": list(words.cautions),
        "assumptions": list(words.assumptions),
    }


def _inside(one: Reached) -> Json:
    return {
        "cavity": one.cavity,
        "reached_share": _number(one.share),
        "hidden_mm": None if one.hidden_mm is None else _point(one.hidden_mm),
        "pockets": [
            {"at_mm": _point(p.at_mm), "depth_mm": _number(p.depth_mm), "soak_s": _number(p.soak_s)}
            for p in one.pockets
        ],
        "rinses": one.rinses or None,
        "widest_mm": _number(one.widest_mm),
    }


def _change(one: Change) -> Json:
    return {
        "cavity": one.cavity,
        "replaces": one.replaces or None,
        "left_mm3": _number(one.left),
        "vents": [
            {
                "id": vent.id,
                "entry_mm": _point(vent.entry_mm),
                "exit_mm": _point(vent.exit_mm),
                "axis": _point(vent.axis),
                "diameter_mm": _number(vent.diameter_mm),
            }
            for vent in one.vents
        ],
    }


def _step(step: Step, text: str) -> Json:
    return {
        "how": step.how,
        "do": text,
        "gravity": _point(step.gravity),
        "wait_s": _number(step.wait_s),
        "wait_most_s": _number(step.wait_most_s),
        "left_mm3": _number(step.left),
        "out_mm3": _number(step.out),
        "ran": [
            {
                "cavity": ran.cavity,
                "through": ran.through or None,
                "to": ran.to or None,
                "volume_mm3": _number(ran.volume),
            }
            for ran in step.ran
        ],
        "pools": [
            {
                "cavity": pool.cavity or None,
                "volume_mm3": _number(pool.volume),
                "level_mm": _number(pool.level_mm),
                "depth_mm": _number(pool.depth_mm),
                "at_mm": _point(pool.at_mm),
                "spill_mm": None if pool.spill_mm is None else _number(pool.spill_mm),
                "room_mm3": None if pool.room is None else _number(pool.room),
            }
            for pool in step.pools
        ],
        "air": [{"cavity": cavity, "how": how} for cavity, how in step.air],
    }


def _point(point: Sequence[float]) -> list[float]:
    return [_number(x) for x in point]


def _number(value: float) -> float:
    return round(min(float(value), LONGEST_S), 6) if math.isinf(value) else round(float(value), 6)
