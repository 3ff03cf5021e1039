"""How long mending takes beside the topology of the same part, and what is left of the damage.

    python tests/benchmarks/bench_mend.py

Two balls in each other, 1.0 million triangles, sound and with damage. Ratios to `topology` of the sound part.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

import bodies
import damage
import trimesh

from ventplanner.geometry.solid import Solid
from ventplanner.geometry.topology import topology
from ventplanner.mending.mend import mend

TIMES = 2
KINDS = {
    "sound": (),
    "20 faces missing": ("missing",),
    "one face in seven flipped": ("flipped",),
    "one face in ten not welded": ("not_welded",),
    "repeated, degenerate, T-junctions": ("repeated", "degenerate", "junctions"),
    "nine classes": (
        *("missing", "not_welded", "flipped", "repeated", "back_to_back", "degenerate", "junctions", "fins", "flaps"),
    ),
}


def made_part() -> Solid:
    """A ball of 60 mm with a cavity; 2 x 500 000 triangles."""
    balls = [trimesh.creation.uv_sphere(radius=radius, count=(354, 354)) for radius in (30.0, 27.0)]
    return bodies.solid(balls[0], bodies.inward(balls[1]))


def least(work: Callable[[], object]) -> float:
    """Seconds, the best of a few."""
    taken = []
    for _ in range(TIMES):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return min(taken)


def main() -> None:
    """Print one line for each kind of damage."""
    part = made_part()
    unit = least(lambda: topology(part))
    print(f"{len(part.faces)} triangles; topology {unit:.2f} s")
    for name, kinds in KINDS.items():
        triangles, rng = damage.soup(part), np.random.default_rng(1)
        for kind in kinds:
            triangles = damage.EVERY[kind](triangles, rng)
        broken = damage.as_read(triangles)
        done = mend(broken)
        seconds = least(lambda broken=broken: mend(broken))  # type: ignore[misc]
        off = done.solid.volume / part.volume - 1.0
        print(f"{name:35} {seconds / unit:6.1f} x topology, {seconds:.2f} s; volume {off:+.1e}, left {done.left}")


if __name__ == "__main__":
    main()
