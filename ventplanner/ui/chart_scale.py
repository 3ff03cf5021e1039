"""The two scales of the breathing chart, and its curves as points: arithmetic without Qt."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.solid import FloatArray
from ventplanner.ui.picture import Band, Picture, ShownSections
from ventplanner.ui.view.eye import Mapping

Quantity = Literal["area", "suction", "force", "section"]
QUANTITIES: tuple[Quantity, ...] = ("area", "suction", "force", "section")

Source = Literal["model", "printed", "awaited", "unknown"]
"""Curves in the model, or as printed; or in the model as long as those that are wanted, as printed, are being worked
out, or are not."""

AXIS_PX, RIGHT_PX, FOOT_PX, TITLE_PX = 50, 22, 40, 34

ROOM_BEYOND_LIMIT = 1.6
"""The scale of suction goes this much beyond the limit."""

ROOM_BEYOND_REACH = 1.1
"""And this much beyond the suction of what breathes; what is closed, or closed at first, is cut."""

SHARE_OF_LARGEST = 0.004
"""A change of suction or force smaller than this share of the largest is no line of its own."""

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


@dataclass(frozen=True, eq=False)
class Series:
    """One quantity of the chart. source: the bands that it was made from, to be compared by identity.

    heights: (n,) mm. largest: what the scale must reach; beyond it curves are cut. limit: a line, None for none.
    sealed: from this value on nothing but the pressure of the air ends it; None where there is no such thing.
    """

    source: tuple[Band, ...]
    heights: FloatArray
    bands: tuple[StackedBand, ...]
    least: float
    largest: float
    limit: float | None = None
    sealed: float | None = None


def seen_of(picture: Picture, as_printed: bool) -> tuple[Picture, Source]:
    """The picture with the curves that are wanted, if they are known; and what its curves are."""
    printed = picture.printed
    if not as_printed:
        return picture, "model"
    if printed is None:
        return picture, "awaited" if picture.printed_coming else "unknown"
    return replace(picture, heights=printed.heights, bands=printed.bands, flow=printed.flow), "printed"


def series(picture: Picture, quantity: Quantity) -> Series | None:
    """A quantity by height; None if it is not known."""
    if quantity == "area":
        return Series(picture.bands, picture.heights, tuple(stacked(picture)), LEAST_MM2, largest_area(picture))
    if quantity == "section":
        return None if picture.sections is None else _sections(picture.sections)
    flow = picture.flow
    if flow is None:
        return None
    source = flow.suction if quantity == "suction" else flow.force
    if quantity == "force":
        largest = _largest(source)
        bands = tuple(_upon_each_other(source, SHARE_OF_LARGEST * largest))
        return Series(source, flow.heights, bands, 0.0, largest)
    sealed = 0.999 * flow.air
    largest = min(max(ROOM_BEYOND_LIMIT * flow.limit, ROOM_BEYOND_REACH * flow.reach), flow.air)
    none = np.zeros(len(flow.heights))
    bands = tuple(
        StackedBand(
            b.cavity, b.colour, none, b.with_vents, b.without, b.without > b.with_vents + SHARE_OF_LARGEST * largest
        )
        for b in source
    )
    return Series(source, flow.heights, bands, 0.0, largest, flow.limit, sealed)


def _sections(shown: ShownSections) -> Series:
    """Material in each layer: filled as it is now, and before that was hollowed as the edge without."""
    (band,) = shown.bands
    none = np.zeros(len(shown.heights))
    taken = band.without > band.with_vents + LEAST_MM2
    stack = StackedBand(band.cavity, band.colour, none, band.with_vents, band.without, taken)
    return Series(shown.bands, shown.heights, (stack,), LEAST_MM2, _largest(shown.bands))


def stacked(picture: Picture) -> Iterator[StackedBand]:
    """The bands upon each other, in the order of the picture."""
    return _upon_each_other(picture.bands, LEAST_MM2)


def _upon_each_other(bands: tuple[Band, ...], least: float) -> Iterator[StackedBand]:
    low = below = np.zeros(len(bands[0].without)) if bands else np.zeros(0)
    for band in bands:
        high, outline = low + band.with_vents, below + band.without
        yield StackedBand(band.cavity, band.colour, low, high, outline, band.without > band.with_vents + least)
        low, below = high, outline


def largest_area(picture: Picture) -> float:
    """mm2 that the scale must reach: without vents, so that it stays the same while vents are accepted."""
    return _largest(picture.bands)


def _largest(bands: tuple[Band, ...]) -> float:
    if not bands or not len(bands[0].without):
        return 0.0
    before = np.sum([band.without for band in bands], axis=0)
    after = np.sum([band.with_vents for band in bands], axis=0)
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


def runs(where: NDArray[np.bool_]) -> list[slice]:
    """Stretches of True, one longer at both ends so that lines meet."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], np.asarray(where, dtype=np.int8), [0]))))
    last = len(where)
    return [slice(max(0, int(a) - 1), min(last, int(b) + 1)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
