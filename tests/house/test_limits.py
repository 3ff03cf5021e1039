"""Sizes and rules that no linter checks."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from ventplanner import compile_cache

ROOT = Path(__file__).parents[2]
SOURCES = sorted(
    file for folder in ("ventplanner", "tests", "samples", "resources") for file in (ROOT / folder).rglob("*.py")
)
FUNCTION = ast.FunctionDef | ast.AsyncFunctionDef


def named(file: Path) -> str:
    return str(file.relative_to(ROOT))


def test_no_file_has_more_than_400_lines() -> None:
    assert {named(file): n for file in SOURCES if (n := len(file.read_text().splitlines())) > 400} == {}


@cache
def nodes_of(file: Path) -> tuple[ast.AST, ...]:
    """The functions and the handlers of errors in a file."""
    every = ast.walk(ast.parse(file.read_text()))
    return tuple(node for node in every if isinstance(node, FUNCTION | ast.ExceptHandler))


def test_no_function_has_more_than_50_lines() -> None:
    functions = [(file, node) for file in SOURCES for node in nodes_of(file) if isinstance(node, FUNCTION)]
    assert len(functions) > 1000
    assert {f"{named(file)} {f.name}": n for file, f in functions if (n := lines_of_code(f)) > 50} == {}


def lines_of_code(function: FUNCTION) -> int:
    """Lines of the body without its docstring: what has to be understood at once."""
    first = function.body[1] if ast.get_docstring(function) and len(function.body) > 1 else function.body[0]
    assert function.end_lineno is not None
    return function.end_lineno - first.lineno + 1


def test_no_error_is_swallowed_whole() -> None:
    handlers = [(file, node) for file in SOURCES for node in nodes_of(file) if isinstance(node, ast.ExceptHandler)]
    assert len(handlers) > 50
    bare = [(f, h) for f, h in handlers if h.type is None or (isinstance(h.type, ast.Name) and h.type.id in WIDE)]
    swallowed = [(f, h) for f, h in bare if not any(isinstance(n, ast.Raise) for n in ast.walk(h))]
    assert [f"{named(file)}:{h.lineno}" for file, h in swallowed] == []


WIDE = ("Exception", "BaseException")


@pytest.mark.parametrize("file", compile_cache.kernel_sources(), ids=named)
def test_kernels_use_only_what_the_digest_of_kernel_sources_covers(file: Path) -> None:
    """Constants and functions are compiled in; from elsewhere, a change of theirs would leave a stale kernel."""
    tree = ast.parse(file.read_text())
    covered = {module_of(source) for source in compile_cache.kernel_sources()}
    uncovered = {
        name for name, module in imported_names(tree) if module.startswith("ventplanner") and module not in covered
    }
    for function in kernels(tree):
        used = {node.id for line in function.body for node in ast.walk(line) if isinstance(node, ast.Name)}
        assert used & uncovered == set(), function.name


def module_of(file: Path) -> str:
    return ".".join(file.relative_to(ROOT).with_suffix("").parts)


def imported_names(tree: ast.Module) -> Iterator[tuple[str, str]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            for alias in node.names:
                yield alias.asname or alias.name, node.module
        elif isinstance(node, ast.Import):
            for alias in node.names:
                yield alias.asname or alias.name.split(".")[0], alias.name


def kernels(tree: ast.Module) -> Iterator[ast.FunctionDef]:
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef) and any("kernel(" in ast.unparse(d) for d in node.decorator_list):
            yield node
