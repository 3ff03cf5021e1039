"""Which skins lie inside which, and which of the nested ones are surfaces of cavities.

Material is where the winding number is positive (positive-fill rule, 3MF Core 1.4.0, section 4.1.1): a skin turned
inward inside an outward one is a cavity, and a body buried whole inside another (an eye, a peg, the root of a limb)
is solid. A file with at least one nested skin turned inward follows that rule and is taken at its word. Where every
nested skin points outward, the file may never have cared, and a likelier reading is proposed from the walls.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

from ventplanner.analysis.walls import Wall, walls_between
from ventplanner.errors import ParameterError
from ventplanner.geometry.inside import windings
from ventplanner.geometry.solid import FloatArray, IntArray, Solid
from ventplanner.geometry.topology import Topology

Nested = Literal["auto", "solid", "cavity", "as-is"]
Flags = NDArray[np.bool_]

PROBES = 30_000
"""Vertices tried over all skins; each skin gets between 8 and 256 of them."""

HIT_SHARE = 0.9
"""In a mesh with open edges, this share of a skin's tried vertices has to lie inside another for it to be nested (own
judgement)."""


@dataclass(frozen=True, eq=False)
class Reading:
    """A part with its skins turned as they are understood.

    solid: the part, faces in the order of the file, turned over where the reading says so. topology: that of `solid`.
    flipped_skins: (k,) int32. container: (n,) int32, the smallest skin around each skin, -1 for an outermost one.
    depth: (n,) int32, 0 for an outermost skin. pokes: (n,) bool, skins that lie only partly inside another one; these
    are bodies that overlap, not nested ones, and are never turned by a guess. is_cavity: (n,) bool, the skin bounds
    a void inside its container. ambiguous: the file has nested skins and all of them pointed outward. notes:
    sentences for the user, with the evidence.
    """

    solid: Solid
    topology: Topology
    flipped_skins: IntArray
    container: IntArray
    depth: IntArray
    pokes: Flags
    is_cavity: Flags
    ambiguous: bool
    notes: tuple[str, ...]

    @property
    def nested_count(self) -> int:
        """Number of skins that lie whole inside another."""
        return int(((self.depth > 0) & ~self.pokes).sum())


def read_nesting(
    solid: Solid, topology: Topology, nested: Nested = "auto", *, doubt: bool = False
) -> Reading:  # fmt: skip
    """Find the nesting of all skins and turn those that point the wrong way.

    nested: "auto" trusts a consistent file and proposes a reading of an ambiguous one; "solid" takes every nested
    skin that points outward as a solid body; "cavity" takes every skin that lies in material as a cavity; "as-is"
    turns nothing. With `doubt` no file is taken at its word by "auto": the walls are asked about every nested skin
    that points outward. Except with "as-is", a part whose outermost skin points inward is turned over with all it
    contains.
    Raises ParameterError for another value of `nested`.
    """
    if nested not in get_args(Nested):
        raise ParameterError(f"'{nested}' is no reading of nested skins.", f"Choose {', '.join(get_args(Nested))}.")
    container, pokes = _containers(solid, topology)
    depth, root = _depths(container)
    flip = np.zeros(topology.n_skins, bool)
    notes: list[str] = []
    if nested != "as-is":
        flip = _inside_out(topology, root)[root]
        notes += _inside_out_note(topology, flip & (container < 0))
    outward = (topology.volume_of_skin > 0) ^ flip
    inner = (depth > 0) & ~pokes
    ambiguous = bool(inner.any() and outward[inner].all())
    guess = nested == "cavity" or (nested == "auto" and (ambiguous or doubt))
    turned, walls = _cavities(solid, topology, container, depth, outward, inner, nested, guess)
    flip ^= turned
    outward ^= turned
    if nested == "auto" and (ambiguous or walls):
        notes += _evidence_notes(topology, walls, turned, ambiguous)
    elif inner.any():
        notes.append(_plain_note(nested, inner, outward, turned))
    return Reading(
        solid=solid.flipped(flip[topology.skin_of_face]) if flip.any() else solid,
        topology=topology.flipped(flip) if flip.any() else topology,
        flipped_skins=np.flatnonzero(flip).astype(np.int32),
        container=container,
        depth=depth,
        pokes=pokes,
        is_cavity=(depth > 0) & ~outward & outward[np.maximum(container, 0)],
        ambiguous=ambiguous,
        notes=tuple(notes),
    )


def _containers(solid: Solid, topology: Topology) -> tuple[IntArray, Flags]:
    """The smallest skin around each skin (-1: none), and which skins lie partly inside another.

    A handful of vertices of each skin is tried, evenly spread over its faces. A skin contains another when its bounds
    enclose the other's strictly and it winds around all tried vertices.
    """
    n = topology.n_skins
    container, pokes = np.full(n, -1, np.int32), np.zeros(n, bool)
    if n == 1:
        return container, pokes
    per_skin = int(np.clip(PROBES // n, 8, 256))
    order, ends = topology.faces_by_skin
    counts = np.diff(ends, prepend=0)
    place = (ends - counts)[:, None] + (np.arange(per_skin) * counts[:, None]) // per_skin
    probes = solid.vertices[solid.faces[order[place.reshape(-1)], 0]]
    found = windings(solid, topology, probes, np.repeat(np.arange(n, dtype=np.int32), per_skin))
    pairs, hits = np.unique(found.point // per_skin * n + found.skin, return_counts=True)
    inner, outer = pairs // n, pairs % n
    # Through a hole in the skin around, a ray comes from nowhere.
    needed = int(np.ceil(HIT_SHARE * per_skin)) if len(topology.open_edges) else per_skin
    whole = hits >= needed
    pokes[inner[~whole]] = True
    inner, outer = inner[whole], outer[whole]
    smallest_last = np.lexsort((-_box_volume(topology)[outer], inner))
    container[inner[smallest_last]] = outer[smallest_last]
    return container, pokes


def _box_volume(topology: Topology) -> FloatArray:
    size = topology.bounds_of_skin[:, 1] - topology.bounds_of_skin[:, 0]
    volume: FloatArray = size.prod(axis=1)
    return volume


def _depths(container: IntArray) -> tuple[IntArray, IntArray]:
    """Number of skins around each skin, following containers, and the outermost of them."""
    depth, root = np.zeros_like(container), np.arange(len(container), dtype=np.int32)
    while (inside := container[root] >= 0).any():
        depth += inside
        root = np.where(inside, container[root], root).astype(np.int32)
    return depth, root


def _inside_out(topology: Topology, root: IntArray) -> Flags:
    """Outermost skins that point inward and bound a part of their own.

    One that points inward beside outward ones and overlaps them may be meant as a cut, so it is left alone.
    """
    roots = np.unique(root)
    negative = roots[topology.volume_of_skin[roots] < 0]
    chosen = np.zeros(topology.n_skins, bool)
    if len(negative) == len(roots):
        chosen[negative] = True
        return chosen
    low, high = topology.bounds_of_skin[roots, 0], topology.bounds_of_skin[roots, 1]
    for skin in negative:
        mine = topology.bounds_of_skin[skin]
        meets = (low <= mine[1]).all(axis=1) & (high >= mine[0]).all(axis=1)
        chosen[skin] = int(meets.sum()) == 1
    return chosen


def _cavities(
    solid: Solid,
    topology: Topology,
    container: IntArray,
    depth: IntArray,
    outward: Flags,
    inner: Flags,
    nested: Nested,
    guess: bool,
) -> tuple[Flags, list[Wall]]:
    """Outward nested skins that are to be turned inward, from outside in, with the evidence of the guessed ones.

    What lies in a cavity is solid, so only a skin whose container bounds material from outside can become one.
    """
    turned = np.zeros(topology.n_skins, bool)
    walls: list[Wall] = []
    if not guess:
        return turned, walls
    for level in range(1, int(depth.max()) + 1):
        here = (depth == level) & inner & outward
        here &= (outward ^ turned)[np.maximum(container, 0)]
        if nested == "auto":
            found = walls_between(solid, topology, np.flatnonzero(here), container)
            walls += found
            here[:] = False
            here[[wall.skin for wall in found if wall.is_even]] = True
        turned |= here
    return turned, walls


def _inside_out_note(topology: Topology, turned: Flags) -> list[str]:
    count = int(turned.sum())
    if not count:
        return []
    if count == 1:
        return [f"The outermost skin at {_place(topology, int(turned.argmax()))} points inward; it is turned over."]
    return [f"{count} outermost skins point inward; they are turned over with all they contain."]


def _plain_note(nested: Nested, inner: Flags, outward: Flags, turned: Flags) -> str:
    total, voids = int(inner.sum()), int((inner & ~outward).sum())
    if nested == "cavity":
        return f"By choice every skin that lies in material is a cavity: {int(turned.sum())} of {total} were turned."
    if nested == "solid" and not voids:
        return f"By choice all {total} nested skins are solid bodies."
    if voids == total:
        many = "skins bound hollows" if voids > 1 else "skin bounds a hollow"
        return f"The file is taken at its word: {voids} nested {many}."
    return f"The file is taken at its word: of {total} nested skins {voids} bound hollows, the others are solid."


def _evidence_notes(topology: Topology, walls: list[Wall], turned: Flags, all_outward: bool) -> list[str]:
    """What the file leaves open, then one sentence per proposed reading."""
    notes = []
    if all_outward:
        notes.append("Every nested skin points outward, so the file does not say which of them are cavities.")
    even, uneven = [w for w in walls if turned[w.skin]], [w for w in walls if not turned[w.skin]]
    if even:
        notes.append(
            f"Read as {_count(even, 'cavity', 'cavities')}, "
            f"because the wall around is nearly even: {_figures(topology, even)}."
        )
    if uneven:
        notes.append(
            f"Read as {_count(uneven, 'solid body', 'solid bodies')}, "
            f"because the distance to the skin around varies: {_figures(topology, uneven)}."
        )
    return notes


def _count(walls: list[Wall], one: str, many: str) -> str:
    return f"a {one}" if len(walls) == 1 else f"{len(walls)} {many}"


def _figures(topology: Topology, walls: list[Wall]) -> str:
    shown = [f"{_width(w)} over {w.share:.0%} of the skin about {_place(topology, w.skin)}" for w in walls[:3]]
    more = len(walls) - len(shown)
    return "; ".join(shown) + (f"; and {more} more" if more else "")


def _width(wall: Wall) -> str:
    low, high = f"{wall.low_mm:.2f}", f"{wall.high_mm:.2f} mm"
    return high if high.startswith(low) else f"{low} to {high}"


def _place(topology: Topology, skin: int) -> str:
    x, y, z = topology.bounds_of_skin[skin].mean(axis=0)
    return f"({x:.1f}, {y:.1f}, {z:.1f}) mm"
