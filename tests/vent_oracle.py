"""What placement is held against: parts of convex shapes whose rays are formulas, and rays through any mesh.

Nothing here uses columns, join trees or rays of the product; only the direction to the plate is taken from the pose.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import bodies as b
import numpy as np
import trimesh
from flood_oracle import frame_of
from trimesh.ray.ray_triangle import ray_triangle_id

from ventplanner.geometry.pose import Pose
from ventplanner.geometry.solid import Solid
from ventplanner.plan.model import Vent

Array = np.ndarray


CHUNK, DIRECTIONS, PLACES = 4000, 700, 150
"""Rays looked at together; how many directions and places a search tries."""

Lines = tuple[Array, Array, Array, Array]


@dataclass(frozen=True)
class Shape:
    """A convex shape: a box (its three sizes), or a ball (its radius)."""

    size: float | tuple[float, float, float]
    at: tuple[float, float, float] = (0.0, 0.0, 0.0)
    fine: int = 4

    def mesh(self) -> b.Mesh:
        return b.box(self.size, self.at) if isinstance(self.size, tuple) else b.ball(self.size, self.at, self.fine)

    def spans(self, origin: Array, direction: Array) -> tuple[Array, Array]:
        """(k,) begin and end of the part of each line that is inside; begin > end where it passes by."""
        away = origin - np.array(self.at)
        if not isinstance(self.size, tuple):
            middle = -np.einsum("ij,ij->i", away, direction)
            half2 = self.size**2 - np.einsum("ij,ij->i", away, away) + middle**2
            half = np.sqrt(np.maximum(half2, 0.0))
            return np.where(half2 > 0, middle - half, np.inf), np.where(half2 > 0, middle + half, -np.inf)
        slope = np.where(direction == 0.0, 1e-300, direction)
        sides = np.stack(((-0.5 * np.array(self.size) - away) / slope, (0.5 * np.array(self.size) - away) / slope))
        return sides.min(axis=0).max(axis=1), sides.max(axis=0).min(axis=1)

    def inside(self, points: Array, margin: float = 0.0) -> Array:
        """(k,) bool: inside by more than `margin`."""
        away = np.abs(points - np.array(self.at))
        if isinstance(self.size, tuple):
            return np.asarray((away < 0.5 * np.array(self.size) - margin).all(axis=1))
        return np.asarray(np.linalg.norm(away, axis=1) < self.size - margin)

    def normals(self, points: Array) -> Array:
        """(k, 3) outward unit normals at points on the skin."""
        away = points - np.array(self.at)
        if not isinstance(self.size, tuple):
            return np.asarray(away / np.linalg.norm(away, axis=1, keepdims=True))
        side = np.argmax(np.abs(away) / np.array(self.size), axis=1)
        return np.asarray(np.eye(3)[side] * np.sign(away[np.arange(len(away)), side])[:, None])

    @property
    def bounds(self) -> Array:
        half = 0.5 * np.array(self.size) if isinstance(self.size, tuple) else np.full(3, self.size)
        return np.array([self.at - half, self.at + half])


@dataclass(frozen=True)
class Hollowed:
    """A convex body with convex hollows that are apart from each other."""

    body: Shape
    hollows: tuple[Shape, ...]

    def solid(self) -> Solid:
        return b.solid(self.body.mesh(), *(b.inward(h.mesh()) for h in self.hollows))

    def low(self, shape: Shape, up: Array) -> float:
        """Height of a shape's lowest point, over an origin that is the same for all."""
        if isinstance(shape.size, tuple):
            return float(up @ np.array(shape.at) - 0.5 * np.abs(up) @ np.array(shape.size))
        return float(up @ np.array(shape.at) - shape.size)


@dataclass(frozen=True)
class Best:
    """Of all straight ways a search tried: how many would do, and the least cost, wall and height lost among them."""

    count: int
    cost: float
    wall: float
    lost: float


def sphere(count: int) -> Array:
    """(count, 3) even directions (a golden spiral)."""
    k = np.arange(count) + 0.5
    z, turn = 1 - 2 * k / count, np.pi * (1 + 5**0.5) * k
    return np.stack((np.sqrt(1 - z * z) * np.cos(turn), np.sqrt(1 - z * z) * np.sin(turn), z), axis=1)


def exhaustive(
    part: Hollowed,
    hollow: int,
    pose: Pose,
    diameter: float,
    *,
    longest: float = 15.0,
    height_weight: float = 1.0,
    most_lost: float = np.inf,
) -> Best:
    """Every way from a grid of places near a hollow's start, in many directions, by rising length of wall.

    It must run round its rim too once through material, from this hollow to the outside, across skins no steeper than
    60 degrees. A hole is open when the hollow's floor below its axis, and its lowest line from end to end, are printed.
    """
    turn, own, radius = frame_of(pose), part.hollows[hollow], 0.5 * diameter
    up = turn[2]
    origin, direction = _lines(own, turn, radius)
    begin, end, sound = _walls(part, hollow, origin, direction)
    wall = end - begin
    order = np.flatnonzero(sound & (wall <= longest) & (wall >= 0.35))
    order = order[np.argsort(wall[order])]
    best, count = Best(0, np.inf, np.inf, np.inf), 0
    for some in np.array_split(order, -(-len(order) // CHUNK)) if len(order) else ():
        if wall[some[0]] > best.cost:
            break
        lines = (origin[some], direction[some], begin[some], end[some])
        good = _round_rim(part, hollow, lines, radius)
        lost = np.maximum(_lost(part, hollow, lines, radius, up), 0.0)
        good &= lost <= most_lost
        if pose.on == "plate":
            outer = origin[some] + end[some, None] * direction[some]
            rim = radius * np.sqrt(np.maximum(1 - (direction[some] @ up) ** 2, 0.0))
            good &= outer @ up - rim >= part.low(part.body, up) + 0.5
        count += int(good.sum())
        cost = np.where(good, wall[some] + height_weight * lost, np.inf)
        k = int(np.argmin(cost))
        if cost[k] < best.cost:
            best = Best(count, float(cost[k]), float(wall[some[k]]), float(lost[k]))
    return best


def _round_rim(part: Hollowed, hollow: int, lines: Lines, radius: float) -> Array:
    """(k,) bool: which holes would do."""
    origin, direction, begin, end = lines
    good, room = np.ones(len(origin), dtype=bool), np.full(len(origin), np.inf)
    one = np.cross(direction, np.eye(3)[np.argmin(np.abs(direction), axis=1)])
    one /= np.linalg.norm(one, axis=1, keepdims=True)
    other = np.cross(direction, one)
    for angle in np.arange(12) * np.pi / 6:
        rim = origin + radius * (np.cos(angle) * one + np.sin(angle) * other)
        inner, outer, sound = _walls(part, hollow, rim, direction)
        good &= sound & (np.abs(inner - begin) <= 1.7 * radius) & (np.abs(outer - end) <= 1.7 * radius)
        first, _ = part.hollows[hollow].spans(rim, direction)
        room = np.minimum(room, np.minimum(begin, inner) - first)
    return good & (room >= 0.5)


def _lines(own: Shape, turn: Array, radius: float) -> tuple[Array, Array]:
    """Places in a hollow within 3 mm and a radius of its start, each with every direction that does not climb much."""
    ways = np.vstack((sphere(DIRECTIONS), np.eye(3), -np.eye(3), turn, -turn))
    ways = ways[ways @ turn[2] <= 0.55]
    low, high = own.bounds
    axes = (np.linspace(a + 0.02, c - 0.02, 30) for a, c in zip(low, high, strict=True))
    grid = np.stack(np.meshgrid(*axes), -1).reshape(-1, 3)
    grid = grid[own.inside(grid)]
    height = grid @ turn[2]
    near = grid[height <= height.min() + 3.0 + radius]
    some = near[:: max(1, len(near) // PLACES)]
    return np.repeat(some, len(ways), axis=0), np.tile(ways, (len(some), 1))


def _lost(part: Hollowed, hollow: int, lines: Lines, radius: float, up: Array) -> Array:
    """(k,) mm above the hollow's start before each hole is open."""
    origin, direction, begin, end = lines
    inner, outer = (origin + t[:, None] * direction for t in (begin, end))
    _, drop = part.hollows[hollow].spans(inner - 0.05 * direction, np.tile(-up, (len(inner), 1)))
    floor = (inner - 0.05 * direction) @ up - drop
    lowest = np.maximum(inner @ up, outer @ up) - radius * np.sqrt(np.maximum(1 - (direction @ up) ** 2, 0.0))
    return np.asarray(np.maximum(lowest, floor) - part.low(part.hollows[hollow], up))


def cost_of(part: Hollowed, hollow: int, pose: Pose, vent: Vent) -> tuple[float, float]:
    """mm of height lost and of wall of a vent: it opens where the lowest place at which it meets the hollow, and the
    lowest line of its outer end, are printed. (A search counts the floor below the axis: its ways are no worse.)"""
    up = frame_of(pose)[2]
    origin, direction, length = section(vent)
    first, last = part.hollows[hollow].spans(origin, direction)
    first, last = np.maximum(first, 0.0), np.minimum(last, length)
    meets = first < last
    height = [(origin + t[:, None] * direction)[meets] @ up for t in (first, last)]
    rim = vent.radius_mm * np.sqrt(max(0.0, 1 - (direction[0] @ up) ** 2))
    opens = max(float(np.min(height)), float(np.dot(vent.entry_mm, up)) - rim)
    return max(0.0, opens - part.low(part.hollows[hollow], up)), float(
        np.linalg.norm(np.subtract(vent.entry_mm, vent.exit_mm))
    )


def section(vent: Vent, lines: int = 400) -> tuple[Array, Array, float]:
    """Lines evenly over a drill's section, from its outer end inwards: origins, directions, and its length."""
    k = np.arange(lines) + 0.5
    ring, angle = vent.radius_mm * np.sqrt(k / lines), np.pi * (1 + 5**0.5) * k
    axis = np.array(vent.axis)
    one = np.cross(axis, np.eye(3)[np.argmin(np.abs(axis))])
    one /= np.linalg.norm(one)
    aside = np.cos(angle)[:, None] * one + np.sin(angle)[:, None] * np.cross(axis, one)
    length = float(np.linalg.norm(np.subtract(vent.end_mm, vent.start_mm)))
    return np.array(vent.start_mm) + ring[:, None] * aside, np.tile(axis, (lines, 1)), length


def _walls(part: Hollowed, hollow: int, origin: Array, direction: Array) -> tuple[Array, Array, Array]:
    """Where each ray leaves the hollow and the body, and whether it meets the hollow and no other on its way out."""
    first, begin = part.hollows[hollow].spans(origin, direction)
    _, end = part.body.spans(origin, direction)
    sound = (first < begin) & (begin < end)
    for k, other in enumerate(part.hollows):
        if k != hollow:
            a, c = other.spans(origin, direction)
            sound &= ~((a < c) & (c > begin) & (a < end))
    return begin, end, sound


def ray_hits(solid: Solid, origin: Array, direction: Array) -> tuple[Array, Array, Array]:
    """Ray, place along it and face of every hit of (k, 3) rays, sorted, by trimesh's ray-triangle test.

    trimesh finds candidates in an R-tree of a library that is not needed otherwise: here it is given them all.
    """
    mesh = trimesh.Trimesh(solid.vertices, solid.faces, process=False)

    class AllFaces:
        bounds = mesh.bounds.ravel()

        def intersection(self, _bounds: Array) -> range:
            return range(len(mesh.faces))

    face, ray, places = ray_triangle_id(mesh.triangles, origin, direction, tree=AllFaces(), multiple_hits=True)
    along = np.einsum("ij,ij->i", places - origin[ray], direction[ray])
    order = np.lexsort((along, ray))
    return ray[order], along[order], face[order]


def stretches(solid: Solid, start: Sequence[float], end: Sequence[float]) -> list[tuple[float, float]]:
    """Stretches of material (winding number above 0) that begin along a segment, in mm from its start."""
    way = np.subtract(end, start).astype(float)
    length = float(np.linalg.norm(way))
    way /= length
    # A hair aside: an axis may run along an edge of a constructed part.
    origin = np.asarray(start) + np.array([1.3e-5, 0.7e-5, 1.1e-5])
    _, along, face = ray_hits(solid, origin[None], way[None])
    corners = solid.vertices[solid.faces[face]]
    facing = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]) @ way
    winding, found, begun = 0, [], 0.0
    for t, entering in zip(along.tolist(), (facing < 0).tolist(), strict=True):
        if winding == 0 and entering:
            begun = t
        winding += 1 if entering else -1
        if winding == 0 and not entering and begun < length:
            found.append((begun, t))
    return found


def clean_cut(part: Hollowed, hollow: int, vent: Vent) -> list[str]:
    """What is wrong with a drill, looked at along many lines over its section; empty if nothing is.

    Along each line it must cut one stretch of material, between its own hollow and the outside, from end to end; in a
    corner it may run into the floor or the side beside its mouth, but never through another hollow or into the wall
    across: one that the drill meets at less than 45 degrees from square.
    """
    origin, direction, length = section(vent)
    skin, far = part.body.spans(origin, direction)
    faults = []
    if (skin < 0).any():
        faults.append("it starts inside the material")
    if (far < length).any():
        faults.append("it comes out on the far side")
    first, last = part.hollows[hollow].spans(origin, direction)
    # In a corner its end may run into the floor beside; behind it material stays.
    if ((first >= last) | (last < length))[far - length < 0.25].any():
        faults.append("it nearly comes out beside the hollow")
    ends_in = (first < last) & (last < length)
    square = np.zeros(len(origin))
    touched = origin[ends_in] + last[ends_in, None] * direction[ends_in]
    square[ends_in] = np.einsum("ij,ij->i", part.hollows[hollow].normals(touched), direction[ends_in])
    across = ends_in & (square > np.cos(np.radians(45.0)))
    if across.mean() > 0.05:
        faults.append(f"it cuts the wall across on {across.mean():.2f} of its section")
    if not ((first < last) & (last >= length)).mean() > 0.3:
        faults.append("it hardly meets the hollow")
    for k2, other in enumerate(part.hollows):
        a, c = other.spans(origin, direction)
        if k2 != hollow and ((a < c) & (a < length) & (c > 0)).any():
            faults.append("it opens another hollow")
    return faults
