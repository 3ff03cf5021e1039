"""What a start of the command loads: `--help` nothing heavy, the main job no window and no picture library."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from command_line import hollow_box

ROOT = Path(__file__).parents[2]

RUN = """
import json, sys
from ventplanner.cli import main
try:
    code = main(sys.argv[1:])
except SystemExit as stop:
    code = stop.code
print("\\n" + json.dumps({"code": code or 0, "loaded": sorted({name.split(".")[0] for name in sys.modules})}))
"""


def loaded(*arguments: str | Path, cwd: Path) -> tuple[int, set[str]]:
    """Exit code of the command in a fresh process, and the top-level packages it had loaded at its end."""
    command = [sys.executable, "-c", RUN, *map(str, arguments)]
    done = subprocess.run(command, cwd=cwd, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    answer = json.loads(done.stdout.splitlines()[-1])
    return answer["code"], set(answer["loaded"])


WINDOW = {
    "PySide6",
    "PyQt6",
    "shiboken6",
    "qtpy",
    "pyqtgraph",
    "pyvista",
    "pyvistaqt",
    "vtkmodules",
    "vtk",
    "matplotlib",
}
HEAVY = {"numpy", "scipy", "numba", "llvmlite", "trimesh", "manifold3d"}


@pytest.mark.parametrize("arguments", [("--help",), ("inspect", "--help"), ("vent", "--help"), ("--version",)])
def test_help_loads_nothing_heavy(arguments: tuple[str, ...], tmp_path: Path) -> None:
    code, packages = loaded(*arguments, cwd=tmp_path)
    assert code == 0
    assert packages & (HEAVY | WINDOW) == set()


def test_the_main_job_loads_no_window_and_no_picture_library(tmp_path: Path) -> None:
    part = tmp_path / "part.stl"
    hollow_box().export(part)
    for arguments in (("inspect", part), ("vent", part, "--out", tmp_path / "vented.stl")):
        code, packages = loaded(*arguments, cwd=tmp_path)
        assert code in {0, 3}
        assert packages >= {"numpy", "numba"}
        assert packages & WINDOW == set()
