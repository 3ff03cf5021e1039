"""Solid bodies to hollow, and how thick a wall is by an independent library."""

from __future__ import annotations

import bodies
import numpy as np
import open_meshes
import pyvista as pv
import trimesh

from ventplanner.geometry.solid import Solid
from ventplanner.hollowing.hollow import Hollowed

Mesh = trimesh.Trimesh


def crag(fine: int = 4) -> Mesh:
    """An irregular lump with crevices: deep ones, and one that is far thinner than any grid."""
    mesh = bodies.ball(9.0, fine=fine)
    points = np.array(mesh.vertices)
    x, y, z = (points / 9.0).T
    bump = 1.0 + 0.04 * np.sin(4 * x + 2) * np.sin(3 * y) * np.cos(2 * z) - 0.3 * np.exp(-((y - 0.3 * x) ** 2) / 0.002)
    return trimesh.Trimesh(points * bump[:, None], mesh.faces, process=False)


def slit_box() -> Mesh:
    """A box, 14 mm, with a slit 0.01 mm wide that goes 3 mm deep into it."""
    return bodies.cut(bodies.box(14), bodies.block([0.0, -20, 4], [0.01, 20, 20]))


def slashed_cow() -> Mesh:
    """The open mesh of a cow, 36 mm long, with crevices 0.02 mm wide slashed deep into its back, flank and head."""
    vertices, faces = open_meshes.cow(36.0)
    mesh = trimesh.Trimesh(vertices, faces, process=False)
    blades = [
        bodies.turned(bodies.block([-0.01, -9, -9], [0.01, 9, 9]), angle, axis).apply_translation(place)
        for angle, axis, place in (
            (20.0, (0, 0, 1), (0.0, 2.0, 30.0)),
            (65.0, (1, 2, 3), (14.0, 3.0, 18.0)),
            (100.0, (0, 1, 2), (-12.0, -4.0, 22.0)),
        )
    ]
    return bodies.cut(mesh, *blades)


def dimpled() -> Mesh:
    """A ball with a deep bowl in its top: the bottom of the bowl hangs into the hollow."""
    return bodies.cut(bodies.ball(10.0, fine=3), bodies.ball(5.0, (0, 0, 8), fine=3))


def inner(done: Hollowed) -> Mesh:
    """The new skins alone, turned outward."""
    mesh = trimesh.Trimesh(done.solid.vertices, done.solid.faces[done.new][:, ::-1], process=False)
    mesh.remove_unreferenced_vertices()
    return mesh


def outer(done: Hollowed) -> Mesh:
    """The part as it came."""
    return trimesh.Trimesh(done.original.vertices, done.original.faces, process=False)


def points_on(mesh: Mesh, count: int = 1500, seed: int = 1) -> np.ndarray:
    """Points all over a mesh."""
    points, _ = trimesh.sample.sample_surface(mesh, count, seed=seed)
    return np.asarray(points)


def thickness(done: Hollowed, points: np.ndarray) -> np.ndarray:
    """Exact distance of points to the part's skin, by VTK."""
    return distance(outer(done), points)


def distance(mesh: Mesh, points: np.ndarray) -> np.ndarray:
    """Exact distance of points to the triangles of a mesh, by VTK."""
    _, feet = pv.wrap(mesh).find_closest_cell(points, return_closest_point=True)
    return np.asarray(np.linalg.norm(feet - points, axis=1))


def contains(mesh: Mesh, points: np.ndarray) -> np.ndarray:
    """Which points are inside a closed mesh, by VTK."""
    signed = pv.PolyData(points).compute_implicit_distance(pv.wrap(mesh))
    return np.asarray(signed["implicit_distance"] < 0.0)


def deep_points(part: Solid, wall: float, count: int = 4000) -> tuple[np.ndarray, np.ndarray]:
    """Points in the part more than a wall away from its skin, and how far they are, both by VTK."""
    mesh = trimesh.Trimesh(part.vertices, part.faces, process=False)
    points = np.random.default_rng(7).uniform(*part.bounds, (count, 3))
    points = points[contains(mesh, points)]
    away = distance(mesh, points)
    return points[away > wall], away[away > wall]
