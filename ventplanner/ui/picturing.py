"""Makes the picture that the view and the chart show, reusing every piece that did not change."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ventplanner.analysis.findings import Findings
from ventplanner.app.as_printed import BreathingPrinted
from ventplanner.app.breathing import Breathing
from ventplanner.app.comparing import Curves
from ventplanner.app.left import too_late_mm
from ventplanner.app.lookup import point_in
from ventplanner.app.outlook import Outlook
from ventplanner.app.suction import SEALED_SHARE
from ventplanner.flow.model import Curves as Flows
from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.plan.model import Passage, Plan, Point, Vent
from ventplanner.ui.bare import part_key
from ventplanner.ui.picture import (
    Band,
    Mesh,
    Picture,
    ShownCavity,
    ShownFlow,
    ShownKept,
    ShownPrinted,
    ShownVent,
    VentStatus,
)


@dataclass(frozen=True, eq=False)
class Backdrop:
    """What is drawn of findings whatever is planned. Takes a moment to make, so it is made with the findings.

    faces: of each cavity, (k,) int32. labels: of each cavity, (3,) build point.
    """

    part: Mesh
    faces: tuple[IntArray, ...]
    labels: tuple[FloatArray, ...]


def backdrop(findings: Findings) -> Backdrop:
    """The part in build axes, and where its cavities are."""
    scene = findings.scene
    return Backdrop(
        Mesh(part_key(findings.part, scene.pose), scene.vertices, findings.part.faces),
        tuple(findings.surface(c.id) for c in findings.cavities),
        tuple(point_in(findings, c) for c in findings.cavities),
    )


def picture(
    drawn: Backdrop,
    outlook: Outlook,
    plan: Plan,
    proposals: Iterable[Vent | Passage],
    *,
    drilled: Mesh | None = None,
    selected: str = "",
    stale: bool = False,
    before: Picture | None = None,
) -> Picture:
    """The picture of findings with a plan. outlook: with the accepted vents. before: the last picture, for reuse."""
    findings = outlook.findings
    alone = {cavity for cavity, _ in plan.left_alone}
    cavities = tuple(
        ShownCavity(c.id, k, outlook.state(c.id), c.id in alone, drawn.faces[k], drawn.labels[k], _late(outlook, c.id))
        for k, c in enumerate(findings.cavities)
    )
    same = before is not None and before.part is drawn.part
    offered = tuple(proposals)
    joins = [one for one in offered if isinstance(one, Passage)]
    open_vents = [one for one in offered if isinstance(one, Vent)]
    vents = (*_vents(findings, plan.vents, "accepted"), *_vents(findings, open_vents, "proposed"))
    vents += (*shown_legs(findings, plan.passages, "accepted"), *shown_legs(findings, joins, "proposed"))
    return Picture(
        part=drawn.part,
        drilled=drilled,
        height=findings.scene.height,
        gap=findings.pose.gap_mm,
        on=findings.pose.on,
        cavities=_kept(before.cavities, cavities) if before is not None and same else cavities,
        vents=before.vents if before is not None and before.vents == vents else vents,
        heights=outlook.heights,
        bands=_bands(outlook),
        selected=selected,
        stale=stale,
    )


def shown(findings: Findings, vent: Vent, status: VentStatus) -> ShownVent:
    """A vent in build axes."""
    start, end, entry = findings.scene.frame.to_build(np.array([vent.start_mm, vent.end_mm, vent.entry_mm]))
    from ventplanner.plan.fitting import outline_in_build, tool_of_vent

    flare = next((tool_of_vent(findings, leg) for leg in vent.legs[1:]), None)
    outline = outline_in_build(findings, vent.outline)
    ends = _point(start), _point(end)
    return ShownVent(
        vent.id, vent.cavity, status, vent.kind, *ends, vent.diameter_mm, _point(entry), False, outline, flare
    )


def _vents(findings: Findings, vents: Sequence[Vent], status: VentStatus) -> tuple[ShownVent, ...]:
    return tuple(shown(findings, vent, status) for vent in vents)


def shown_legs(findings: Findings, passages: Iterable[Passage], status: VentStatus) -> tuple[ShownVent, ...]:
    """The straight holes of passages in build axes, each with the id of its passage."""
    legs = [(passage.id, leg) for passage in passages for leg in passage.drills]
    return tuple(replace(shown(findings, leg, status), id=name, inside=True) for name, leg in legs)


def _kept(before: tuple[ShownCavity, ...], now: tuple[ShownCavity, ...]) -> tuple[ShownCavity, ...]:
    """The cavities of the last picture, where nothing about them changed."""
    if len(before) != len(now):
        return now
    pairs = zip(before, now, strict=True)
    return tuple(b if (b.id, b.state, b.left_alone) == (n.id, n.state, n.left_alone) else n for b, n in pairs)


def _late(outlook: Outlook, cavity: str) -> float:
    """By how many mm the worst of a cavity's late cups opens too late; 0 if none does, or one never opens."""
    bad = [cup for _, cup in outlook.bad(cavity)]
    return max((too_late_mm(cup) for cup in bad), default=0.0) if all(c.to_height is not None for c in bad) else 0.0


def _bands(outlook: Outlook) -> tuple[Band, ...]:
    """A band for each cavity, and one for all that is sealed beside them (below the filter, or in no cavity)."""
    findings = outlook.findings
    return _banded(findings, Outlook(findings, findings.cups).areas, outlook.areas)


def _banded(findings: Findings, without: Sequence[FloatArray], vented: Sequence[FloatArray]) -> tuple[Band, ...]:
    names = (*(c.id for c in findings.cavities), "")
    rows = zip(names, without, vented, strict=True)
    return tuple(Band(name, k, before, after) for k, (name, before, after) in enumerate(rows))


def shown_printed(found: BreathingPrinted) -> ShownPrinted:
    """The curves as printed; what is without vents is that of the model."""
    findings, heights = found.flow.ground.findings, found.heights
    model = Outlook(findings, findings.cups)
    without = [np.interp(heights, model.heights, area) for area in model.areas]
    return ShownPrinted(heights, _banded(findings, without, found.areas), shown_flow(found.flow))


def shown_flow(found: Breathing) -> ShownFlow:
    """The curves of the flow by cavity: "" gathers hollows that are none."""
    before, after, profile = found.before.curves, found.after.curves, found.after.profile
    heights = np.union1d(before.height, after.height)
    home = found.ground.cavity_of_room
    rooms: dict[str, list[int]] = {c.id: [] for c in found.ground.findings.cavities}
    for room in range(1, found.ground.rooms.count + 1):
        rooms.setdefault(home.get(room, ""), []).append(room)

    def curve(of: Flows, mine: list[int], *, force: bool) -> FloatArray:
        if not mine:
            return np.zeros(len(heights))
        if force:
            own = 1e-6 * (of.suction[mine] * of.area[mine]).sum(axis=0)
        else:
            own = 1e-3 * np.where(of.area[mine] > 0.0, of.suction[mine], 0.0).max(axis=0)
        return np.asarray(np.interp(heights, of.height, own))

    def bands(*, force: bool) -> tuple[Band, ...]:
        return tuple(
            Band(name, k, curve(before, mine, force=force), curve(after, mine, force=force))
            for k, (name, mine) in enumerate(rooms.items())
        )

    limit, air = profile.suction_limit_kpa, 1e-3 * profile.air_pressure_pa
    steady = [1e-3 * row.peak_suction for row in found.after.cups]
    reach = max((s for s in steady if s < SEALED_SHARE * air), default=0.0)
    return ShownFlow(heights, bands(force=False), bands(force=True), limit, air, reach)


def shown_kept(found: Curves, cavity: str, name: str, here: str) -> ShownKept:
    """A place that is kept for comparing. cavity: of its vent."""
    outlook = found.outlook
    flow = None if found.flow is None else shown_flow(found.flow)
    return ShownKept(name, here, cavity, outlook.heights, outlook.area(cavity), flow)


def _point(values: FloatArray) -> Point:
    x, y, z = (float(v) for v in values)
    return (x, y, z)
