"""Small hollow parts for the tests of the session: what is in them is plain to see."""

from __future__ import annotations

from functools import cache

import trimesh
from bodies import box, inward, solid

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.geometry.pose import Pose
from ventplanner.geometry.solid import Solid
from ventplanner.plan.model import Plan
from ventplanner.plan.placement import propose

ON_SIDE = Pose((1.0, 0.0, 0.0))


def fine(mesh: trimesh.Trimesh, times: int = 2) -> trimesh.Trimesh:
    """The same shape with more triangles."""
    for _ in range(times):
        mesh = mesh.subdivide()
    return mesh


@cache
def two_bells() -> Solid:
    """A block 40 x 20 x 20 mm with a low cavity at x < 0 (A in the usual pose) and a higher one at x > 0 (B).

    A: 12 mm cubed about (-9, 0, -2). B: 12 mm cubed about (9, 0, 1).
    """
    skins = box((40.0, 20.0, 20.0)), inward(box(12.0, (-9.0, 0.0, -2.0))), inward(box(12.0, (9.0, 0.0, 1.0)))
    return solid(*(fine(skin) for skin in skins))


def keel_skins() -> tuple[trimesh.Trimesh, ...]:
    """A hull 54 mm cubed with a wide chamber (A) and, 5 mm of material from it and 17 mm or more from the outside, a
    small one that begins 2 mm higher (B: 8 x 8 x 10 mm about (0, 6, 0))."""
    chamber, keel = box((40.0, 16.0, 18.0), (0.0, -11.0, 2.0)), box((8.0, 8.0, 10.0), (0.0, 6.0, 0.0))
    return box(54.0), inward(chamber), inward(keel)


@cache
def keel() -> Solid:
    """The keel as a part."""
    return solid(*keel_skins())


@cache
def found(pose: Pose | None = None) -> Findings:
    """What is found in the two bells."""
    return analyse(two_bells(), pose)


@cache
def proposed(pose: Pose | None = None) -> Plan:
    """What is proposed for them: two vents for each."""
    return propose(found(pose))
