"""What the window and its worker process say to each other: frozen values, pickled over a pipe."""

from __future__ import annotations

import traceback
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ventplanner import errors
from ventplanner.errors import MeshError, VentplannerError, WorkError
from ventplanner.geometry.pose import Pose
from ventplanner.geometry.solid import Body, Source
from ventplanner.options import AnalysisOptions
from ventplanner.plan.model import Plan, Point
from ventplanner.ui.work.carried import refused
from ventplanner.ui.work.memory import Handle, Layout

if TYPE_CHECKING:
    from ventplanner.analysis.openings import Opening
    from ventplanner.geometry.face_mask import FaceMask
    from ventplanner.geometry.solid import FloatArray
    from ventplanner.hollowing.rules import HollowRules
    from ventplanner.mending.rules import MendRules

DRILLING, EXPORTING, CLOSING, HOLLOWING, MENDING = "Drilling", "Exporting", "Closing", "Hollowing", "Mending"


@dataclass(frozen=True)
class Part:
    """A solid without its arrays; `mesh` tells where they are."""

    mesh: Handle
    bodies: tuple[Body, ...]
    source: Source


@dataclass(frozen=True)
class DrillOrder:
    """Drill the part for display; the answer is `Room` (for vertices and faces), then `Done(None)`."""

    part: Part
    plan: Plan


@dataclass(frozen=True)
class ExportOrder:
    """Analyse, drill, write and verify; the answer is `Done(Exported)`."""

    part: Part
    plan: Plan
    pose: Pose
    options: AnalysisOptions
    path: str
    overwrite: bool


@dataclass(frozen=True, eq=False)
class CloseOrder:
    """Analyse, and close an opening (in the build axes of that analysis) that the part came with. The answer is `Room`
    for vertices, faces, bodies (k, 2), place (where it was along the file's axes, and its width, mm), late (UTF-8:
    what opens late without it) and vent (a pickled one), then `Done(None)`; or `Failed`, which says why it is not
    closed.

    instead: name, build point and outward normal of a vent that is fitted once it is closed, None if there is none to
    fit (then vent has no bytes). keep_clear: what that must not cut.
    """

    part: Part
    plan: Plan
    pose: Pose
    options: AnalysisOptions
    opening: Opening
    instead: tuple[str, FloatArray, FloatArray] | None = None
    keep_clear: FaceMask | None = None


@dataclass(frozen=True)
class HollowOrder:
    """Hollow the part as it hangs; under some of its faces it stays solid. The answer is `Room` for vertices, faces,
    bodies (k, 2) and facts (JSON of `HollowFacts`), then `Done(None)`."""

    part: Part
    pose: Pose
    rules: HollowRules
    keep_solid: FaceMask | None = None


@dataclass(frozen=True)
class MendOrder:
    """Mend the part. The answer is `Room` for vertices, faces, bodies (k, 2) and facts (JSON of `MendFacts`), then
    `Done(None)`; or `Failed`, which says why it cannot be closed."""

    part: Part
    rules: MendRules


Order = DrillOrder | ExportOrder | CloseOrder | HollowOrder | MendOrder


@dataclass(frozen=True)
class Exported:
    """What came of an export. `differences` is empty when the written file was verified, and then it is in its place.

    left: what is left to do in the written file, as sentences. triangles: of the written file. removed_mm3: volume of
    what was drilled away. notes: what was taken for granted, as sentences. damage: what is the matter with the mesh as
    it came: what, how often, and a place in the file's axes.
    """

    path: str
    differences: tuple[str, ...] = ()
    vents: int = 0
    triangles: int = 0
    removed_mm3: float = 0.0
    left: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    damage: tuple[tuple[str, int, Point | None], ...] = ()

    @property
    def verified(self) -> bool:
        """Whether the file was read again and is what the plan asked for."""
        return not self.differences


@dataclass(frozen=True)
class Ready:
    """The worker has imported all it needs."""


@dataclass(frozen=True)
class Told:
    """Progress."""

    phase: str
    share: float


@dataclass(frozen=True)
class Room:
    """The worker asks for a block for its result; it is answered with a `Handle`."""

    layout: Layout


@dataclass(frozen=True)
class Done:
    """The order is carried out."""

    result: object = None


@dataclass(frozen=True)
class Failed:
    """The order failed: the class of the error, what it says, where it happened in the worker's own words,
    and the place that it names.

    The error itself is not sent: not every exception can be made again from what it holds.
    """

    kind: str
    cause: str
    way_out: str
    details: str
    at_mm: Point | None = None

    @classmethod
    def of(cls, error: BaseException) -> Failed:
        """What is sent about an error."""
        if isinstance(error, MemoryError | OSError):
            error = refused(error)
        details = "".join(traceback.format_exception(error))
        kind = type(error).__name__
        if isinstance(error, VentplannerError):
            return cls(kind, error.cause, error.way_out, details, getattr(error, "at_mm", None))
        return cls(kind, str(error), "", details)

    @property
    def error(self) -> VentplannerError:
        """The error to raise in the window."""
        own = getattr(errors, self.kind, None)
        if own is errors.Cancelled:
            return errors.Cancelled()
        if isinstance(own, type) and issubclass(own, VentplannerError) and own is not errors.NotVerifiedError:
            found = own(self.cause, self.way_out)
            if isinstance(found, MeshError):
                found.at_mm = self.at_mm
        else:
            found = WorkError(f"Something unforeseen happened ({self.kind}: {self.cause}).", "Nothing was changed.")
            found.add_note(self.details)
        return found


@dataclass(frozen=True)
class Stop:
    """The window does not want the answer any more."""
