"""What is under a pixel: a label, a drill, a cavity seen through the skin, or a place on the skin. No Qt."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.ui.picture import ShownVent
from ventplanner.ui.view import drill_shape
from ventplanner.ui.view.groups import SKIN, Groups
from ventplanner.ui.view.shapes import Shapes
from ventplanner.ui.view.shown import Shown

if TYPE_CHECKING:
    from ventplanner.geometry.rays import Target

_NEAR_PX = 4.0
"""A click this close to a drill still means it."""


@dataclass(frozen=True, eq=False)
class Hit:
    """The first place of the part under a pixel: (3,) build point, (3,) outward unit normal, group of its face.
    towards: (3,) unit, from there to the eye; None where the part is cut open, so that one may look into it."""

    point: FloatArray
    normal: FloatArray
    group: int
    towards: FloatArray | None = None


@dataclass(frozen=True, eq=False)
class Aim:
    """The mesh of some shapes made ready for rays. key: that of the shapes; faces: (m, 3), and group: (m,) of each.

    The target keeps its faces in an order of its own, but tells the numbers of `faces`.
    """

    key: tuple[object, ...]
    target: Target
    faces: IntArray
    group: Groups


def make_aim(shapes: Shapes) -> Aim:
    """Make shapes ready for rays: off the GUI thread, for the first time compiles kernels, which takes its time."""
    from ventplanner.geometry.rays import Target

    return Aim(shapes.key, Target.of(shapes.full.vertices, shapes.full.faces), shapes.full.faces, shapes.full.group)


def vent_at(shown: Shown, x: float, y: float) -> ShownVent | None:
    """The drill under a pixel; of several, the one whose outer end is nearest to the viewer."""
    pixel = np.array([x, y])
    found = [v for v in shown.vents() if any(_is_in(part, pixel) for part in drill_shape.outlines(v, shown.eye))]
    return max(found, key=lambda v: float(shown.eye.to_screen(np.asarray(v.start))[2]), default=None)


def vent_named(shown: Shown, word: str) -> ShownVent | None:
    """The drill that a word such as "vent 3" means."""
    return next((v for v in shown.vents() if v.word == word), None)


def cavity_at(shown: Shown, aim: Aim, x: float, y: float) -> str:
    """Id of the first cavity whose surface is under a pixel, "" for none."""
    assert shown.picture is not None
    for _, face, _ in _crossings(shown, aim.target, x, y):
        group = int(aim.group[face]) if face >= 0 else SKIN
        if group >= 0:
            return shown.picture.cavities[group].id
    return ""


def hit_at(shown: Shown, aim: Aim, x: float, y: float) -> Hit | None:
    """The first place of the part under a pixel; where it is cut, on the cut."""
    eye = shown.eye
    for along, face, normal in _crossings(shown, aim.target, x, y):
        point = eye.under(x, y) - along * eye.axes[2]
        if face < 0:
            return Hit(point, normal, SKIN)
        a, b, c = aim.target.vertices[aim.faces[face]]
        across = np.cross(b - a, c - a)
        outwards = across / max(float(np.linalg.norm(across)), 1e-300)
        return Hit(point, outwards, int(aim.group[face]), None if shown.sections else eye.axes[2])
    return None


def hollow_at(shown: Shown, aim: Aim, x: float, y: float) -> FloatArray | None:
    """(3,) build point in the first hollow under a pixel, seen through the skin: half way between its two walls there,
    or between a section and the wall behind it; None where there is no hollow."""
    into, origin = -shown.eye.axes[2], shown.eye.under(x, y)
    found = _crossings(shown, aim.target, x, y)
    for k, (along, face, _) in enumerate(found):
        if face < 0 or int(aim.group[face]) < 0:
            continue
        a, b, c = aim.target.vertices[aim.faces[face]]
        begins = float(np.cross(b - a, c - a) @ into) > 0.0  # the hollow, behind this wall
        other = (found[k + 1][0] if k + 1 < len(found) else along) if begins else _kept(shown, origin, into)[0]
        return np.asarray(origin + (0.5 * (along + other) if np.isfinite(other) else along) * into)
    return None


def face_at(shown: Shown, target: Target, x: float, y: float) -> tuple[int, FloatArray] | None:
    """The first face of a mesh under a pixel by its number, and the (3,) build point; None beside it and on a cut."""
    for along, face, _ in _crossings(shown, target, x, y):
        return None if face < 0 else (face, shown.eye.under(x, y) - along * shown.eye.axes[2])
    return None


def _crossings(shown: Shown, target: Target, x: float, y: float) -> list[tuple[float, int, FloatArray]]:
    """Crossings under a pixel from near to far: mm along the view, face (-1: a section), normal of the section."""
    # Here, not above: this compiles kernels when it is first imported, which `make_aim` did in its own thread.
    from ventplanner.geometry.rays import material_along

    into = -shown.eye.axes[2]
    origin = shown.eye.under(x, y)
    nearest, farthest, normal = _kept(shown, origin, into)
    stretches = material_along(target, origin, into, np.zeros((1, 2)))
    out: list[tuple[float, int, FloatArray]] = []
    for begin, end, face_in, face_out in zip(
        stretches.begin.tolist(),
        stretches.end.tolist(),
        stretches.face_in.tolist(),
        stretches.face_out.tolist(),
        strict=True,
    ):
        if end <= nearest or begin >= farthest:
            continue
        out.append((begin, face_in, into) if begin >= nearest else (nearest, -1, normal))
        if end < farthest:
            out.append((end, face_out, into))
    return out


def _kept(shown: Shown, origin: FloatArray, into: FloatArray) -> tuple[float, float, FloatArray]:
    """Stretch of a line that no section takes away, and the normal of the section where it begins."""
    nearest, farthest, normal = -np.inf, np.inf, into
    for section in shown.sections:
        slope, off = float(into @ np.asarray(section.normal)), float(section.beyond(origin))
        if abs(slope) < 1e-9:
            if off > 0:
                return np.inf, -np.inf, into
        elif slope < 0 and -off / slope > nearest:
            nearest, normal = -off / slope, np.asarray(section.normal)
        elif slope > 0:
            farthest = min(farthest, -off / slope)
    return float(nearest), float(farthest), normal


def _is_in(polygon: FloatArray, pixel: FloatArray) -> bool:
    """True when a pixel is in a polygon (a ray from it crosses the edge an odd number of times), or very near."""
    here, edge = polygon - pixel, np.roll(polygon, -1, axis=0) - polygon
    after = here + edge
    level = (here[:, 1] > 0) != (after[:, 1] > 0)
    crossing = here[level, 0] - here[level, 1] * edge[level, 0] / edge[level, 1]
    share = np.clip(-(here * edge).sum(axis=1) / np.maximum((edge**2).sum(axis=1), 1e-12), 0.0, 1.0)
    away = np.linalg.norm(here + share[:, None] * edge, axis=1).min()
    return bool((crossing > 0).sum() % 2 == 1 or away <= _NEAR_PX)
