"""What supports from a second file stand in the way of: vents, passages, and air that has no other way."""

from __future__ import annotations

from ventplanner.analysis.findings import Findings
from ventplanner.analysis.supports import trapped
from ventplanner.app.left import Left
from ventplanner.plan.fitting import in_the_supports, tool_of_vent
from ventplanner.plan.model import Passage, Plan, Vent
from ventplanner.plan.passage_search import passage_in_the_supports
from ventplanner.plan.venting import tools_of


def blocked(findings: Findings, vents: tuple[Vent, ...]) -> tuple[tuple[str, str], ...]:
    """Vents that supports stand in the way of: the id of each, and a sentence."""
    found = []
    for vent in vents:
        why = in_the_supports(findings.obstacles, tool_of_vent(findings, vent))
        if why:
            found.append((vent.id, f"Vent {vent.id}: {why}. Move the vent, or leave out the support."))
    return tuple(found)


def blocked_passages(findings: Findings, passages: tuple[Passage, ...]) -> tuple[tuple[str, str], ...]:
    """Passages that supports stand in the way of, inside or before the way out: the id of each, and a sentence."""
    found = []
    for passage in passages:
        why = passage_in_the_supports(findings.obstacles, [tool_of_vent(findings, leg) for leg in passage.legs])
        if passage.outer is not None:
            why = why or in_the_supports(findings.obstacles, tool_of_vent(findings, passage.outer))
        if why:
            way_out = "Lay the passage elsewhere, or leave out the support"
            found.append((passage.id, f"Passage {passage.id}: {why}. {way_out}."))
    return tuple(found)


def left_by_supports(findings: Findings, plan: Plan) -> tuple[Left, ...]:
    """What is left to do because of supports: vents and passages in their way, and cups that they close."""
    if findings.obstacles is None:
        return ()
    found = [Left(text, f"vent {vent_id}") for vent_id, text in blocked(findings, plan.vents)]
    found += [Left(text, f"passage {name}") for name, text in blocked_passages(findings, plan.passages)]
    for cup in trapped(findings.scene, findings.obstacles, tools_of(findings, plan)):
        place = ", ".join(f"{x:.1f}" for x in findings.scene.frame.to_file(cup.start))
        text = (
            f"Supports close the cup at ({place}) mm, which breathes without them: it is sealed from"
            f" {cup.from_height:.1f} mm up. Leave out the support that shuts its way out."
        )
        found.append(Left(text, "part"))
    return tuple(found)
