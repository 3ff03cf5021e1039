"""The first folder of the checkout holds what belongs there, and nothing that a script left behind."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
BELONGS = {"README.md", "DEVELOPERS.md", "pyproject.toml", "ventplanner", "tests", "resources", "samples", "LICENSE"}


def test_nothing_else_is_in_the_first_folder() -> None:
    if not (ROOT / ".git").exists():
        pytest.skip("no checkout: an unpacked copy may hold what its user put there")
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    first = {name.split("/", 1)[0] for name in listed.split("\0") if name}
    assert {name for name in first if not name.startswith(".")} == BELONGS
