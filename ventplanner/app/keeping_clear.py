"""The surface that no vent may cut, as a wish of the user's: the edits of it, and what it leaves to do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ventplanner.analysis.findings import Findings
from ventplanner.app.edits import Edit
from ventplanner.app.left import Left
from ventplanner.app.state import AppState
from ventplanner.errors import InputError
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.plan.fitting import KEPT_CLEAR, tool_of_vent, tools_of_vent
from ventplanner.plan.model import Passage, Plan, Vent

DROPPED = "The surface to be kept clear is not marked any more: the part has other triangles now. Undo brings it back."


def mark(state: AppState, mask: FaceMask, name: str) -> Edit:
    """Keep these faces clear and no others, under a name for undo. Raises InputError for marks of another part."""
    if mask.faces != len(state.solid.faces):
        raise InputError("What was marked belongs to another part.", "Mark the surface of this one.")
    kept = mask if mask else None
    return Edit(name, state if kept == state.keep_clear else replace(state, keep_clear=kept))


def cut_vents(findings: Findings, mask: FaceMask | None, vents: Sequence[Vent]) -> tuple[Vent, ...]:
    """Those vents that cut the surface to be kept clear."""
    kept = findings.keeping_clear(mask).kept_clear
    if kept is None:
        return ()
    return tuple(v for v in vents if any(kept.cut_by(tool) is not None for tool in tools_of_vent(findings, v)))


def left_kept_clear(findings: Findings, mask: FaceMask | None, plan: Plan) -> tuple[Left, ...]:
    """What is left to do about accepted vents and passages in a surface that was marked after them."""
    return (
        *(Left(in_the_way(v), f"vent {v.id}") for v in cut_vents(findings, mask, plan.vents)),
        *(Left(passage_in_the_way(p), f"passage {p.id}") for p in plan.passages if cut_vents(findings, mask, p.drills)),
    )


def passage_in_the_way(passage: Passage) -> str:
    """A sentence about a passage that cuts the surface to be kept clear."""
    return f"Passage {passage.id} cuts the surface to be kept clear: remove it, or erase the mark there."


def in_the_way(vent: Vent) -> str:
    """A sentence about a vent that cuts the surface to be kept clear."""
    return f"Vent {vent.id} cuts the surface to be kept clear: move it, remove it, or erase the mark there."


def check_depth(findings: Findings, vent: Vent, beyond_mm: float) -> None:
    """Raises InputError if a vent, drilled so far beyond its wall, would cut the surface to be kept clear only then."""
    deeper = replace(vent, beyond_mm=beyond_mm)
    kept = findings.kept_clear
    if kept is None or kept.cut_by(tool_of_vent(findings, vent)) is not None:
        return
    if kept.cut_by(tool_of_vent(findings, deeper)) is not None:
        raise InputError(f"So deep, {KEPT_CLEAR}.", "Give a smaller depth.")
