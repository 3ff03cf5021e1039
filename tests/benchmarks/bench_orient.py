"""How long the search for an orientation takes, and how near its coarse figures are to those worked out in full.

    python tests/benchmarks/bench_orient.py [FILE] [DIRECTIONS]

FILE: samples/lighthouse.stl without one (`python samples/make.py --million FILE` makes it with a million triangles).
DIRECTIONS: so many are also worked out in full; 8 without it, 0 for none.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

from ventplanner.analysis.findings import analyse
from ventplanner.geometry.pose import Pose
from ventplanner.io.meshes import read
from ventplanner.options import InsideLimits, VentRules
from ventplanner.orienting.coarse import FIGURES, Coarse
from ventplanner.orienting.directions import all_over
from ventplanner.orienting.full import Judge
from ventplanner.orienting.search import search
from ventplanner.orienting.shape import Shape
from ventplanner.profile import Profile
from ventplanner.progress import silent

SAMPLE = Path(__file__).parents[2] / "samples" / "lighthouse.stl"


def main() -> None:
    """Print the times, as ratios to one analysis too, then a row for each figure."""
    part = read(sys.argv[1] if len(sys.argv) > 1 else str(SAMPLE))
    count = int(sys.argv[2]) if len(sys.argv) > 2 else 8
    analyse(part)
    start, clock = time.process_time(), time.perf_counter()
    findings = analyse(part)
    once, once_clock = time.process_time() - start, time.perf_counter() - clock
    start, clock = time.process_time(), time.perf_counter()
    found = search(findings)
    used, took = time.process_time() - start, time.perf_counter() - clock
    print(
        f"{len(part.faces):,} triangles: one analysis {once:.2f} s of processor time, {once_clock:.2f} s by the clock"
    )
    print(f"search {used:.2f} s ({used / once:.1f} analyses), {took:.2f} s by the clock ({took / once_clock:.1f})")
    print(f"{len(found.map.to_plate)} directions, {len(found.candidates)} in full")
    if count:
        accuracy(findings, count)


def accuracy(findings, count: int) -> None:  # type: ignore[no-untyped-def]  # a script
    """Coarse against full figures."""
    directions = all_over(count)
    shape = Shape.of(findings, VentRules())
    coarse = Coarse(shape, Profile(), InsideLimits(), findings.pose.gap_mm).over(directions, silent)
    judge, full = Judge(VentRules(), Profile(), InsideLimits()), []
    for direction in findings.scene.frame.direction_to_file(directions):
        x, y, z = direction.tolist()
        figures = judge.of(analyse(findings.solid, Pose((x, y, z), "supports", findings.pose.gap_mm))).figures
        full.append([getattr(figures, name) for name in FIGURES])
    exact = np.array(full, dtype=float)
    print(f"{'figure':<22}{'alike':>8}{'mean off':>12}{'worst off':>12}")
    for k, name in enumerate(FIGURES):
        off = np.abs(coarse[:, k] - exact[:, k]) / np.maximum(np.abs(exact[:, k]), 1.0)
        print(
            f"{name:<22}{np.count_nonzero(off < 0.01):>5}/{count}{100 * off.mean():>10.1f} %{100 * off.max():>10.1f} %"
        )


if __name__ == "__main__":
    main()
