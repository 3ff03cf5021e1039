"""Supports from a second file: vents keep off them, what they close is told, and they are never exported."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from bodies import block, box, cut, inward, moved, rod, rotation, solid, union

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.analysis.inside import look_inside
from ventplanner.analysis.supports import Obstacles, trapped
from ventplanner.app.minding_supports import blocked, left_by_supports
from ventplanner.errors import FileReadError, MeshError
from ventplanner.geometry.pose import Pose
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.support_file import Supports
from ventplanner.io.meshes import read, write
from ventplanner.io.supports import found_again, read_supports
from ventplanner.plan.fitting import BEHIND_SUPPORT, TOUCHES_SUPPORT, fit, in_the_supports, tool_of_vent
from ventplanner.plan.placement import propose
from ventplanner.plan.refusal import place_of_refusal


def bell() -> Solid:
    """A box of 20 mm, hollow with walls of 2 mm."""
    return solid(box(20.0), inward(box(16.0)))


def forest() -> Solid:
    """A raft 5 mm below the box, with thin struts up to its lower face, 3 mm apart."""
    struts = [rod((x, y, -15.0), (x, y, -10.0), 0.4) for x in range(-9, 10, 3) for y in range(-9, 10, 3)]
    return solid(block((-12, -12, -15), (12, 12, -14.5)), *struts)


def minding(part: Solid, mesh: Solid, pose: Pose | None = None) -> Findings:
    return analyse(part, pose).with_supports(Supports("s.stl", mesh.digest, mesh))


def test_without_supports_a_vent_goes_through_the_floor_with_them_none_touches_one() -> None:
    free = propose(analyse(bell()))
    assert any(v.entry_mm[2] == pytest.approx(-10.0) for v in free.vents)
    findings = minding(bell(), forest())
    plan = propose(findings)
    assert plan.vents
    assert plan.missing == ()
    assert blocked(findings, plan.vents) == ()
    for vent in plan.vents:
        start, end = np.array(vent.start_mm), np.array(vent.end_mm)
        line = start + np.linspace(-10.0 / np.linalg.norm(end - start), 1.0, 400)[:, None] * (end - start)
        for x in range(-9, 10, 3):
            for y in range(-9, 10, 3):  # the struts, from above the raft's part of the way
                near = (line[:, 2] > -13.75) & (line[:, 2] < -10.0)
                off = np.hypot(line[near, 0] - x, line[near, 1] - y)
                assert off.min(initial=np.inf) > vent.radius_mm + 0.4


def test_a_support_that_touches_the_hole_and_one_that_stands_before_it_are_told_apart() -> None:
    part = bell()
    way = (np.array([0.0, 0.0, 10.0]), np.array([1.0, 0.0, 0.0]), 1.0, (8.0, 10.0))
    # Build axes: the box stands with its lower face at 0, so a hole at x through its middle is at height 10.
    assert not isinstance(fit(analyse(part), *way), str)
    for distance, told in ((0.0, TOUCHES_SUPPORT), (5.0, BEHIND_SUPPORT), (12.5, "")):
        strut = solid(rod((10.3 + distance, 0.0, -15.0), (10.3 + distance, 0.0, 10.0), 0.3))
        found = fit(minding(part, strut), *way)
        assert (found if isinstance(found, str) else "") == told


def test_a_raft_below_is_no_obstacle_for_a_hole_that_looks_at_it() -> None:
    raft = solid(block((-12, -12, -15), (12, 12, -14.5)))
    found = fit(minding(bell(), raft), np.array([0.0, 0.0, 10.0]), np.array([0.0, 0.0, -1.0]), 1.0, (8.0, 10.0))
    assert not isinstance(found, str)


def test_obstacles_are_where_the_supports_are_in_any_pose() -> None:
    turn = rotation(5)
    part, mesh = moved(bell(), turn), moved(forest(), turn)
    pose = Pose(tuple((turn @ np.array([0.0, 0.0, -1.0])).tolist()))
    findings = minding(part, mesh, pose)
    assert findings.obstacles is not None
    low, high = findings.obstacles.vertices[:, 2].min(), findings.obstacles.vertices[:, 2].max()
    assert (low, high) == pytest.approx((-5.0, 0.0), abs=1e-6)
    raft = findings.obstacles.faces[findings.obstacles.is_foot]
    assert findings.obstacles.vertices[raft, 2].max() <= -3.75


def test_a_vent_that_was_planned_before_the_supports_came_is_left_to_do() -> None:
    plan = propose(analyse(bell()))
    floor = next(v for v in plan.vents if v.entry_mm[2] == pytest.approx(-10.0))
    x, y, z = floor.entry_mm
    strut = solid(rod((x, y, z - 5.0), (x, y, z), 0.4))
    findings = minding(bell(), strut)
    texts = left_by_supports(findings, replace(plan, vents=(floor,)))
    assert texts[0].text.startswith(f"Vent {floor.id}: it would touch a support.")
    assert texts[0].target == f"vent {floor.id}"
    place = place_of_refusal(in_the_supports(findings.obstacles, tool_of_vent(findings, floor)))
    assert place is not None
    off = findings.scene.frame.to_file(place) - floor.entry_mm
    assert np.hypot(off[0], off[1]) < 0.401  # on the strut or in it, before the floor
    assert -5.0 - 1e-6 <= off[2] <= 1e-6


def open_box() -> Solid:
    """A hollow box with one round hole of 4 mm in its floor."""
    return solid(cut(box(20.0), box(16.0), rod((0, 0, -11), (0, 0, -5), 2.0)))


def test_a_support_that_fills_an_opening_is_told_and_one_inside_that_blocks_nothing_is_not() -> None:
    part = open_box()
    assert analyse(part).left == ()
    inner = solid(rod((5, 5, -9.0), (5, 5, 9.0), 0.8))  # from floor to ceiling of the hollow
    assert left_by_supports(minding(part, inner), propose(analyse(part))) == ()
    plug = solid(rod((0, 0, -15.0), (0, 0, -7.0), 2.2))
    (left,) = left_by_supports(minding(part, plug), replace(propose(analyse(part)), vents=()))
    assert left.text.startswith("Supports close the cup at (")


def test_a_support_that_parts_a_hollow_traps_the_half_without_a_hole() -> None:
    part = solid(cut(box(20.0), box(16.0), rod((-5, 0, -11), (-5, 0, -5), 1.5)))
    wall = solid(block((-0.5, -9.0, -9.0), (0.5, 9.0, 9.0)))
    findings = minding(part, wall)
    (cup,) = trapped(findings.scene, findings.obstacles)
    assert cup.to_height is None
    assert cup.start[0] > 0.0


def test_what_supports_touch_is_held_and_the_rest_is_an_island() -> None:
    part = solid(union(box(20.0), block((7, 7, -12), (9, 9, -9))))
    struts = [rod((x, y, -15.0), (x, y, -10.0), 0.4) for x in (-8, 0, 4) for y in (-8, 0, 4)]
    (island,) = look_inside(minding(part, solid(*struts))).islands
    assert island.start[:2] == pytest.approx([8.0, 8.0], abs=0.3)
    # Without supports the knob is the lowest layer, and the box grows from it.
    assert look_inside(analyse(part)).islands == ()


def saved(mesh: Solid, path: Path) -> str:
    write(mesh, path)
    return str(path)


def test_files_that_cannot_be_its_supports_are_refused_with_the_cause(tmp_path: Path) -> None:
    part = read(saved(bell(), tmp_path / "part.stl"))
    with pytest.raises(FileReadError, match=r"none\.stl"):
        read_supports(str(tmp_path / "none.stl"), part)
    with pytest.raises(MeshError, match="is the part itself"):
        read_supports(str(tmp_path / "part.stl"), part)
    with pytest.raises(MeshError, match=r"lies 1\d\d mm away"):
        read_supports(saved(moved(forest(), shift=(150, 0, 0)), tmp_path / "far.stl"), part)
    with pytest.raises(MeshError, match="not supports of this part"):
        read_supports(saved(moved(forest(), 25.4 * np.eye(3)), tmp_path / "inch.stl"), part)
    assert read_supports(saved(forest(), tmp_path / "good.stl"), part).name == "good.stl"


def test_supports_of_a_plan_are_found_again_or_said_to_be_missing_or_changed(tmp_path: Path) -> None:
    part = bell()
    path = tmp_path / "supports.stl"
    known = read_supports(saved(forest(), path), part)
    remembered = Supports(known.path, known.digest)
    again = found_again(remembered, part)
    assert again == known
    assert again is not None
    assert again.solid is not None
    write(solid(rod((0, 0, -15), (0, 0, -10), 0.5)), path, overwrite=True)
    changed = found_again(remembered, part)
    assert changed is not None
    assert (changed.solid, changed.digest) == (None, known.digest)
    assert "has changed since the plan was saved" in changed.problem
    path.unlink()
    gone = found_again(remembered, part)
    assert gone is not None
    assert "cannot be read" in gone.problem
    assert Obstacles.of(gone, analyse(part).scene.frame) is None
    assert gone.problem in analyse(part).with_supports(gone).notes
