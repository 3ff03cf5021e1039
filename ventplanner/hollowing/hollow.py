"""`hollow`: from a solid part to the same part with an even wall round a smooth hollow."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ventplanner.analysis.limits import checked_part
from ventplanner.analysis.nesting import read_nesting
from ventplanner.errors import MeshError, ParameterError, WorkError
from ventplanner.geometry.closest import Nearest
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.pose import BuildFrame, Pose
from ventplanner.geometry.solid import FloatArray, IntArray, Solid
from ventplanner.geometry.topology import Topology, topology
from ventplanner.hollowing import field, props
from ventplanner.hollowing.capping import capped
from ventplanner.hollowing.joining import joined
from ventplanner.hollowing.lattice import between_struts
from ventplanner.hollowing.rules import HollowRules
from ventplanner.hollowing.sections import Sections, sections
from ventplanner.hollowing.skins import TOLERANCE_MM, Skins, fit
from ventplanner.machine import memory_bytes
from ventplanner.progress import Progress, silent

BYTES_PER_NODE, BYTES_PER_FACE = 20, 600
"""Most memory that is in use at once (measured: 4 bytes a node for each set of values, of which there are up to four at
once, and the flags; 9 + 15 floats a face for the tree, and copies of the mesh)."""

FLAT_MM = 0.01
"""Faces up to this height over the lowest point lie flat on the plate: a fifth of a usual layer."""

BELOW = 4
"""Layers of the grid below a part that is open there: the end of the hollow lies outside."""

Values = NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Hollowed:
    """A part that was hollowed.

    solid: the part with its hollows: the faces of `original` to the last bit (but where a hollow is open to the plate),
    and the new skins. new: (m,) bool, its faces that did not come with it. hollow_mm3: (k,) volume of each new hollow,
    largest first. wall_least_mm: no point of the new skins is nearer to the part's skin
    (proved); wall_mean_mm: their mean distance where nothing but the wall decides, and wall_share of them do. dropped:
    hollows that were too small. memory_mb: most that was needed, about. notes: what else happened, as sentences.
    """

    original: Solid
    solid: Solid
    rules: HollowRules
    pose: Pose
    new: NDArray[np.bool_]
    hollow_mm3: tuple[float, ...]
    part_mm3: float
    wall_least_mm: float
    wall_mean_mm: float
    wall_share: float
    inner_mm2: float
    sections: Sections
    grid_mm: float
    memory_mb: float
    dropped: int
    notes: tuple[str, ...]

    @property
    def saved_mm3(self) -> float:
        """Resin saved."""
        return float(sum(self.hollow_mm3))


@dataclass(frozen=True, eq=False)
class Posed:
    """A part made ready to be hollowed. part: as its nesting was read. found: its topology. vertices, faces: in build
    axes, its holes closed. kept: faces of the part under which it stays solid. notes: what was found, as sentences."""

    part: Solid
    found: Topology
    frame: BuildFrame
    vertices: FloatArray
    faces: IntArray
    kept: FaceMask | None
    notes: tuple[str, ...]

    @classmethod
    def of(cls, solid: Solid, pose: Pose, keep_solid: FaceMask | None) -> Posed:
        """Look at a part. Raises MeshError for one that cannot be worked on."""
        part = checked_part(solid)
        if keep_solid is not None and keep_solid.faces != len(part.faces):
            raise MeshError(
                "The surface to be kept solid belongs to a part with another number of faces.", "Name it anew."
            )
        reading = read_nesting(part, topology(part))
        part, notes = reading.solid, list(reading.notes)
        frame = BuildFrame.of(part, pose)
        vertices = np.ascontiguousarray(frame.to_build(part.vertices))
        vertices, faces, holes = capped(vertices, part.faces, reading.topology)
        if holes:
            what = "a hole" if holes == 1 else f"{holes} holes"
            notes.append(f"The mesh has {what}; the wall is kept there, too, as if under a cone.")
        return cls(part, reading.topology, frame, vertices, faces, keep_solid, tuple(notes))

    def measured(self, rules: HollowRules) -> Nearest:
        """The skin from which the wall is measured. ParameterError if it is to be open where nothing lies flat."""
        faces = self.faces if rules.open_side == "none" else _without_base(self.vertices, self.faces)
        return Nearest.of(self.vertices, faces)

    @property
    def marked(self) -> Nearest | None:
        """The surface under which it stays solid."""
        return Nearest.of(self.vertices, self.part.faces[self.kept.chosen]) if self.kept else None


def hollow(
    solid: Solid,
    pose: Pose | None = None,
    rules: HollowRules | None = None,
    *,
    keep_solid: FaceMask | None = None,
    progress: Progress = silent,
) -> Hollowed:
    """Hollow a part.

    pose: how it hangs; ribs, ceilings and what stays solid below a height go by it. keep_solid: faces under which it
    stays solid. Raises MeshError for a part that cannot be worked on, ParameterError if nothing can be hollowed with
    these rules or the grid does not fit into memory, WorkError if the wall could not be kept, and what `progress` does.
    """
    pose, rules = pose or Pose(), rules or HollowRules()
    progress("Looking at the mesh", 0.0)
    posed = Posed.of(solid, pose, keep_solid)
    part, vertices, faces = posed.part, posed.vertices, posed.faces
    rules, memory, more = _fitting(vertices, faces, rules)
    outer, marked = posed.measured(rules), posed.marked
    nodes = field.Nodes.over(vertices, faces, rules.step_mm, 0 if rules.open_side == "none" else BELOW)
    values = values_of(nodes, outer, marked, rules, progress)
    skins, dropped = skins_of(nodes, values, rules)
    progress("Fitting the wall", 0.0)
    fitted = fit(skins, outer, rules.wall_mm, _told(progress, "Fitting the wall"))
    if fitted is None:
        raise WorkError(
            f"The wall could not be kept to {TOLERANCE_MM:g} mm everywhere on a grid of {rules.step_mm:g} mm.",
            "Give a finer --grid or a higher --fineness.",
        )
    inner = Skins.of(fitted.vertices, skins.faces)
    areas = sections((vertices, faces), (inner.vertices, inner.faces), max(rules.step_mm, 0.25))
    result = joined(part, posed.found, posed.frame, inner)
    progress("Fitting the wall", 1.0)
    return Hollowed(
        solid, result.solid, rules, pose, result.new, result.hollow_mm3, part.volume, fitted.least_mm, fitted.mean_mm,
        fitted.share, inner.area_above(0.0), areas, rules.step_mm, memory, dropped, (*posed.notes, *more),
    )  # fmt: skip


def _without_base(vertices: FloatArray, faces: IntArray) -> IntArray:
    """Faces that do not lie flat on the plate. ParameterError if none does. vertices: build axes."""
    flat = (vertices[faces][:, :, 2] < FLAT_MM).all(axis=1)
    if not flat.any():
        raise ParameterError(
            "No face of the part lies flat on the plate, so the hollow cannot be open there.",
            "Give the direction of a flat face (--to-plate), or leave out --open.",
        )
    return np.ascontiguousarray(faces[~flat])


def _told(progress: Progress, phase: str) -> Callable[[float], None]:
    return lambda share: progress(phase, share)


def _fitting(vertices: FloatArray, faces: IntArray, rules: HollowRules) -> tuple[HollowRules, float, tuple[str, ...]]:
    """The rules with a grid that fits into half of the memory, MB that this needs, and a note if it is coarser."""
    extents, room = np.ptp(vertices, axis=0), 0.5 * memory_bytes()
    fixed = BYTES_PER_FACE * len(faces)
    step = rules.step_mm
    volume = float((extents + 4.0 * step).prod())
    need = fixed + BYTES_PER_NODE * volume / step**3
    if need <= room:
        return rules, need / 1e6, ()
    least = float(np.ceil(1000.0 * (BYTES_PER_NODE * volume / max(room - fixed, 1.0)) ** (1.0 / 3.0)) / 1000.0)
    if rules.grid_mm is not None or least > 0.5 * rules.wall_mm:
        raise ParameterError(
            f"A grid of {step:.3g} mm over this part needs about {need / 1e9:.1f} GB of memory.",
            f"Give {least:g} mm or more (--grid), and a wall of at least {2.0 * least:g} mm.",
        )
    note = f"The grid is {least:g} mm instead of {step:g} mm: more does not fit into half of the memory."
    return replace(rules, grid_mm=least), room / 1e6, (note,)


def values_of(
    nodes: field.Nodes, outer: Nearest, marked: Nearest | None, rules: HollowRules, progress: Progress
) -> Values:  # fmt: skip
    """Positive in the hollow."""
    wall, hollowing = rules.wall_mm, _told(progress, "Hollowing")
    values = field.hollow_by_wall(nodes, outer, wall, rules.radius_mm, hollowing)
    if rules.limb_mm > 2.0 * rules.radius_mm:
        limbs = _told(progress, "Leaving limbs solid")
        np.minimum(values, field.without_limbs(nodes, outer, wall, rules.limb_mm, limbs), out=values)
    if rules.solid_below_mm > 0.0:
        np.minimum(values, field.above(nodes, rules.solid_below_mm), out=values)
    if marked is not None:
        away = field.away_from(nodes, marked, rules.solid_depth_mm, _told(progress, "Leaving solid what is marked"))
        np.minimum(values, away, out=values)
    _carry_islands(nodes, values, rules, progress)
    if rules.steepness_deg > 0.0:
        told = _told(progress, "Shaping ceilings")
        _carry(nodes, values, props.roofs(nodes, values > 0, rules.steepness_deg, told))
    if rules.filling == "struts":
        struts = between_struts(values.shape, nodes.origin, nodes.step, rules.cell_mm, rules.strut_mm)
        np.minimum(values, np.clip(struts, -nodes.far, nodes.far, out=struts), out=values)
    if rules.steepness_deg > 0.0 or rules.filling == "struts":
        _carry_islands(nodes, values, rules, progress)
    return values


def _carry_islands(nodes: field.Nodes, values: Values, rules: HollowRules, progress: Progress) -> None:
    """Ribs under what starts in mid-air."""
    void = values > 0
    found = props.islands(nodes, void)
    if found:
        told, angle = _told(progress, "Carrying islands"), max(props.RIB_ANGLE_DEG, rules.steepness_deg)
        _carry(nodes, values, props.ribs(nodes, void, found, angle, told))


def _carry(nodes: field.Nodes, values: Values, points: FloatArray) -> None:
    """Ribs through some points, taken out of the hollow in place."""
    if len(points):
        np.minimum(values, props.beside(nodes, points), out=values)


def skins_of(nodes: field.Nodes, values: Values, rules: HollowRules) -> tuple[Skins, int]:
    """The skins of all hollows that are large enough, and how many were not."""
    vertices, faces = nodes.surface(values)
    dropped = 0
    if len(faces):
        skins, dropped = Skins.of(vertices, faces).large_enough(rules.least_mm3)
    if not len(faces) or not len(skins.faces):
        what = f", only {dropped} hollows below {rules.least_mm3:g} mm3" if dropped else ""
        raise ParameterError(
            f"With a wall of {rules.wall_mm:g} mm nothing of the part can be hollowed{what}.",
            "Give a thinner --wall, a smaller --inside-radius or --least-hollow, or keep less of it solid.",
        )
    return skins, dropped
