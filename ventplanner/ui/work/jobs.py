"""What the status bar shows: the one job that matters most of those that run."""

from __future__ import annotations

from dataclasses import dataclass

OPENING, EXPORT, SAVING, READY, ANALYSIS, PROPOSALS, PICTURE = (
    "Opening",
    "Exporting",
    "Saving",
    "Getting ready",
    "Analysing",
    "Proposing vents",
    "Drilling",
)
BY_WEIGHT = (EXPORT, SAVING, OPENING, READY, ANALYSIS, PROPOSALS, PICTURE)


@dataclass(frozen=True)
class Job:
    """A running job. share: 0..1 of its present step, -1 if not known. step: what it is doing, in words."""

    name: str
    share: float = -1.0
    cancellable: bool = False
    step: str = ""


class Jobs:
    """The jobs that run, by name."""

    def __init__(self) -> None:
        self._running: dict[str, Job] = {}

    @property
    def foremost(self) -> Job | None:
        """The one to show."""
        return next((self._running[name] for name in BY_WEIGHT if name in self._running), None)

    def set_busy(self, name: str, busy: bool, cancellable: bool = False) -> bool:
        """A job has begun or ended; returns whether that is news."""
        if busy == (name in self._running):
            return False
        if busy:
            self._running[name] = Job(name, cancellable=cancellable)
        else:
            del self._running[name]
        return True

    def tell(self, name: str, step: str, share: float) -> None:
        """How far a job is."""
        if name in self._running:
            self._running[name] = Job(name, share, self._running[name].cancellable, step)

    def clear(self) -> None:
        """Nothing runs."""
        self._running.clear()
