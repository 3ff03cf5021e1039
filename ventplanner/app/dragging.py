"""From a place on the skin to a vent that fits there: what dragging, turning and other diameters come down to."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from ventplanner.analysis.findings import Findings
from ventplanner.app.lookup import PROBES_MM, named, names_at
from ventplanner.errors import ParameterError
from ventplanner.geometry.outline import Outline, turn_of, turned_outline
from ventplanner.geometry.rays import material_along
from ventplanner.geometry.solid import FloatArray
from ventplanner.parameters import DIAMETER_MM
from ventplanner.plan.fitting import (
    KEPT_CLEAR,
    Fit,
    as_vent,
    fit,
    outline_in_build,
    outline_in_file,
    tools_of_vent,
)
from ventplanner.plan.model import Countersink, Plan, Vent
from ventplanner.plan.refusal import Refusal, place_of_refusal, with_place
from ventplanner.plan.section_rules import Section, check_section
from ventplanner.plan.sections import countersunk
from ventplanner.plan.spacing import LIGAMENT_MM, gap_of_tools, thinnest_between

ON_SKIN_MM = 1.0
"""A picked point lies on the skin, or this near to it: pictures are drawn with fewer triangles."""

NO_CAVITY = "no cavity is behind the wall"
PASSAGE = "passage "

SHARES = (1.0, 0.75, 0.5, 0.25, 0.0)
"""What is tried of a section that is meant about."""

TYPED_MM = 0.02
"""A depth that differs by more than this from that of the fit was typed."""


def moved(
    findings: Findings,
    vent: Vent,
    point: FloatArray,
    normal: FloatArray,
    hold_axis: bool,
    others: tuple[Vent, ...] = (),
) -> Vent | str:
    """The vent put where a point of the skin is, fitted to the wall there; or why it does not fit, in a few words
    that tell the place, and with it where one can be pointed at (`Refusal`).

    point: (3,) build point. normal: (3,) build direction out of the material. hold_axis: keep the vent's own axis
    instead of drilling square to the skin. others: vents to keep clear of. Where the point is on the inside of a wall,
    the drill still goes from outside to inside.
    """
    point, normal = np.asarray(point, dtype=np.float64), np.asarray(normal, dtype=np.float64)
    outwards = normal / max(float(np.linalg.norm(normal)), 1e-300)
    if hold_axis:
        own = -findings.scene.frame.direction_to_build(np.asarray(vent.axis))
        outwards = own if own @ outwards >= 0 else -own
    return _through_wall(findings, vent, point, outwards, others)


def turned(
    findings: Findings,
    vent: Vent,
    axis: FloatArray,
    others: tuple[Vent, ...] = (),
) -> Vent | str:
    """The vent with another axis ((3,) from outside to inside, along the file's axes), entering at the same point."""
    frame = findings.scene.frame
    outwards = -frame.direction_to_build(np.asarray(axis, dtype=np.float64))
    outwards /= max(float(np.linalg.norm(outwards)), 1e-300)
    entry = frame.to_build(np.asarray(vent.entry_mm))
    return _through_wall(findings, vent, entry, outwards, others)


def resized(
    findings: Findings,
    vent: Vent,
    diameter: float,
    others: tuple[Vent, ...] = (),
) -> Vent | str:
    """The vent with another diameter in the same place.

    How far it goes beyond the wall follows the diameter, so that the whole rim comes through; a depth that was typed,
    which is another one than the fit's own, stays. A widened opening has no wall along its axis to be fitted to: it
    keeps its ends.
    """
    wider = replace(vent, diameter_mm=diameter)
    if told := no_section(wider):
        return told
    if vent.kind == "widen":
        told = kept_clear_cut(findings, wider) or _clear(findings, wider, others)
        return with_place(findings.scene.frame, told) if told else wider
    frame = findings.scene.frame
    outwards = -frame.direction_to_build(np.asarray(vent.axis))
    entry = frame.to_build(np.asarray(vent.entry_mm))
    found = _through_wall(findings, wider, entry, outwards, others)
    if isinstance(found, str):
        most = _largest(findings, vent, (entry, outwards), diameter, others)
        more = f"{found}; the largest that fits there is {most:.1f} mm"
        return Refusal(more, place_of_refusal(found)) if most else found
    own = _through_wall(findings, vent, entry, outwards, ())
    typed = not isinstance(own, str) and abs(own.beyond_mm - vent.beyond_mm) > TYPED_MM
    return replace(found, reason=vent.reason, beyond_mm=vent.beyond_mm if typed else found.beyond_mm)


def reshaped(
    findings: Findings,
    vent: Vent,
    outline: Outline,
    turn_deg: float,
    sink: Countersink | None,
    others: tuple[Vent, ...] = (),
) -> Vent | str:
    """The vent with another section (its length and shape as in `outline`, turned from the level by an angle) and
    another countersink, in the same place."""
    if vent.kind == "widen":
        return "an opening that is made wider stays round"
    frame = findings.scene.frame
    outwards = -frame.direction_to_build(np.asarray(vent.axis))
    turned_so = turned_outline(outline.shape, outline.length_mm, turn_deg, outwards)
    shaped = replace(vent, outline=outline_in_file(findings, turned_so), countersink=sink)
    if told := no_section(shaped):
        return told
    found = _through_wall(findings, shaped, frame.to_build(np.asarray(vent.entry_mm)), outwards, others)
    if isinstance(found, str) or vent.outline == found.outline:
        return found if isinstance(found, str) else replace(found, reason=vent.reason, beyond_mm=vent.beyond_mm)
    return replace(found, reason=vent.reason)


def shaped(findings: Findings, vent: Vent, section: Section, others: tuple[Vent, ...] = ()) -> Vent | str:
    """The vent as `section` wishes (but for the width); of one that is meant about, the largest share that fits."""
    first: Vent | str = ""
    for share in SHARES if section.about else SHARES[:1]:
        wish = section if share == 1.0 else section.smaller(share)
        found = reshaped(findings, vent, wish.outline, wish.turn_deg, wish.countersink, others)
        if isinstance(found, Vent):
            return found
        first = first or found
    return first


def no_section(vent: Vent) -> str:
    """Why a vent of this width has no such section or countersink, in a few words; "" if it has."""
    try:
        check_section(vent.diameter_mm, vent.outline, vent.countersink)
    except ParameterError as error:
        return error.cause.rstrip(".")
    return ""


def others_of(plan: Plan, vent_id: str = "") -> tuple[Vent, ...]:
    """All holes of a plan that a vent keeps clear of: the other vents, and those of passages, with a name for words."""
    legs = (replace(drill, id=f"{PASSAGE}{p.id}") for p in plan.passages for drill in p.drills)
    return (*(v for v in plan.vents if v.id != vent_id), *legs)


def turn_deg(findings: Findings, vent: Vent) -> float:
    """By how many degrees the section of a vent is turned from the level, see `plan.sections.turn_of`."""
    outwards = -findings.scene.frame.direction_to_build(np.asarray(vent.axis))
    return turn_of(outline_in_build(findings, vent.outline), outwards)


def _largest(
    findings: Findings, vent: Vent, way: tuple[FloatArray, FloatArray], diameter: float, others: tuple[Vent, ...]
) -> float:
    """The largest diameter in tenths of a mm, below one that does not fit, that does; 0 if none is found.

    By halving: a hole that fits is taken to fit when it is smaller, too.
    """
    low, high = round(10.0 * (DIAMETER_MM.lowest or 0.1)), math.ceil(10.0 * diameter)
    while high - low > 1:
        middle = (low + high) // 2
        fits = _through_wall(findings, replace(vent, diameter_mm=0.1 * middle), *way, others)
        low, high = (low, middle) if isinstance(fits, str) else (middle, high)
    fits = _through_wall(findings, replace(vent, diameter_mm=0.1 * low), *way, others)
    return 0.0 if isinstance(fits, str) else 0.1 * low


def _through_wall(
    findings: Findings,
    vent: Vent,
    point: FloatArray,
    outwards: FloatArray,
    others: tuple[Vent, ...],
) -> Vent | str:
    """The vent through the wall that has a skin at `point`, drilled along `outwards` (or the other way round); or why
    it does not fit there, with the place."""
    found = _through(findings, vent, point, outwards, others)
    return with_place(findings.scene.frame, found) if isinstance(found, str) else found


def _through(
    findings: Findings,
    vent: Vent,
    point: FloatArray,
    outwards: FloatArray,
    others: tuple[Vent, ...],
) -> Vent | str:
    met = material_along(findings.scene.ray_target, point, outwards, np.zeros((1, 2))).of(0)
    if not met:
        return Refusal("there is no wall", point)
    # The wall whose outer or inner skin is at the point; seen from inside, the drill comes from the other side.
    begin, end = min(met, key=lambda s: min(abs(s[0]), abs(s[1])))
    if min(abs(begin), abs(end)) > ON_SKIN_MM:
        return Refusal("there is no wall", point)
    inner, outer = (
        _cavity_along(findings, point + begin * outwards, -outwards),
        _cavity_along(findings, point + end * outwards, outwards),
    )
    if not inner and outer:
        inner, outer = outer, inner
        outwards, begin, end = -outwards, -end, -begin
    if not inner:
        return Refusal(NO_CAVITY, point + begin * outwards)
    if outer and findings.cavity(outer).kind == "sealed":
        return Refusal(f"it would lead into cavity {outer}", point + end * outwards)
    # Its section lies to the level as it did, whichever way the hole goes now.
    outline = turned_outline(vent.outline.shape, vent.outline.length_mm, turn_deg(findings, vent), outwards)
    how = vent.radius_mm, (begin, end), outline
    found = fit(findings, point, outwards, *how)
    if not isinstance(found, Fit):
        if found != KEPT_CLEAR:
            return found
        free = fit(findings.keeping_clear(None), point, outwards, *how)
        where = (inner, "", "vent")
        told = kept_clear_cut(findings, as_vent(findings, free, "", where, "")) if isinstance(free, Fit) else ""
        return told or found
    reason = f"Placed by hand, through {found.wall:.1f} mm of wall."
    made = replace(as_vent(findings, found, vent.id, (inner, "", "vent"), reason), countersink=vent.countersink)
    whole = countersunk(findings, made)
    if isinstance(whole, str):
        return kept_clear_cut(findings, made) or whole
    placed = named(findings, whole)
    return _clear(findings, placed, others) or placed


def _cavity_along(findings: Findings, skin: FloatArray, away: FloatArray) -> str:
    """The cavity before a point of the skin, "" for the outside: looked for at some distances, as some are coarse."""
    found = names_at(findings, skin + np.array(PROBES_MM)[:, None] * away)
    return next((cavity for cavity, _ in found if cavity), "")


def kept_clear_cut(findings: Findings, vent: Vent) -> str:
    """That a vent cuts the surface that is to be kept clear, and where (`Refusal`); "" if it does not."""
    kept = findings.kept_clear
    places = [] if kept is None else [kept.cut_by(tool) for tool in tools_of_vent(findings, vent)]
    at = next((place for place in places if place is not None), None)
    return "" if at is None else Refusal(KEPT_CLEAR, at)


def _clear(findings: Findings, vent: Vent, others: tuple[Vent, ...]) -> str:
    """Which other vent it comes too near to, in words and where (`Refusal`); "" for none."""
    own = tools_of_vent(findings, vent)
    for other in others:
        if other.id == vent.id:
            continue
        pairs = [(one, tool) for one in own for tool in tools_of_vent(findings, other)]
        nearest = min(pairs, key=lambda pair: gap_of_tools(*pair))
        if gap_of_tools(*nearest) < LIGAMENT_MM:
            who = other.id if other.id.startswith(PASSAGE) else f"vent {other.id}"
            return Refusal(f"it would come too near {who}", thinnest_between(*nearest))
    return ""
