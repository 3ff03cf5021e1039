"""Every error this package raises on purpose, one class per cause.

Each says what is wrong, where, and the way out, in one line; the fields carry the same facts for programs.
"""

from __future__ import annotations


class VentplannerError(Exception):
    """Root of all deliberate errors: `cause` (what is wrong and where) and `way_out` (what the user can do)."""

    def __init__(self, cause: str, way_out: str = "") -> None:
        self.cause = cause
        self.way_out = way_out
        super().__init__(f"{cause} {way_out}".strip())


class InputError(VentplannerError):
    """What was handed in (a file, a value, a combination) cannot be used as it is."""


class FileReadError(InputError):
    """A file is missing, truncated, of an unknown format or holds no triangles."""


class ParameterError(InputError):
    """A value is outside the range that its parameter allows."""


class MeshError(InputError):
    """The mesh is damaged in a way that makes the asked work impossible; `at_mm` names a place."""

    def __init__(self, cause: str, way_out: str = "", at_mm: tuple[float, float, float] | None = None) -> None:
        super().__init__(cause, way_out)
        self.at_mm = at_mm


class ProjectError(InputError):
    """A saved plan cannot be read, is from a newer version, or belongs to another part."""


class WorkError(VentplannerError):
    """The work itself failed; nothing was written."""


class DrillError(WorkError):
    """The boolean cut failed or returned something that is not the drilled part."""


class NotVerifiedError(WorkError):
    """The drilled part differs from the plan; `differences` holds one sentence for each difference."""

    def __init__(self, differences: tuple[str, ...]) -> None:
        self.differences = differences
        super().__init__("Not verified: " + "; ".join(differences) + ".", "Nothing was written.")


class FileWriteError(WorkError):
    """The result could not be written; the old file, if any, is as it was."""


class Cancelled(VentplannerError):  # noqa: N818 - a wish of the user's, not an error of theirs
    """The user cancelled; nothing was changed."""

    def __init__(self) -> None:
        super().__init__("Cancelled.", "Nothing was changed.")
