"""An opening that the model came with, closed before the print: the wall goes on through it, its skins flush.

The hole is bored a little wider, straight and all round in the wall; then both mouths of the bore get a patch instead
of its side. What is in between is the wall's own material: nothing is added that could come loose.

Lengths and limits without a named source are own judgement.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.analysis.openings import Opening
from ventplanner.geometry.distance import NearTriangles
from ventplanner.geometry.groups import pieces_met
from ventplanner.geometry.patch import boundary_loops, heights, inner_points, patch_faces, quadratic
from ventplanner.geometry.plug import reach
from ventplanner.geometry.plug_euler import euler_taken
from ventplanner.geometry.precision import as_in_file
from ventplanner.geometry.rays import material_along, square_to
from ventplanner.geometry.solid import Body, FloatArray, IntArray, Solid
from ventplanner.geometry.topology import topology
from ventplanner.plan.drilling import Drilled, drill, tool_boxes
from ventplanner.plan.fitting import MARGIN_MM, Fit, as_vent, tools_of_vent
from ventplanner.plan.model import Plan, Vent
from ventplanner.plan.spacing import gap_of_tools
from ventplanner.plan.venting import tools_of
from ventplanner.plan.widening import bore_axis

ROUND_IT_MM = 0.15
"""The bore is at least this much wider than the hole, on every side."""

SLIDES = (0.0, 0.3, -0.3, 0.6, -0.6)
"""Widths along the hole from its narrowest place at which its wall is sought."""

WIDER, TRIES = 1.15, 6
"""Where the wall is not all round it, a bore this much wider is tried, so many times."""

WIDEST_MM = 12.0
"""A wider mouth is no hole in a wall; nothing is known of the wall that would close it."""

LEAST_WALL_MM = 0.3
"""The patched skins stay this far apart."""

RAYS = 48
NO_HOLE = "it is no hole with a wall all round it"
RAGGED = "its rim is too ragged for a smooth patch"
NOT_AS_IT_CAME = "skins inside the part were turned over: say in the options what they are, then close it"


@dataclass(frozen=True, eq=False)
class Closed:
    """A part with one of its openings closed. at_mm, width_mm: where it was, along the file's axes, and how wide.
    added_mm3: material that fills it. late: a sentence where a cup opens later without it, "" else."""

    solid: Solid
    at_mm: tuple[float, float, float]
    width_mm: float
    added_mm3: float
    late: str


def closed(findings: Findings, opening: Opening, plan: Plan) -> Closed | str:
    """The part with an existing opening closed, or in a few words why it is not.

    Refused: what is no hole with a wall all round; a vent or passage of the plan there; and an opening without which a
    hollow that breathes now, with the vents of the plan, would be sealed.
    """
    made = filled(findings, opening, plan)
    return made if isinstance(made, str) else still_breathing(findings, opening, made, plan)


def filled(findings: Findings, opening: Opening, plan: Plan) -> Solid | str:
    """The part with an existing opening closed, whatever that seals; or why it is not, as `closed`."""
    if findings.part.digest != findings.solid.digest:
        return NOT_AS_IT_CAME
    bore = _bore_round(findings, opening)
    if isinstance(bore, str):
        return bore
    fit, outer, inner = bore
    for leg in plan.drills:
        if any(gap_of_tools(tool, fit.tool) < 0.0 for tool in tools_of_vent(findings, leg)):
            return f"vent {leg.id} of the plan is there: remove it first"
    vent = as_vent(findings, fit, "closing", ("", "", "widen"), "")
    part = findings.part
    if not _cuts_the_rim_only(findings, vent):
        return NO_HOLE
    drilled = drill(part, Plan(vents=(vent,)), found=findings.scene.topology)
    made = _patched(drilled, vent, (outer, inner))
    if isinstance(made, str):
        return made
    now, before = topology(made), findings.scene.topology
    return made if now.is_closed and now.euler == before.euler + 2 else RAGGED


def still_breathing(findings: Findings, opening: Opening, made: Solid, plan: Plan) -> Closed | str:
    """What was `filled` with what opens late without the opening; or that something would be sealed with this plan."""
    told, is_sealed = _worse(findings, made, plan)
    if is_sealed:
        return told
    x, y, z = findings.scene.frame.to_file(opening.at).tolist()
    return Closed(made, (x, y, z), opening.width, made.volume - findings.part.volume, told)


def _bore_round(findings: Findings, opening: Opening) -> tuple[Fit, FloatArray, FloatArray] | str:
    """A bore that holds the whole hole, and points (k, 3) of the outer and the inner skin round it, in the file's
    axes."""
    if opening.width > WIDEST_MM or opening.width <= 0.0:
        return NO_HOLE
    # The narrowest place may lie at a slanted mouth, with a wall on one side alone: farther along it is whole.
    slid = (replace(opening, at=opening.at + share * opening.width * opening.outwards) for share in SLIDES)
    found = ((place, bore_axis(findings, place)) for place in slid)
    opening, direction = next(((place, axis) for place, axis in found if axis is not None), (opening, None))
    if direction is None:
        return NO_HOLE
    target = findings.scene.ray_target
    near = NearTriangles.within(target, opening.at, 4.0 * opening.width + 2.0)
    if near is None:
        return NO_HOLE
    angle = (np.arange(RAYS) + 0.37) * (2.0 * math.pi / RAYS)
    ring = np.stack((np.cos(angle), np.sin(angle)), axis=1)
    radius = 0.5 * opening.width + ROUND_IT_MM
    for _ in range(TRIES):
        radius = max(radius, 0.5 * opening.width * 1.05)
        spans = [_wall(findings, opening, direction, share * radius * ring) for share in (1.0, 1.02, 1.3, 1.6)]
        if spans[0] is not None and spans[1] is not None:
            begin, end = spans[0]
            sides = [(share * radius * ring, span) for share, span in zip((1.02, 1.3, 1.6), spans[1:], strict=True)]
            flat = np.vstack([own for own, span in sides if span is not None])
            along = [np.concatenate([span[k] for _, span in sides if span is not None]) for k in (1, 0)]
            places = [opening.at + flat @ square_to(direction) + a[:, None] * direction for a in along]
            skins = [findings.scene.frame.to_file(p) for p in places]
            inside, outside = float(np.median(begin)), float(np.median(end))
            fit = Fit(
                opening.at + inside * direction,
                opening.at + outside * direction,
                direction,
                radius,
                float(end.max()) - outside + MARGIN_MM,
                inside - float(begin.min()) + MARGIN_MM,
                0.0,
            )
            return fit, skins[0], skins[1]
        radius *= WIDER
    return NO_HOLE


def _wall(
    findings: Findings, opening: Opening, direction: FloatArray, flat: FloatArray
) -> tuple[FloatArray, FloatArray] | None:
    """Where the wall round a hole begins and ends along rays beside it (k, 2), mm outwards; None where it is not all
    round it."""
    found = material_along(findings.scene.ray_target, opening.at, direction, flat)
    spans = []
    for ray in range(len(flat)):
        here = found.of(ray)
        if not here:
            return None
        spans.append(min(here, key=lambda s: max(s[0], -s[1], 0.0)))
    begin, end = np.array(spans).T
    reach = float(np.linalg.norm(flat, axis=1).max())
    slant = 2.0 * reach + 0.2
    near = (begin < slant) & (end > -slant)
    flush = (np.abs(begin - np.median(begin)) < slant) & (np.abs(end - np.median(end)) < slant)
    return (begin, end) if near.all() and flush.all() else None


def _cuts_the_rim_only(findings: Findings, vent: Vent) -> bool:
    """Whether the bore takes a ring out of one piece of material: a ring's Euler number is 0, a plug's is 1."""
    part = findings.part
    pieces = pieces_met(part, findings.scene.topology, tool_boxes([vent]))
    taken = [euler_taken([reach(part.vertices, part.faces[faces], vent.bore)]) for faces in pieces]
    return taken == [0]


def _patched(drilled: Drilled, vent: Vent, skins: tuple[FloatArray, FloatArray]) -> Solid | str:
    """The bored part with a patch in each mouth instead of the bore's side."""
    solid, wall = drilled.solid, drilled.tool_faces(vent.id)
    loops = boundary_loops(solid.faces[wall]) if len(wall) else None
    if loops is None or len(loops) != 2:
        return RAGGED
    frame = _Frame.of(vent)
    placed = [frame.place(solid.vertices[loop]) for loop in loops]
    if placed[0][:, 2].mean() < placed[1][:, 2].mean():
        loops, placed = loops[::-1], placed[::-1]
    flat = inner_points(vent.radius_mm)
    tops = []
    for rim, skin in zip(placed, skins, strict=True):
        tops.append(heights(flat, rim, quadratic(np.vstack((rim, frame.place(skin))))))
    if (tops[0] - tops[1]).min() < LEAST_WALL_MM:
        return "its two skins would meet"
    added, faces = [], []
    first = len(solid.vertices)
    for rim, loop, top in zip(placed, loops, tops, strict=True):
        made = patch_faces(rim[:, :2], loop, first)
        if made is None:
            return RAGGED
        added.append(frame.back(np.column_stack((flat, top))))
        faces.append(made)
        first += len(flat)
    return _joined(drilled, wall, np.vstack(added), np.vstack(faces))


def _joined(drilled: Drilled, wall: IntArray, added: FloatArray, patches: IntArray) -> Solid:
    """The bored part without the faces `wall`, with patches, which belong to the same body."""
    solid, source = drilled.solid, drilled.solid.source
    stays = np.ones(len(solid.faces), dtype=bool)
    stays[wall] = False
    faces = np.vstack((solid.faces[stays], patches)).astype(np.int32)
    added = as_in_file(added, source.mm_per_unit, source.single_precision)
    body = np.repeat(np.arange(len(solid.bodies)), [b.stop - b.start for b in solid.bodies])
    body = np.concatenate((body[stays], np.full(len(patches), body[wall[0]])))
    order = np.argsort(body, kind="stable")
    stops = np.cumsum(np.bincount(body, minlength=len(solid.bodies))).tolist()
    bodies = tuple(Body(b.name, i, j) for b, i, j in zip(solid.bodies, [0, *stops[:-1]], stops, strict=True))
    return Solid(np.vstack((solid.vertices, added)), faces[order], bodies, source).compact()


@dataclass(frozen=True, eq=False)
class _Frame:
    """A vent's own frame in the file's axes: across, across, and outwards from the middle of its inner end."""

    origin: FloatArray
    axes: FloatArray

    @classmethod
    def of(cls, vent: Vent) -> _Frame:
        u, v, inwards = vent.bore.axes
        return cls(np.asarray(vent.exit_mm), np.array([u, -v, -inwards]))

    def place(self, points: FloatArray) -> FloatArray:
        found: FloatArray = (points - self.origin) @ self.axes.T
        return found

    def back(self, placed: FloatArray) -> FloatArray:
        found: FloatArray = placed @ self.axes + self.origin
        return found


def _worse(findings: Findings, solid: Solid, plan: Plan) -> tuple[str, bool]:
    """What does not breathe any more with this solid and the vents of the plan: a sentence, "" if all is as it was; and
    whether something is sealed."""
    tools = tools_of(findings, plan)
    before = findings.scene.cups(tools) if tools else findings.cups
    scene = analyse(solid, findings.pose, findings.options, frame=findings.scene.frame).scene
    after = scene.cups(tools)
    worst, sealed = "", False
    for cup in after.cups:
        state = cup.state(findings.options)
        if state == "breathing":
            continue
        known = int(before.cup_at(cup.start[None] + (0.0, 0.0, 1e-4))[0])
        was = "breathing" if known < 0 else before.cups[known].state(findings.options)
        if was == state or (was == "sealed" and state != "sealed"):
            continue
        if state == "sealed":
            told = f"a hollow that breathes would be sealed from {cup.from_height:.1f} mm on: drill a vent for it first"
            return told, True
        worst = f"Without it a cup that starts at {cup.from_height:.1f} mm opens late."
    return worst, sealed
