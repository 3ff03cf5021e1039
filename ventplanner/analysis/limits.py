"""What is too small, too large, too flat or too fine to work on: refused before it costs an hour or all the memory."""

from __future__ import annotations

import math

import numpy as np

from ventplanner.errors import MeshError, ParameterError
from ventplanner.geometry.pose import Pose
from ventplanner.geometry.solid import Solid

LEAST_MM, MOST_MM = 0.5, 5_000.0
"""Largest extent of a part that is worked on. Nothing smaller can be printed hollow, nothing larger at all (own
judgement); the file's unit is another one then. The pitch chosen for 5 m is within what `--pitch` allows."""

FLAT_SHARE = 1e-6
"""A part thinner than this share of its largest extent is a sheet: single precision tells no thickness from none."""

MOST_COLUMNS = 10_000_000
"""Columns at a pitch that the user asks for. A column takes about 0.35 kB (measured with 1 to 9 million columns)."""

BYTES_PER_COLUMN = 350


def checked_part(solid: Solid) -> Solid:
    """The part without vertices that no face uses.

    Raises ParameterError for a size that cannot be meant, MeshError for a part without triangles or without thickness.
    """
    low, high = solid.bounds
    extents = high - low
    largest = float(extents.max())
    if largest == 0.0:
        raise MeshError(
            f"{_name(solid)}: all points of the part are the same.", "Export the part again from its source."
        )
    if not LEAST_MM <= largest <= MOST_MM:
        raise _not_meant(solid, largest)
    if float(extents.min()) <= FLAT_SHARE * largest:
        raise MeshError(
            f"{_name(solid)}: the part is flat, without any thickness along {'xyz'[int(extents.argmin())]}.",
            "Give it a thickness where it was made, then export it again.",
        )
    return solid.compact()


def _not_meant(solid: Solid, largest: float) -> ParameterError:
    unit = solid.source.unit_assumed
    wrong, others = ("small", "cm, inch or m") if largest < LEAST_MM else ("large", "mm, cm or inch")
    if unit == ("m" if wrong == "small" else "mm"):  # no other unit of --unit would make it better
        way_out = "Scale the part, or remove what lies far away from it, where it was made."
    else:
        way_out = f"Give the unit of the file ({others}; --unit), or scale the part."
    return ParameterError(
        f"{_name(solid)}: read as {unit}, the part is {largest:.3g} mm across, too {wrong} for any print"
        f" ({LEAST_MM:g} mm to {MOST_MM / 1000:g} m).",
        way_out,
    )


def check_pitch(solid: Solid, pose: Pose, pitch_mm: float | None) -> None:
    """Refuse a pitch that needs more columns than a usual computer has memory for: ParameterError."""
    if pitch_mm is None:
        return
    wide, deep = (float(np.ptp(solid.used_vertices @ axis)) for axis in pose.rotation[:2])
    columns = wide * deep / pitch_mm**2
    if columns > MOST_COLUMNS:
        finest = math.ceil(100.0 * pitch_mm * math.sqrt(columns / MOST_COLUMNS)) / 100.0
        raise ParameterError(
            f"A pitch of {pitch_mm:g} mm needs {columns / 1e6:.0f} million columns for this part, about"
            f" {columns * BYTES_PER_COLUMN / 1e9:.0f} GB of memory.",
            f"Give {finest:g} mm or more (--pitch).",
        )


def _name(solid: Solid) -> str:
    return solid.source.path or "The part"
