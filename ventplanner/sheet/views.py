"""Figures of the part: sides from which the vents are seen, with their numbers, and a section through each vent."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ventplanner.analysis.scene import Scene
from ventplanner.geometry.pose import BuildFrame
from ventplanner.geometry.rays import square_to
from ventplanner.geometry.solid import FloatArray
from ventplanner.plan.model import Point, Vent
from ventplanner.sheet.model import INK, MUTED, PAPER, Disc, Figure, Line, Shape, Word
from ventplanner.sheet.pictures import Eye, Grey, cut, shaded

PLATE_MM = 0.9
"""How thick the plate is drawn, and how far above the part: it hangs on supports, or on the plate itself."""

PIXELS_A_MM = 5.0
"""127 dots an inch: sharp enough on paper, and a second at most for each picture."""

MOST_SIDES = 6

UP = np.array([0.0, 0.0, 1.0])

MARGIN, EDGE, ROW = 9.0, 2.0, 6.0
"""mm of paper at both sides of the part, for the numbers, and above and below it; mm from one number to the next."""

MOST_ROWS = 28
"""Numbers one below the other for which a picture is made taller; more are set closer."""

SIDES = {
    "from the front": (0.0, 1.0, 0.0),
    "from the back": (0.0, -1.0, 0.0),
    "from the left": (1.0, 0.0, 0.0),
    "from the right": (-1.0, 0.0, 0.0),
    "from the front, left": (1.0, 1.0, 0.0),
    "from the front, right": (-1.0, 1.0, 0.0),
    "from the back, left": (1.0, -1.0, 0.0),
    "from the back, right": (-1.0, -1.0, 0.0),
    "the side to the plate": (0.0, 0.0, 1.0),
    "the side away from the plate": (0.0, 0.0, -1.0),
}
PLAIN = tuple(SIDES)
SIDES |= {
    f"from the {side}, {height}": (x, y, z)
    for height, z in (("above", -1.0), ("below", 1.0))
    for side, (x, y) in {"front": (0, 1), "back": (0, -1), "left": (1, 0), "right": (-1, 0)}.items()
}
"""Where the viewer looks, in build axes: the part stands plate side down, its front is -y. Slanting
looks are for what the plain ones do not show."""

BELOW_DEG = 30.0
"""How far from below a part is looked at to show what runs out of it."""

CLEAR = 0.2
"""A mouth counts as seen if the look meets its skin no flatter than this (cosine)."""


@dataclass(frozen=True, eq=False)
class Mouth:
    """Where a hole opens on the outside, in build axes. outwards: unit."""

    name: str
    at: FloatArray
    outwards: FloatArray


def mouths(vents: tuple[Vent, ...], frame: BuildFrame) -> tuple[Mouth, ...]:
    """The outer mouths of vents."""
    made = []
    for vent in vents:
        outwards = -frame.direction_to_build(np.asarray(vent.axis))
        made.append(Mouth(vent.id, frame.to_build(np.asarray(vent.entry_mm)), outwards))
    return tuple(made)


def sides(scene: Scene, holes: tuple[Mouth, ...], width: float, height: float) -> tuple[Figure, ...]:
    """Looks at the part that show every mouth that can be seen from some side: as few as do, and one from around at
    least, by which the part is recognised. Those from around come first. width, height: mm at most."""
    seen = {name: _seen(scene, holes, np.asarray(look)) for name, look in SIDES.items()}
    chosen: list[str] = []
    shown: set[str] = set()
    for among in (PLAIN, tuple(SIDES)):
        while len(chosen) < MOST_SIDES:
            best = max(among, key=lambda name: len(seen[name] - shown))
            if chosen and not seen[best] - shown:
                break
            chosen.append(best)
            shown |= seen[best]
    around = [name for name, look in SIDES.items() if look[2] == 0.0]
    if not set(chosen) & set(around):
        chosen.append(max(around, key=lambda name: len(seen[name])))
    chosen.sort(key=list(SIDES).index)
    size = width - 2 * MARGIN, height - 2 * EDGE
    tall = max(_tall(scene.vertices, np.asarray(SIDES[name]), size) for name in chosen) + 2 * EDGE
    crowd = max(_crowd(scene, [h for h in holes if h.name in seen[name]], SIDES[name]) for name in chosen)
    tall = max(tall, ROW * min(crowd, MOST_ROWS))
    return tuple(_side(scene, holes, name, seen[name], width, tall) for name in chosen)


def _crowd(scene: Scene, holes: list[Mouth], look: tuple[float, float, float]) -> int:
    """How many numbers stand one below the other at one side of a picture."""
    eye = Eye.at(scene.vertices, np.asarray(look), 100, 100, UP)
    left = sum(float(eye.pixel(hole.at)[0][0]) < 0.5 * eye.width for hole in holes)
    return max(left, len(holes) - left)


def _tall(points: FloatArray, look: FloatArray, size: tuple[float, float], upwards: FloatArray = UP) -> float:
    """mm of paper that the part takes upright in a picture of at most this width and height."""
    eye = Eye.at(points, look, round(size[0] * PIXELS_A_MM), round(size[1] * PIXELS_A_MM), upwards)
    return float(np.ptp(eye.pixel(points)[:, 1])) / PIXELS_A_MM + 1.0


def _seen(scene: Scene, holes: tuple[Mouth, ...], look: FloatArray) -> set[str]:
    """Names of the mouths that are seen when looking that way."""
    if not holes:
        return set()
    back = -look / np.linalg.norm(look)
    starts = np.stack([hole.at + 0.3 * hole.outwards for hole in holes])
    along, _ = scene.sight.first(starts, np.broadcast_to(back, starts.shape))
    facing = np.stack([hole.outwards for hole in holes]) @ back > CLEAR
    return {hole.name for hole, free, towards in zip(holes, np.isinf(along), facing, strict=True) if free and towards}


def _side(scene: Scene, holes: tuple[Mouth, ...], name: str, seen: set[str], width: float, height: float) -> Figure:
    size = int((width - 2 * MARGIN) * PIXELS_A_MM), int((height - 2 * EDGE) * PIXELS_A_MM)
    eye = Eye.at(scene.vertices, np.asarray(SIDES[name]), *size, UP)
    grey = np.full((round(height * PIXELS_A_MM), round(width * PIXELS_A_MM)), 255, dtype=np.uint8)
    x0, y0 = int(MARGIN * PIXELS_A_MM), int(EDGE * PIXELS_A_MM)
    grey[y0 : y0 + size[1], x0 : x0 + size[0]] = shaded(scene.sight, eye)
    mine = [hole for hole in holes if hole.name in seen]
    at = {h.name: (eye.pixel(h.at)[0] + (x0, y0)) / PIXELS_A_MM for h in mine}
    names = ", ".join(h.name for h in mine)
    told = f"The part {name}; " + (f"holes {names} are seen." if mine else "no hole is seen.")
    return Figure(width, height, _numbers(at, width, height), grey, name.capitalize(), told)


def _numbers(at: dict[str, FloatArray], width: float, height: float) -> tuple[Shape, ...]:
    """A number in the margin for each mouth, with a line to it, none upon another."""
    shapes: list[Shape] = []
    for is_left in (True, False):
        mine = sorted((n for n in at if (at[n][0] < 0.5 * width) == is_left), key=lambda n: float(at[n][1]))
        gap = min(ROW, (height - ROW) / max(len(mine) - 1, 1))
        rows = _spread([float(at[n][1]) for n in mine], gap, 3.0, height - 3.0)
        share = min(1.0, gap / (ROW - 0.4))  # so close that they would touch: smaller ones
        x = 3.6 if is_left else width - 3.6
        for name, y in zip(mine, rows, strict=True):
            place = (float(at[name][0]), float(at[name][1]))
            shapes.append(Line(((x, y), place), INK, 0.2))
            shapes.append(Disc(place, 0.7, INK, PAPER))
            size = share * (2.7 if len(name) < 3 else 2.0)
            shapes += [Disc((x, y), 2.6 * share), Word((x, y + 0.35 * size), name, size, anchor="middle")]
    return tuple(shapes)


def _spread(wanted: list[float], gap: float, low: float, high: float) -> list[float]:
    """Rows in the same order, so far apart and within the bounds, near where they are wanted."""
    rows: list[float] = []
    for value in wanted:
        rows.append(max(value, low if not rows else rows[-1] + gap))
    over = max(0.0, rows[-1] - high) if rows else 0.0
    for k in range(len(rows) - 1, -1, -1):
        rows[k] = min(rows[k], high if k == len(rows) - 1 else rows[k + 1] - gap) if over else rows[k]
    return rows


def _looks(up: FloatArray) -> list[FloatArray]:
    """Eight looks all round, level, and as many a little from below: there holes are that something runs through."""
    first, second = square_to(up)
    around = [np.cos(a) * first + np.sin(a) * second for a in np.radians(np.arange(0.0, 360.0, 45.0))]
    rise = np.radians(BELOW_DEG)
    return [*around, *(np.cos(rise) * look + np.sin(rise) * up for look in around)]


def held(
    scene: Scene,
    holes: tuple[Mouth, ...],
    frame: BuildFrame,
    gravity: Point,
    through: frozenset[str],
    size: tuple[float, float],
    name: str,
    *,
    on_plate: bool = False,
) -> Figure:
    """The part as it is held, gravity down the page, from the side that shows most of the mouths that something runs
    through, level if that shows as many; those are black, the others white. gravity: in the file's axes. on_plate: the
    plate is drawn over it."""
    up = -frame.direction_to_build(np.asarray(gravity, dtype=np.float64))
    looks = _looks(up)
    seen = [_seen(scene, holes, look) for look in looks]
    front = [round(float(look @ np.array(SIDES["from the front"])), 6) for look in looks]
    level = [abs(float(look @ up)) < 1e-9 for look in looks]
    best = max(range(len(looks)), key=lambda k: (len(seen[k] & through), level[k], len(seen[k]), front[k]))
    width, height = size
    arrow = 6.0
    pixels = round((width - arrow) * PIXELS_A_MM), round(height * PIXELS_A_MM)
    eye = Eye.at(scene.vertices, looks[best], *pixels, up)
    grey = np.full((pixels[1], round(width * PIXELS_A_MM)), 255, dtype=np.uint8)
    grey[:, : pixels[0]] = shaded(scene.sight, eye)
    shapes: list[Shape] = []
    if on_plate:
        top = float((eye.pixel(scene.vertices)[:, 1] / PIXELS_A_MM).min()) - PLATE_MM
        shapes.append(Line(((0.0, top), (width - arrow, top)), INK, PLATE_MM))
    for hole in holes:
        if hole.name in seen[best]:
            x, y = eye.pixel(hole.at)[0] / PIXELS_A_MM
            runs = hole.name in through
            shapes.append(Disc((float(x), float(y)), 1.7, INK if runs else PAPER))
            shapes.append(Word((float(x), float(y) + 0.75), hole.name, 2.1, PAPER if runs else INK, "middle"))
    x, low, tip = width - 0.5 * arrow, height - 14.0, height - 3.0
    shapes += [
        Line(((x, low), (x, tip)), INK, 0.4),
        Line(((x - 1.2, tip - 2.0), (x, tip), (x + 1.2, tip - 2.0)), INK, 0.4),
    ]
    told = f"{name}: the part as it is held, down is down the page."
    caption = name if level[best] else f"{name}, a little from below"
    return Figure(width, height, tuple(shapes), grey, caption, told)


def section(
    scene: Scene, vent: Vent, frame: BuildFrame, size_mm: tuple[float, float], bar: tuple[float, str]
) -> Figure:
    """The part as written, cut along the axis of a vent, in a plane that is upright if the axis allows it.

    scene: of the drilled part. frame: of the part that the plan was made for. size_mm: of the picture on paper.
    bar: length of the scale in mm, and its words.
    """
    width, height = size_mm
    start, end = (frame.to_build(np.asarray(p)) for p in (vent.entry_mm, vent.exit_mm))
    axis = frame.direction_to_build(np.asarray(vent.axis))
    towards = np.cross(axis, UP)
    if np.linalg.norm(towards) < 0.05:
        towards = np.array([0.0, 1.0, 0.0])
    towards = towards / np.linalg.norm(towards)
    towards -= (towards @ axis) * axis  # along the axis exactly
    size = round(width * PIXELS_A_MM), round(height * PIXELS_A_MM)
    span = max(vent.wall_mm * 1.8, vent.diameter_mm * 3.0, 8.0)
    middle = 0.5 * (start + end)
    box = middle + span * np.array([[-0.5, -0.5, -0.5], [0.5, 0.5, 0.5]])
    eye = Eye.at(box, towards, *size, UP)
    scale = PIXELS_A_MM * min(width, height) / (1.15 * span)
    eye = Eye(eye.towards, eye.right, eye.up, middle, scale, *size)
    grey = cut(scene.ray_target, eye)
    told = f"Section along hole {vent.id}: {vent.diameter_mm:g} mm wide, through {vent.wall_mm:.1f} mm of wall."
    caption = f"{vent.id}: {vent.diameter_mm:g} mm wide, wall {vent.wall_mm:.1f} mm"
    return Figure(width, height, _axis(eye, start, end, axis, grey, bar), grey, caption, told)


def _axis(
    eye: Eye, start: FloatArray, end: FloatArray, axis: FloatArray, grey: Grey, bar: tuple[float, str]
) -> tuple[Shape, ...]:
    """The axis as a dash-dotted line, an arrow at its outer end, the way up, and a scale."""
    height, width = (x / PIXELS_A_MM for x in grey.shape)
    reach = 3.0 * PIXELS_A_MM / eye.scale  # mm of the part for 3 mm of paper

    def paper(point: FloatArray) -> tuple[float, float]:
        x, y = eye.pixel(point)[0] / PIXELS_A_MM
        return float(x), float(y)

    tail, tip = paper(start - 2.0 * reach * axis), paper(start - 0.3 * reach * axis)
    along = np.array(tip) - np.array(tail)
    along /= max(float(np.linalg.norm(along)), 1e-9)
    aside = np.array([-along[1], along[0]])
    wings = [tuple(float(v) for v in np.array(tip) - 1.6 * along + s * 0.8 * aside) for s in (1.0, -1.0)]
    foot = ((2.0, height - 2.5), (2.0 + bar[0] * eye.scale / PIXELS_A_MM, height - 2.5))
    return (
        Line((tail, paper(end + reach * axis)), INK, 0.2, (1.5, 0.8)),
        Line(((wings[0][0], wings[0][1]), tip, (wings[1][0], wings[1][1])), INK, 0.3),
        Line(foot, INK, 0.5),
        Word((2.0, height - 3.4), bar[1], 2.2, INK),
        Line(
            ((0.1, 0.1), (width - 0.1, 0.1), (width - 0.1, height - 0.1), (0.1, height - 0.1), (0.1, 0.1)), MUTED, 0.15
        ),
    )
