"""The job `hollow`: read, hollow, write beside, read again, compare, and only then put the file in its place."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from ventplanner.app.closing_openings import carried
from ventplanner.app.jobs import Wish, check_targets, open_part
from ventplanner.app.marks_from_file import marks_from
from ventplanner.app.rewriting import write_compared
from ventplanner.app.uniting import united
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.precision import as_in_file
from ventplanner.geometry.solid import FloatArray, Solid
from ventplanner.geometry.topology import topology
from ventplanner.hollowing.hollow import Hollowed, hollow
from ventplanner.hollowing.rules import HollowRules
from ventplanner.io.meshes import writable_format
from ventplanner.progress import Progress, silent


@dataclass(frozen=True, eq=False)
class HollowedFile:
    """A file that was written and found to be what was meant: where it is, what was done, what was read back."""

    path: Path
    done: Hollowed
    reread: Solid


def hollow_file(
    wish: Wish,
    out: str,
    rules: HollowRules,
    *,
    keep_solid: str | None = None,
    overwrite: bool = False,
    progress: Progress = silent,
) -> HollowedFile:
    """Hollow the part of a wish, in its pose, and write it.

    keep_solid: a colour or a file that tells under which faces it stays solid (`marks_from`). The file is put in its
    place only if, read back, all triangles of the part are there to the last bit of the format, the new ones too, and
    the new skins are closed. Raises what `open_part`, `marks_from` and `hollow` raise, FileWriteError,
    ParameterError for a name that cannot be written, and NotVerifiedError.
    """
    check_targets(out, None, overwrite)
    part = open_part(wish, progress)
    marks = marks_from(keep_solid, part) if keep_solid else None
    part, marks, notes = ready(part, marks, progress)
    done = hollow(part, wish.pose, rules, keep_solid=marks, progress=progress)
    done = replace(done, notes=(*notes, *done.notes))
    stl = writable_format(out).name == "STL"
    reread = write_compared(
        done.solid, out, lambda found: _differences(done, found, stl), overwrite=overwrite, progress=progress
    )
    return HollowedFile(Path(out), done, reread)


def ready(
    part: Solid, marks: FaceMask | None, progress: Progress = silent
) -> tuple[Solid, FaceMask | None, tuple[str, ...]]:
    """A part to be hollowed with bodies that overlap made one, the marks on its faces that are still there, and what
    was done, as sentences."""
    whole, notes = united(part, progress)
    if whole is part or marks is None:
        return whole, marks, notes
    return whole, carried(marks, part, whole) or None, notes


def _differences(done: Hollowed, reread: Solid, stl: bool) -> tuple[str, ...]:
    """What a file holds that was not meant, as sentences."""
    source = done.solid.source
    single = stl or source.single_precision
    meant = as_in_file(_soup(done.solid), source.mm_per_unit, single) if single else _soup(done.solid)
    found = _soup(reread)
    if meant.shape != found.shape:
        return (f"{len(found) // 3} triangles instead of {len(meant) // 3}",)
    # A double that is divided by the unit and multiplied again may be off by a few units in the last place.
    told: tuple[str, ...] = ()
    close = 0.0 if single else 1e-14 * max(1.0, float(np.abs(meant).max()))
    wrong = np.flatnonzero(np.abs(meant - found).max(axis=1) > close)
    if len(wrong):
        told += (f"{len(wrong)} corners of triangles are elsewhere, one at {_at(meant[wrong[0]])}",)
    before, after = topology(done.original), topology(reread)
    if len(after.open_edges) != len(before.open_edges):
        told += (f"{len(after.open_edges)} open edges instead of {len(before.open_edges)}",)
    return told


def _soup(solid: Solid) -> FloatArray:
    """(3 m, 3) the corners of all faces."""
    return solid.vertices[solid.faces.ravel()]


def _at(point: FloatArray) -> str:
    return f"({', '.join(f'{x:.4g}' for x in point)}) mm"
