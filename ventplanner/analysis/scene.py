"""A posed part, cast into columns once: what every question about cavities, cups and vents is asked of."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from ventplanner.analysis.cups import Cups, find_cups
from ventplanner.analysis.resolution import NOT_MEASURED, Resolution, choose_pitch
from ventplanner.geometry.columns import Runs, Tool, cast, drilled
from ventplanner.geometry.join_tree import JoinTree, Rise, join_tree
from ventplanner.geometry.pieces import Pieces
from ventplanner.geometry.pose import BuildFrame, Pose
from ventplanner.geometry.rays import Target
from ventplanner.geometry.sight import Sight
from ventplanner.geometry.solid import FloatArray, Solid
from ventplanner.geometry.topology import Topology
from ventplanner.options import AnalysisOptions


@dataclass(frozen=True, eq=False)
class Scene:
    """A part in its pose. `height` is the part's height in mm; `vertices` are build coordinates; `runs` is the free
    space without any plate (the plate is put in by `printing`)."""

    solid: Solid
    topology: Topology
    pose: Pose
    options: AnalysisOptions
    frame: BuildFrame
    vertices: FloatArray
    height: float
    resolution: Resolution
    runs: Runs

    def printing(self, tools: tuple[Tool, ...] = ()) -> Runs:
        """Free space while printing, with these holes drilled: on the plate, the plate is a wall."""
        runs = drilled(self.runs, tools)
        return runs.on_plate(self.options.layer_mm) if self.pose.on == "plate" else runs

    def cups(self, tools: tuple[Tool, ...] = ()) -> Cups:
        """Cups with these holes drilled, without a boolean: the preview while a vent is moved."""
        runs = self.printing(tools)
        rise = self._rise.renewed(runs) if tools else self._rise
        return self.cups_of(join_tree(rise.runs, rise))

    def cups_of(self, tree: JoinTree) -> Cups:
        """Cups of a join tree of free space while printing."""
        return find_cups(tree, self.height, self.options, self.pose.on == "plate")

    @cached_property
    def pieces(self) -> Pieces:
        """The free space while printing, in pieces."""
        return Pieces(self.runs, self._rise, self.options.layer_mm if self.pose.on == "plate" else None)

    def pieces_draining(self, *, hanging: bool) -> Pieces:
        """The free space off the plate, in pieces, as `draining` sweeps it."""
        return self._pieces_hanging if hanging else self._pieces_standing

    @cached_property
    def _pieces_standing(self) -> Pieces:
        return self.pieces if self.pose.on == "supports" else Pieces(self.runs, self._rise_standing)

    @cached_property
    def _pieces_hanging(self) -> Pieces:
        return Pieces(self._rise_hanging.runs, self._rise_hanging, upright=self.runs.grid)

    @cached_property
    def _rise(self) -> Rise:
        """The order of the sweep without holes: to sort it anew took a third of each preview."""
        return Rise.of(self.printing())

    def draining(self, tools: tuple[Tool, ...], *, hanging: bool) -> JoinTree:
        """Join tree of the free space off the plate with these holes drilled, swept from below as liquid rises in it:
        plate side down, or hanging (`Runs.upside_down`). What a branch holds before it opens stays when it drains."""
        rise = self._rise_hanging if hanging else self._rise_standing
        runs = drilled(self.runs, tools)
        rise = rise.renewed(runs.upside_down() if hanging else runs)
        return join_tree(rise.runs, rise)

    @cached_property
    def _rise_standing(self) -> Rise:
        return self._rise if self.pose.on == "supports" else Rise.of(self.runs)

    @cached_property
    def _rise_hanging(self) -> Rise:
        return Rise.of(self.runs.upside_down())

    @cached_property
    def open_tree(self) -> JoinTree:
        """Join tree without a plate: what is a component of its own here is sealed for good, however it is held."""
        return join_tree(self.runs)

    @cached_property
    def ray_target(self) -> Target:
        """The posed mesh, ready for exact rays (build axes)."""
        return Target.bounding(self.vertices, *self.solid.in_order)

    @cached_property
    def sight(self) -> Sight:
        """The posed mesh, ready for many single rays (build axes)."""
        return Sight.of(self.ray_target)


def build_scene(
    solid: Solid,
    topology: Topology,
    pose: Pose,
    options: AnalysisOptions,
    *,
    shift: float = 0.0,
    frame: BuildFrame | None = None,
    wall: float | None = NOT_MEASURED,
) -> Scene:
    """Pose a part and cast it. `shift` moves the grid by this share of a pixel (an independent second look).
    frame: build axes to use instead of the part's own. wall: mm, the thinnest, if it is known from another pose."""
    frame = frame or BuildFrame.of(solid, pose)
    vertices = frame.to_build(solid.vertices)
    resolution = choose_pitch(vertices, solid.faces, options.pitch_mm, wall)
    tight = topology.is_closed and topology.is_oriented
    runs = cast(vertices, solid.faces, topology.skin_of_face, resolution.pitch_mm, shift=shift, tight=tight)
    height = float(vertices[:, 2].max())
    return Scene(solid, topology, pose, options, frame, vertices, height, resolution, runs)
