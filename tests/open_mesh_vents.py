"""How many cups of an irregular mesh get a vent, widened opening or passage that breathes when the drilled part is read
anew; the rest is confirmed by a search of every way. A long run; the quick one is `tests/plan/test_open_mesh.py`.

    PYTHONPATH=. python tests/open_mesh_vents.py [POSES]
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import numpy as np
from flood_oracle import frame_of
from open_meshes import hollow_cow
from vent_oracle import sphere

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.geometry.pose import Pose
from ventplanner.geometry.solid import Solid
from ventplanner.options import VentRules
from ventplanner.plan.drilling import drill
from ventplanner.plan.placement import propose
from ventplanner.plan.verification import compare

Array = np.ndarray
NARROWEST_MM = 1.0


@dataclass(frozen=True)
class Placed:
    """cups: above the filter that did not breathe; served: of these, breathing in the drilled part; left: told as left,
    each with how many ways a search of all found nevertheless."""

    cups: int
    served: int
    left: tuple[tuple[str, int], ...]


def placed(solid: Solid, pose: Pose, rules: VentRules) -> Placed:
    """Propose, drill, check the cut, and look at the drilled part as at any other."""
    findings = analyse(solid, pose)
    plan = propose(findings, rules)
    drilled = drill(findings.part, plan).solid
    assert compare(findings.part, drilled, plan) == ()
    after = analyse(drilled, pose)
    bad = [c for cavity in findings.cavities for c in cavity.cups if c.state != "breathing"]
    served, left = 0, []
    for cup in bad:
        start = after.scene.frame.to_build(findings.scene.frame.to_file(cup.cup.start))
        number = int(after.cups.cup_at((start + np.array([0.0, 0.0, 1e-4]))[None])[0])
        if number < 0 or after.cups.cups[number].state(after.options) == "breathing":
            served += 1
        else:
            left.append((cup.id, ways_out(findings, cup.cup.start, pose, rules.longest_wall_mm)))
    told = {m.cup for m in plan.missing}
    assert {name for name, _ in left} <= told, (left, told)
    return Placed(len(bad), served, tuple(left))


def ways_out(findings: Findings, start: Array, pose: Pose, longest: float) -> int:
    """Ways from just above a cup's start, in 700 directions, through one wall no longer than may be, whose axis and rim
    (six rays of the narrowest hole) all go out, and that open no later than may be.

    Of winding by crossings alone (Moeller & Trumbore 1997), without columns, join trees or rays of the product.
    """
    up = frame_of(pose)[2]
    ways = sphere(700)
    ways = ways[ways @ up <= 0.5]
    at = findings.scene.frame.to_file(start) + (0.5 * NARROWEST_MM + 0.05) * up
    corners = findings.part.vertices[findings.part.faces]
    count = 0
    for way in ways:
        axis = _one_wall(corners, at, way)
        if axis is None or axis[1] - axis[0] > longest:
            continue
        if max(0.0, axis[1] * float(way @ up)) + 0.05 > findings.options.late_mm:
            continue
        one = np.cross(way, np.eye(3)[int(np.argmin(np.abs(way)))])
        one /= np.linalg.norm(one)
        other = np.cross(way, one)
        angles = np.arange(6) * np.pi / 3
        rim = 0.5 * NARROWEST_MM * (np.cos(angles)[:, None] * one + np.sin(angles)[:, None] * other)
        count += all(_one_wall(corners, at + off, way) is not None for off in rim)
    return count


def _one_wall(corners: Array, origin: Array, way: Array) -> tuple[float, float] | None:
    """Where a ray from free space goes through the only wall that it meets; None if it meets another number."""
    a, ab, ac = corners[:, 0], corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    across = np.cross(way, ac)
    det = np.einsum("ij,ij->i", ab, across)
    safe = np.where(np.abs(det) < 1e-12, 1.0, det)
    away = origin - a
    u = np.einsum("ij,ij->i", away, across) / safe
    turn = np.cross(away, ab)
    v = turn @ way / safe
    t = np.einsum("ij,ij->i", ac, turn) / safe
    hit = (np.abs(det) >= 1e-12) & (u >= 0) & (v >= 0) & (u + v <= 1) & (t > 0)
    found = np.sort(t[hit])
    return (float(found[0]), float(found[1])) if len(found) == 2 else None


def cow() -> Solid:
    """The hollow cow."""
    return Solid(*hollow_cow())


def main() -> int:
    """Any poses, two rules; the placed share is printed."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 12
    solid, all_of, served, missed = cow(), 0, 0, 0
    for k, way in enumerate(sphere(count)):
        pose = Pose(tuple(way.tolist()))
        for longest in (15.0, 3.0, 2.2):
            found = placed(solid, pose, VentRules(passages="auto", longest_wall_mm=longest))
            all_of, served = all_of + found.cups, served + found.served
            missed += sum(n > 0 for _, n in found.left)
            print(f"pose {k}, walls up to {longest:g} mm: {found}", flush=True)
    print(f"{served} of {all_of} cups are served ({100.0 * served / max(all_of, 1):.0f} %); of the others")
    print(f"{missed} have a way out that a search of every way finds")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
