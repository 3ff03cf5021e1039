"""What reading and writing a million triangles costs, beside trimesh in the same run on the same machine.

    python tests/benchmarks/bench_read.py [--all]

Makes a bumpy sphere of 1 000 000 triangles in a temporary folder. Prints the median seconds, the goal if there is
one, and the ratio to `trimesh.load` of the same file, which joins equal vertices as `read` does. `--all` adds the
formats other than binary STL, where trimesh alone takes a minute. Run it on a machine that does nothing else: two
busy neighbours on two cores make the weld four times slower.
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
from numpy.typing import NDArray

from ventplanner.geometry.solid import Solid
from ventplanner.geometry.weld import weld
from ventplanner.io.meshes import read, write

GOALS = {"stl": 0.3, "3mf": 3.0}


def bumpy_sphere(rings: int = 500, around: int = 1000) -> NDArray[np.float32]:
    """(2 rings around, 3, 3): a sphere of 40 mm with waves, its poles small rings, cut into strips of quads."""
    turn, height = np.meshgrid(np.linspace(0, 2 * np.pi, around + 1), np.linspace(0.01, np.pi - 0.01, rings + 1))
    radius = 20 + 0.4 * np.sin(9 * turn) * np.sin(14 * height)
    grid = np.stack(
        [radius * np.sin(height) * np.cos(turn), radius * np.sin(height) * np.sin(turn), radius * np.cos(height)],
        axis=-1,
    ).astype(np.float32)
    grid[:, -1] = grid[:, 0]
    a, b, c, d = grid[:-1, :-1], grid[:-1, 1:], grid[1:, 1:], grid[1:, :-1]
    return np.stack([np.stack([a, d, c], axis=-2), np.stack([a, c, b], axis=-2)], axis=2).reshape(-1, 3, 3)


def seconds(work: Callable[[], object], times: int) -> float:
    """Median of some runs."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def ascii_stl(soup: NDArray[np.float32]) -> str:
    """The usual seven digits with an exponent, as most programs write them."""
    facet = "  facet normal 0 0 0\n    outer loop\n" + "      vertex %.6e %.6e %.6e\n" * 3 + "    endloop\n  endfacet\n"
    return (
        "solid sphere\n" + "".join([facet % tuple(row) for row in soup.reshape(-1, 9).tolist()]) + "endsolid sphere\n"
    )


def main() -> None:
    soup = bumpy_sphere()
    print(f"{len(soup)} triangles\n{'':22}{'ours':>8}{'goal':>8}{'trimesh':>10}{'ratio':>8}")
    weld(soup[:10])
    print(f"{'weld':22}{seconds(lambda: weld(soup), 9):8.3f}{0.12:8.2f}")
    vertices, faces = weld(soup)
    solid = Solid(vertices, faces)
    print(f"{'check of a solid':22}{seconds(lambda: Solid(vertices, faces), 9):8.3f}")
    with tempfile.TemporaryDirectory() as folder:
        paths = {suffix: Path(folder) / f"sphere.{suffix}" for suffix in ("stl", "3mf", "obj", "ply")}
        chosen = paths if "--all" in sys.argv else {"stl": paths["stl"]}
        for suffix, path in chosen.items():
            taken = seconds(lambda p=path: write(solid, p, overwrite=True), 3)  # type: ignore[misc]
            print(f"{'write ' + suffix:22}{taken:8.3f}")
        for suffix, path in chosen.items():
            report(f"read {suffix}", path, GOALS.get(suffix), 9 if suffix == "stl" else 3)
        if "--all" in sys.argv:
            text = Path(folder) / "text.stl"
            text.write_text(ascii_stl(soup))
            report("read ASCII stl", text, None, 3)


def report(what: str, path: Path, goal: float | None, times: int) -> None:
    """One line: our median, the goal, one run of trimesh.load, the ratio."""
    ours = seconds(lambda: read(path), times)
    theirs = seconds(lambda: trimesh.load(path), 1)
    print(f"{what:22}{ours:8.3f}{goal or '':>8}{theirs:10.2f}{ours / theirs:8.2f}")


if __name__ == "__main__":
    main()
