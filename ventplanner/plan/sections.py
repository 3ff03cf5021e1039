"""Sections of vents that are no round holes, and flared entries: how they lie, and whether they fit.

Lengths and limits without a named source are own judgement.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ventplanner.analysis.findings import Findings
from ventplanner.geometry.rays import material_along, point_on
from ventplanner.geometry.tube import from_axis, nearest_to
from ventplanner.plan.fitting import (
    FAR_WALL_MM,
    HOLLOW_CLEAR_MM,
    IN_THE_WAY,
    KEPT_CLEAR,
    MARGIN_MM,
    PLATE_RIM_MM,
    STEEPEST,
    SUPPORT_CLEAR_MM,
    TOUCHES_SUPPORT,
    Fit,
    fit_of_vent,
    in_the_supports,
)
from ventplanner.plan.model import Countersink, Vent
from ventplanner.plan.passage_fit import is_clean
from ventplanner.plan.passage_places import not_clean
from ventplanner.plan.refusal import Refusal
from ventplanner.plan.tube_edges import in_ray_frame

UNDER_SINK_MM = HOLLOW_CLEAR_MM
"""Wall that stays under a countersink, all round: a thinner rim tears or prints open."""

RIM = 24
"""Rays round the rim of a countersink, at each of four depths."""

TOO_THIN = f"less than {UNDER_SINK_MM:g} mm of wall would stay under the countersink"


def countersunk(findings: Findings, vent: Vent) -> Vent | str:
    """A vent with its countersink fitted: standing out far enough; or why it does not fit, in a few words.

    Checked: wall stays under it all round, it meets nothing beside the wall, hollows and supports keep their distance,
    what is to be kept clear stays whole, and all that is cut is one plug (see `geometry.plug_euler`)."""
    sink = vent.countersink
    if sink is None:
        return vent
    if sink.depth_mm > vent.wall_mm - UNDER_SINK_MM + 1e-9:
        where = findings.scene.frame.to_build(np.array(vent.exit_mm))
        return Refusal(f"{TOO_THIN}: the wall is {vent.wall_mm:.1f} mm thick", where)
    found = fit_of_vent(findings, vent)
    spread = sink.spread(found.radius)
    before = _stands_out(findings, found, sink, spread)
    if isinstance(before, str):
        return before
    depth = found.outer - sink.depth_mm * found.direction
    wide = Fit(
        depth, found.outer, found.direction, found.radius + spread, before, 0.0, 0.0, found.outline.grown(spread)
    )
    if told := _beside(findings, wide):
        return told
    done = replace(vent, before_mm=before)
    return done if is_clean(findings, done.legs) else not_clean(findings, done.legs)


def _beside(findings: Findings, wide: Fit) -> str:
    """What a countersink, taken as straight as it is wide at the skin, has in its way; "" if nothing."""
    if findings.pose.on == "plate" and wide.lowest < PLATE_RIM_MM:
        return Refusal("it would break through the face on the plate", wide.lowest_at)
    if findings.kept_clear is not None and (cut := findings.kept_clear.cut_by(wide.tool)) is not None:
        return Refusal(KEPT_CLEAR, cut)
    if told := in_the_supports(findings.obstacles, wide.tool):
        return told
    scene, skins = findings.scene, findings.scene.topology
    for which, clear, text in (
        (findings.support_skins, SUPPORT_CLEAR_MM, TOUCHES_SUPPORT),
        (skins.volume_of_skin < 0, UNDER_SINK_MM, TOO_THIN),
    ):
        further = replace(wide, beyond=clear).tool
        reach, ends = further.far + clear, np.array([further.start, further.end])
        faces = scene.ray_target.near(ends.min(axis=0) - reach, ends.max(axis=0) + reach)
        corners = scene.vertices[scene.solid.faces[faces[which[skins.skin_of_face[faces]]]]]
        for lane in further.lanes() if len(corners) else ():
            if from_axis(lane, corners)[0].min() < lane.radius + clear:
                return Refusal(text, nearest_to(lane, corners, lane.radius + clear))
    return ""


def _stands_out(findings: Findings, found: Fit, sink: Countersink, spread: float) -> float | str:
    """mm that the drill must stand out for the whole rim of a countersink; or what is wrong along one of its rays."""
    outline, target = found.outline, findings.scene.ray_target
    origin, before = found.outer, found.before
    for share in (0.25, 0.5, 0.75, 1.0):
        by = share * spread
        wide = found.radius + by
        grown = outline.grown(by)
        rim = grown.rim(wide, max(len(grown.corners(wide)), RIM))
        offsets = in_ray_frame(rim[:: len(rim) // RIM], found.direction, outline)
        deep = sink.depth_mm * (1.0 - share)
        stretches = material_along(target, origin, found.direction, offsets)
        for ray in range(len(offsets)):
            mine = [s for s in stretches.of(ray) if s[0] < -deep and s[1] > -found.wall]
            if not mine:
                at = point_on(origin, found.direction, offsets[ray], 0.0)
                return Refusal("the wall does not reach across the countersink", at)
            begin, end = mine[-1]
            if begin > -deep - UNDER_SINK_MM:
                return Refusal(TOO_THIN, point_on(origin, found.direction, offsets[ray], begin))
            if end > STEEPEST * wide + 0.2:
                at = point_on(origin, found.direction, offsets[ray], end)
                return Refusal("the skin is too oblique there for the countersink", at)
            before = max(before, end + MARGIN_MM)
            ahead = next((s[0] for s in stretches.of(ray) if end < s[0] < before + FAR_WALL_MM), None)
            if ahead is not None:
                return Refusal(IN_THE_WAY, point_on(origin, found.direction, offsets[ray], ahead))
    return before
