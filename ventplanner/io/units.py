"""Length units of model files: factors to mm, and the way back that returns every coordinate of the file unchanged."""

from __future__ import annotations

from typing import get_args

import numpy as np
from numpy.typing import NDArray

from ventplanner.errors import ParameterError
from ventplanner.geometry.solid import Unit
from ventplanner.parameters import UNIT

MM_PER_UNIT: dict[Unit, float] = {"mm": 1.0, "cm": 10.0, "inch": 25.4, "m": 1000.0, "micron": 0.001, "foot": 304.8}

# Resin printers of today build from about 2 mm (a bead) to well below a metre; a hollow part below 12 mm is rare enough
# to ask (common practice, no source).
_LEAST_MM, _USUAL_MM, _MOST_MM = 2.0, 12.0, 1000.0
_LIKELY_MM = (5.0, 400.0)
# Multiplying and dividing round by half a unit in the last place each, relative to a mantissa of up to 2: two units.
_NEIGHBOURS = 2


def checked_unit(unit: str) -> Unit:
    """The unit itself when it is one of `Unit`. Raises ParameterError, which lists the known ones, otherwise."""
    for known in get_args(Unit):
        if unit == known:
            return known  # type: ignore[no-any-return]
    raise ParameterError(f"Unknown unit {unit!r}.", f"Use one of {', '.join(get_args(Unit))}.")


def unit_hint(extent_mm: float) -> str:
    """A sentence when the largest extent, read as mm, is small or unlikely for a printed part; else an empty string.

    Only units that the user can ask for are named.
    """
    if _USUAL_MM < extent_mm <= _MOST_MM:
        return ""
    likely = [
        f"{unit} ({extent_mm * MM_PER_UNIT[unit]:.4g} mm)"
        for unit in map(checked_unit, UNIT.choices)
        if unit != "mm" and _LIKELY_MM[0] <= extent_mm * MM_PER_UNIT[unit] <= _LIKELY_MM[1]
    ]
    what = "if that is too small, the file is" if extent_mm >= _LEAST_MM else "the file may be"
    perhaps = f"; {what} in {' or '.join(likely)}" if likely else "; check the unit of the file"
    return f"The file has no unit; read as mm the part is {extent_mm:.4g} mm across{perhaps}."


def to_mm(coordinates: NDArray[np.floating], mm_per_unit: float) -> NDArray[np.float64]:
    """File coordinates times the factor: float64 of the same shape; infinite where the product is too large."""
    with np.errstate(over="ignore", invalid="ignore"):  # what is not finite is refused later, with its place
        converted = coordinates.astype(np.float64)
        if mm_per_unit != 1.0:
            converted *= mm_per_unit
    return converted


def from_mm(vertices_mm: NDArray[np.float64], mm_per_unit: float, *, single: bool = False) -> NDArray[np.float64]:
    """File coordinates (float64, same shape) for vertices in mm: the inverse of `to_mm` as far as one exists.

    Plain division can miss by a few units in the last place. The value returned is therefore chosen among the
    quotient rounded to float32 (only with `single`, for parts whose coordinates were float32) or else to 15 digits,
    the quotient, and its nearest neighbours, in this order: the first that `to_mm` takes to the same mm. So a part
    that is written and read again is the same to the last bit, and a coordinate that was float32, or had up to
    15 digits in a text file, comes back as it was. (Two float64 of 16 and more digits can have the same product; then
    nothing can tell which it was.) A vertex made in mm may have no exact inverse; it gets the quotient.
    """
    if mm_per_unit == 1.0:
        return vertices_mm
    target = vertices_mm.ravel()
    quotient = target / mm_per_unit
    if single:
        with np.errstate(over="ignore"):
            rounded = quotient.astype(np.float32).astype(np.float64)
    else:
        rounded = np.array([float(f"{value:.15g}") for value in quotient.tolist()], dtype=np.float64)
    result = np.where(rounded * mm_per_unit == target, rounded, quotient)
    missed = np.flatnonzero(result * mm_per_unit != target)
    lower = upper = quotient[missed]
    for _ in range(_NEIGHBOURS):
        lower, upper = np.nextafter(lower, -np.inf), np.nextafter(upper, np.inf)
        for candidate in (lower, upper):
            fits = candidate * mm_per_unit == target[missed]
            result[missed[fits]] = candidate[fits]
    return result.reshape(vertices_mm.shape)
