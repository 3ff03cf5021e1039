"""`as_printed`: a part with its planned vents as a printer makes it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, partial

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import label

from ventplanner.analysis.cavities import points_of_cup, worst
from ventplanner.analysis.cups import Cups, State, find_cups
from ventplanner.analysis.findings import Findings
from ventplanner.analysis.openings import Opening, mouths
from ventplanner.analysis.places import Places
from ventplanner.analysis.resolution import MARGIN
from ventplanner.geometry.columns import Grid, Runs, Tool, drilled
from ventplanner.geometry.exposure_kernels import states_in_layer
from ventplanner.geometry.join_tree import JoinTree, join_tree
from ventplanner.geometry.solid import FloatArray
from ventplanner.physics.curing import LEAST_PIXELS
from ventplanner.printed.light import Light
from ventplanner.printed.model import PrintedCup, PrintedOpening
from ventplanner.printed.part import PixelPart
from ventplanner.printed.patched import coarser, patched_runs
from ventplanner.printed.raster import printed_runs, side_by_side
from ventplanner.printed.widths import opening_as_printed, size_that_prints, vent_as_printed
from ventplanner.profile import Profile
from ventplanner.progress import Progress, silent

MATERIAL, OUTSIDE, BREATHING, SEALED, CURED = range(5)
"""What a pixel of a layer can be. CURED: void in the model, solid as printed. OUTSIDE: free to above or below, and
reached from the picture's rim in this layer over such pixels; other void is BREATHING or SEALED at this height."""

Picture = NDArray[np.uint8]

MEASURING = "Measuring openings as printed"


@dataclass(frozen=True, eq=False)
class Printing:
    """Free space at the printer's pixel while printing (on the plate, the plate is a wall), and its join tree."""

    tree: JoinTree

    @property
    def runs(self) -> Runs:
        """Its void runs."""
        return self.tree.runs

    @cached_property
    def opens(self) -> FloatArray:
        """(runs,) build height in mm from which each run is joined to the outside; inf for never."""
        return self.tree.opens[self.tree.branch_of_run]


@dataclass(frozen=True, eq=False)
class AsPrinted:
    """A part with its planned vents in the model and as printed.

    part: the part at the printer's pixel, without vents. openings: those of the findings' cavities, in their order;
    vents: in the order given. cups: those of the findings, then what only the print makes. found: all cups as printed,
    with the sealed-area curve (`found.sealed_area`). model_runs: free space in the model with the vents, without plate.
    Where the part has too many pixels (not `is_whole`), cups and layers are at a coarser one, exact only where openings
    and vents are; widths are exact all the same.
    """

    part: PixelPart
    openings: tuple[PrintedOpening, ...]
    vents: tuple[PrintedOpening, ...]
    cups: tuple[PrintedCup, ...]
    found: Cups
    model_runs: Runs
    notes: tuple[str, ...]

    @property
    def profile(self) -> Profile:
        """The profile it is printed with."""
        return self.part.light.profile

    @property
    def grid(self) -> Grid:
        """The pixels of the layers' pictures."""
        return self.model_runs.grid

    @property
    def is_whole(self) -> bool:
        """Whether cups and layers are at the printer's pixel."""
        return self.part.is_whole

    @property
    def layers(self) -> int:
        """Number of layers; layer k lies between k and k + 1 times the layer height."""
        return self.part.light.layers

    @cached_property
    def printing(self) -> Printing:
        """The free space as printed."""
        return Printing(self.found.tree)

    @cached_property
    def model(self) -> Printing:
        """The free space in the model. The first use takes as long as a join tree of all pixels (about a second)."""
        return Printing(join_tree(_held(self.part, self.model_runs)))

    def layer(self, number: int, *, printed: bool = True) -> Picture:
        """(ny, nx) uint8: what each pixel is in the middle of a layer (MATERIAL, OUTSIDE, ...), when that much is
        printed. printed: as printed, or in the model."""
        z = (min(max(number, 0), self.layers - 1) + 0.5) * self.part.light.layer
        shape = (self.grid.ny, self.grid.nx)
        picture = _states((self.printing if printed else self.model), z).reshape(shape)
        sky, count = label(picture == OUTSIDE)
        if count > 1:
            picture[(sky > 0) & (sky != sky[0, 0])] = BREATHING
        if printed:
            picture[(picture == MATERIAL) & (_void_at(self.model_runs, z).reshape(shape) != MATERIAL)] = CURED
        return picture


def _states(printing: Printing, z: float) -> Picture:
    runs = printing.runs
    out = np.empty(runs.grid.n_columns, dtype=np.uint8)
    states_in_layer(runs.offsets, runs.z0, runs.z1, printing.opens, z, out)
    return out


def _void_at(runs: Runs, z: float) -> Picture:
    out = np.empty(runs.grid.n_columns, dtype=np.uint8)
    states_in_layer(runs.offsets, runs.z0, runs.z1, np.empty(0), z, out)
    return out


def as_printed(
    findings: Findings,
    vents: Sequence[Tool] = (),
    profile: Profile | None = None,
    progress: Progress = silent,
    *,
    part: PixelPart | None = None,
) -> AsPrinted:
    """How a part prints with its planned vents.

    vents: drills in build axes, from outside to inside. profile: default `Profile()`. part: the same part at the same
    profile's pixel from an earlier call. Cancels where `progress` raises.
    """
    profile = profile or Profile()
    tools = tuple(vents)
    progress("Casting pixels", 0.0)
    if part is None or part.findings is not findings or part.light.profile != profile:
        part = PixelPart.of(findings, profile)
    scene = findings.scene
    whole = part if part.is_whole else coarser(part)
    model_runs = drilled(whole.runs, tools)
    space = printed_runs(model_runs, whole.light, progress)
    openings, measured = _widths_of(part, tools, progress)
    if not part.is_whole:
        known = [opening for _, opening in _openings(findings)]
        exact = list(zip(known, openings, strict=True)), list(zip(tools, measured, strict=True))
        space = patched_runs(part, space, *exact)
    progress("Finding cups as printed", 0.0)
    found = find_cups(join_tree(_held(part, space)), scene.height, findings.options, part.on_plate)
    nominal = scene.cups(tools) if tools else findings.cups
    cups = _side_by_side(findings, nominal, found, part.light)
    notes = (*_notes(part), *_about_pixels(part))
    return AsPrinted(part, openings, measured, cups, found, model_runs, notes)


@dataclass(frozen=True, eq=False)
class Widths:
    """How wide the openings of a part and its planned vents print, as in `AsPrinted`. notes: assumptions.

    would_print: by its place in the list, for each vent that prints closed the smallest diameter in mm that prints open
    there (LEAST_PIXELS wide), None if none was found. cups: as in `AsPrinted`, None if they were not asked for.
    """

    openings: tuple[PrintedOpening, ...]
    vents: tuple[PrintedOpening, ...]
    notes: tuple[str, ...]
    would_print: Mapping[int, float | None] = field(default_factory=dict)
    cups: tuple[PrintedCup, ...] | None = None


def widths_as_printed(
    findings: Findings,
    vents: Sequence[Tool] = (),
    profile: Profile | None = None,
    progress: Progress = silent,
    *,
    with_cups: bool = False,
) -> Widths:
    """Openings and vents, with the cups of the whole part as printed only if asked for: that takes some seconds more.
    As `as_printed`."""
    profile = profile or Profile()
    tools = tuple(vents)
    cups: tuple[PrintedCup, ...] | None = None
    more: tuple[str, ...] = ()
    if with_cups:
        found = as_printed(findings, tools, profile, progress)
        part, openings, measured, cups = found.part, found.openings, found.vents, found.cups
        more = _about_pixels(part)
    elif not tools and not _openings(findings):
        return Widths((), (), ())
    else:
        progress("Casting pixels", 0.0)
        part = PixelPart.of(findings, profile)
        openings, measured = _widths_of(part, tools, progress)
    least = LEAST_PIXELS * profile.pixel_mm
    would_print = {
        k: size_that_prints(part, tools[k], least, tools[:k] + tools[k + 1 :], progress)
        for k, one in enumerate(measured)
        if not one.open
    }
    return Widths(openings, measured, (*_notes(part), *more), would_print, cups)


def _widths_of(
    part: PixelPart, tools: tuple[Tool, ...], progress: Progress
) -> tuple[tuple[PrintedOpening, ...], tuple[PrintedOpening, ...]]:
    openings = _openings(part.findings)
    work = [partial(opening_as_printed, part, opening, tools, name) for name, opening in openings]
    work += [partial(vent_as_printed, part, t, tools[:k] + tools[k + 1 :], str(k + 1)) for k, t in enumerate(tools)]
    widths = tuple(side_by_side(work, MEASURING, progress))
    return widths[: len(openings)], widths[len(openings) :]


def _openings(findings: Findings) -> list[tuple[str, Opening]]:
    """The openings of all cavities; where a narrow one was not told, the mouths of the cavity's cups."""
    found = []
    for cavity in findings.cavities:
        own = cavity.openings
        if not own:
            target = findings.scene.ray_target
            own = tuple(o for cup in cavity.cups for o in mouths(findings.cups, cup.number, target))
        found += [(cavity.id, opening) for opening in own]
    return found


def _held(part: PixelPart, runs: Runs) -> Runs:
    return runs.on_plate(part.light.layer) if part.on_plate else runs


def _notes(part: PixelPart) -> tuple[str, ...]:
    """What is taken for granted, as sentences."""
    light, wall = part.light, part.findings.scene.resolution.thinnest_wall_mm
    p = light.profile
    base = (
        f"{light.base} base layers lie in the part."
        if light.base
        else "No base layer lies in the part: they are all below it."
        if p.base_layers
        else "There are no base layers."
    )
    thin = wall is not None and wall < MARGIN * p.pixel_mm
    return (
        f"Printed with profile {p.name}: pixel {p.pixel_mm:g} mm, layer {p.layer_height_mm:g} mm, light spread"
        f" {p.blur_mm:g} mm, penetration depth {p.penetration_mm:g} mm, exposure ratio {p.exposure_ratio:g}. {base}",
        "Walls are taken to print as they are in the model"
        + (f"; the thinnest, of about {wall:.2g} mm, may be missed by this pixel." if thin else "."),
    )


def _about_pixels(part: PixelPart) -> tuple[str, ...]:
    """What is not told at the printer's pixel, and why."""
    if part.is_whole:
        return ()
    return (
        f"{part.grid.n_columns / 1e6:.0f} million pixels lie under this part, more than fit in memory: openings and"
        f" vents are printed in thought at the printer's pixel; all else, such as cups, at one of"
        f" {part.least_whole_pixel_mm:.2g} mm.",
    )


def _side_by_side(findings: Findings, nominal: Cups, found: Cups, light: Light) -> tuple[PrintedCup, ...]:
    """The cups of the findings with their states in the model and as printed, then cups that only the print makes."""
    before, after = _by_name(findings, nominal, 0.0), _by_name(findings, found, light.layer)
    known = [(cavity.id, cup.id) for cavity in findings.cavities for cup in cavity.cups]
    extra = sorted(name for name in {*before, *after} if name not in set(known))
    rows = [_row(findings, name, nominal, before.get(name, []), found, after.get(name, [])) for name in known]
    more = [_row(findings, name, nominal, before.get(name, []), found, after.get(name, [])) for name in extra]
    return (*rows, *(row for row in more if row.nominal != "breathing" or row.printed != "breathing"))


def _row(
    findings: Findings, name: tuple[str, str], nominal: Cups, before: list[int], found: Cups, after: list[int]
) -> PrintedCup:
    options = findings.options
    states: list[State] = [found.cups[k].state(options) for k in after]
    state = worst(states)
    one = next((found.cups[k] for k, s in zip(after, states, strict=True) if s == state), None)
    return PrintedCup(
        *name,
        nominal=worst([nominal.cups[k].state(options) for k in before]),
        printed=state,
        from_mm=None if one is None else one.from_height,
        to_mm=None if one is None else one.to_height,
        volume_mm3=sum(found.cups[k].sealed_volume for k in after),
        peak_area_mm2=max((found.cups[k].peak_area for k in after), default=0.0),
    )


def _by_name(findings: Findings, cups: Cups, above: float) -> dict[tuple[str, str], list[int]]:
    """Numbers of some cups by the name that the findings give the place where each lies.

    A cup goes by where it starts, `above` mm over its floor; else by where most of it lies; else by its cavity.
    """
    names = {c.number: (cavity.id, c.id) for cavity in findings.cavities for c in cavity.cups}
    places = Places.of(findings)
    groups: dict[tuple[str, str], list[int]] = {}
    for number, cup in enumerate(cups.cups):
        points, _ = points_of_cup(cups, number)
        points = np.vstack((cup.start + np.array([0.0, 0.0, above + 1e-4]), points[:: 1 + len(points) // 2000]))
        at = findings.cups.cup_at(points)
        own = int(at[0]) if at[0] >= 0 else _most(at)
        if own in names:
            name = names[own]
        else:
            cavity = _most(places.at(points))
            name = (findings.cavities[cavity].id if cavity >= 0 else "", "")
        groups.setdefault(name, []).append(number)
    return groups


def _most(numbers: NDArray[np.integer]) -> int:
    """The number that occurs most, -1 if none is 0 or more."""
    counts = np.bincount(numbers[numbers >= 0])
    return int(counts.argmax()) if len(counts) else -1
