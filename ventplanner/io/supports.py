"""Supports read from a file of their own, and found again for a plan that remembers where they were."""

from __future__ import annotations

from pathlib import Path

from ventplanner.errors import VentplannerError
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.support_file import Supports
from ventplanner.progress import Progress, silent


def read_supports(path: str, part: Solid, progress: Progress = silent) -> Supports:
    """The supports of a part, in its unit. Raises FileReadError, and MeshError for a file that cannot hold them."""
    from ventplanner.io.meshes import read  # loads compiled loops, which the start of the window does not wait for

    solid = read(path, part.source.unit_assumed, progress)
    supports = Supports(str(Path(path).absolute()), solid.digest, solid)
    supports.check_for(part)
    return supports


def found_again(supports: Supports | None, part: Solid, progress: Progress = silent) -> Supports | None:
    """The supports that a plan remembers, read again; without their solid, and with the problem, if that cannot be."""
    if supports is None or supports.solid is not None:
        return supports
    way_out = "they are not minded. Load them again, or remove them."
    try:
        now = read_supports(supports.path, part, progress)
    except (VentplannerError, OSError) as error:
        cause = error.cause if isinstance(error, VentplannerError) else str(error)
        return Supports(
            supports.path, supports.digest, None, f"The supports of this plan cannot be read: {cause} So {way_out}"
        )
    if now.digest != supports.digest:
        return Supports(
            supports.path,
            supports.digest,
            None,
            f"{supports.path} has changed since the plan was saved: as supports {way_out}",
        )
    return now
