"""All that is drawn over the graphics library's frame, as one frozen value."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from ventplanner.geometry.solid import FloatArray
from ventplanner.plan.model import Point
from ventplanner.ui.picture import Picture, ShownVent
from ventplanner.ui.units import system
from ventplanner.ui.view.colours import LIGHT, Colours, mixed
from ventplanner.ui.view.eye import Eye
from ventplanner.ui.view.section import Outlines, Section
from ventplanner.ui.view.turning import is_same_part
from ventplanner.ui.words import STATE_WORDS, left_words

PLATE_ROOM = 1.25
"""The plate is drawn this much larger than the part."""

LOOKING, WORKING = "looking for cavities", "working it out anew"
AS_BEFORE, ALONE = "shown as it was before", "cavities not known"
DRAWING, REDRAWING = "the part is being drawn", "the cavities are being drawn anew"

ON_PLANE_MM = 1e-6

VENT_ROOM = 2.0
"""Diameters that stay free round a drill when it is fitted into the view."""


@dataclass(frozen=True)
class Laid:
    """The plate of a pose that is looked at. corners: four build points. on, gap: as of `Picture`."""

    corners: tuple[Point, Point, Point, Point]
    on: str
    gap: float

    @property
    def middle(self) -> FloatArray:
        """(1, 3) build point."""
        return np.array([np.mean(self.corners, axis=0)])


@dataclass(frozen=True, eq=False)
class Shown:
    """What to draw, from where, in which colours.

    printed: build height that the print has come to, None for all of it. hovered: what the pointer is over. dragged:
    the drill that is being dragged; refusal: why it cannot be where it is, "" if it can. cuts: outlines of each
    section. notice: a line at the top, "" for none; posed: the same while another pose is looked at, and laid: the
    plate of that pose. face: a place on the skin and its normal, to be pointed out. on_handle: the pointer is on the
    handle of the free section, or holds it. streams: build points at which liquid runs out, each with the name of its
    hole. hints: build points where a vent would help, each with a word.
    """

    picture: Picture | None = None
    eye: Eye = field(default_factory=Eye)
    colours: Colours = LIGHT
    printed: float | None = None
    section: Section | None = None
    hovered: str = ""
    dragged: ShownVent | None = None
    refusal: str = ""
    cuts: tuple[tuple[Section, Outlines], ...] = ()
    notice: str = ""
    posed: str = ""
    laid: Laid | None = None
    face: tuple[FloatArray, FloatArray] | None = None
    on_handle: bool = False
    streams: tuple[tuple[Point, str], ...] = ()
    hints: tuple[tuple[Point, str], ...] = ()

    @property
    def sections(self) -> tuple[Section, ...]:
        """The planes that cut the part: the last printed layer, and the free one."""
        printed = () if self.printed is None else (Section.printed_to(self.printed),)
        return printed if self.section is None else (*printed, self.section)

    def is_gone(self, point: FloatArray | tuple[float, float, float]) -> bool:
        """True for a build point that is cut away; one on a plane, such as a drill it was put through, is not."""
        return any(float(s.beyond(np.asarray(point))) > ON_PLANE_MM for s in self.sections)

    @cached_property
    def live(self) -> tuple[tuple[str, float], ...]:
        """Cavities that have sealed area in the last printed layer, with it in mm2."""
        if self.picture is None or self.printed is None:
            return ()
        return tuple(self.picture.live_at(self.printed))

    @property
    def film_at(self) -> float:
        """Build height of the film: at the last printed layer."""
        height = self.picture.height if self.picture else 0.0
        return height if self.printed is None else min(self.printed, height)

    def vents(self) -> Iterator[ShownVent]:
        """Vents and proposals that are not cut away; the dragged one is not among them."""
        for vent in self.picture.vents if self.picture else ():
            if not self.is_gone(vent.entry) and (self.dragged is None or vent.word != self.dragged.word):
                yield vent

    @property
    def painted(self) -> tuple[object, ...]:
        """All that is painted over the frame but the drill in hand, to be compared; () if it cannot be."""
        if self.face is not None:
            return ()
        seen = self.picture
        room = () if seen is None else (seen.part.key, seen.height, seen.gap, seen.on)
        marks = () if seen is None else (seen.cavities, seen.selected, tuple(self.vents()), self.live)
        where = (self.eye, self.printed, self.section, self.cuts, self.on_handle)
        told = (self.refusal, self.notice, self.posed, self.laid, self.streams, self.hints)
        return (*room, *marks, *where, *told, self.colours, self.hovered, system())

    def floor(self, height: float) -> FloatArray:
        """(4, 3) corners of a rectangle under the part at a build height."""
        return plate_below(*self.box, height)

    @property
    def plate(self) -> FloatArray | None:
        """(4, 3) corners of the plate; None without a part, where it is seen from its edge, and off the plate."""
        if self.picture is None or self.eye.elevation == 0.0:
            return None
        if self.laid is not None:
            return np.array(self.laid.corners)
        return self.floor(self.picture.plate_at) if self.eye.sees_plate else None

    def fitted(self, margins: tuple[int, int, int, int], eye: Eye) -> Eye:
        """The whole part with its plate, as large as it goes."""
        if self.laid is not None:
            return eye.fitted(*self.box, margins, self.laid.middle)
        return eye.fitted(*self.box_and_plate, margins)

    @property
    def box_and_plate(self) -> tuple[FloatArray, FloatArray]:
        """(3,) corners of the part's box with the plate below it."""
        low, high = self.box
        at = self.picture.plate_at if self.picture else 0.0
        return np.array([low[0], low[1], min(low[2], at)]), high

    @property
    def box(self) -> tuple[FloatArray, FloatArray]:
        """(3,) corners of the part's box."""
        return box_of_picture(self.picture) if self.picture else (np.zeros(3), np.ones(3))


def plate_below(low: FloatArray, high: FloatArray, height: float) -> FloatArray:
    """(4, 3) corners of a rectangle at a height, somewhat larger than the box between two corners."""
    middle, half = 0.5 * (low + high)[:2], 0.5 * PLATE_ROOM * (high - low)[:2] + 2.0
    (a, b), (c, d) = middle - half, middle + half
    return np.array([[a, b, height], [c, b, height], [c, d, height], [a, d, height]])


_boxes: dict[str, tuple[FloatArray, FloatArray]] = {}


def box_of_picture(picture: Picture) -> tuple[FloatArray, FloatArray]:
    """(3,) lowest and highest corner of the part as it came."""
    key = picture.part.key
    if key not in _boxes:
        if len(_boxes) > 3:
            _boxes.clear()
        vertices = picture.part.vertices
        columns = [vertices[:, k] for k in range(3)] if len(vertices) else [np.zeros(1)] * 3
        _boxes[key] = np.array([c.min() for c in columns]), np.array([c.max() for c in columns])
    return _boxes[key]


def place_of(picture: Picture | None, word: str) -> tuple[FloatArray, FloatArray] | None:
    """(3,) lowest and highest corner of what a selection means, with some room round a drill; None if it is nowhere."""
    if picture is None:
        return None
    for vent in picture.vents:
        if vent.word == word:
            ends, room = np.array([vent.start, vent.end]), VENT_ROOM * max(vent.diameter, vent.outline.length_mm)
            return ends.min(axis=0) - room, ends.max(axis=0) + room
    for cavity in picture.cavities:
        if f"cavity {cavity.id}" == word and len(cavity.faces):
            points = picture.part.vertices[picture.part.faces[cavity.faces]].reshape(-1, 3)
            return points.min(axis=0), points.max(axis=0)
    return None


def cavity_colours(picture: Picture | None, colours: Colours) -> list[str]:
    """#rrggbb of each cavity: paler when it is left as it is, or when the findings are out of date."""
    out = []
    for cavity in picture.cavities if picture else ():
        colour = colours.cavity(cavity.colour)
        if cavity.left_alone:
            colour = mixed(colour, colours.ground, 0.45)
        if picture and picture.stale:
            colour = mixed(colour, colours.ground, 0.35)
        out.append(colour)
    return out


def has_other_place(before: Picture | None, after: Picture, exactly: bool) -> bool:
    """True when the part is another one or in another pose; unless `exactly`, only if that changes its box."""
    if before is None:
        return True
    if before.part.key == after.part.key:
        return False
    pairs = zip(box_of_picture(before), box_of_picture(after), strict=True)
    return exactly or not all(np.allclose(a, b, atol=0.5) for a, b in pairs)


def section_kept(section: Section | None, before: Picture | None, after: Picture | None) -> Section | None:
    """The free plane in another picture: none for another part; for a turned one it stays as far from its middle."""
    if section is None or before is after:
        return section
    if before is None or after is None or not is_same_part(before, after):
        return None
    if before.part.key == after.part.key:
        return section
    (low, high), (new_low, new_high) = box_of_picture(before), box_of_picture(after)
    shift = 0.5 * (new_low + new_high - low - high)
    return section.moved(float(shift @ np.asarray(section.normal)))


def notice_of(picture: Picture | None, is_there: bool, is_turned: bool) -> str:
    """What is still missing in the picture; is_there: a part is drawn; is_turned: it was made for another pose."""
    if picture is None:
        return ""
    if picture.halted:
        return AS_BEFORE if picture.cavities else ALONE
    if picture.stale:
        return WORKING if picture.cavities else LOOKING
    if not is_there:
        return DRAWING
    return REDRAWING if is_turned else ""


def description(picture: Picture | None) -> str:
    """The picture in words, for those who cannot see it."""
    if picture is None:
        return "No part is open."
    states = ", ".join(f"{c.id} {left_words(c) if c.left_alone else STATE_WORDS[c.state]}" for c in picture.cavities)
    count = len(picture.cavities)
    return f"{count} {'cavity' if count == 1 else 'cavities'}: {states}." if count else "A part without cavities."
