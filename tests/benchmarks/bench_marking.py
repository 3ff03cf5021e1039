"""Timings of marking a surface: `PYTHONPATH=. python tests/benchmarks/bench_marking.py [TRIANGLES]`."""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable

import numpy as np
import trimesh

from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.marking import Surface
from ventplanner.geometry.solid import Solid


def bumpy_ball(triangles: int) -> Solid:
    """A ball of some 60 mm with bumps and a deep cut, of about so many triangles."""
    rows = max(8, int(np.sqrt(triangles) / 2))
    ball = trimesh.creation.uv_sphere(radius=30.0, count=(rows, rows))
    x, y, z = ball.vertices.T
    bumps = 1.0 + 0.03 * np.sin(0.5 * x) * np.sin(0.6 * y) * np.cos(0.4 * z)
    return Solid(ball.vertices * bumps[:, None], np.asarray(ball.faces, np.int32))


def took(name: str, do: Callable[[], object], times: int = 7) -> None:
    spent = []
    for _ in range(times):
        begin = time.perf_counter()
        do()
        spent.append(1000.0 * (time.perf_counter() - begin))
    print(f"{name:<42} {statistics.median(spent):8.1f} ms   (worst {max(spent):.1f} of {times})")


def main(triangles: int = 1_000_000) -> None:
    solid = bumpy_ball(triangles)
    print(f"{len(solid.faces)} triangles")
    took("made ready", lambda: Surface.of(solid, solid.vertices), 3)
    surface = Surface.of(solid, solid.vertices)
    middles = solid.vertices[solid.faces].mean(axis=1)
    places = np.random.default_rng(1).integers(0, len(solid.faces), 50)
    for radius in (1.0, 3.0, 8.0, 15.0):
        walk = iter(places.tolist() * 9)

        def step(walk: object = walk, radius: float = radius) -> None:
            face = next(walk)  # type: ignore[call-overload]
            surface.brush(face, middles[face], radius)

        took(f"brush, radius {radius:g} mm", step, 50)
    took("flood over the whole skin", lambda: surface.flood(5))
    axes = np.linalg.qr(np.random.default_rng(2).normal(size=(3, 3)))[0]
    took("all that is seen from a side", lambda: surface.seen(axes), 5)
    half, other = surface.seen(axes), FaceMask.at(len(solid.faces), places)
    took("union of two masks", lambda: half | other)
    took("area of a mask", lambda: half.area(solid))


if __name__ == "__main__":
    main(*(int(text) for text in sys.argv[1:]))
