"""Supports from a second file: obstacles for vents and for the drill's way in, never a piece of the part."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ventplanner.analysis.cups import Cup, find_cups
from ventplanner.analysis.scene import Scene
from ventplanner.geometry.columns import Tool, cast, drilled
from ventplanner.geometry.distance import NearTriangles
from ventplanner.geometry.join_tree import join_tree
from ventplanner.geometry.pose import BuildFrame
from ventplanner.geometry.rays import Target
from ventplanner.geometry.solid import FloatArray, IntArray, Solid
from ventplanner.geometry.support_file import Supports
from ventplanner.geometry.topology import topology
from ventplanner.geometry.tube import nearest_to

FOOT_SHARE = 0.25
"""What lies wholly within this share of the height from the supports' lowest point to the part's is foot or raft: a
hole may look at it, since it comes off with them (own judgement, as for supports in the part's file)."""

APPROACH_MM = 10.0
"""So much way straight before a hole is kept free of supports: for air and resin, and for a drill or a needle (own
judgement)."""


@dataclass(frozen=True, eq=False)
class Obstacles:
    """Supports in build axes, ready to be asked what comes near them.

    vertices: (n, 3). faces: (m, 3) int32. is_foot: (m,) bool, feet and rafts. target: the mesh, ready for boxes.
    """

    supports: Supports
    vertices: FloatArray
    faces: IntArray
    is_foot: NDArray[np.bool_]
    target: Target

    @classmethod
    def of(cls, supports: Supports | None, frame: BuildFrame) -> Obstacles | None:
        """Those of some supports; None if there are none."""
        if supports is None or supports.solid is None:
            return None
        solid = supports.solid.compact()
        vertices = frame.to_build(solid.vertices)
        low = float(vertices[:, 2].min())
        level = low + FOOT_SHARE * max(-low, 0.0)
        is_foot = (vertices[solid.faces, 2] <= level).all(axis=1)
        return cls(supports, vertices, solid.faces, is_foot, Target.of(vertices, solid.faces))

    def distance(self, start: FloatArray, end: FloatArray, reach: float, *, feet: bool = True) -> float:
        """mm from a segment to the nearest support, inf beyond `reach`. feet: rafts and feet count, too."""
        corners = self._near(start, end, reach, feet)
        if not len(corners):
            return float("inf")
        steps = np.linspace(0.0, 1.0, 2 + int(np.linalg.norm(end - start) / (0.25 * reach)))
        axis = start + steps[:, None] * (end - start)
        return float(NearTriangles(corners).distance(axis).min())

    def nearest(self, start: FloatArray, end: FloatArray, reach: float, *, feet: bool = True) -> FloatArray | None:
        """(3,) the point of a support that comes nearest to the line of a segment; None where none is near."""
        corners = self._near(start, end, reach, feet)
        (a, b, c), (d, e, f) = start.tolist(), end.tolist()
        return nearest_to(Tool((a, b, c), (d, e, f), reach), corners, reach) if len(corners) else None

    def _near(self, start: FloatArray, end: FloatArray, reach: float, feet: bool) -> FloatArray:
        """(k, 3, 3) corners of the faces whose boxes come within `reach` mm of the box of a segment."""
        ends = np.array([start, end])
        faces = self.target.near(ends.min(axis=0) - reach, ends.max(axis=0) + reach)
        faces = faces if feet else faces[~self.is_foot[faces]]
        return np.ascontiguousarray(self.vertices[self.faces[faces]])


def trapped(scene: Scene, obstacles: Obstacles | None, tools: tuple[Tool, ...] = ()) -> tuple[Cup, ...]:
    """Cups that do not breathe only because supports stand in the way: of the part with these holes drilled.

    Part and supports are cast together, so a support that fills an opening or parts a cavity shows as what it does.
    """
    if obstacles is None:
        return ()
    joined, skins = topology(Solid(obstacles.vertices, obstacles.faces)), scene.topology
    vertices = np.concatenate((scene.vertices, obstacles.vertices))
    faces = np.concatenate((scene.solid.faces, obstacles.faces + np.int32(len(scene.vertices))))
    skin = np.concatenate((skins.skin_of_face, joined.skin_of_face + np.int32(skins.n_skins)))
    tight = all(t.is_closed and t.is_oriented for t in (joined, skins))
    runs = drilled(cast(vertices, faces, skin, scene.resolution.pitch_mm, tight=tight), tools)
    on_plate = scene.pose.on == "plate"
    if on_plate:
        runs = runs.on_plate(scene.options.layer_mm)
    height = max(scene.height, float(vertices[:, 2].max()))
    after = find_cups(join_tree(runs), height, scene.options, on_plate)
    before = scene.cups(tools)
    bad = [cup for cup in after.cups if cup.state(scene.options) != "breathing"]
    known = before.cup_at(np.array([c.start for c in bad]).reshape(-1, 3) + np.array([0.0, 0.0, 1e-4]))
    return tuple(
        cup
        for cup, k in zip(bad, known.tolist(), strict=True)
        if k < 0 or before.cups[k].state(scene.options) == "breathing"
    )
