"""Parts to drill, and vents through them, for the tests of cutting."""

from __future__ import annotations

import numpy as np
import trimesh

from ventplanner.geometry.solid import Body, Solid, Source
from ventplanner.plan.model import Plan, Vent

Mesh = tuple[np.ndarray, np.ndarray]


def box(size: float | tuple[float, float, float], at: tuple[float, float, float] = (0, 0, 0), fine: int = 0) -> Mesh:
    """A box about `at`, outward."""
    mesh = trimesh.creation.box(np.broadcast_to(size, 3))
    for _ in range(fine):
        mesh = mesh.subdivide()
    return np.asarray(mesh.vertices) + at, np.asarray(mesh.faces)


def ball(radius: float, at: tuple[float, float, float] = (0, 0, 0), fine: int = 3) -> Mesh:
    """An icosphere, outward."""
    mesh = trimesh.creation.icosphere(subdivisions=fine, radius=radius)
    return np.asarray(mesh.vertices) + at, np.asarray(mesh.faces)


def inward(mesh: Mesh) -> Mesh:
    """The same skin turned over: a cavity."""
    return mesh[0], mesh[1][:, ::-1]


def solid(*skins: Mesh, names: tuple[str, ...] = (), single: bool = False) -> Solid:
    """One solid of several skins; with `names`, each skin is a body of its own. `single`: float32 coordinates."""
    offsets = np.cumsum([0] + [len(v) for v, _ in skins])
    vertices = np.vstack([v for v, _ in skins])
    if single:
        vertices = vertices.astype(np.float32).astype(np.float64)
    faces = np.vstack([f + o for (_, f), o in zip(skins, offsets[:-1], strict=True)]).astype(np.int32)
    ends = np.cumsum([len(f) for _, f in skins]).tolist()
    bodies = tuple(Body(n, a, b) for n, a, b in zip(names, [0, *ends], ends, strict=False))
    return Solid(vertices, faces, bodies, Source(single_precision=single))


def vent(
    entry: tuple[float, float, float],
    exit_: tuple[float, float, float],
    diameter: float = 2.5,
    *,
    name: str = "v1",
    before: float = 1.0,
    beyond: float = 1.0,
    kind: str = "vent",
) -> Vent:
    """A vent from a point on the outer skin to one on the inner skin."""
    way = np.subtract(exit_, entry).astype(float)
    length = float(np.linalg.norm(way))
    axis = tuple(float(x) for x in way / length)
    start, end = (tuple(float(x) for x in p) for p in (entry, exit_))
    return Vent(name, "A", "A1", kind, start, end, axis, diameter, length, before, beyond)  # type: ignore[arg-type]


def plan(*vents: Vent) -> Plan:
    """A plan of these vents."""
    return Plan(tuple(vents))


def hollow_box(fine: int = 2, single: bool = False) -> Solid:
    """A bell buoy's float, boxy: 20 mm across, walls of 2 mm."""
    return solid(box(20.0, fine=fine), inward(box(16.0, fine=fine)), single=single)


def hollow_ball(fine: int = 4, single: bool = False) -> Solid:
    """A hollow ball of radius 12 mm with walls of 1.5 mm."""
    return solid(ball(12.0, fine=fine), inward(ball(10.5, fine=fine)), single=single)


def radial(direction: np.ndarray, diameter: float, name: str) -> Vent:
    """A vent into `hollow_ball` from a direction."""
    d = np.asarray(direction, dtype=float) / np.linalg.norm(direction)
    return vent(tuple(12.0 * d), tuple(10.5 * d), diameter, name=name)
