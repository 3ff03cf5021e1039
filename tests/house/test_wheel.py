"""What users install: the wheel, in a clean environment, away from the checkout."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def run(*command: str | Path, cwd: Path) -> str:
    environment = {name: value for name, value in os.environ.items() if name not in {"PYTHONPATH", "VIRTUAL_ENV"}}
    done = subprocess.run(command, cwd=cwd, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode in {0, 3}, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    run(sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", folder, ROOT, cwd=folder)
    (built,) = folder.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A clean environment with nothing but the wheel and what it asks for."""
    folder = tmp_path_factory.mktemp("installed")
    run(sys.executable, "-m", "venv", folder / "venv", cwd=folder)
    constraints = ROOT / "resources" / "constraints.txt"
    pip = (folder / "venv" / "bin" / "python", "-m", "pip", "install", "--quiet", "--no-compile")
    run(*pip, "-c", constraints, wheel, cwd=folder)
    return folder


def test_the_wheel_holds_the_package_the_samples_and_the_resources_and_nothing_else(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    shipped = {name.removeprefix("ventplanner/_shipped/") for name in names if "/_shipped/" in name}
    assert {f"samples/{path.name}" for path in (ROOT / "samples").glob("*.stl")} <= shipped
    assert "resources/CHANGELOG.md" in shipped
    assert {name.split("/", maxsplit=1)[0].split("-")[0] for name in names} == {"ventplanner"}
    assert [name for name in names if "__pycache__" in name or name.endswith(".nbi")] == []


@pytest.mark.long
def test_the_installed_package_is_the_wheels_and_finds_its_samples(installed: Path) -> None:
    code = (
        "from ventplanner import resources; print(*resources.samples(), resources.resource('CHANGELOG.md'), sep='\\n')"
    )
    found = [Path(line) for line in run(installed / "venv" / "bin" / "python", "-c", code, cwd=installed).splitlines()]
    assert all(path.is_relative_to(installed) and path.is_file() for path in found)
    assert {path.name for path in found} >= {path.name for path in (ROOT / "samples").glob("*.stl")}


@pytest.mark.long
def test_the_installed_command_inspects_a_sample(installed: Path) -> None:
    sample = min((ROOT / "samples").glob("*.stl"), key=lambda path: path.stat().st_size)
    report = json.loads(run(installed / "venv" / "bin" / "ventplanner", "inspect", sample, "--json", cwd=installed))
    assert report["schema"] == "ventplanner/1"
    assert report["cavities"]
