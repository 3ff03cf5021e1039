"""Pictures for the tests and benchmarks of the view: made from samples and from plain bodies."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import numpy as np

import ventplanner
from ventplanner.analysis.findings import Findings
from ventplanner.geometry.columns import Tool
from ventplanner.plan.model import Plan, Vent
from ventplanner.ui.picture import Band, Mesh, Picture, ShownCavity, ShownVent

SAMPLES = Path(__file__).parents[2] / "samples"


def picture_of_sample(name: str, accept: int = 0, drilled: bool = False, **pose: object) -> Picture:
    """The picture of a sample, with its first proposals accepted."""
    solid = ventplanner.read(SAMPLES / name)
    findings = ventplanner.analyse(solid, ventplanner.Pose(**pose))  # type: ignore[arg-type]
    return picture_of(findings, ventplanner.propose(findings), accept, drilled)


def picture_of(findings: Findings, plan: Plan, accept: int = 0, drilled: bool = False) -> Picture:
    accepted = plan.vents[:accept]
    cavities = tuple(_shown_cavity(findings, k) for k in range(len(findings.cavities)))
    tools = tuple(_tool(findings, v) for v in accepted)
    after = findings.scene.cups(tools) if tools else findings.cups
    heights = findings.cups.sealed_area.height
    mesh = None
    if drilled and accepted:
        done = ventplanner.drill(findings.part, Plan(accepted))
        mesh = Mesh("drilled", findings.scene.frame.to_build(done.solid.vertices), done.solid.faces)
    key = f"part {findings.part.digest} {findings.pose.to_plate}"
    return Picture(
        part=Mesh(key, findings.scene.vertices, findings.part.faces),
        drilled=mesh,
        height=findings.scene.height,
        gap=findings.pose.gap_mm,
        on=findings.pose.on,
        cavities=cavities,
        vents=tuple(_shown_vent(findings, v, v in accepted) for v in plan.vents),
        heights=heights,
        bands=tuple(_bands(findings, after, heights)),
    )


def _shown_cavity(findings: Findings, number: int) -> ShownCavity:
    cavity = findings.cavities[number]
    faces = findings.surface(cavity.id)
    middle = findings.scene.vertices[findings.part.faces[faces]].mean(axis=(0, 1))
    return ShownCavity(cavity.id, number, cavity.state, False, faces, middle)


def _tool(findings: Findings, vent: Vent) -> Tool:
    frame = findings.scene.frame
    return Tool(frame.to_build(np.array(vent.start_mm)), frame.to_build(np.array(vent.end_mm)), vent.radius_mm)


def _shown_vent(findings: Findings, vent: Vent, accepted: bool) -> ShownVent:
    start, end, entry = (
        tuple(float(x) for x in findings.scene.frame.to_build(np.array(p)))
        for p in (vent.start_mm, vent.end_mm, vent.entry_mm)
    )
    status = "accepted" if accepted else "proposed"
    return ShownVent(vent.id, vent.cavity, status, vent.kind, start, end, vent.diameter_mm, entry)  # type: ignore[arg-type]


def _bands(findings: Findings, after: object, heights: np.ndarray) -> Iterable[Band]:
    def curve(cups: object, numbers: list[int]) -> np.ndarray:
        total = np.zeros(len(heights) - 2)
        for k in numbers:
            total += cups.cups[k].area  # type: ignore[attr-defined]
        return np.concatenate((total[:1], total, total[-1:]))

    rest_before, rest_after = findings.cups.sealed_area.area.copy(), after.sealed_area.area.copy()  # type: ignore[attr-defined]
    for number, cavity in enumerate(findings.cavities):
        before = curve(findings.cups, [c.number for c in cavity.cups])
        branches = {findings.cups.cups[c.number].from_height: c for c in cavity.cups}
        survivors = [k for k, c in enumerate(after.cups) if any(abs(c.from_height - h) < 0.3 for h in branches)]  # type: ignore[attr-defined]
        now = curve(after, survivors)
        rest_before -= before
        rest_after -= now
        yield Band(cavity.id, number, before, now)
    yield Band("", -1, np.maximum(rest_before, 0), np.maximum(rest_after, 0))


def block(n: int = 24, size: float = 20.0, wall: float = 3.0, at: float = 0.0) -> Picture:
    """A cube with one cubic cavity "A" and one proposal "1" through its front wall, all sizes known."""
    outer, inner = _cube(n, size, False), _cube(n, size - 2 * wall, True)
    vertices = np.concatenate((outer[0] + [0, 0, size / 2], inner[0] + [0, 0, size / 2]))
    faces = np.concatenate((outer[1], inner[1] + len(outer[0]))).astype(np.int32)
    heights = np.linspace(0.0, size, 101)
    area = np.where((heights > wall) & (heights < size - wall), (size - 2 * wall) ** 2, 0.0)
    vent = ShownVent(
        "1", "A", "proposed", "vent", (0, -size / 2 - 1, wall + 2), (0, wall - size / 2 + 0.5, wall + 2), 3.0,
        (0, -size / 2, wall + 2),
    )  # fmt: skip
    cavity = ShownCavity(
        "A", 0, "sealed", False, np.arange(len(outer[1]), len(faces), dtype=np.int32), np.array([0, 0, size / 2 + 2])
    )
    return Picture(
        Mesh(f"block {n} {size} {at}", vertices, faces), None, size, 5.0, "supports", (cavity,), (vent,), heights,
        (Band("A", 0, area, area),),
    )  # fmt: skip


def _cube(n: int, size: float, inward: bool) -> tuple[np.ndarray, np.ndarray]:
    """A closed cube of 12 n^2 triangles about the origin."""
    line = np.linspace(-size / 2, size / 2, n + 1)
    u, v = (a.ravel() for a in np.meshgrid(line, line, indexing="ij"))
    corner = np.arange((n + 1) ** 2).reshape(n + 1, n + 1)
    a, b, c, d = corner[:-1, :-1].ravel(), corner[1:, :-1].ravel(), corner[1:, 1:].ravel(), corner[:-1, 1:].ravel()
    grid = np.concatenate((np.column_stack((a, b, c)), np.column_stack((a, c, d))))
    sides, walls = [], []
    for axis in range(3):
        for sign in (-1.0, 1.0):
            p = np.empty((len(u), 3))
            p[:, axis], p[:, (axis + 1) % 3], p[:, (axis + 2) % 3] = sign * size / 2, u, v
            walls.append((grid if sign > 0 else grid[:, ::-1]) + len(u) * len(sides))
            sides.append(p)
    every, faces = np.concatenate(sides), np.concatenate(walls)
    unique, index = np.unique(np.round(every, 9), axis=0, return_inverse=True)
    faces = index.reshape(-1)[faces]
    return unique, faces[:, ::-1] if inward else faces
