"""How long a look inside takes, after the analysis, and its parts.

    python tests/benchmarks/bench_inside.py [FILE]

Without FILE a hollow part of 1.4 million triangles is made (a bumpy ellipsoid in two skins).
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable

import numpy as np
import trimesh

from ventplanner.analysis import inside
from ventplanner.analysis.ceilings import ceilings
from ventplanner.analysis.findings import analyse
from ventplanner.analysis.specks import specks
from ventplanner.analysis.thin import thin_places
from ventplanner.geometry.solid import Solid
from ventplanner.io.meshes import read

TIMES = 5


def made_part() -> Solid:
    """A bumpy hollow ellipsoid, 60 x 60 x 100 mm, walls of some 2 mm; 2 x 700 000 triangles."""
    parts = []
    for radii, bump in (((30.0, 30.0, 50.0), 0.01), ((27.5, 27.5, 47.5), 0.004)):
        mesh = trimesh.creation.uv_sphere(count=(420, 420))
        wave = 1.0 + bump * np.sin(20 * mesh.vertices[:, :1]) * np.sin(17 * mesh.vertices[:, 2:])
        parts.append((mesh.vertices * wave * radii, mesh.faces))
    (outer, faces), (hollow, more) = parts
    return Solid(np.vstack((outer, hollow)), np.vstack((faces, more[:, ::-1] + len(outer))).astype(np.int32))


def timed(name: str, work: Callable[[], object]) -> None:
    """Print the median and the worst of some runs, after one that does not count."""
    work()
    taken = []
    for _ in range(TIMES):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    print(f"{name:<12} median {1000 * statistics.median(taken):6.0f} ms   worst {1000 * max(taken):6.0f} ms")


def main() -> None:
    """Print the table."""
    part = read(sys.argv[1]) if len(sys.argv) > 1 else made_part()
    findings = analyse(part)
    limits = inside.InsideLimits()
    print(f"{len(part.faces):,} triangles, pitch {findings.scene.resolution.pitch_mm} mm")
    timed("islands", lambda: inside._islands(findings, 0.05, None))
    timed("ceilings", lambda: ceilings(findings, limits.overhang_deg))
    timed("specks", lambda: specks(findings))
    timed("thin walls", lambda: thin_places(findings, limits.thin_mm))
    timed("all", lambda: inside.look_inside(findings))


if __name__ == "__main__":
    main()
