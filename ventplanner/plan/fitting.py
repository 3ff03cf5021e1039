"""A drill fitted exactly to the wall it goes through: one wall, once, a little longer than it on both sides.

Lengths and limits without a named source are own judgement.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ventplanner.analysis.findings import Findings
from ventplanner.analysis.scene import Scene
from ventplanner.analysis.supports import APPROACH_MM, Obstacles
from ventplanner.geometry.columns import Tool
from ventplanner.geometry.distance import NearTriangles
from ventplanner.geometry.outline import ROUND, Outline
from ventplanner.geometry.rays import Stretches, leaves, material_along, point_on, square_to
from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.geometry.tube import nearest_to
from ventplanner.plan.model import Vent
from ventplanner.plan.refusal import Refusal
from ventplanner.plan.tube_edges import edges_in_tube, in_ray_frame

MARGIN_MM = 0.3
"""The drill stands out of the skins by this much beyond the last point of its rim."""

FAR_WALL_MM = 0.15
"""The drill's inner end stays this far from anything else in the cavity."""

WELL_OPEN, HALF_OPEN = 0.25, 0.6
"""Share of the hole that may run into the floor beside the cavity: best a little, in a corner up to this much."""

STEEPEST = 1.75
"""Across its radius, a hole may run this many radii along an oblique skin (about 60 degrees from square)."""


PLATE_RIM_MM = 0.28
"""On the plate a drill leaves at least this much material above it: less tears."""

SUPPORT_CLEAR_MM, HOLLOW_CLEAR_MM = 0.2, 0.5
"""The drill stays this far from supports in the file, and leaves this much wall to other hollows: a thinner one tears
or prints open."""

TOUCHES_SUPPORT, BEHIND_SUPPORT = "it would touch a support", "a support stands in the way of the drill"

IN_THE_WAY = "it would cut something beyond the wall"
KEPT_CLEAR = "it would cut a surface that is to be kept clear"


@dataclass(frozen=True, eq=False)
class Fit:
    """A drill in build axes: the axis meets the inner skin at `inner` and the outer one at `outer`; `direction` points
    outwards; it stands out by `before` outside and `beyond` inside (mm). blocked: share of its section that runs into
    material beside the cavity. outline: in build axes."""

    inner: FloatArray
    outer: FloatArray
    direction: FloatArray
    radius: float
    before: float
    beyond: float
    blocked: float
    outline: Outline = ROUND

    @property
    def far(self) -> float:
        """mm from its axis to its furthest point."""
        return self.outline.far(self.radius)

    @property
    def wall(self) -> float:
        """mm of material along the axis."""
        return float(np.linalg.norm(self.outer - self.inner))

    @cached_property
    def tool(self) -> Tool:
        """The drill as a tool for the column runs."""
        a, b = self.outer + self.before * self.direction, self.inner - self.beyond * self.direction
        return Tool(_point(a), _point(b), self.radius, self.outline)

    @property
    def lowest(self) -> float:
        """Build height in mm of the drill's lowest point."""
        return float(self.lowest_at[2])

    @property
    def lowest_at(self) -> FloatArray:
        """(3,) the drill's lowest point."""
        tool = self.tool
        if not self.outline.is_round:
            rims = tool.rings.reshape(-1, 3)
            return np.asarray(rims[int(rims[:, 2].argmin())])
        down = self.direction[2] * self.direction - np.array([0.0, 0.0, 1.0])
        end = np.array(min(tool.start, tool.end, key=lambda p: p[2]))
        return np.asarray(end + self.radius / max(float(np.linalg.norm(down)), 1e-9) * down)


RAYS = 19


def bundle(radius: float, outline: Outline = ROUND) -> FloatArray:
    """(19, 2) the axis, six rays at 0.55 radius, twelve on the rim: where a drill of this radius is looked at. Of other
    outlines the axis, their rim and its middle in steps of about half the radius, in the frame of the outline."""
    if not outline.is_round:  # of a slot also its ends are looked at
        count = max(len(outline.corners(radius)), 4 * math.ceil(2.0 * (outline.far(radius) / radius + 1.0)))
        edge = outline.rim(radius, count)
        return np.asarray(np.vstack(([[0.0, 0.0]], 0.55 * edge[:: max(1, count // 24)], edge)))
    inner = np.arange(6) * (np.pi / 3) + 0.1
    rim = np.arange(12) * (np.pi / 6) + 0.02
    rings = [(0.55 * radius, inner), (radius, rim)]
    return np.vstack(([[0.0, 0.0]], *(r * np.stack((np.cos(a), np.sin(a)), axis=1) for r, a in rings)))


def fit(
    findings: Findings,
    origin: FloatArray,
    direction: FloatArray,
    radius: float,
    about: tuple[float, float],
    outline: Outline = ROUND,
) -> Fit | str:
    """Fit a drill to the wall that the axis meets near `about` (begin, end in mm from the origin, outwards).

    outline: in build axes. Returns the fit, or why there is none in a few words, mostly with the place (`Refusal`).
    """
    scene = findings.scene
    rays = in_ray_frame(bundle(radius, outline), direction, outline)
    found = material_along(scene.ray_target, origin, direction, rays)
    walls = [k for k in np.flatnonzero(found.ray == 0) if found.end[k] > about[0] and found.begin[k] < about[1]]
    if not walls:
        return Refusal("the wall is too thin to be measured", origin + about[1] * direction)
    axis = min(walls, key=lambda k: abs(float(found.begin[k]) - about[0]))
    begin, end = float(found.begin[axis]), float(found.end[axis])
    spans = _wall_spans(found, begin, end, outline.far(radius), len(rays))
    if isinstance(spans, _Miss):
        return Refusal(spans.why, point_on(origin, direction, rays[spans.ray], spans.along))
    before, beyond, blocked = spans
    longer = _cleared_of_edges(scene, origin, direction, (radius, outline), (begin, end, before))
    inner, outer = origin + begin * direction, origin + end * direction
    if isinstance(longer, str):
        return longer
    if findings.support_skins[scene.topology.skin_of_face[found.face_out[axis]]]:
        return Refusal("it would enter through a support", outer)
    if scene.pose.on == "plate" and outer[2] < scene.options.layer_mm:
        return Refusal("it would enter through the face on the plate", outer)
    fitted = Fit(inner, outer, direction, radius, longer, beyond, blocked, outline)
    own = scene.topology.skin_of_face[np.concatenate((found.face_in, found.face_out))]
    return objection(findings, fitted, own) or fitted


def objection(findings: Findings, found: Fit, own_skins: IntArray) -> str:
    """What the drill would do beside its wall that it must not, in a few words and with the place (`Refusal`);
    "" if nothing.

    Rays leave gaps that a thin support or the corner of another hollow fits into; here distances to its skin decide.
    own_skins: skins of hollows that the drill may touch.
    """
    if findings.pose.on == "plate" and found.lowest < PLATE_RIM_MM:
        return Refusal("it would break through the face on the plate", found.lowest_at)
    if findings.kept_clear is not None and (cut := findings.kept_clear.cut_by(found.tool)) is not None:
        return Refusal(KEPT_CLEAR, cut)
    if told := in_the_supports(findings.obstacles, found.tool):
        return told
    scene = findings.scene
    skins = scene.topology
    foreign = skins.volume_of_skin < 0
    foreign[own_skins] = False
    for which, clear, text in (
        (findings.support_skins, SUPPORT_CLEAR_MM, TOUCHES_SUPPORT),
        (foreign, HOLLOW_CLEAR_MM, "it would come too near another hollow"),
    ):
        near = _comes_near(scene, which, found.tool, clear) if which.any() else None
        if near is not None:
            return Refusal(text, near)
    beside = _comes_out_beside(scene, found) if found.blocked else None
    return "" if beside is None else Refusal("it would come out beside the hollow", beside)


def _comes_near(scene: Scene, which: NDArray[np.bool_], tool: Tool, clear: float) -> FloatArray | None:
    """Where on these skins, (s,) bool, a drill comes nearer to them than `clear` mm: (3,); None if it does not."""
    reach, ends = tool.far + clear, np.array([tool.start, tool.end])
    faces = scene.ray_target.near(ends.min(axis=0) - reach, ends.max(axis=0) + reach)
    faces = faces[which[scene.topology.skin_of_face[faces]]]
    if not len(faces):
        return None
    near = NearTriangles(np.ascontiguousarray(scene.vertices[scene.solid.faces[faces]]))
    lanes = (lane for lane in tool.lanes() if _least_distance(near, lane) < lane.radius + clear)
    return next((nearest_to(lane, near.corners, lane.radius + clear) for lane in lanes), None)


def in_the_supports(obstacles: Obstacles | None, tool: Tool) -> str:
    """What supports from a second file have against a drill, in a few words and with the place (`Refusal`); "" if
    nothing: they must not touch it, nor stand straight before its mouth."""
    if obstacles is None:
        return ""
    told: str = ""
    for lane in tool.lanes():
        mouth, end = np.array(lane.start), np.array(lane.end)
        reach = lane.radius + SUPPORT_CLEAR_MM
        if obstacles.distance(mouth, end, reach) < reach:
            return Refusal(TOUCHES_SUPPORT, obstacles.nearest(mouth, end, reach))
        ahead = mouth + APPROACH_MM * (mouth - end) / np.linalg.norm(mouth - end)
        if not told and obstacles.distance(mouth, ahead, reach, feet=False) < reach:
            told = Refusal(BEHIND_SUPPORT, obstacles.nearest(mouth, ahead, reach, feet=False))
    return told


SIDES = 24
BESIDE_MM = 0.3
"""A drill that runs into the floor or the side of a hollow leaves this much wall there."""


def _comes_out_beside(scene: Scene, found: Fit) -> FloatArray | None:
    """Where, from the inner end of the axis sideways, a way to the drill's rim and a little further leaves material
    again, (3,): what is there is not the hollow. None if none does."""
    end = np.array(found.tool.end)
    angle = np.arange(SIDES) * (2.0 * np.pi / SIDES) + 0.07
    flat = np.stack((np.cos(angle), np.sin(angle)), axis=1)
    normals, offsets = found.outline.sides(found.radius)
    # How far the rim is to each side: the nearest of the lines round a convex outline.
    facing = np.maximum(flat @ normals.T, 1e-9)
    reach = (found.radius if found.outline.is_round else (offsets / facing).min(axis=1)) + BESIDE_MM
    sides = in_ray_frame(flat, found.direction, found.outline) @ square_to(found.direction)
    most = found.far + BESIDE_MM
    faces = scene.ray_target.near(end - most, end + most)
    corners = scene.vertices[scene.solid.faces[faces]]
    left = leaves(corners, end, sides)
    first = int((left - reach).argmin())
    return end + left[first] * sides[first] if (left < reach).any() else None


def _least_distance(near: NearTriangles, lane: Tool) -> float:
    """From the axis of a cylinder to triangles, in steps of a quarter radius: too long by less than a hundredth of the
    radius."""
    start, end = np.array(lane.start), np.array(lane.end)
    steps = np.linspace(0.0, 1.0, 2 + int(lane.length / (0.25 * lane.radius)))
    return float(near.distance(start + steps[:, None] * (end - start)).min())


def _cleared_of_edges(
    scene: Scene,
    origin: FloatArray,
    direction: FloatArray,
    wide: tuple[float, Outline],
    span: tuple[float, float, float],
) -> float | Refusal:
    """How far the drill must stand out to clear every edge of the wall; or that something else is in its way.

    Rays see faces, not the edge of a box between them: what sticks out of the drill's end there would be cut loose.
    wide: radius and outline. span: begin and end of the wall along the axis, and how far the drill stands out so far.
    """
    (radius, outline), (begin, end, before) = wide, span
    lowest, highest = end + before - MARGIN_MM, end + STEEPEST * outline.far(radius) + 1.0
    placed = edges_in_tube(scene, origin, direction, (radius + 0.05, outline.grown(0.05)), (lowest, highest))
    ahead = placed[(placed[:, 2] > lowest) & (placed[:, 2] < highest)]
    if not len(ahead):
        return before
    corner = ahead[int(np.argmax(ahead[:, 2]))]
    # A corner of this wall has nothing but material between itself and the wall, a hair further in.
    met = material_along(scene.ray_target, origin, direction, 0.98 * corner[None, :2]).of(0)
    if not any(s[0] < end and s[1] > begin and s[1] > corner[2] - 0.25 for s in met):
        return Refusal(IN_THE_WAY, point_on(origin, direction, corner[:2], float(corner[2])))
    return max(before, float(corner[2]) - end + MARGIN_MM)


@dataclass(frozen=True)
class _Miss:
    """Why a wall cannot be drilled, on which ray, and how far along it (mm from the origin)."""

    why: str
    ray: int
    along: float


def _wall_spans(
    found: Stretches, begin: float, end: float, radius: float, rays: int
) -> tuple[float, float, float] | _Miss:
    """How far the drill stands out before and beyond the wall, and what share is blocked; or why not. radius: to its
    furthest point."""
    reach = STEEPEST * radius + 0.2
    outermost, innermost = end, begin
    others: list[tuple[float, float, int]] = []
    blocked: list[int] = []
    for ray in range(rays):
        here = [s for s in found.of(ray) if s[1] > begin - 1e-9 and s[0] < end + 1e-9]
        if not here:
            # The rim may miss the wall where it is cut by a crease; a hole that is not all in material is ragged.
            return _Miss("the wall does not reach across the hole", ray, end)
        if len(here) > 1:
            return _Miss("it would cut into another hollow on its way", ray, here[0][1])
        if here[0][1] > end + reach:
            return _Miss("the skin is too oblique there", ray, here[0][1])
        deepest = begin - radius - MARGIN_MM
        blocked += [ray] if here[0][0] < deepest else []
        outermost, innermost = max(outermost, here[0][1]), min(innermost, max(here[0][0], deepest))
        others += [(*s, ray) for s in found.of(ray) if s != here[0]]
    share = len(blocked) / rays
    if share > HALF_OPEN:
        return _Miss("the cavity does not reach across the hole", blocked[0], begin)
    before, beyond = outermost - end + MARGIN_MM, begin - innermost + MARGIN_MM
    if ahead := [s for s in others if s[0] < end + before + FAR_WALL_MM and s[1] > end]:
        first = min(ahead)
        return _Miss(IN_THE_WAY, first[2], first[0])
    far, ray = max(((s[1], s[2]) for s in others if s[1] <= begin), default=(-np.inf, 0))
    room = begin - far - FAR_WALL_MM
    if room < 0.1:
        return _Miss("the far wall is too near", ray, far)
    return before, min(beyond, room), share


def tool_of_vent(findings: Findings, vent: Vent) -> Tool:
    """A vent's drill as a tool in build axes, without its countersink."""
    a, b = findings.scene.frame.to_build(np.array([vent.start_mm, vent.end_mm]))
    outline = outline_in_build(findings, vent.outline)
    return Tool(_point(a), _point(b), vent.radius_mm, outline, vent.spread_mm)


def tools_of_vent(findings: Findings, vent: Vent) -> tuple[Tool, ...]:
    """All that is cut for a vent, in build axes: its drill, and its countersink if it has one."""
    return tuple(tool_of_vent(findings, leg) for leg in vent.legs)


def outline_in_build(findings: Findings, outline: Outline) -> Outline:
    """An outline in the file's axes, in build axes."""
    if outline.is_round:
        return outline
    return replace(outline, along=_point(findings.scene.frame.direction_to_build(np.asarray(outline.along))))


def outline_in_file(findings: Findings, outline: Outline) -> Outline:
    """An outline in build axes, in the file's axes."""
    if outline.is_round:
        return outline
    return replace(outline, along=_point(findings.scene.frame.direction_to_file(np.asarray(outline.along))))


def through(wall_mm: float) -> str:
    """How a reason tells the wall that is drilled."""
    return f"through {wall_mm:.1f} mm of wall"


def as_vent(findings: Findings, found: Fit, vent_id: str, where: tuple[str, str, str], reason: str) -> Vent:
    """A fitted drill as a vent in the file's axes. where: cavity, cup, kind."""
    frame = findings.scene.frame
    cavity, cup, kind = where
    inner, outer = frame.to_file(np.array([found.inner, found.outer]))
    axis = frame.direction_to_file(-found.direction)
    return Vent(
        vent_id,
        cavity,
        cup,
        "widen" if kind == "widen" else "vent",
        _point(outer),
        _point(inner),
        _point(axis),
        round(2.0 * found.radius, 9),
        found.wall,
        found.before,
        found.beyond,
        reason,
        outline_in_file(findings, found.outline),
    )


def _point(p: np.ndarray) -> tuple[float, float, float]:
    return (float(p[0]), float(p[1]), float(p[2]))


def fit_of_vent(findings: Findings, vent: Vent) -> Fit:
    """A vent as the drill that was fitted for it, in build axes; how much of it is blocked is not known any more."""
    frame = findings.scene.frame
    inner, outer = frame.to_build(np.array([vent.exit_mm, vent.entry_mm]))
    direction = -frame.direction_to_build(np.asarray(vent.axis))
    outline = outline_in_build(findings, vent.outline)
    return Fit(inner, outer, direction, vent.radius_mm, vent.before_mm, vent.beyond_mm, 0.0, outline)
