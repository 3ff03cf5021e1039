"""What drilling a million triangles costs beside the bare manifold3d calls, in one run on one machine.

    python tests/benchmarks/bench_drill.py [vents]

Prints seconds and ratios for a hollow ball of 1.3 million triangles in two skins, and the peak of memory.
"""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))
import drill_parts as parts
from manifold3d import Manifold, Mesh64, OpType

from ventplanner.geometry.solid import Solid
from ventplanner.geometry.topology import topology
from ventplanner.plan.drilling import drill, tool_mesh
from ventplanner.plan.model import Plan
from ventplanner.plan.verification import compare


def timed(work: Callable[[], object], times: int = 3) -> tuple[float, object]:
    """Seconds of the fastest of some runs, and the result."""
    best, result = float("inf"), None
    for _ in range(times):
        start = time.perf_counter()
        result = work()
        best = min(best, time.perf_counter() - start)
    return best, result


def bare(part: Solid, plan: Plan) -> tuple[float, float]:
    """Seconds to build the Manifold and to cut all tools at once, and nothing else."""
    vertices, faces = np.array(part.vertices), part.faces.astype(np.uint64)
    tools = [Manifold(Mesh64(v, f.astype(np.uint64))) for v, f in map(tool_mesh, plan.vents)]

    def build() -> Manifold:
        made = Manifold(Mesh64(vertices, faces))
        made.num_tri()
        return made

    def cut() -> int:
        return int(Manifold.batch_boolean([made, *tools], OpType.Subtract).num_tri())

    seconds, made = timed(build)
    return seconds, timed(cut)[0]


def peak_mb() -> float:
    """Largest resident size so far, MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def main() -> None:
    """Print the table."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 4
    outer, inner = parts.ball(30.0, fine=8), parts.inward(parts.ball(28.0, fine=6))
    part = parts.solid(outer, inner, single=True)
    rng = np.random.default_rng(7)
    vents = []
    for k in range(count):
        d = rng.normal(size=3)
        d /= np.linalg.norm(d)
        vents.append(parts.vent(tuple(30.0 * d), tuple(28.0 * d), 2.5, name=f"v{k}"))
    plan = Plan(tuple(vents))
    topology(parts.hollow_box())
    print(f"{len(part.faces)} triangles, {count} vents; before: {peak_mb():.0f} MB")
    build, cut = bare(part, plan)
    print(f"bare manifold3d      build {build:.2f} s, cut {cut:.2f} s; peak {peak_mb():.0f} MB")
    seconds, drilled = timed(lambda: drill(part, plan))
    print(f"drill                {seconds:.2f} s = {seconds / (build + cut):.2f} x bare; peak {peak_mb():.0f} MB")
    seconds, differences = timed(lambda: compare(part, drilled.solid, plan))
    print(f"compare              {seconds:.2f} s = {seconds / (build + cut):.2f} x bare; peak {peak_mb():.0f} MB")
    print("agrees" if not differences else "\n".join(differences))


if __name__ == "__main__":
    main()
