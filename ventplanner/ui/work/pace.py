"""How much longer a job takes: nothing is said until there is enough to go by, and what is said is calm."""

from __future__ import annotations

import time
from collections.abc import Callable

ENOUGH_S, ENOUGH_SHARE, ENOUGH_NEWS = 2.0, 0.08, 3
"""So long a job has to run, so much of it has to be done, and so often that must have been told."""

AGREED = 1.6
"""Two estimates in a row that differ by more than this factor are no ground to say anything."""

CALM_S = 3.0
"""Time constant of the smoothing."""


class Pace:
    """Takes the shares of a job as they are told, and estimates the seconds that are left.

    The estimate is the time so far over the share so far, smoothed. It assumes that the shares are about equally
    fast, which they are not exactly: so it is told in round numbers, and not at all while it still swings.
    """

    def __init__(self, now: Callable[[], float] = time.monotonic) -> None:
        self._now = now
        self._begin()

    def _begin(self) -> None:
        self._since = self._now()
        self._share, self._news = 0.0, 0
        self._calm: float | None = None
        self._looked_at = self._since
        self._steady = False

    def tell(self, share: float) -> None:
        """So much is done. A share that falls belongs to another step of the work: it is timed anew."""
        if not 0.0 <= share <= 1.0 or share < self._share:
            self._begin()
        if share > self._share:
            self._share = share
            self._news += 1
            self._look()

    @property
    def left_s(self) -> float | None:
        """Seconds that are left, or None as long as that cannot be said."""
        self._look()
        return self._calm if self._steady else None

    def _look(self) -> None:
        now = self._now()
        so_far, step = now - self._since, now - self._looked_at
        if so_far < ENOUGH_S or self._share < ENOUGH_SHARE or self._news < ENOUGH_NEWS:
            return
        raw = so_far * (1.0 - self._share) / self._share
        self._looked_at = now
        if self._calm is None:
            self._calm = raw
            return
        expected = max(self._calm - step, 0.0)
        weight = step / (step + CALM_S)
        self._steady = max(raw, expected) + 1.0 <= AGREED * (min(raw, expected) + 1.0)
        self._calm = expected + weight * (raw - expected)


def in_words(seconds: float) -> str:
    """ "about 20 s left", in numbers as round as they are sure."""
    if seconds < 5.0:
        return "a few seconds left"
    if seconds < 57.5:
        return f"about {5 * round(seconds / 5.0)} s left"
    if seconds < 90.0:
        return "about 1 min left"
    return f"about {round(seconds / 60.0)} min left"
