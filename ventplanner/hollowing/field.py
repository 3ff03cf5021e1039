"""Where the hollow shall be: values on a grid over the posed part, positive in the hollow, zero on its skin.

Every rule is a signed distance, exact near its zero, and the hollow is where all of them are positive: their least one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.closest import Nearest
from ventplanner.geometry.columns import cast
from ventplanner.geometry.contour import surface
from ventplanner.geometry.material import material_at_nodes
from ventplanner.geometry.solid import FloatArray, IntArray, box_of

Flags = NDArray[np.uint8]
Values = NDArray[np.float32]
Share = Callable[[float], None]

CORNER = float(np.sqrt(3.0))
"""How far the corner of a cube is from the middle of the ball that fits it, in its radii."""


@dataclass(frozen=True, eq=False)
class Nodes:
    """A grid of nodes in build axes. origin: x, y, z of the first one; step: mm; inside: (nz, ny, nx) uint8, 1 where
    there is material in the part as it came; is_open: below it, too, where the hollow ends at the lowest layer."""

    origin: FloatArray
    step: float
    inside: Flags
    is_open: bool = False

    @classmethod
    def over(cls, vertices: FloatArray, faces: IntArray, step: float, below: int = 0) -> Nodes:
        """Nodes in the middles of columns through a posed part; some more layers of them below it, as solid as its
        lowest one, if it is to be open there."""
        runs = cast(vertices, faces, np.zeros(len(faces), dtype=np.int32), step, tight=False)
        low, high = box_of(vertices)
        first = float(low[2]) - step * (1 + below)
        count = int(np.ceil((high[2] - first) / step)) + 2
        inside = material_at_nodes(runs, first, step, count)
        if below:
            # Also the lowest layer: without a base there, nothing between the layers tells that the side changes.
            inside[: 2 + below] = inside[2 + below]
        origin = np.array([runs.grid.x0 + 0.5 * step, runs.grid.y0 + 0.5 * step, first])
        return cls(origin, step, inside, below > 0)

    @property
    def far(self) -> float:
        """mm beyond which values are cut off."""
        return 2.0 * self.step

    def offset(self, mesh: Nearest, level: float, share: Share, inside: Flags | None = None) -> Values:
        """Signed distance to a mesh less a level; inside: where it is positive (default: in the material)."""
        out = mesh.offset(level, self.origin, self.step, self.inside if inside is None else inside, share)
        if self.is_open:
            out[0] = -self.far
        return out

    def surface(self, values: Values) -> tuple[FloatArray, IntArray]:
        """The skin at which values are 0; faces are counter-clockwise seen from where they are positive."""
        return surface(values, self.origin, self.step)


def hollow_by_wall(nodes: Nodes, skin: Nearest, wall: float, radius: float, share: Share) -> Values:
    """What is at least a wall away from the skin, and has room for a ball of some radius that stays so far away.

    A ball that rolls inside (morphological opening; Serra 1982, Image Analysis and Mathematical Morphology): its middle
    is a wall and a radius away from the skin, and what it covers is a radius away from that.
    """
    if radius < 0.5 * nodes.step:
        return nodes.offset(skin, wall, share)
    middles = nodes.offset(skin, wall + radius, lambda done: share(0.6 * done))
    return covered(nodes, middles, radius, lambda done: share(0.6 + 0.4 * done))


def covered(nodes: Nodes, middles: Values, reach: float, share: Share) -> Values:
    """What is within reach of where some values are positive; all negative if that is nowhere."""
    vertices, faces = nodes.surface(middles)
    if not len(faces):
        return np.full(middles.shape, -nodes.far, dtype=np.float32)
    inside = (middles > 0).view(np.uint8)
    return nodes.offset(Nearest.of(vertices, faces), -reach, share, inside)


def without_limbs(nodes: Nodes, skin: Nearest, wall: float, width: float, share: Share) -> Values:
    """What is near enough to a place of the hollow at least so wide: limbs that are narrower stay solid from there on.

    Near enough is what the corner of a cube needs, so that corners of wide places are none of those.
    """
    middles = nodes.offset(skin, wall + 0.5 * width, lambda done: share(0.6 * done))
    return covered(nodes, middles, CORNER * 0.5 * width, lambda done: share(0.6 + 0.4 * done))


def above(nodes: Nodes, height: float) -> Values:
    """(nz, 1, 1): what is above a build height."""
    z = nodes.origin[2] + nodes.step * np.arange(nodes.inside.shape[0]) - height
    clipped: Values = np.clip(z, -nodes.far, nodes.far).astype(np.float32)[:, None, None]
    return clipped


def away_from(nodes: Nodes, marked: Nearest, depth: float, share: Share) -> Values:
    """What is farther than some depth from marked faces."""
    return nodes.offset(marked, depth, share, np.ones_like(nodes.inside))
