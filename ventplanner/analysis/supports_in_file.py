"""Supports and rafts that came in the file as bodies of their own: no place for a vent.

What is recognised: thin struts that start near the lowest point of the file, below a raised main body, and the raft
they stand on. It is meant to err on the side of silence: eyes, pegs, legs, plinths and loose parts are none. Supports
that are fused into the part's own skin cannot be told from the part and are not recognised, nor are supports that
stand on the part itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from ventplanner.geometry.pose import Pose
from ventplanner.geometry.solid import FloatArray, Solid
from ventplanner.geometry.topology import Topology

Flags = NDArray[np.bool_]

# All limits below: common practice, no source.
RAISED_MM = 1.0
"""The main body of a supported part hangs at least this far above the lowest point of the file."""
STRUT_MM = 3.0
"""A strut is no thicker than this anywhere (diameter of a disc of the same section)."""
NEEDLE_MM = 1.0
"""A strut this thin need not become thinner towards its tip."""
TIP_SHARE = 0.6
"""At its tip a strut has at most this share of its section; a leg does not taper so."""
TIP_DEPTH_MM = 0.2
"""How far below the top the tip is measured."""
FEWEST_STRUTS = 4
"""Fewer struts than this are legs."""


@dataclass(frozen=True, eq=False)
class Loops:
    """Closed outlines of a section: the skin, (k,) int32, and the enclosed area in mm2, (k,) float64, of each."""

    skin: NDArray[np.int32]
    area: FloatArray

    def count(self, n_skins: int) -> NDArray[np.intp]:
        """Outlines per skin."""
        return np.bincount(self.skin, minlength=n_skins)

    def total(self, n_skins: int) -> FloatArray:
        """Section area per skin in mm2."""
        return np.bincount(self.skin, self.area, n_skins).astype(np.float64)

    def thick(self, n_skins: int) -> Flags:
        """Skins with an outline too wide for a strut."""
        return np.bincount(self.skin[self.area > np.pi / 4 * STRUT_MM**2], minlength=n_skins) > 0


@dataclass(frozen=True, eq=False)
class Posed:
    """The part as it hangs: build height of each vertex, measured from the file's origin, and reach of each skin."""

    solid: Solid
    topology: Topology
    rotation: FloatArray
    height: FloatArray
    low: FloatArray
    high: FloatArray
    main: int

    @property
    def ground(self) -> float:
        """Height of the lowest point."""
        return float(self.low.min())

    @property
    def raised(self) -> float:
        """How far the main body, the one of greatest volume, hangs above the lowest point."""
        return float(self.low[self.main] - self.low.min())


def supports_in_file(solid: Solid, topology: Topology, pose: Pose) -> tuple[Flags, str]:
    """Which skins are supports or rafts in this pose, (n_skins,) bool, and a sentence that says so ("" for none)."""
    none = np.zeros(topology.n_skins, bool)
    if topology.n_skins < 2:
        return none, ""
    height = solid.vertices @ pose.rotation[2]
    main = int(np.abs(topology.volume_of_skin).argmax())
    if height[solid.faces[topology.skin_of_face == main]].min() - height.min() < RAISED_MM:
        return none, ""  # the usual case, told without the reach of every skin
    posed = _pose(solid, topology, pose.rotation, height, main)
    if posed.raised < RAISED_MM:
        return none, ""
    struts, n_struts = _struts(posed)
    if n_struts < FEWEST_STRUTS:
        struts, n_struts = none, 0
    rafts = posed.low <= posed.ground + 0.25 * posed.raised
    rafts &= posed.high <= posed.low[posed.main] + TIP_DEPTH_MM
    rafts &= ~struts
    n_struts = n_struts or _fused_struts(posed, rafts)
    if not n_struts:
        return none, ""
    return struts | rafts, _sentence(int(struts.sum()), n_struts, int(rafts.sum()))


def _sentence(bodies: int, n_struts: int, n_rafts: int) -> str:
    raft = "a raft" if n_rafts == 1 else f"{n_rafts} pieces of a raft"
    if not bodies:
        return f"The file came with {raft} under the part; no vent starts there."
    struts = f"{n_struts} supports in {bodies} {'body' if bodies == 1 else 'bodies'}"
    return f"The file came with {struts}{f' and {raft}' if n_rafts else ''} below the part; no vent starts there."


def _pose(solid: Solid, topology: Topology, rotation: FloatArray, height: FloatArray, main: int) -> Posed:
    order, ends = topology.faces_by_skin
    starts = np.concatenate([[0], ends[:-1]])
    a, b, c = (height[solid.faces[order, k]] for k in range(3))
    low = np.minimum.reduceat(np.minimum(np.minimum(a, b), c), starts)
    high = np.maximum.reduceat(np.maximum(np.maximum(a, b), c), starts)
    return Posed(solid, topology, rotation, height, low, high, main)


def _struts(posed: Posed) -> tuple[Flags, int]:
    """Skins that are thin struts from their foot to their tip, and the number of struts in all of them.

    They are cut three quarters of the way up to the main body, above any raft. A skin with several outlines there
    may be a whole forest of struts on one raft; single ones also have to become thinner at the tip.
    """
    n = posed.topology.n_skins
    level = posed.ground + 0.75 * posed.raised
    chosen = (posed.low <= posed.ground + 0.5 * posed.raised) & (posed.high > level)
    chosen[posed.main] = False
    foot = _section(posed, np.full(n, level), chosen)
    for share in (0.0, 1 / 3, 2 / 3):
        chosen &= ~_section(posed, level + share * (posed.high - level), chosen).thick(n)
    tip = _section(posed, posed.high - TIP_DEPTH_MM, chosen)
    chosen &= ~tip.thick(n)
    tapers = tip.total(n) <= TIP_SHARE * foot.total(n)
    needles = foot.total(n) <= np.pi / 4 * NEEDLE_MM**2
    count = foot.count(n)
    chosen &= (count >= FEWEST_STRUTS) | ((count > 0) & (tapers | needles))
    return chosen, int(count[chosen].sum())


def _fused_struts(posed: Posed, rafts: Flags) -> int:
    """Struts by which the main body itself stands on the rafts; 0 where it stands on them otherwise (a plinth)."""
    if not rafts.any():
        return 0
    n = posed.topology.n_skins
    loops = _section(posed, np.full(n, posed.high[rafts].max() + 2 * TIP_DEPTH_MM), np.arange(n) == posed.main)
    many = len(loops.area) >= FEWEST_STRUTS and not loops.thick(n).any()
    return len(loops.area) if many else 0


def _section(posed: Posed, level: FloatArray, skins: Flags) -> Loops:
    """Cut each of the chosen skins ((n,) bool) at its own height, (n,) float64.

    A corner exactly at the height counts as below, so each cut face has one side going up through the plane and one
    going down; the outline runs from the one to the other. Areas by the shoelace formula.
    """
    solid, topology, height, across = posed.solid, posed.topology, posed.height, posed.rotation[:2]
    faces = np.flatnonzero(skins[topology.skin_of_face])
    above = height[solid.faces[faces]] > level[topology.skin_of_face[faces], None]
    cut = above.any(axis=1) & ~above.all(axis=1)
    faces, above = faces[cut], above[cut]
    if not len(faces):
        return Loops(np.empty(0, np.int32), np.empty(0))
    skin, corners = topology.skin_of_face[faces], solid.faces[faces]
    ends, keys = [], []
    row = np.arange(len(faces))
    for upward in (False, True):
        following = np.roll(above, -1, axis=1)
        side = ((above != following) & (following == upward)).argmax(axis=1)
        a, b = corners[row, side], corners[row, (side + 1) % 3]
        a, b = np.minimum(a, b), np.maximum(a, b)
        share = (level[skin] - height[a]) / (height[b] - height[a])
        ends.append((solid.vertices[a] + share[:, None] * (solid.vertices[b] - solid.vertices[a])) @ across.T)
        keys.append(a.astype(np.int64) * len(solid.vertices) + b)
    names, node = np.unique(np.concatenate(keys), return_inverse=True)
    down, up = node.reshape(2, -1)
    graph = coo_array((np.ones(len(down), np.int8), (down, up)), shape=(len(names), len(names)))
    n_loops, loop = connected_components(graph, directed=False)
    middle = ends[0].mean(axis=0)
    (x0, y0), (x1, y1) = (ends[0] - middle).T, (ends[1] - middle).T
    area = np.abs(np.bincount(loop[down], (x0 * y1 - x1 * y0) / 2, n_loops))
    skin_of_loop = np.empty(n_loops, np.int32)
    skin_of_loop[loop[down]] = skin
    return Loops(skin_of_loop, area)
