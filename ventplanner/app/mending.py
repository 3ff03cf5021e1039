"""The job `mend`: read, mend, write beside, read again, compare, and only then put the file in its place."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from ventplanner.app.jobs import Wish, check_targets, open_part
from ventplanner.app.rewriting import write_compared
from ventplanner.geometry.precision import as_in_file
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.topology import topology
from ventplanner.io.meshes import writable_format
from ventplanner.mending.mend import Mended, mend
from ventplanner.mending.model import merged
from ventplanner.mending.rules import MendRules
from ventplanner.progress import Progress, silent

_CLOSE = 1e-6


@dataclass(frozen=True, eq=False)
class MendedFile:
    """A file that was written and found to be what was meant: where it is, what was done, what was read back."""

    path: Path
    done: Mended
    reread: Solid


def mend_file(
    wish: Wish, out: str, rules: MendRules, *, overwrite: bool = False, progress: Progress = silent
) -> MendedFile:
    """Mend the part of a wish and write it.

    A file of single precision gets its vertices at that precision, and what thereby falls together is mended as well.
    The file is put in its place only if it holds, read back, the same triangles and is as closed as what was mended.
    Raises what `open_part` and `mend` raise, FileWriteError, ParameterError for a name that cannot be written, and
    NotVerifiedError.
    """
    check_targets(out, None, overwrite)
    part = open_part(wish, progress)
    done = mend(part, rules, progress=progress)
    if writable_format(out).name == "STL" or part.source.single_precision:
        done = settled(done, progress)
    reread = write_compared(
        done.solid, out, lambda found: _differences(done, found), overwrite=overwrite, progress=progress
    )
    return MendedFile(Path(out), done, reread)


def settled(done: Mended, progress: Progress = silent) -> Mended:
    """The mended part at the precision of a file that keeps single precision, and mended once more where that lets
    vertices fall together."""
    placed = as_in_file(done.solid.vertices, done.solid.source.mm_per_unit, True)
    if np.array_equal(placed, done.solid.vertices):
        return done
    rounded = done.solid.with_mesh(placed, done.solid.faces, done.solid.bodies)
    again = mend(rounded, done.rules, progress=progress)
    placed = as_in_file(again.solid.vertices, done.solid.source.mm_per_unit, True)
    solid = again.solid.with_mesh(placed, again.solid.faces, again.solid.bodies)
    return replace(done, solid=solid, records=merged((*done.records, *again.records)), after=again.after)


def _differences(done: Mended, reread: Solid) -> tuple[str, ...]:
    """What a file holds that was not meant, as sentences."""
    told: tuple[str, ...] = ()
    if len(reread.faces) != len(done.solid.faces):
        told += (f"{len(reread.faces)} triangles instead of {len(done.solid.faces)}",)
    if abs(reread.volume - done.solid.volume) > _CLOSE * max(abs(done.solid.volume), _CLOSE):
        told += (f"a volume of {reread.volume:.6g} mm3 instead of {done.solid.volume:.6g} mm3",)
    before, after = topology(done.solid), topology(reread)
    for what in ("open_edges", "nonmanifold_edges", "flipped_edges"):
        count, meant = len(getattr(after, what)), len(getattr(before, what))
        if count != meant and not done.rules.without:
            told += (f"{what.replace('_', ' ')}: {count} instead of {meant}",)
    return told
