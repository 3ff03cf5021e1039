"""The free section plane as something to hold: where it stands, what it can be put through, and its handle.

Plain arithmetic on build points and pixels; no Qt and no graphics library.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from ventplanner.geometry.solid import FloatArray
from ventplanner.ui.picture import Picture
from ventplanner.ui.view.eye import Eye
from ventplanner.ui.view.section import Section

Facing = Literal["front", "right", "top", "viewer"]
Box = tuple[FloatArray, FloatArray]

GRIP_PX = 18.0
"""A press this near to the handle takes it."""

BESIDE_PX, INSIDE_PX = 20.0, 22.0
"""The handle stands so far beside the part, and so far within the edges of the view."""

LEAST_SHARE = 0.25
"""Below this share of its length the normal is too short on the screen to drag along; up and down is taken then."""


LEAST_SEEN = 0.35
"""A plane put through something is looked at from where it shows at least this share of its size."""


@dataclass(frozen=True)
class Handle:
    """The handle on the screen. at, along: (2,) pixel of its middle, unit direction of a drag that cuts less away.

    mm_per_px: how far the plane goes along its normal for a pixel in that direction.
    """

    at: FloatArray
    along: FloatArray
    mm_per_px: float

    def is_at(self, x: float, y: float) -> bool:
        """Whether a pixel is on the handle."""
        return float(np.hypot(x - self.at[0], y - self.at[1])) <= GRIP_PX


def facing(eye: Eye, box: Box, side: Facing) -> Section:
    """The plane through the middle of a box that takes away what is on one side of it, as the part is shown."""
    back = eye.axes[2] if side == "viewer" else eye.looking(side).axes[2]
    return Section(_triple(0.5 * (box[0] + box[1])), _triple(_tidy(back)))


def faces(section: Section, eye: Eye, side: Facing) -> bool:
    """Whether a plane looks to this side, or straight away from it."""
    back = eye.axes[2] if side == "viewer" else eye.looking(side).axes[2]
    return abs(float(back @ np.asarray(section.normal))) > 1 - 1e-9


def flipped(section: Section) -> Section:
    """The same plane; the other side is taken away."""
    a, b, c = (0.0 - n for n in section.normal)
    return Section(section.point, (a, b, c))


def reach(section: Section, box: Box) -> tuple[float, float]:
    """Where a plane of this direction first and last meets a box, in the measure of `position`, mm.

    A plane square to an axis has 0 where the part begins on it: of a level plane this is the build height. A slanting
    one has 0 at the first corner of the part's box.
    """
    (low, high), n = box, _measured_along(section)
    return 0.0, float(np.abs(n) @ (high - low))


def position(section: Section, box: Box) -> float:
    """How far a plane stands from where a plane of its direction first meets the part's box, mm."""
    (low, high), n = box, _measured_along(section)
    first = float(n @ np.where(n > 0, low, high))
    return float(n @ np.asarray(section.point)) - first


def put_at(section: Section, box: Box, mm: float) -> Section:
    """The plane in the same direction at a position, kept within the part's box."""
    least, most = reach(section, box)
    goal = min(max(mm, least), most)
    n = _measured_along(section)
    sign = 1.0 if float(n @ np.asarray(section.normal)) > 0 else -1.0
    return section.moved(sign * (goal - position(section, box)))


def through(section: Section, picture: Picture, eye: Eye, word: str) -> Section | None:
    """A plane that shows what is selected: along the axis of a drill, or through a cavity; None if it has no place.

    Along an axis there are many planes: the upright one is taken, which shows how air rises to the drill or sinks; of
    an upright drill, the upright one that faces the viewer most.
    """
    vent = next((v for v in picture.vents if v.word == word), None)
    if vent is not None:
        start, end = np.asarray(vent.start), np.asarray(vent.end)
        axis = (end - start) / max(float(np.linalg.norm(end - start)), 1e-12)
        normal = np.array([axis[1], -axis[0], 0.0])
        if float(np.linalg.norm(normal)) < 1e-6:
            normal = eye.levelled().axes[2]
        normal = normal / float(np.linalg.norm(normal)) * (1.0 if float(normal @ eye.axes[2]) >= 0 else -1.0)
        return Section(_triple(0.5 * (start + end)), _triple(_tidy(normal)))
    cavity = next((c for c in picture.cavities if f"cavity {c.id}" == word), None)
    if cavity is None:
        return None
    return section.moved(float(section.beyond(np.asarray(cavity.label_at))))


def seen_square(section: Section, eye: Eye) -> Eye:
    """A level view that looks straight at an upright plane, if the view sees too little of it; else the same view."""
    x, y, z = section.normal
    share = float(eye.axes[2] @ np.asarray(section.normal))
    if share > LEAST_SEEN or abs(z) > 1e-9:
        return eye
    side = -x if eye.hanging else x
    return replace(eye, azimuth=float(np.degrees(np.arctan2(side, -y))), elevation=0.0)


def outline(section: Section, eye: Eye, box: Box) -> FloatArray:
    """(4, 3) build corners of a rectangle in the plane round the part, its first edge at the handle's side."""
    middle, u, v, wide, tall = _laid_out(section, eye, box)
    return np.array([middle + a * wide * u + b * tall * v for a, b in ((1, -1), (1, 1), (-1, 1), (-1, -1))])


def handle(section: Section, eye: Eye, box: Box) -> Handle:
    """The handle of a plane: at its edge on the right of the view, where it covers nothing of the cut."""
    middle, u, _, wide, _ = _laid_out(section, eye, box)
    at = eye.to_screen(middle + wide * u)[:2]
    room = np.array([eye.width - INSIDE_PX, eye.height - INSIDE_PX])
    at = np.clip(at, INSIDE_PX, np.maximum(room, INSIDE_PX))
    right, up, back = (float(axis @ np.asarray(section.normal)) for axis in eye.axes)
    share = float(np.hypot(right, up))
    if share >= LEAST_SHARE:
        return Handle(at, np.array([right, -up]) / share, eye.mm_per_px / share)
    # It looks at the viewer: down brings it nearer, as if it were pulled over the table.
    return Handle(at, np.array([0.0, 1.0 if back > 0 else -1.0]), eye.mm_per_px)


def dragged(section: Section, eye: Eye, box: Box, across: float, down: float) -> Section:
    """The plane after its handle was dragged by pixels."""
    held = handle(section, eye, box)
    mm = held.mm_per_px * float(held.along @ np.array([across, down]))
    moved = section.moved(mm)
    return put_at(section, box, position(moved, box))


def _laid_out(section: Section, eye: Eye, box: Box) -> tuple[FloatArray, FloatArray, FloatArray, float, float]:
    """Middle of the part on the plane, two unit vectors in it, the first to the right of the view, half the sizes."""
    low, high = box
    normal = np.asarray(section.normal)
    middle = 0.5 * (low + high)
    middle = middle - float(section.beyond(middle)) * normal
    u = np.zeros(3)
    for towards in (eye.axes[0], eye.axes[1], eye.axes[2]):
        u = towards - float(towards @ normal) * normal
        if float(np.linalg.norm(u)) > LEAST_SHARE:
            break
    u = u / float(np.linalg.norm(u))
    v = np.cross(normal, u)
    beside = BESIDE_PX * eye.mm_per_px
    wide, tall = (0.5 * float(np.abs(w) @ (high - low)) + beside for w in (u, v))
    return middle, u, v, wide, tall


def _measured_along(section: Section) -> FloatArray:
    """The normal, or its opposite: whichever grows along the axis that it is nearest to, so that flipping keeps it."""
    n = np.asarray(section.normal, dtype=np.float64)
    # Rounded: of two equal shares always the first is taken.
    main = int(np.argmax(np.round(np.abs(n), 9)))
    return n if n[main] > 0 else -n


def _tidy(v: FloatArray) -> FloatArray:
    """Exact axes, where only rounding keeps a vector from being one."""
    nearest = np.round(v)
    is_axis = bool(np.allclose(v, nearest, atol=1e-9)) and float(np.abs(nearest).sum()) == 1.0
    return np.asarray(nearest + 0.0 if is_axis else v)


def _triple(v: FloatArray) -> tuple[float, float, float]:
    return float(v[0]), float(v[1]), float(v[2])
