"""What the search for other places costs at a million triangles.

    PYTHONPATH=. python tests/benchmarks/bench_alternatives.py [FILE | --cups]

Without FILE the hollow part of 1.4 million triangles of `bench_session` is made; with --cups one of 1.6 million with
twelve hollows and 24 vents. Since drills are swept in the pieces of free space that they reach, other places for all
vents take 0.31 of the processor time of before (3.3 s to 10.8 s), with suction 0.45 (6.5 to 14.3), proposals at
preference 0.5 take 0.24 (3.6 to 15.1), on a busy machine in November 2026, with the same results. The aim is 2 s on two
cores. What is left are mostly rays through the part and small steps that hold the interpreter lock; of suction, the
network.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import trimesh
from bench_session import made_part

from ventplanner.analysis.findings import analyse
from ventplanner.flow.ground import ground
from ventplanner.geometry.sight import Sight
from ventplanner.io.meshes import read
from ventplanner.options import VentRules
from ventplanner.plan.alternatives import Search
from ventplanner.plan.consequences import Air, every_alternative
from ventplanner.plan.placement import propose
from ventplanner.profile import Profile


def many_cups(path: Path) -> None:
    """A bumpy flat ellipsoid, 150 x 110 x 40 mm, with twelve ellipsoids in it 3 mm under its skin."""
    outer, inner = trimesh.creation.icosphere(subdivisions=8), trimesh.creation.icosphere(subdivisions=5)
    bumps = 1.0 + 0.01 * np.sin(20 * outer.vertices[:, :1]) * np.sin(17 * outer.vertices[:, 1:2])
    skins = [trimesh.Trimesh(outer.vertices * bumps * (75.0, 55.0, 20.0), outer.faces, process=False)]
    for x in (-39.0, -13.0, 13.0, 39.0):
        for y in (-24.0, 0.0, 24.0):
            high = 20.0 * np.sqrt(1.0 - (x / 75.0) ** 2 - (y / 55.0) ** 2) - 4.0
            hollow = inner.vertices * (8.0, 8.0, high) + (x, y, 0.0)
            skins.append(trimesh.Trimesh(hollow, inner.faces[:, ::-1], process=False))
    trimesh.util.concatenate(skins).export(path)


def told(what: str, work: Callable[[], object], times: int = 3) -> None:
    """Median seconds, wall clock and processor."""
    wall, processor = [], []
    for _ in range(times):
        start, busy = time.perf_counter(), time.process_time()
        work()
        wall.append(time.perf_counter() - start)
        processor.append(time.process_time() - busy)
    print(f"{what:48} {statistics.median(wall):6.2f} s   processor {statistics.median(processor):6.2f} s")


def main() -> int:
    """Measure one part."""
    with tempfile.TemporaryDirectory() as folder:
        given = sys.argv[1] if len(sys.argv) > 1 else ""
        path = Path(folder) / "made.stl" if given in ("", "--cups") else Path(given)
        if path.parent == Path(folder):
            (many_cups if given else made_part)(path)
        findings = analyse(read(str(path)))
    plan = propose(findings)
    cups = sum(len(c.cups) for c in findings.cavities)
    print(f"{len(findings.part.faces)} triangles, {cups} cups, {len(plan.vents)} vents")
    told("tree of boxes for rays", lambda: Sight.of(findings.scene.ray_target))
    _ = findings.scene.sight
    search = Search(findings, VentRules())
    told("other places for all vents", lambda: every_alternative(search, plan))
    air = Air(ground(findings), Profile())
    told("other places for all vents, with suction", lambda: every_alternative(search, plan, air))
    for prefer in (0.0, 0.5, 1.0):
        told(f"proposals, preference {prefer:g}", lambda p=prefer: propose(findings, VentRules(prefer=p)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
