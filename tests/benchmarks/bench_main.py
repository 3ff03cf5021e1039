"""What the main job costs at a million triangles, beside trimesh.load of the same file, in one run on one machine.

    python tests/benchmarks/bench_main.py [FILE]

Without FILE a hollow part of 1.6 million triangles is made first (a bumpy ellipsoid in two skins).
Prints medians, ratios, the preview step while a vent is dragged, start-up times, and the peak of memory.
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

import numpy as np
import trimesh

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.io.meshes import read
from ventplanner.plan.fitting import tool_of_vent
from ventplanner.plan.placement import propose

T = TypeVar("T")
ROOT = Path(__file__).parents[2]


def timed(work: Callable[[], T], times: int = 5) -> tuple[float, T]:
    """Median seconds of some runs, and the last result."""
    seconds = []
    for _ in range(times):
        start = time.perf_counter()
        result = work()
        seconds.append(time.perf_counter() - start)
    return statistics.median(seconds), result


def made_part(path: Path) -> None:
    """A bumpy hollow ellipsoid, 50 x 45 x 100 mm, 1 638 400 triangles, as binary STL."""
    outer = trimesh.creation.icosphere(subdivisions=8)
    bumps = 1.0 + 0.01 * np.sin(20 * outer.vertices[:, :1]) * np.sin(17 * outer.vertices[:, 2:])
    inner = trimesh.creation.icosphere(subdivisions=7)
    skins = [
        trimesh.Trimesh(outer.vertices * bumps * (25.0, 22.5, 50.0), outer.faces, process=False),
        trimesh.Trimesh(inner.vertices * (22.0, 19.5, 47.0), inner.faces[:, ::-1], process=False),
    ]
    trimesh.util.concatenate(skins).export(path)


def preview(findings: Findings) -> None:
    """The step behind a drag: the tool moves, the sealed-area curve follows."""
    plan = propose(findings)
    if not plan.vents:
        print("no vent was proposed, so there is no preview to measure")
        return
    steps = []
    for k in range(60):
        x, y, z = plan.vents[0].entry_mm
        moved = replace(plan.vents[0], entry_mm=(x + 0.02 * k, y, z))
        start = time.perf_counter()
        tools = tuple(tool_of_vent(findings, v) for v in (moved, *plan.vents[1:]))
        findings.scene.cups(tools)
        steps.append(1000 * (time.perf_counter() - start))
    steps.sort()
    pitch = findings.scene.resolution.pitch_mm
    print(f"preview step at pitch {pitch:g} mm   median {steps[30]:.1f} ms, 95 % {steps[56]:.1f} ms (goal 33, 60)")


def starts(path: Path) -> None:
    """Whole processes: help, and inspect of the file with warm kernels."""
    for name, arguments in (("--help", ["--help"]), ("inspect", ["inspect", str(path)])):
        command = [sys.executable, "-m", "ventplanner", *arguments]
        seconds, _ = timed(lambda c=command: subprocess.run(c, capture_output=True, check=False, cwd=ROOT), 3)
        print(f"process `{name}`{'':<14} {seconds:.2f} s")


def main(path: Path) -> None:
    analyse(read(path))  # kernels loaded, file cached
    reading, solid = timed(lambda: read(path))
    analysing, findings = timed(lambda: analyse(solid))
    proposing, plan = timed(lambda: propose(findings))
    loading, _ = timed(lambda: trimesh.load(path), 3)
    total = reading + analysing + proposing
    print(f"{len(solid.faces):,} triangles, {len(findings.cavities)} cavities, {len(plan.vents)} vents")
    print(f"read {reading:.2f} s, analyse {analysing:.2f} s, propose {proposing:.2f} s: {total:.2f} s together")
    print(f"trimesh.load {loading:.2f} s: ratio {total / loading:.2f} (goal 0.35)")
    preview(findings)
    starts(path)
    print(f"peak of memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB (with trimesh)")


if __name__ == "__main__":
    if len(sys.argv) > 1:
        main(Path(sys.argv[1]))
    else:
        with tempfile.TemporaryDirectory() as folder:
            made_part(Path(folder, "million.stl"))
            main(Path(folder, "million.stl"))
