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


def seconds(work: Callable[[], object]) -> float:
    """Wall time of one run."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def bare(part: Solid, plan: Plan) -> Callable[[], int]:
    """Build the Manifold and cut all tools at once, and nothing else."""
    vertices, faces = np.array(part.vertices), part.faces.astype(np.uint64)
    tools = [Manifold(Mesh64(v, f.astype(np.uint64))) for v, f in map(tool_mesh, plan.vents)]

    def work() -> int:
        made = Manifold(Mesh64(vertices, faces))
        return int(Manifold.batch_boolean([made, *tools], OpType.Subtract).num_tri())

    return work


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
    drilled = drill(part, plan)
    works = {
        "bare manifold3d": bare(part, plan),
        "drill": lambda: drill(part, plan),
        "compare": lambda: compare(part, drilled.solid, plan),
    }
    # In turn, so that whatever else the machine does meets all of them; the fastest of each counts.
    rounds = [[seconds(work) for work in works.values()] for _ in range(5)]
    times = dict(zip(works, map(min, zip(*rounds, strict=True)), strict=True))
    for name, best in times.items():
        print(f"{name:16} {best:5.2f} s = {best / times['bare manifold3d']:.2f} x bare")
    print(f"peak {peak_mb():.0f} MB")
    differences = compare(part, drilled.solid, plan)
    print("agrees" if not differences else "\n".join(differences))


if __name__ == "__main__":
    main()
