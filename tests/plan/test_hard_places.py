"""Places where a drill or a verdict once went wrong, each as a small part of exact shape."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import bodies as b
import numpy as np
import pytest
import trimesh

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.app.exporting import export
from ventplanner.geometry.pose import Pose
from ventplanner.geometry.solid import Solid
from ventplanner.options import VentRules
from ventplanner.plan.drilling import drill
from ventplanner.plan.fitting import Fit, fit
from ventplanner.plan.model import Plan
from ventplanner.plan.placement import propose
from ventplanner.plan.second_look import look_again


def turned_profile(points: list[tuple[float, float]]) -> b.Mesh:
    """A body of revolution about z from (radius, z) points, axis to axis."""
    mesh = trimesh.creation.revolve(np.array(points, dtype=float), sections=96)
    if mesh.volume < 0:
        mesh.invert()
    return mesh


def face_on_plate(part: Solid) -> float:
    """mm2 of faces that lie flat at the part's lowest height."""
    corners = part.vertices[part.faces]
    flat = (np.abs(corners[:, :, 2] - part.vertices[:, 2].min()) < 1e-4).all(axis=1)
    return float(trimesh.Trimesh(part.vertices, part.faces[flat], process=False).area)


def test_on_the_plate_a_bell_keeps_its_whole_rim() -> None:
    outer = turned_profile([(0, 0), (22, 0), (20, 3), (13, 20), (10, 36), (6, 40), (0, 40)])
    inner = turned_profile([(0, -1), (20.2, -1), (18, 3), (11, 20), (8, 34), (4, 37), (0, 37)])
    part = b.solid(b.cut(outer, inner))
    findings = analyse(part, Pose(on="plate"))
    plan = propose(findings)
    assert plan.vents
    assert plan.missing == ()
    drilled = drill(findings.part, plan).solid
    assert face_on_plate(drilled) == pytest.approx(face_on_plate(part), abs=1e-3)


def test_the_way_out_of_a_bowl_with_a_hole_in_its_side_is_the_hole() -> None:
    bowl = b.solid(b.cut(b.block((-12, -12, 0), (12, 12, 20)), b.block((-10, -10, 2), (10, 10, 25)),
                         b.rod((8, 3, 4.2), (14, 3, 4.2), 1.0)))  # fmt: skip
    findings = analyse(bowl)
    (cavity,) = findings.cavities
    (opening,) = cavity.openings
    assert opening.width == pytest.approx(2.0, abs=0.05)
    at = findings.scene.frame.to_file(opening.at)
    assert at[1:] == pytest.approx((3.0, 4.2), abs=0.05)
    assert 10 <= at[0] <= 12
    (vent,) = propose(findings).vents
    # 1.2 mm too high: a drill of 3.4 mm from the old hole's top reaches 0.15 mm below the floor.
    assert (vent.kind, vent.diameter_mm) == ("widen", pytest.approx(3.4, abs=0.11))
    assert look_again(findings, propose(findings), drill(findings.part, propose(findings)).solid).differences == ()


def test_a_hole_too_high_over_the_plate_is_widened_down_to_the_rim_and_no_further() -> None:
    cap = b.solid(b.cut(b.block((-12, -12, 0), (12, 12, 20)), b.block((-10, -10, -1), (10, 10, 18)),
                        b.rod((8, 0, 2), (14, 0, 2), 1.0)))  # fmt: skip
    findings = analyse(cap, Pose(on="plate"))
    (vent,) = (v for v in propose(findings).vents if v.kind == "widen")
    assert vent.entry_mm[2] - vent.radius_mm > 0.25
    assert "above the start" in vent.reason


def crate(n: int, floor: int, size: float) -> Solid:
    """n x n square bowls side by side, 3 wide, walls 1, this floor (in sizes)."""
    filled = np.ones((4 * n + 1, 4 * n + 1, 6), dtype=bool)
    for i in range(n):
        for j in range(n):
            filled[4 * i + 1 : 4 * i + 4, 4 * j + 1 : 4 * j + 4, floor:] = False
    return b.voxel_solid(filled, size)


@pytest.mark.parametrize(("floor", "size"), [(2, 1.0), (2, 2.0)])
def test_every_bowl_of_a_crate_is_vented_downwards_and_none_into_its_neighbour(floor: int, size: float) -> None:
    findings = analyse(crate(3, floor, size))
    plan = propose(findings)
    assert plan.missing == ()
    assert len({v.cup for v in plan.vents}) == 9
    width = 13 * size
    for vent in plan.vents:
        x, y, z = vent.entry_mm
        assert z < 0.01 or min(x, y, width - x, width - y) < 0.01


BOX, HOLLOW = b.box((30, 20, 20)), b.inward(b.box((26, 16, 16)))


def drill_through_the_side(findings: Findings) -> Fit | str:
    """A 2.5 mm drill from the middle of the hollow through the wall at y = 10."""
    origin = findings.scene.frame.to_build(np.array([0.0, 5.0, 0.01]))
    return fit(findings, origin, np.array([0.0, 1.0, 0.0]), 1.25, (3.0, 5.0))


@pytest.mark.parametrize("gap", [0.4, 0.6, 0.9, 1.5, 2.0, 2.5])
def test_a_tip_in_front_of_the_wall_is_never_drilled_into(gap: float) -> None:
    tip = b.turned(b.cone(3.0, 6.0), 90, (1, 0, 0))
    tip.apply_translation((0, 10 + gap - tip.bounds[0, 1], 0.02))
    arm = b.union(b.block((-15, 15.5 + gap, -3), (15, 19 + gap, 3)), *(
        b.block((x - 1, 9, -3), (x + 1, 19 + gap, 3)) for x in (-14, 14)))  # fmt: skip
    part = b.solid(b.union(BOX, arm, tip), HOLLOW)
    found = drill_through_the_side(analyse(part))
    assert isinstance(found, str) or found.before < gap


def test_a_knob_in_front_of_the_wall_is_never_drilled_into() -> None:
    rail = b.union(
        b.block((-12, 11.2, -1), (12, 13, 1)), *(b.block((x - 1, 9.5, -1), (x + 1, 13, 1)) for x in (-13, 13))
    )
    knob = b.rod((0, 11.0, 0), (0, 14, 0), 0.6, sections=24)
    found = drill_through_the_side(analyse(b.solid(b.union(BOX, rail, knob), HOLLOW)))
    assert isinstance(found, str) or found.before < 1.0


def test_a_vent_in_the_wrong_one_of_two_equal_hollows_is_noticed() -> None:
    part = b.solid(b.box((60, 20, 20)), *(b.inward(b.box((20, 14, 14), (x, 0, 0))) for x in (-15, 15)))
    findings = analyse(part)
    plan = propose(findings, VentRules(vents_per_cavity=1))
    first, second = (replace(plan, vents=(v,)) for v in plan.vents)
    seen = look_again(findings, first, drill(findings.part, second).solid).differences
    assert any("does not breathe" in text for text in seen)
    assert look_again(findings, first, drill(findings.part, first).solid).differences == ()


@pytest.mark.parametrize("volume", [4.9, 4.98, 5.02, 5.1])
def test_a_void_on_the_edge_of_the_filter_is_no_difference(volume: float, tmp_path: Path) -> None:
    part = b.solid(b.box((30, 20, 12)), b.inward(b.box(volume ** (1 / 3), (0.13, 0.07, 0))))
    findings = analyse(part)
    assert export(findings, Plan(), tmp_path / "copy.stl").path.exists()


def test_a_vent_that_takes_the_lowest_point_away_moves_no_other_height() -> None:
    outer, inner = (b.cone(r, h, (0, 0, z), point_down=True) for r, h, z in ((8, 30, 30), (7, 26.5, 29.5)))
    body = b.union(outer, b.block((-20, -20, 29.9), (20, 20, 40)))
    part = b.solid(body, b.inward(inner), b.inward(b.block((12, -3, 33), (18, 3, 37))))
    findings = analyse(part)
    cavity = next(c.id for c in findings.cavities if c.cups[0].cup.from_height < 20)
    tip = next(v for v in propose(findings).vents if v.cavity == cavity)
    low, inside = float(part.bounds[0, 2]), float(inner.bounds[0, 2])
    through = replace(tip, kind="vent", entry_mm=(0.0, 0.0, low), exit_mm=(0.0, 0.0, inside), axis=(0.0, 0.0, 1.0),
                      diameter_mm=2.5, wall_mm=inside - low, before_mm=0.5, beyond_mm=1.5)  # fmt: skip
    plan = replace(propose(findings), vents=(through,))
    drilled = drill(findings.part, plan).solid
    assert drilled.bounds[0, 2] > low + 1
    assert look_again(findings, plan, drilled).differences == ()
