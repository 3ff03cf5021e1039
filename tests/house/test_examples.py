"""The examples of the documents run as they stand, on a hollow ball."""

from __future__ import annotations

import doctest
import re
from pathlib import Path

import numpy as np
import pytest
import trimesh

import ventplanner

ROOT = Path(__file__).parents[2]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The working folder, with the part that the examples name: a ball of 24 mm with walls of 2 mm; and a solid one."""
    outer, inner = (trimesh.creation.icosphere(subdivisions=3, radius=radius) for radius in (12.0, 10.0))
    outer.export(tmp_path / "solid.stl")
    inner.invert()
    trimesh.util.concatenate([outer, inner]).export(tmp_path / "part.stl")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_the_example_of_the_package(folder: Path) -> None:
    failed, tried = doctest.testmod(ventplanner, verbose=False)
    assert (failed, tried) == (0, 7)
    assert len(ventplanner.read(folder / "vented.stl").faces) > 0


def test_the_python_examples_of_the_readme(folder: Path) -> None:
    blocks = re.findall(r"```python\n(.*?)```", (ROOT / "README.md").read_text(), re.DOTALL)
    assert blocks
    for block in blocks:
        names: dict[str, object] = {}
        exec(compile(block, "README.md", "exec"), names)
        vented = ventplanner.analyse(ventplanner.read(folder / "vented.stl"))
        assert [cavity.state for cavity in vented.cavities] == ["breathing"]


def test_the_short_form_of_the_main_job_works_as_it_stands(folder: Path) -> None:
    plan = ventplanner.propose(ventplanner.analyse(ventplanner.read("part.stl")))
    assert np.isclose(min(vent.entry_mm[2] for vent in plan.vents), -12.0, atol=0.5)
