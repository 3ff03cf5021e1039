"""The two scales of the breathing chart, and its curves as points: arithmetic without Qt."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.solid import FloatArray
from ventplanner.ui.picture import Picture
from ventplanner.ui.view.eye import Mapping

LEAST_MM2 = 0.5
"""Less than this taken off by vents is no line of its own."""


@dataclass(frozen=True, eq=False)
class StackedBand:
    """One cavity's band: (n,) mm2 from `low` to `high` with the accepted vents, `outline` is its edge without vents.

    is_vented: (n,) bool, where vents take something off this cavity.
    """

    cavity: str
    colour: int
    low: FloatArray
    high: FloatArray
    outline: FloatArray
    is_vented: NDArray[np.bool_]


def stacked(picture: Picture) -> Iterator[StackedBand]:
    """The bands upon each other, in the order of the picture."""
    low = np.zeros(len(picture.heights))
    below = np.zeros(len(picture.heights))
    for band in picture.bands:
        high, outline = low + band.with_vents, below + band.without
        yield StackedBand(band.cavity, band.colour, low, high, outline, band.without > band.with_vents + LEAST_MM2)
        low, below = high, outline


def largest_area(picture: Picture) -> float:
    """mm2 that the scale must reach: without vents, so that it stays the same while vents are accepted."""
    if not picture.bands or not len(picture.heights):
        return 0.0
    before = np.sum([band.without for band in picture.bands], axis=0)
    after = np.sum([band.with_vents for band in picture.bands], axis=0)
    return float(max(before.max(), after.max()))


def area_ticks(largest: float, room_px: float) -> tuple[float, ...]:
    """Round areas from 0 up to the largest or the next one beyond it, as far apart as their figures need."""
    if largest <= 0:
        return (0.0,)
    least_px = 36.0 if largest < 1000 else 48.0
    least = largest * least_px / max(room_px, least_px)
    ten = 10.0 ** np.floor(np.log10(least))
    step = float(next(m * ten for m in (1, 2, 3, 5, 10) if m * ten >= least * (1 - 1e-9)))
    return tuple(step * k for k in range(int(np.ceil(largest / step - 1e-9)) + 1))


def own_mapping(picture: Picture, pixels: int, hanging: bool, margins: tuple[int, int]) -> Mapping:
    """The whole height, plate and all, between two margins (above, below): when the view beside it is tilted."""
    low, high = min(0.0, picture.plate_at), max(picture.height, 1e-6)
    above, below = margins
    per_px = (high - low) / max(pixels - above - below, 20)
    if hanging:
        top = low - above * per_px
        return Mapping(top, top + pixels * per_px, False, pixels)
    top = high + above * per_px
    return Mapping(top, top - pixels * per_px, False, pixels)
