"""What the status bar shows: the one job that matters most of those that run, and how much of it is done."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from ventplanner.ui.work.pace import Pace

OPENING, EXPORT, SHEET, CLOSING, HOLLOWING, MENDING, SAVING, READY = (
    "Opening",
    "Exporting",
    "Writing the sheet",
    "Closing an opening",
    "Hollowing",
    "Mending",
    "Saving",
    "Getting ready",
)
ANALYSIS, PROPOSALS, PICTURE, PRINTED, SIZES, POURING, HELPING, HOLDING, ORIENTING, PRESENT = (
    "Analysing",
    "Proposing vents",
    "Drilling",
    "Checking as printed",
    "Looking for sizes that print open",
    "Draining in thought",
    "Looking for what would help",
    "Letting it run",
    "Looking for an orientation",
    "Working out this orientation",
)
BY_WEIGHT = (
    *(EXPORT, SHEET, CLOSING, HOLLOWING, MENDING, SAVING, READY, OPENING, ANALYSIS),
    *(PROPOSALS, PICTURE, PRINTED, SIZES, ORIENTING, PRESENT, POURING, HELPING, HOLDING),
)

Stage = tuple[frozenset[str], float]

_ANALYSIS = frozenset(("Looking at the mesh", "Casting columns", "Finding cups", "Finding cavities"))
STAGES: dict[str, tuple[Stage, ...]] = {
    EXPORT: (
        (_ANALYSIS, 0.3),
        (frozenset(("preparing the cut", "drilling")), 0.15),
        (frozenset(("writing",)), 0.03),
        (frozenset(("Reading the file again",)), 0.02),
        (frozenset(("Verifying",)), 0.25),
        (_ANALYSIS, 0.2),
        (frozenset(("Verifying",)), 0.05),
    ),
    HOLLOWING: (
        (frozenset(("Looking at the mesh",)), 0.05),
        (frozenset(("Hollowing",)), 0.5),
        (frozenset(("Leaving limbs solid", "Shaping ceilings", "Carrying islands")), 0.15),
        (frozenset(("Fitting the wall",)), 0.3),
    ),
    ORIENTING: (
        (frozenset(("Trying directions",)), 0.3),
        (frozenset(("Trying places to stand on",)), 0.05),
        (frozenset(("Working out orientations",)), 0.65),
    ),
    PRINTED: (
        (frozenset(("Casting pixels",)), 0.05),
        (frozenset(("Printing in thought",)), 0.5),
        (frozenset(("Finding cups as printed",)), 0.1),
        (frozenset(("Measuring openings as printed",)), 0.3),
        (frozenset(("Making its layers ready",)), 0.05),
    ),
}
"""The steps of a job in their order, each with its share of the whole time (measured on parts of 0.1 to 1.6 million
triangles; they differ by a factor of two). The steps of an analysis tell its share as a whole."""


@dataclass(frozen=True)
class Job:
    """A running job. share: 0..1, -1 if not known. step: what it is doing, in words. left_s: seconds it will still
    take, None as long as that cannot be said."""

    name: str
    share: float = -1.0
    cancellable: bool = False
    step: str = ""
    left_s: float | None = None


@dataclass
class _Running:
    job: Job
    stage: int = 0
    done: float = field(default=0.0)
    pace: Pace = field(default_factory=Pace)


class Jobs:
    """The jobs that run, by name."""

    def __init__(self) -> None:
        self._running: dict[str, _Running] = {}

    @property
    def foremost(self) -> Job | None:
        """The one to show."""
        running = next((self._running[name] for name in BY_WEIGHT if name in self._running), None)
        return None if running is None else replace(running.job, left_s=running.pace.left_s)

    def set_busy(self, name: str, busy: bool, cancellable: bool = False) -> bool:
        """A job has begun or ended; returns whether that is news."""
        if busy == (name in self._running):
            return False
        if busy:
            self._running[name] = _Running(Job(name, cancellable=cancellable))
        else:
            del self._running[name]
        return True

    def tell(self, name: str, step: str, share: float) -> None:
        """How far a step of a job is. The share of the whole job never falls."""
        running = self._running.get(name)
        if running is None:
            return
        if name in STAGES:
            running.stage = _stage(STAGES[name], running.stage, step)
            before = sum(weight for _, weight in STAGES[name][: running.stage])
            share = max(running.done, before + STAGES[name][running.stage][1] * min(max(share, 0.0), 1.0))
            running.done = share
        running.pace.tell(share)
        running.job = replace(running.job, share=share, step=step)


def _stage(stages: tuple[Stage, ...], at: int, step: str) -> int:
    """The stage that a step belongs to: the present one, or the next that has it."""
    return next((k for k in range(at, len(stages)) if step in stages[k][0]), at)
