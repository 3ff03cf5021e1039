"""What `import ventplanner` offers, and what it must not drag in."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import ventplanner


@pytest.mark.parametrize("name", ventplanner.__all__)
def test_every_public_name_resolves_and_is_documented(name: str) -> None:
    value = getattr(ventplanner, name)
    assert name == "__version__" or value.__doc__


def test_the_names_are_listed() -> None:
    assert set(ventplanner.__all__) <= set(dir(ventplanner))


def test_the_type_checker_sees_the_same_names_from_the_same_modules() -> None:
    tree = ast.parse(Path(ventplanner.__file__).read_text())
    (seen,) = [node for node in tree.body if isinstance(node, ast.If)]
    imports = [node for node in seen.body if isinstance(node, ast.ImportFrom)]
    assert {alias.name: node.module for node in imports for alias in node.names} == ventplanner._HOME
    assert set(ventplanner.__all__) == {*ventplanner._HOME, "__version__"}


def test_an_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute 'reed'"):
        ventplanner.reed  # noqa: B018


def loaded_by(code: str) -> set[str]:
    """Top-level packages loaded by a fresh interpreter that ran the code."""
    run = subprocess.run(
        [sys.executable, "-c", f"{code}\nimport sys\nprint(*sys.modules, file=sys.stderr)"],
        capture_output=True,
        text=True,
        check=True,
    )
    return {name.split(".")[0] for name in run.stderr.splitlines()[-1].split()}


def test_importing_the_package_loads_nothing_heavy() -> None:
    assert loaded_by("import ventplanner") & {"numpy", "scipy", "numba", "trimesh", "manifold3d"} == set()
