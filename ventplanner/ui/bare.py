"""The picture of a part before anything was found in it; kept apart because it needs no compiled loops."""

from __future__ import annotations

import numpy as np

from ventplanner.geometry.pose import BuildFrame, Pose
from ventplanner.geometry.solid import Solid
from ventplanner.ui.picture import Band, Mesh, Picture


def bare_picture(solid: Solid, pose: Pose) -> Picture:
    """The part alone."""
    vertices = BuildFrame.of(solid, pose).to_build(solid.vertices)
    height = float(vertices[:, 2].max())
    nothing = np.zeros(2)
    return Picture(
        part=Mesh(part_key(solid, pose), vertices, solid.faces),
        drilled=None,
        height=height,
        gap=pose.gap_mm,
        on=pose.on,
        cavities=(),
        vents=(),
        heights=np.array([0.0, height]),
        bands=(Band("", 0, nothing, nothing),),
        stale=True,
    )


def part_key(solid: Solid, pose: Pose) -> str:
    """Key of the mesh of a part in build axes."""
    return f"part {solid.digest} {pose.to_plate}"
