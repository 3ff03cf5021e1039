"""Mending: all steps in their order, and what is left."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from ventplanner import mend_parameters as m
from ventplanner.analysis.health import (
    DUPLICATE_FACES,
    FLIPPED_FACES,
    INSIDE_OUT,
    NON_MANIFOLD_EDGES,
    ONE_SIDED_SKINS,
    OPEN_EDGES,
    OPPOSED_FACES,
    HealthNote,
    examine,
)
from ventplanner.errors import MeshError
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.topology import Topology, topology
from ventplanner.mending.faces import drop_degenerate, drop_duplicates, drop_loose
from ventplanner.mending.holes import fill_holes
from ventplanner.mending.joining import divide_at_junctions, weld_near
from ventplanner.mending.model import HAIR_MM, THROUGH_ITSELF, LongArray, Mesh, Record, merged
from ventplanner.mending.rules import MendRules
from ventplanner.mending.splitting import split
from ventplanner.mending.turning import nest, orient
from ventplanner.progress import Progress, silent

HARM = (
    OPEN_EDGES,
    NON_MANIFOLD_EDGES,
    FLIPPED_FACES,
    ONE_SIDED_SKINS,
    DUPLICATE_FACES,
    OPPOSED_FACES,
    INSIDE_OUT,
    THROUGH_ITSELF,
)
"""Damage that is told as left; all but the last keep a part from being closed."""

Step = tuple[Mesh, tuple[Record, ...]]

_MESH_STEPS = (*(name for name in m.STEPS if name not in (m.REDRAW, m.NEST, m.UNTANGLE, m.UNITE)), m.LOOSE)
_ROUNDS = 3


@dataclass
class _Told:
    """What the steps tell while they are taken."""

    records: tuple[Record, ...] = ()
    notes: tuple[str, ...] = ()
    through_itself: tuple[HealthNote, ...] = ()
    unsure: LongArray = field(default_factory=lambda: np.empty(0, np.int64))


@dataclass(frozen=True, eq=False)
class Mended:
    """original: as it came. solid: the mended part. records: what was done, in order. before, after: their health.

    notes: the evidence for what was read as a cavity.
    """

    original: Solid
    solid: Solid
    rules: MendRules
    records: tuple[Record, ...]
    before: tuple[HealthNote, ...]
    after: tuple[HealthNote, ...]
    notes: tuple[str, ...]

    @property
    def left(self) -> tuple[HealthNote, ...]:
        """Damage that is left: of steps that were left out, and skins that go through themselves."""
        return tuple(note for note in self.after if note.what in HARM)


def mend(solid: Solid, rules: MendRules | None = None, *, progress: Progress = silent) -> Mended:
    """Take all steps of `rules` that are not left out; faces and vertices that no step names stay to the last bit.

    Raises MeshError, with cause, place and way out, where the part cannot be closed although no step was left out.
    """
    rules = rules or MendRules()
    found = topology(solid)
    before = examine(solid, found)
    mesh, told = _through(solid, found, rules, progress)
    mended = mesh.solid(solid) if told.records else solid
    after = (examine(mended, topology(mended)) if told.records else before) + told.through_itself
    done = Mended(solid, mended, rules, merged(told.records), before, after, told.notes)
    progress("Mending", 1.0)
    open_still = tuple(note for note in done.left if note.what != THROUGH_ITSELF)
    if open_still and not rules.without:
        raise _not_closed(open_still, rules)
    return done


class _Look:
    """What is known of a mesh between two steps: no more than the next step asks for."""

    def __init__(self, mesh: Mesh, found: Topology | None = None) -> None:
        self.mesh = mesh
        self._found = found

    @property
    def found(self) -> Topology:
        """All of it."""
        if self._found is None:
            self._found = topology(Solid(self.mesh.vertices, self.mesh.faces))
        return self._found

    @property
    def _is_open(self) -> bool:
        return len(self._found.open_edges) > 0 if self._found is not None else len(self.mesh.edges.open) > 0

    @property
    def _is_flipped(self) -> bool:
        return len(self._found.flipped_edges) > 0 if self._found is not None else self.mesh.edges.flipped

    def asks_for(self, name: str) -> bool:
        """Whether a step can have anything to do."""
        if name in (m.WELD, m.JUNCTIONS, m.HOLES):
            return self._is_open
        if name == m.ORIENT:
            return self._is_flipped
        if name == m.SPLIT and (self._is_open or (self._found is None and self.mesh.edges.crowded)):
            return True
        if self._found is None and name in (m.DUPLICATES, m.DEGENERATE):
            # These look for themselves in less time than it takes to find out all about the mesh.
            return name == m.DEGENERATE or bool(self.mesh.edges.state.any())
        found = self.found
        return {
            m.DUPLICATES: len(found.duplicate_faces) + len(found.opposed_faces) > 0,
            m.DEGENERATE: len(found.degenerate_faces) + len(found.flat_faces) > 0,
            m.SPLIT: len(found.nonmanifold_edges) + len(found.shared_vertices) > 0,
            m.LOOSE: True,
        }[name]


def _through(solid: Solid, found: Topology, rules: MendRules, progress: Progress) -> tuple[Mesh, _Told]:
    """All steps."""
    told = _Told()
    look = _by_faces(_Look(Mesh.of(solid), found), rules, told, progress)
    mesh, found = look.mesh, look.found
    if rules.redraw and m.REDRAW not in rules.without and not (found.is_closed and found.is_oriented):
        # Loaded, and compiled for the first time, only here.
        from ventplanner.mending.rebuilding import redraw

        if any(one.step == m.LOOSE for one in told.records):
            # Shards may be all that tells of a wall: none of them is a scrap now.
            told = _Told()
            all_of_it = replace(rules, without=rules.without | {m.LOOSE})
            look = _by_faces(_Look(Mesh.of(solid)), all_of_it, told, progress)
        mesh, records = redraw(look.mesh, look.found)
        told.records += records
        found = topology(Solid(mesh.vertices, mesh.faces))
        if m.LOOSE not in rules.without:
            mesh, records = drop_loose(mesh, found)
            told.records += records
            found = topology(Solid(mesh.vertices, mesh.faces)) if records else found
    if m.NEST not in rules.without:
        mesh, found, records, told.notes = nest(mesh, found, rules.nested, told.unsure)
        told.records += records
    if found.is_closed and found.is_oriented and not {m.UNTANGLE, m.UNITE} <= rules.without:
        mesh = _uncrossed(mesh, found, rules, told, progress)
    return mesh, told


def _by_faces(look: _Look, rules: MendRules, told: _Told, progress: Progress) -> _Look:
    """The steps up to the holes; again where they left damage that another round gets further with."""
    for _ in range(_ROUNDS):
        count = len(told.records)
        for number, name in enumerate(_MESH_STEPS):
            progress("Mending", number / (len(m.STEPS) + 1))
            if name in rules.without or not look.asks_for(name):
                continue
            records: tuple[Record, ...]
            if name == m.LOOSE:
                mesh, records = drop_loose(look.mesh, look.found)
            elif name == m.HOLES:
                mesh, records = fill_holes(look.mesh, look.found, rules.largest_mm)
            elif name == m.ORIENT:
                mesh, doubtful, records = orient(look.mesh, one_sided=rules.redraw)
                told.unsure = np.concatenate([told.unsure, doubtful])
            else:
                mesh, records = _simple(name, rules)(look.mesh)
            told.records += records
            if not len(mesh.faces):
                raise MeshError("Nothing of the part is left that bounds a body.", "Export it again from its source.")
            look = _Look(mesh) if records else look
        if len(told.records) == count or look.found.is_closed:
            break
    return look


def _uncrossed(mesh: Mesh, found: Topology, rules: MendRules, told: _Told, progress: Progress) -> Mesh:
    """Skins that go through themselves or others."""
    # Loaded, and compiled for the first time, only here: most of the program never needs it.
    from ventplanner.geometry.crossings import crossings
    from ventplanner.mending.uniting import unite
    from ventplanner.mending.untangling import untangle

    progress("Mending", (len(m.STEPS) - 2) / len(m.STEPS))
    pairs = crossings(mesh.vertices, mesh.faces, HAIR_MM)
    if m.UNTANGLE not in rules.without and (np.diff(found.skin_of_face[pairs], axis=1) == 0).any():
        mesh, records = untangle(mesh, found, pairs)
        told.records += records
        if records:
            found = topology(Solid(mesh.vertices, mesh.faces))
            pairs = crossings(mesh.vertices, mesh.faces, HAIR_MM)
    progress("Mending", (len(m.STEPS) - 1) / len(m.STEPS))
    if m.UNITE not in rules.without:
        mesh, records, told.through_itself = unite(mesh, found, pairs)
        told.records += records
    return mesh


def _simple(name: str, rules: MendRules) -> Callable[[Mesh], Step]:
    """The steps that need nothing but the mesh."""
    return {
        m.WELD: lambda mesh: weld_near(mesh, rules.tolerance_mm),
        m.DUPLICATES: drop_duplicates,
        m.DEGENERATE: drop_degenerate,
        m.JUNCTIONS: lambda mesh: divide_at_junctions(mesh, rules.tolerance_mm),
        m.SPLIT: split,
    }[name]


def _not_closed(left: tuple[HealthNote, ...], rules: MendRules) -> MeshError:
    told = "; ".join(f"{n.what} ({n.count}){_at(n)}" for n in left)
    kinds = {note.what for note in left}
    redraw = "Have its broken skins drawn anew with --redraw, which tells what is lost, or mend them at their source."
    if OPEN_EDGES in kinds:
        redraw = f"If these are holes to be filled, allow wider ones with --largest-hole. Else: h{redraw[1:]}"
    ways = [redraw] if kinds != {INSIDE_OUT} else []
    if INSIDE_OUT in kinds and rules.nested == "as-is":
        ways.insert(0, "Let skins be turned by how they lie inside each other, with --nested auto.")
    way_out = " ".join(ways) or "Turn its skins the right way round where they were made."
    place = next((n.at_mm for n in left if n.at_mm), None)
    return MeshError(f"The part cannot be closed: {told}.", way_out, place)


def _at(note: HealthNote) -> str:
    return f", one at ({', '.join(f'{x:.4g}' for x in note.at_mm)}) mm" if note.at_mm else ""
