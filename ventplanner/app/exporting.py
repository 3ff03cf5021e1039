"""Export: drill, write beside, read again, verify, and only then put the file in its place."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from ventplanner.analysis.findings import HARMLESS, Findings, analyse
from ventplanner.app.rewriting import read_again
from ventplanner.errors import NotVerifiedError, ParameterError
from ventplanner.geometry.solid import Solid
from ventplanner.io.atomic import Draft, checked_target, replacing
from ventplanner.io.meshes import PathLike, writable_format, write_draft
from ventplanner.plan.carried import carried_over
from ventplanner.plan.drilling import Drilled, drill
from ventplanner.plan.model import Plan
from ventplanner.plan.second_look import look_again
from ventplanner.plan.verification import compare
from ventplanner.progress import Progress, silent


@dataclass(frozen=True, eq=False)
class Exported:
    """A verified file: where it is, what was drilled, what was read back, and the findings of the re-read part, with
    its cavities under the names they had before."""

    path: Path
    drilled: Drilled
    reread: Solid
    after: Findings


def _nothing() -> None: ...


def export(
    findings: Findings,
    plan: Plan,
    path: PathLike,
    *,
    overwrite: bool = False,
    when_verified: Callable[[], None] = _nothing,
    progress: Progress = silent,
) -> Exported:
    """Drill the plan's vents, write the part, and verify the file that was written.

    Verified means, of the file as read back: every edge has two faces; what no vent touches is bit-identical in the
    format's precision; the removed volume and the Euler number are as predicted for each vent; and the columns of two
    other grids show the same cups breathing as the plan foretold. Otherwise NotVerifiedError names the differences
    and nothing is left at `path` but what was there. `when_verified` is called just before the file is put in its
    place; if it raises, nothing is. Raises also DrillError, MeshError, FileWriteError.
    """
    checked_target(Path(path), overwrite)
    kind = writable_format(path)
    single = kind.name == "STL" or findings.part.source.single_precision
    drilled = drill(findings.part, plan, progress, found=findings.scene.topology, single_precision=single)
    with replacing(path, overwrite=overwrite) as draft:
        exported = _verified(findings, drilled, draft, path, progress)
        when_verified()
        draft.commit()
    return exported


def write(drilled: Drilled, path: PathLike, *, overwrite: bool = False, progress: Progress = silent) -> Exported:
    """Write a drilled part and verify the written file, in the pose that its plan was made for; see `export`.

    For a format of single precision a part drilled in double precision is drilled anew. A part without holes is written
    as `write(drill(part, Plan()), path)`; ParameterError says so for anything but what `drill` gave.
    """
    if not isinstance(drilled, Drilled):  # the most likely mistake: a part that was hollowed or mended
        what = type(drilled).__name__  # type: ignore[unreachable]
        raise ParameterError(
            f"`write` takes what `drill` gave, not a {what}.", "Without holes: write(drill(part, Plan()), path)."
        )
    checked_target(Path(path), overwrite)
    plan = drilled.plan
    if plan.part and plan.part != drilled.original.digest:
        raise ParameterError("This plan was made for another part.", "Drill `findings.part`, the part as understood.")
    findings = analyse(drilled.original, plan.pose, plan.options, progress=progress)
    if writable_format(path).name == "STL" and not drilled.solid.source.single_precision:
        return export(findings, plan, path, overwrite=overwrite, progress=progress)
    with replacing(path, overwrite=overwrite) as draft:
        exported = _verified(findings, drilled, draft, path, progress)
        draft.commit()
    return exported


def _verified(findings: Findings, drilled: Drilled, draft: Draft, path: PathLike, progress: Progress) -> Exported:
    """Write the draft, read it again and verify it: what `path` will hold once the draft is committed."""
    write_draft(drilled.solid, draft.path, format=writable_format(path).name, progress=progress)
    progress("Reading the file again", 0.0)
    reread = read_again(draft.path, drilled.solid)
    progress("Verifying", 0.0)
    known = findings.scene.topology if drilled.original is findings.part else None
    differences = compare(drilled.original, reread, drilled.plan, known)
    second = look_again(findings, drilled.plan, reread, progress)
    if differences or second.differences:
        raise NotVerifiedError((*differences, *second.differences, *_came_damaged(findings)))
    progress("Verifying", 1.0)
    return Exported(Path(path), drilled, reread, carried_over(findings, second.after, drilled.plan))


def _came_damaged(findings: Findings) -> tuple[str, ...]:
    """The likely cause of every difference, for a part whose mesh was not sound."""
    damage = [f"{n.what} ({n.count})" for n in findings.health if n.what not in HARMLESS]
    return (f"the part came with {', '.join(damage)}, mend it first (ventplanner mend)",) if damage else ()
