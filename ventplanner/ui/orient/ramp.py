"""The colours of the map: one sequence from pale straw (little) over grey to deep blue (much), in light and in dark.

It goes along the axis from yellow to blue, which the common kinds of colour blindness leave (Okabe & Ito 2008), and
each step is darker than the one before, so that it also reads in grey. Qt-free.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.solid import FloatArray

ANCHORS = ("#fff3c4", "#e3cf94", "#b3ab93", "#7d8a9c", "#476a99", "#163a70")
UNKNOWN = "#8b8b8b"
LEAST_SPAN = 0.05
"""The colours span at least this share of the most."""


def colours_of(values: FloatArray) -> NDArray[np.uint8]:
    """(n, 3) colours of values, least to most of those that are known."""
    shares = shares_of(values)
    anchors = np.array([[int(a[k : k + 2], 16) for k in (1, 3, 5)] for a in (*ANCHORS, UNKNOWN)], dtype=np.float64)
    known = np.isfinite(shares)
    along = np.where(known, shares, 0.0) * (len(ANCHORS) - 1)
    low = np.minimum(along.astype(int), len(ANCHORS) - 2)
    mixed = anchors[low] + (along - low)[:, None] * (anchors[low + 1] - anchors[low])
    return np.asarray(np.where(known[:, None], np.rint(mixed), anchors[-1]), dtype=np.uint8)


def shares_of(values: FloatArray) -> FloatArray:
    """(n,) where each value lies between the ends of the colours, 0 and 1; NaN if it is not known."""
    least, most = range_of(values)
    return (values - least) / (most - least) if most > least else np.where(np.isfinite(values), 0.0, np.nan)


def range_of(values: FloatArray) -> tuple[float, float]:
    """The ends of the colours: the least of those that are known, and the most, or a little more than that where all
    are nearly the same: what does not count is no contrast. Zeros if none is known."""
    known = values[np.isfinite(values)]
    if not len(known):
        return 0.0, 0.0
    least, most = float(known.min()), float(known.max())
    return least, max(most, least + LEAST_SPAN * abs(most))
