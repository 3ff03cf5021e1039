"""Small parts in files, and a way to run the command line in this process."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import trimesh

from ventplanner.cli import main


@dataclass(frozen=True)
class Run:
    code: int
    out: str
    err: str

    @property
    def json(self) -> dict[str, Any]:
        value: dict[str, Any] = json.loads(self.out, parse_constant=lambda text: pytest.fail(f"{text} in JSON"))
        return value


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Callable[..., Run]:
    def call(*arguments: object) -> Run:
        code = main([str(a) for a in arguments])
        captured = capsys.readouterr()
        return Run(code, captured.out, captured.err)

    return call


def hollow_box() -> trimesh.Trimesh:
    outer, inner = trimesh.creation.box([20, 20, 20]), trimesh.creation.box([16, 16, 16])
    inner.invert()
    return trimesh.util.concatenate([outer, inner])


@pytest.fixture
def box(tmp_path: Path) -> Path:
    """20 mm, 2 mm walls, sealed."""
    hollow_box().export(tmp_path / "box.stl")
    return tmp_path / "box.stl"


@pytest.fixture
def block(tmp_path: Path) -> Path:
    """Solid: nothing to vent."""
    trimesh.creation.box([10, 12, 14]).export(tmp_path / "block.stl")
    return tmp_path / "block.stl"
