"""What the as-printed verdict costs at the printer's own resolution: time of each step, and the peak of memory.

    python tests/benchmarks/bench_printed.py [FILE]

Without FILE a hollow part of 60 x 60 x 100 mm is made first (a bumpy ellipsoid in two skins, 410 000 triangles), with a
pixel and a layer of 0.05 mm and the vents that are proposed for it.
"""

from __future__ import annotations

import resource
import statistics
import sys
import threading
import time
from pathlib import Path

import numpy as np
import trimesh

from ventplanner.analysis.findings import analyse
from ventplanner.geometry.pose import Pose
from ventplanner.geometry.solid import Solid
from ventplanner.io.meshes import read
from ventplanner.plan.fitting import tool_of_vent
from ventplanner.plan.placement import propose
from ventplanner.printed.engine import as_printed
from ventplanner.printed.widths import size_that_prints
from ventplanner.profile import Profile


def made_part() -> Solid:
    """A bumpy hollow ellipsoid in a box of 60 x 60 x 100 mm, walls of some 2 mm."""
    outer = trimesh.creation.icosphere(subdivisions=7)
    bumps = 1.0 + 0.01 * np.sin(20 * outer.vertices[:, :1]) * np.sin(17 * outer.vertices[:, 2:])
    skin = outer.vertices * bumps
    skin *= np.array([30.0, 30.0, 50.0]) / np.abs(skin).max(axis=0)
    inner = trimesh.creation.icosphere(subdivisions=6)
    vertices = np.vstack([skin, inner.vertices * (27.5, 27.5, 47.5)])
    faces = np.vstack([outer.faces, inner.faces[:, ::-1] + len(skin)]).astype(np.int32)
    return Solid(vertices, faces)


class Steps:
    """Progress that keeps how long each phase took."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}
        self.last, self.phase = time.perf_counter(), ""

    def __call__(self, phase: str, share: float) -> None:
        now = time.perf_counter()
        if self.phase:
            self.seconds[self.phase] = self.seconds.get(self.phase, 0.0) + now - self.last
        self.last, self.phase = now, phase


def resident_mb() -> float:
    """MB of memory in use now (Linux)."""
    return int(Path("/proc/self/statm").read_text().split()[1]) * resource.getpagesize() / 2**20


def main(file: Path | None) -> None:
    solid = read(file) if file else made_part()
    profile = Profile()
    for pose in (Pose(), Pose(on="plate")):
        findings = analyse(solid, pose)
        plan = propose(findings)
        tools = tuple(tool_of_vent(findings, v) for v in plan.vents)
        before, peak, running = resident_mb(), [0.0], threading.Event()

        def watch(top: list[float] = peak, done: threading.Event = running) -> None:
            while not done.wait(0.02):
                top[0] = max(top[0], resident_mb())

        watcher = threading.Thread(target=watch)
        watcher.start()
        steps, start, cpu = Steps(), time.perf_counter(), time.process_time()
        result = as_printed(findings, tools, profile, steps)
        took, cpu = time.perf_counter() - start, time.process_time() - cpu
        running.set()
        watcher.join()
        grid = result.grid
        print(f"{pose.on}: {grid.nx} x {grid.ny} x {result.layers} cells, {len(tools)} vents: {took:.2f} s (goal 10)")
        print(f"    processor time {cpu:.2f} s, in two threads where it counts")
        for phase, seconds in steps.seconds.items():
            print(f"    {phase:<32} {seconds:.2f} s")
        print(f"    memory before {before:.0f} MB, peak {peak[0]:.0f} MB (goal 2048)")
        for vent in result.vents:
            print(f"    vent {vent.nominal_mm:.2f} mm prints {vent.printed_mm:.2f} mm; most by {vent.cause}")
        print("   ", [(c.cavity, c.cup, c.nominal, c.printed) for c in result.cups])
        for printed in (True, False):
            result.layer(0, printed=printed)
            times = []
            for k in np.linspace(0, result.layers - 1, 40).astype(int):
                start = time.perf_counter()
                result.layer(int(k), printed=printed)
                times.append(1000 * (time.perf_counter() - start))
            which = "printed" if printed else "in the model"
            print(f"    picture of a layer, {which}: median {statistics.median(times):.1f} ms (goal 30)")
        start = time.perf_counter()
        size = size_that_prints(result.part, tools[0], 2.0, tools[1:])
        print(f"    a vent that prints 2 mm wide: {size} mm, {time.perf_counter() - start:.2f} s")
        del result, findings


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else None)
