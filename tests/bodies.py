"""Bodies whose hollows are known from their measures, for the tests of the analysis: boxes, balls and pipes in mm.

Each is cut and joined by Manifold (through trimesh), which shares no code with what is tested.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import trimesh

from ventplanner.geometry.solid import Solid

Point = Sequence[float]
Mesh = trimesh.Trimesh


def box(size: Point | float, at: Point = (0.0, 0.0, 0.0)) -> Mesh:
    """A box about `at`."""
    mesh = trimesh.creation.box(np.broadcast_to(size, 3))
    mesh.apply_translation(at)
    return mesh


def block(low: Point, high: Point) -> Mesh:
    """A box between two corners."""
    low, high = np.asarray(low, dtype=float), np.asarray(high, dtype=float)
    return box(high - low, 0.5 * (low + high))


def ball(radius: float, at: Point = (0.0, 0.0, 0.0), fine: int = 4) -> Mesh:
    """An icosphere about `at`."""
    mesh = trimesh.creation.icosphere(subdivisions=fine, radius=radius)
    mesh.apply_translation(at)
    return mesh


def rod(start: Point, end: Point, radius: float, sections: int = 64) -> Mesh:
    """A cylinder from `start` to `end`."""
    return trimesh.creation.cylinder(radius=radius, segment=[start, end], sections=sections)


def cone(radius: float, height: float, at: Point = (0.0, 0.0, 0.0), *, point_down: bool = False) -> Mesh:
    """A cone with its base at z = at[2] and its point above (or below) it."""
    mesh = trimesh.creation.cone(radius, height, sections=96)
    if point_down:
        mesh.apply_transform(trimesh.transformations.rotation_matrix(np.pi, (1, 0, 0)))
    mesh.apply_translation(at)
    return mesh


def union(*meshes: Mesh) -> Mesh:
    """All of them as one."""
    return trimesh.boolean.union(list(meshes), engine="manifold")


def cut(body: Mesh, *tools: Mesh) -> Mesh:
    """The body without the tools."""
    return trimesh.boolean.difference([body, *tools], engine="manifold")


def turned(mesh: Mesh, angle_deg: float, axis: Point, about: Point = (0.0, 0.0, 0.0)) -> Mesh:
    """The mesh turned about an axis."""
    out = mesh.copy()
    out.apply_transform(trimesh.transformations.rotation_matrix(np.radians(angle_deg), axis, about))
    return out


def inward(mesh: Mesh) -> Mesh:
    """The same skin turned over: the surface of a cavity."""
    out = mesh.copy()
    out.invert()
    return out


def solid(*meshes: Mesh) -> Solid:
    """One part of all the skins, as they are (no boolean)."""
    offsets = np.cumsum([0] + [len(m.vertices) for m in meshes])
    vertices = np.vstack([m.vertices for m in meshes])
    faces = np.vstack([m.faces + o for m, o in zip(meshes, offsets[:-1], strict=True)])
    return Solid(vertices, faces.astype(np.int32))


def moved(part: Solid, matrix: np.ndarray | None = None, shift: Point = (0.0, 0.0, 0.0)) -> Solid:
    """The part after x -> matrix x + shift; a mirror keeps its faces outward."""
    matrix = np.eye(3) if matrix is None else np.asarray(matrix, dtype=float)
    faces = part.faces if np.linalg.det(matrix) > 0 else part.faces[:, ::-1]
    return Solid(part.vertices @ matrix.T + np.asarray(shift, dtype=float), faces)


def rotation(seed: int) -> np.ndarray:
    """(3, 3) a random proper rotation."""
    return trimesh.transformations.random_rotation_matrix(np.random.default_rng(seed).random(3))[:3, :3]


def axis_rotations() -> list[np.ndarray]:
    """The 24 rotations that map the axes onto the axes."""
    found = []
    for order in ((0, 1, 2), (1, 2, 0), (2, 0, 1), (0, 2, 1), (2, 1, 0), (1, 0, 2)):
        for signs in np.ndindex(2, 2, 2):
            matrix = np.zeros((3, 3))
            matrix[range(3), order] = 1.0 - 2.0 * np.array(signs)
            if np.linalg.det(matrix) > 0:
                found.append(matrix)
    return found


def bell_buoy(wall: float = 2.0) -> Mesh:
    """A box 20 mm wide, hollow: a cavity of (20 - 2 wall) mm cubed, if its inner skin is added turned over."""
    return cut(box(20.0), box(20.0 - 2.0 * wall))


def voxel_solid(filled: np.ndarray, size: float = 1.0) -> Solid:
    """The boundary of filled voxels ((nx, ny, nz) bool): two triangles for each face next to an empty voxel."""
    padded = np.pad(filled, 1)
    corners, quads = [], 0
    for axis in range(3):
        u, v = (axis + 1) % 3, (axis + 2) % 3
        for sign in (1, -1):
            bare = padded & ~np.roll(padded, -sign, axis=axis)
            at = np.argwhere(bare) - 1.0
            at[:, axis] += 1.0 if sign > 0 else 0.0
            step_u, step_v = np.eye(3)[u], np.eye(3)[v]
            ring = [at, at + step_u, at + step_u + step_v, at + step_v]
            corners.append(np.stack(ring if sign > 0 else ring[::-1], axis=1))
            quads += len(at)
    points, index = np.unique(np.concatenate(corners).reshape(-1, 3), axis=0, return_inverse=True)
    quad = index.reshape(-1, 4)
    faces = np.concatenate((quad[:, [0, 1, 2]], quad[:, [0, 2, 3]]))
    return Solid(points * size, faces.astype(np.int32))
