"""`analyse`: from a solid to its cavities, cups and what is the matter with them."""

from __future__ import annotations

import string
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ventplanner.analysis import openings as measuring
from ventplanner.analysis.cavities import Cavity, Draft, FoundCup, drafts, worst
from ventplanner.analysis.clearance import Chambers, find_chambers
from ventplanner.analysis.cups import Cups
from ventplanner.analysis.health import (
    DEGENERATE_FACES,
    DUPLICATE_FACES,
    EMPTY_SKINS,
    FLAT_FACES,
    FLIPPED_FACES,
    OPEN_EDGES,
    OPPOSED_FACES,
    TOUCHING_SKINS,
    HealthNote,
)
from ventplanner.analysis.kept_clear import KeptClear
from ventplanner.analysis.limits import check_pitch, checked_part
from ventplanner.analysis.narrow_ways import fine_ways
from ventplanner.analysis.nesting import Reading
from ventplanner.analysis.openings import Opening
from ventplanner.analysis.scene import Scene, build_scene
from ventplanner.analysis.supports import Obstacles
from ventplanner.analysis.supports_in_file import supports_in_file
from ventplanner.analysis.surfaces import surfaces
from ventplanner.analysis.understood import Understood
from ventplanner.errors import MeshError
from ventplanner.geometry.columns import Overlap, cast
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.join_tree import join_tree
from ventplanner.geometry.pose import BuildFrame, Pose
from ventplanner.geometry.rays import Target
from ventplanner.geometry.solid import FloatArray, IntArray, Solid, box_of
from ventplanner.geometry.support_file import Supports
from ventplanner.options import AnalysisOptions
from ventplanner.progress import Progress, silent

BAD_COLUMNS, OVERLAPPING_SKINS = "bad columns", "overlapping skins"

HARMLESS = (OVERLAPPING_SKINS, DEGENERATE_FACES, EMPTY_SKINS, FLAT_FACES, TOUCHING_SKINS)
"""Notes about a mesh that do not put the verdict in doubt."""

NO_DRILL = (OPEN_EDGES, FLIPPED_FACES, DUPLICATE_FACES, OPPOSED_FACES)
"""Damage of a skin that the drill refuses."""

Flags = NDArray[np.bool_]
Openings = dict[int, list[Opening]]
"""Measured openings of each chamber."""

MUCH_FILTERED_MM3 = 100.0
"""Filtered cups are spoken of when they hold this much together: twenty times the usual filter (own judgement)."""

LEAST_OVERLAP_MM3 = 0.1
"""Skins that touch on steep faces can seem to overlap by some 0.0001 mm3 (rounding to the raster; measured on tilted
rods in their sockets): a real overlap is well above this (own judgement)."""

MOST_BAD_SHARE = 0.05
"""Beyond this share of damaged columns the free space is guesswork, and nothing is said about cavities (own
judgement)."""


@dataclass(frozen=True, eq=False)
class Findings:
    """All that the analysis says about a part in a pose.

    solid: as given. understood: what of it is the same in every pose. scene: the posed part (its solid may have skins
    turned over, see `notes`, and has only vertices that faces use). cavities: by start. health: what is wrong with the
    mesh. notes: assumptions, as sentences. support_skins: (n_skins,) bool, bodies in the file that look like supports.
    kept_clear: the surface that no drill may cut, if the user marked one (`keeping_clear`); obstacles: supports from a
    second file (`with_supports`): whoever fits a drill asks both.
    """

    solid: Solid
    understood: Understood
    scene: Scene
    cups: Cups
    chambers: Chambers
    cavities: tuple[Cavity, ...]
    health: tuple[HealthNote, ...]
    notes: tuple[str, ...]
    support_skins: Flags
    kept_clear: KeptClear | None = None
    obstacles: Obstacles | None = None

    @property
    def part(self) -> Solid:
        """The part as it is understood, nested skins turned where `notes` say so: this is what gets drilled."""
        return self.scene.solid

    @property
    def pose(self) -> Pose:
        """How the part hangs."""
        return self.scene.pose

    @property
    def options(self) -> AnalysisOptions:
        """The options of this analysis."""
        return self.scene.options

    def keeping_clear(self, mask: FaceMask | None) -> Findings:
        """The same findings, with the faces of the part that no drill may cut; None or no face: all may be cut.

        Raises MeshError for marks of another number of faces."""
        marked = KeptClear(self.scene, mask) if mask else None
        return self if marked is None and self.kept_clear is None else replace(self, kept_clear=marked)

    def with_supports(self, supports: Supports | None) -> Findings:
        """The same findings, with supports from a second file as obstacles; without any, or in doubt, the notes say so.

        They change nothing about cavities and cups: `supports.trapped` tells what they close."""
        if supports is None:
            return self
        note = supports.problem or f"Supports from {supports.name}: no vent starts at one or looks at one."
        return replace(self, obstacles=Obstacles.of(supports, self.scene.frame), notes=(*self.notes, note))

    @cached_property
    def volume(self) -> float:
        """Volume of the material in mm3: exact from the skins where they are closed and apart; what several of them
        share is taken off as the columns measure it. From the columns alone where the mesh does not close."""
        runs = self.scene.runs
        if not self.scene.topology.is_closed or runs.bad.any():
            return runs.material_volume
        signed = float(self.scene.topology.volume_of_skin.sum())
        overlap = _overlap(self.scene)
        return signed if overlap is None else signed - overlap.doubled + overlap.missed

    @cached_property
    def left(self) -> tuple[str, ...]:
        """What is left to do, a sentence for each cavity that does not breathe."""
        return tuple(text for cavity in self.cavities if (text := sentence(cavity)))

    def cavity(self, cavity_id: str) -> Cavity:
        """The cavity of this name; KeyError if there is none."""
        return {c.id: c for c in self.cavities}[cavity_id]

    def surface(self, cavity_id: str) -> IntArray:
        """Faces of the part that bound a cavity, (k,) int32: its inner surface, for display."""
        return self.cavity(cavity_id).faces


def sentence(cavity: Cavity) -> str:
    """What is left to do about a cavity; empty when it breathes."""
    if cavity.state == "breathing":
        return ""
    bad = [c for c in cavity.cups if c.state != "breathing"]
    first = bad[0].cup
    if cavity.state == "sealed":
        held = next(c.cup for c in bad if c.state == "sealed")
        how = "closed by the plate" if held.closed_by == "plate" else "sealed"
        text = f"Cavity {cavity.id} is {how} from {held.from_height:.1f} mm up and has no way out."
    else:
        opens = first.to_height if first.to_height is not None else first.top_height
        text = f"Cavity {cavity.id} opens {opens - first.from_height:.1f} mm too late, at {opens:.1f} mm."
    more = len(bad) - 1
    return text + (f" {more} more of its cups {'do' if more > 1 else 'does'} not breathe." if more else "")


def analyse(
    solid: Solid,
    pose: Pose | None = None,
    options: AnalysisOptions | None = None,
    *,
    shift: float = 0.0,
    frame: BuildFrame | None = None,
    understood: Understood | None = None,
    progress: Progress = silent,
) -> Findings:
    """Find every cavity and cup of a part.

    pose: default hangs by its lower side (-z) on supports. options: default pitch by size and wall. shift: moves the
    grid by this share of a pixel. frame: build axes to use instead of the part's own (a vent may take away its lowest
    point, and heights are to stay comparable). understood: of this solid with these options, if it is known from
    another pose. Raises MeshError when the mesh cannot be analysed, with cause and place, and ParameterError for a size
    that cannot be meant or a pitch that needs too much memory.
    """
    pose, options = pose or Pose(), options or AnalysisOptions()
    progress("Looking at the mesh", 0.0)
    check_pitch(checked_part(solid), pose, options.pitch_mm)
    understood = understood or Understood.of(solid, options.nested)
    reading = understood.reading
    progress("Casting columns", 0.2)
    scene = build_scene(reading.solid, reading.topology, pose, options, shift=shift, frame=frame, wall=understood.wall)
    understood = replace(understood, wall=scene.resolution.thinnest_wall_mm)
    health = (*understood.health, *_column_health(scene, reading))
    progress("Finding cups", 0.6)
    cups = scene.cups()
    progress("Finding cavities", 0.7)
    supports, support_note = supports_in_file(reading.solid, reading.topology, pose)
    of_part = ~supports[scene.topology.skin_of_face]
    target = Target.of(scene.vertices, scene.solid.faces[of_part]) if supports.any() else scene.ray_target
    chambers, openings = measuring.confirmed(_chambers(scene, of_part, shift), target)
    cavities = _name(scene, cups, chambers, drafts(scene, cups, chambers), openings, of_part)
    notes = (
        scene.resolution.sentence,
        *_filtered_note(cups),
        *measuring.more_than_listed(chambers),
        *reading.notes,
        *((support_note,) if support_note else ()),
        *_doubts(health),
    )
    progress("Finding cavities", 1.0)
    return Findings(solid, understood, scene, cups, chambers, cavities, health, notes, supports)


def _filtered_note(cups: Cups) -> tuple[str, ...]:
    """Many cups that are each too small to count may hold a lot together: then that is said."""
    if cups.filtered_volume < MUCH_FILTERED_MM3:
        return ()
    return (
        f"{cups.filtered_count} cups below the filter hold {cups.filtered_volume:.0f} mm3 together and get no vent;"
        " a smaller --ignore-below shows them.",
    )


def _chambers(scene: Scene, of_part: Flags, shift: float) -> Chambers:
    """Chambers of the part without the supports in its file: the air between those is none.

    of_part: (m,) bool, faces that belong to no support.
    """
    tree = scene.open_tree
    if not of_part.all():
        skin, tight = scene.topology.skin_of_face[of_part], scene.topology.is_closed and scene.topology.is_oriented
        pitch = scene.resolution.pitch_mm
        tree = join_tree(cast(scene.vertices, scene.solid.faces[of_part], skin, pitch, shift=shift, tight=tight))
    open_run = tree.component[tree.branch_of_run] == 0
    wall = scene.resolution.thinnest_wall_mm
    found = find_chambers(tree.runs, open_run, scene.height, wall, scene.options.ignore_below_mm3)
    return replace(found, ways_out=fine_ways(tree.runs, open_run, found))


def _column_health(scene: Scene, reading: Reading) -> tuple[HealthNote, ...]:
    """Damaged columns, and skins that overlap."""
    notes: list[HealthNote] = []
    grid = scene.runs.grid
    bad = np.flatnonzero(scene.runs.bad)
    if len(bad):
        at = _at(scene, int(bad[len(bad) // 2]))
        if len(bad) > MOST_BAD_SHARE * grid.n_columns:
            raise _large_holes(scene, len(bad), at)
        notes.append(HealthNote(BAD_COLUMNS, len(bad), at))
    overlap = _overlap(scene)
    if overlap is not None and scene.topology.is_closed:
        notes.append(_overlaps(reading, scene.frame.to_file(overlap.at)))
    return tuple(notes)


def _large_holes(scene: Scene, count: int, at: tuple[float, float, float]) -> MeshError:
    edges = scene.topology.open_edges
    if len(edges):
        x, y, z = scene.solid.vertices[edges[0]].mean(axis=0).tolist()
        at = (x, y, z)
    place = ", ".join(f"{c:.4g}" for c in at)
    return MeshError(
        f"{count} of {scene.runs.grid.n_columns} columns through the part do not close: the mesh has large holes,"
        f" one of them at ({place}) mm.",
        "Mend the model where it was made, then open it again.",
        at,
    )


def _overlap(scene: Scene) -> Overlap | None:
    """Where skins overlap, if that is more than rounding."""
    overlap = scene.runs.overlap
    return overlap if overlap is not None and overlap.doubled + overlap.missed > LEAST_OVERLAP_MM3 else None


def _overlaps(reading: Reading, at: FloatArray) -> HealthNote:
    """Skins that share material with another one: bodies that poke into others, or lie buried in them.

    Bodies that cross without a corner of one in the other are not among those, but `at` is in their overlap.
    """
    volume = reading.topology.volume_of_skin
    inside = reading.container >= 0
    buried = inside & ~reading.is_cavity & (volume > 0) & (volume[np.maximum(reading.container, 0)] > 0)
    count = int(np.count_nonzero(reading.pokes | buried))
    x, y, z = at.tolist()
    return HealthNote(OVERLAPPING_SKINS, max(count, 1), (x, y, z))


def _at(scene: Scene, column: int) -> tuple[float, float, float]:
    x, y = scene.runs.grid.centres(np.array([column]))
    point = scene.frame.to_file(np.array([float(x[0]), float(y[0]), 0.5 * scene.height]))
    return (float(point[0]), float(point[1]), float(point[2]))


def _doubts(health: tuple[HealthNote, ...]) -> tuple[str, ...]:
    damage = [f"{n.what}, {n.count}" for n in health if n.what not in HARMLESS]
    if not damage:
        return ()
    no_drill = any(n.what in NO_DRILL for n in health)
    further = (
        ", and a skin that is damaged so cannot be drilled before it is mended (ventplanner mend)" if no_drill else ""
    )
    return (f"The mesh is damaged ({'; '.join(damage)}): the verdict may be wrong near the damage{further}.",)


def _name(
    scene: Scene, cups: Cups, chambers: Chambers, found: tuple[Draft, ...], openings: Openings, of_part: Flags
) -> tuple[Cavity, ...]:
    lowest = chambers.voxels.origin[2] + chambers.boxes[:, 0, 2] * chambers.voxels.size

    def start(draft: Draft) -> tuple[float, float]:
        if draft.cups:
            return round(min(cups.cups[k].from_height for k in draft.cups), 2), -draft.volume
        return float(lowest[draft.key]), -draft.volume

    ordered = sorted(found, key=start)
    faces = surfaces(scene, cups, chambers, ordered)
    if not of_part.all():
        faces = [f[of_part[f]] for f in faces]
    named = zip(ordered, map(letters, range(len(ordered))), faces, strict=True)
    return tuple(_cavity(scene, cups, chambers, one, openings) for one in named)


def _cavity(
    scene: Scene, cups: Cups, chambers: Chambers, named: tuple[Draft, str, IntArray], openings: Openings
) -> Cavity:
    draft, name, faces = named
    own = tuple(
        FoundCup(f"{name}{m + 1}", k, cups.cups[k], cups.cups[k].state(scene.options))
        for m, k in enumerate(sorted(draft.cups, key=lambda k: cups.cups[k].from_height))
    )
    if len(faces):
        bounds = box_of(scene.solid.vertices[scene.solid.faces[faces].ravel()])
    else:
        bounds = np.tile(scene.frame.to_file(own[0].cup.start if own else chambers.widest_at[draft.key]), (2, 1))
    return Cavity(
        name,
        draft.kind,
        draft.key,
        worst([c.state for c in own]),
        draft.volume,
        bounds,
        _openings(scene, cups, draft, openings),
        own,
        faces,
    )


def _openings(scene: Scene, cups: Cups, draft: Draft, measured: Openings) -> tuple[Opening, ...]:
    if draft.kind == "sealed":
        return ()
    if draft.kind == "cup":
        return tuple(o for k in draft.cups for o in measuring.mouths(cups, k, scene.ray_target))
    return tuple(measured[draft.key])


def letters(number: int) -> str:
    """0, 1, … 25, 26 to A, B, … Z, AA."""
    text = ""
    number += 1
    while number:
        number, digit = divmod(number - 1, 26)
        text = string.ascii_uppercase[digit] + text
    return text
