"""Progress and cancel as a plain argument.

A long function takes `progress: Progress = silent`, calls `progress(phase, share)` with a short phase name and the
share of that phase done (0..1), and lets whatever the callback raises (usually `errors.Cancelled`) pass through.
"""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[str, float], None]


def silent(phase: str, share: float) -> None:
    """Progress that goes nowhere."""
