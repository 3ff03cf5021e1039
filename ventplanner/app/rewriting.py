"""A changed part in a file: written beside, read again, compared, and only then put in its place."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from ventplanner.errors import FileReadError, NotVerifiedError
from ventplanner.geometry.solid import Solid
from ventplanner.io.atomic import replacing
from ventplanner.io.meshes import PathLike, read, writable_format, write_draft
from ventplanner.progress import Progress


def write_compared(
    solid: Solid,
    out: PathLike,
    differences: Callable[[Solid], tuple[str, ...]],
    *,
    overwrite: bool,
    progress: Progress,
) -> Solid:
    """Write a solid; returns what was read back from its file.

    differences: what a solid that was read back holds that was not meant, as sentences. Raises NotVerifiedError if
    there are any, FileWriteError, and ParameterError for a name that cannot be written; `out` is then as it was.
    """
    with replacing(out, overwrite=overwrite) as draft:
        write_draft(solid, draft.path, format=writable_format(out).name, progress=progress)
        progress("Reading the file again", 0.0)
        reread = read_again(draft.path, solid)
        found = differences(reread)
        if found:
            raise NotVerifiedError(found)
        draft.commit()
    return reread


def read_again(path: Path, solid: Solid) -> Solid:
    """What a file holds in which `solid` was just written. Raises NotVerifiedError if it cannot be read."""
    try:
        return read(path, solid.source.unit_given)
    except FileReadError as error:
        raise NotVerifiedError((f"the written file cannot be read: {error.cause}",)) from error
