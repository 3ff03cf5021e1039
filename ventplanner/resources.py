"""Finds the files that ship with the program: the same call in a checkout, an editable install and a wheel.

A wheel carries them in `ventplanner/_shipped/`; in a checkout they lie beside the package.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from ventplanner.errors import InputError

MESH_SUFFIXES = frozenset({".stl", ".3mf", ".obj", ".ply", ".off"})


def resource(name: str) -> Path:
    """The file `name` (relative, with `/`) of the folder `resources`; raises InputError if it does not ship."""
    path = _home() / "resources" / name
    if not path.is_file():
        raise InputError(f"This installation has no file resources/{name}.", "Install ventplanner again.")
    return path


def samples() -> tuple[Path, ...]:
    """All sample parts, sorted by name."""
    return tuple(sorted(path for path in (_home() / "samples").iterdir() if path.suffix.lower() in MESH_SUFFIXES))


def sample(name: str) -> Path:
    """The sample part of that name, with or without its ending; raises InputError with the names there are."""
    for path in samples():
        if name in (path.name, path.stem):
            return path
    known = ", ".join(path.stem for path in samples())
    raise InputError(f"There is no sample named {name!r}.", f"There are: {known}.")


@cache
def _home() -> Path:
    package = Path(__file__).resolve().parent
    shipped = package / "_shipped"
    return shipped if shipped.is_dir() else package.parent
