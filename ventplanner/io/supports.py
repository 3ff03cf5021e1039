"""Supports read from a file of their own, and found again for a plan that remembers where they were."""

from __future__ import annotations

from pathlib import Path

from ventplanner.errors import Cancelled, VentplannerError
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.support_file import Supports
from ventplanner.progress import Progress, silent


def _read(path: str, unit: str, progress: Progress) -> Solid:
    from ventplanner.io.meshes import read  # loads compiled loops, which the start of the window does not wait for

    return read(path, unit, progress)


def read_supports(path: str, part: Solid, progress: Progress = silent) -> Supports:
    """The supports of a part, in its unit. Raises FileReadError, and MeshError for a file that cannot hold them."""
    solid = _read(path, part.source.unit_assumed, progress)
    supports = Supports(str(Path(path).absolute()), solid.digest, solid)
    supports.check_for(part)
    return supports


def in_unit_of(supports: Supports | None, part: Solid, progress: Progress = silent) -> Supports | None:
    """The supports read again for a part that was read in another unit; without their solid, and with the problem, if
    that cannot be. Scaled vertices would differ from those that are read by rounding, and so would the digest."""
    if supports is None or supports.solid is None:
        return supports
    try:
        before = _read(supports.path, supports.solid.source.unit_assumed, progress)
        now = read_supports(supports.path, part, progress)
    except Cancelled:
        raise
    except (VentplannerError, OSError) as error:
        return _unread(supports, f"The supports cannot be read in the new unit: {_cause(error)} So {_WAY_OUT}")
    if before.digest != supports.digest:
        return _unread(supports, f"{supports.path} has changed since it was loaded: as supports {_WAY_OUT}")
    return now


def found_again(supports: Supports | None, part: Solid, progress: Progress = silent) -> Supports | None:
    """The supports that a plan remembers, read again; without their solid, and with the problem, if that cannot be."""
    if supports is None or supports.solid is not None:
        return supports
    try:
        now = read_supports(supports.path, part, progress)
    except Cancelled:
        raise
    except (VentplannerError, OSError) as error:
        return _unread(supports, f"The supports of this plan cannot be read: {_cause(error)} So {_WAY_OUT}")
    if now.digest != supports.digest:
        return _unread(supports, f"{supports.path} has changed since the plan was saved: as supports {_WAY_OUT}")
    return now


_WAY_OUT = "they are not minded. Load them again, or remove them."


def _unread(supports: Supports, problem: str) -> Supports:
    return Supports(supports.path, supports.digest, None, problem)


def _cause(error: VentplannerError | OSError) -> str:
    return error.cause if isinstance(error, VentplannerError) else str(error)
