"""What every format reader hands over: the mesh as the file states it, before units and welding."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ventplanner.errors import FileReadError
from ventplanner.geometry.solid import Body, Solid, Unit
from ventplanner.machine import memory_bytes


@dataclass(frozen=True)
class Content:
    """A mesh in the axes and unit of its file.

    points: (n, 3) float32 or float64 with faces: (m, 3) integer indices into them; or a soup, points (m, 3, 3), with
    faces None. bodies: named runs of faces, empty = one. pieces: where in `points` a new mesh
    of its own begins; equal points are joined within a piece only (empty = one piece).
    """

    points: NDArray[np.floating]
    faces: NDArray[np.integer] | None = None
    bodies: tuple[Body, ...] = ()
    pieces: tuple[int, ...] = ()
    unit: Unit | None = None
    single_precision: bool = False
    notes: tuple[str, ...] = ()


def body_runs(solid: Solid) -> tuple[Body, ...]:
    """The bodies of a solid in the order of its faces if they hold every face once, else one body of them all."""
    runs = sorted((body for body in solid.bodies if body.stop > body.start), key=lambda body: body.start)
    ends = [0, *(body.stop for body in runs)]
    if [body.start for body in runs] == ends[:-1] and ends[-1] == len(solid.faces):
        return tuple(runs)
    return (Body(solid.bodies[0].name if len(solid.bodies) == 1 else "part", 0, len(solid.faces)),)


def check_room(path: Path, takes: float) -> None:
    """Refuse a file that is certain not to fit into the memory: FileReadError, before the machine stands still."""
    size, memory = path.stat().st_size, memory_bytes()
    if size * takes > memory:
        raise FileReadError(
            f"{path}: the file has {size / 1e9:.1f} GB; to read it takes at least {size * takes / 1e9:.0f} GB"
            f" of memory, and this program may use {memory / 1e9:.0f} GB.",
            "Export the part with fewer triangles, or use a machine with more memory.",
        )


def check_indices(path: Path, corners: NDArray[np.integer], sizes: NDArray[np.integer], count: int) -> None:
    """Raise FileReadError if a corner of the faces (one after the other, `sizes` corners each) is no vertex."""
    wrong = np.flatnonzero((corners < 0) | (corners >= count))
    if len(wrong):
        face = int(np.searchsorted(np.cumsum(sizes), wrong[0], side="right"))
        raise damaged(
            path,
            f"face {face + 1} names vertex {corners[wrong[0]] + 1}, but there are {count} vertices (counted from 1; "
            f"{len(wrong)} such corners)",
        )


def damaged(path: Path, what: str) -> FileReadError:
    """The error for a file whose content is broken; `what` is the rest of a sentence that starts with its name."""
    return FileReadError(f"{path}: {what}.", "Export the file again from the program that made it.")


def read_error(path: Path, error: OSError) -> FileReadError:
    """The error for a file that the system does not let us read."""
    if isinstance(error, FileNotFoundError):
        return FileReadError(f"{path}: there is no such file.", "Check the path.")
    if isinstance(error, IsADirectoryError) or path.is_dir():
        return FileReadError(f"{path}: this is a folder, not a file.", "Name a model file in it.")
    if isinstance(error, PermissionError):
        return FileReadError(f"{path}: no permission to read it.", "Change the permissions of the file.")
    return FileReadError(f"{path}: cannot be read ({error.strerror or error}).", "Copy it to a local disk first.")
