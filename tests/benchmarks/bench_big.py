"""Files of five million triangles: memory and time of each job, in a process of its own.

    python tests/benchmarks/bench_big.py [FOLDER]

A hollow part and a solid one of 5 million triangles are made here and written as STL to FOLDER (or to a temporary
one). Told are the most memory that a job had (resident; the goal is 4 GB) and its processor time, as a multiple of that
of `inspect` for the same body with a tenth of the triangles: 10 is what linear time would be.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

MOST_GB = 4.0
TRIANGLES = 5_000_000

JOBS = {
    "inspect": ("hollow", ["inspect"]),
    "vent": ("hollow", ["vent", "--out", "vented.stl", "--overwrite"]),
    "hollow": ("solid", ["hollow", "--wall", "2.5", "--out", "hollowed.stl", "--overwrite"]),
    "mend": ("hollow", ["mend", "--out", "mended.stl", "--overwrite"]),
}


def lump(count: int, shrink: float) -> NDArray[np.float32]:
    """(about count, 3, 3) triangles of a closed lump, 60 x 50 x 90 mm less `shrink` all round, with lobes and pores."""
    rows = round(np.sqrt(count / 4.0))
    columns = 2 * rows
    down = np.linspace(0.0, np.pi, rows + 1)[:, None]
    around = np.linspace(0.0, 2.0 * np.pi, columns, endpoint=False)[None]
    away = 1.0 + 0.12 * np.sin(5 * around) * np.sin(down) ** 2 * np.sin(3 * down)
    away = away + 0.002 * np.sin(180 * around) * np.sin(180 * down) * np.sin(down) ** 2
    axes = np.array([30.0, 25.0, 45.0]) - shrink
    points = np.stack(
        [
            away * np.sin(down) * np.cos(around),
            away * np.sin(down) * np.sin(around),
            away * np.cos(down) + 0.0 * around,
        ],
        axis=2,
    )
    points[0], points[-1] = points[0].mean(axis=0), points[-1].mean(axis=0)
    points = (points * axes).astype(np.float32)
    after = np.roll(points, -1, axis=1)
    one = np.stack([points[:-2], points[1:-1], after[1:-1]], axis=2)
    other = np.stack([points[1:-1], after[2:], after[1:-1]], axis=2)
    return np.concatenate([one.reshape(-1, 3, 3), other.reshape(-1, 3, 3)])


def write(path: Path, triangles: NDArray[np.float32]) -> None:
    """Binary STL."""
    rows = np.zeros(len(triangles), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("more", "<u2")])
    rows["corners"] = triangles
    with path.open("wb") as file:
        file.write(b"a lump".ljust(80) + np.uint32(len(rows)).tobytes())
        rows.tofile(file)


def make(folder: Path, count: int) -> None:
    """A hollow part and a solid one."""
    outer, inner = lump(count // 2, 0.0), lump(count // 2, 2.5)
    write(folder / f"hollow-{count}.stl", np.concatenate([outer, inner[:, ::-1]]))
    write(folder / f"solid-{count}.stl", lump(count, 0.0))


def run(folder: Path, what: list[str], part: str) -> tuple[float, float]:
    """GB at most and seconds of processor time of one job."""
    job, *rest = what
    made = subprocess.Popen(
        [sys.executable, "-m", "ventplanner", job, part, *rest], cwd=folder, stdout=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
    )  # fmt: skip
    _, status, usage = os.wait4(made.pid, 0)
    made.returncode = os.waitstatus_to_exitcode(status)
    if made.returncode not in (0, 3):
        print(f"{job} ended with {made.returncode}")
    return usage.ru_maxrss / 1e6, usage.ru_utime + usage.ru_stime


def main(folder: Path, jobs: list[str]) -> None:
    """Print one line for each job."""
    for count in (TRIANGLES // 10, TRIANGLES):
        make(folder, count)
    _, unit = run(folder, ["inspect"], f"hollow-{TRIANGLES // 10}.stl")
    print(f"inspect, a tenth of the triangles: {unit:.1f} s of processor time")
    for name in jobs or JOBS:
        part, what = JOBS[name]
        memory, seconds = run(folder, what, f"{part}-{TRIANGLES}.stl")
        too_much = "" if memory <= MOST_GB else f": more than {MOST_GB:g}"
        print(f"{name:8} {memory:4.1f} GB{too_much}; {seconds / unit:5.1f} times as long, {seconds:.0f} s", flush=True)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as temporary:
        main(Path(sys.argv[1] if len(sys.argv) > 1 else temporary), sys.argv[2:])
