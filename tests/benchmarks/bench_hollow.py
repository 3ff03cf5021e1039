"""How long hollowing takes, against what libraries take for the same questions: ratios, as other work may be going on.

    python tests/benchmarks/bench_hollow.py [FILE]

Without FILE a bumpy solid of 1.3 million triangles is made. Processor time, of all threads, is divided by that of
VTK's closest points on the same mesh (of 20 000 points a wall away from it) and by that of scikit-image's marching
cubes on as many nodes.
"""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Callable

import numpy as np
import pyvista as pv
import trimesh
from skimage.measure import marching_cubes

from ventplanner.geometry.closest import Nearest
from ventplanner.geometry.solid import Solid
from ventplanner.hollowing.hollow import Hollowed, hollow
from ventplanner.hollowing.rules import HollowRules
from ventplanner.io.meshes import read

POINTS = 20_000


def made_part(fine: int = 8) -> Solid:
    """A lump of 50 x 45 x 100 mm with six deep furrows."""
    ball = trimesh.creation.icosphere(fine, 1.0)
    points = np.array(ball.vertices)
    around, down = np.arctan2(points[:, 1], points[:, 0]), np.arccos(np.clip(points[:, 2], -1, 1))
    away = 1.0 + 0.12 * np.sin(5 * around) * np.sin(down) ** 2 * np.sin(3 * down)
    away -= 0.1 * np.exp(-(np.sin(3 * around) ** 2) / 0.005) * np.sin(down) ** 3
    return Solid(points * away[:, None] * [25.0, 22.5, 50.0], np.array(ball.faces, dtype=np.int32))


def timed(work: Callable[[], object]) -> tuple[float, float]:
    """Processor and wall time of one run, in seconds."""
    cpu, wall = time.process_time(), time.perf_counter()
    work()
    return time.process_time() - cpu, time.perf_counter() - wall


def main(path: str | None = None) -> None:
    """Print them."""
    part = read(path) if path else made_part()
    hollow(made_part(4))  # compiles, or loads, the loops
    done: list[Hollowed] = []
    cpu, wall = timed(lambda: done.append(hollow(part, None, HollowRules(grid_mm=0.25))))
    first = done[0]
    print(f"{len(part.faces)} triangles, grid {first.grid_mm} mm, {len(first.solid.faces) - len(part.faces)} new ones")
    print(f"hollow: {cpu:.1f} s of processor time, {wall:.1f} s by the clock")
    print(f"wall: nowhere under {first.wall_least_mm:.4f} mm, mean {first.wall_mean_mm:.4f} mm")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
    print(f"memory: {peak:.0f} MB at most, {first.memory_mb:.0f} MB told")
    inner = first.solid.vertices[np.unique(first.solid.faces[first.new])]
    some = np.ascontiguousarray(inner[:: max(1, len(inner) // POINTS)])
    mesh = pv.wrap(trimesh.Trimesh(part.vertices, part.faces, process=False))
    theirs, _ = timed(lambda: mesh.find_closest_cell(some, return_closest_point=True))
    nearest = Nearest.of(part.vertices, part.faces)
    ours, _ = timed(lambda: nearest.points(some))
    print(f"{len(some)} nearest points: VTK takes {theirs / ours:.1f} times as long")
    size = np.ceil(np.ptp(part.bounds, axis=0) / first.grid_mm).astype(int)[::-1] + 4
    z, y, x = np.ogrid[tuple(slice(-1, 1, complex(0, n)) for n in size)]
    drawn, _ = timed(lambda: marching_cubes((0.8 - np.sqrt(x * x + y * y + z * z)).astype(np.float32), 0.0))
    print(f"all of it takes {cpu / drawn:.1f} times as long as marching cubes of scikit-image on as many nodes")


if __name__ == "__main__":
    main(*sys.argv[1:2])
