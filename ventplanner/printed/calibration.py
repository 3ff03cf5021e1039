"""Calibration: a test piece with holes of graded size, and a profile fitted to which of them printed open.

The test piece is a trough on its side, printed flat on the plate: its open front lets every hole be looked through or
tried with a wire. In columns along x, one for each of SIZES_MM, stand three holes: in the roof an upright round one,
in the back wall a sideways one, and in the floor an upright one through the base layers. Behind each hole of the roof
as many pits are sunk as the number of its column.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
from scipy.optimize import brentq
from scipy.special import erfc

from ventplanner.errors import ParameterError
from ventplanner.geometry.boolean import Cutter
from ventplanner.geometry.cylinder import cylinder
from ventplanner.geometry.solid import FloatArray, IntArray, Solid
from ventplanner.physics.curing import closes_below, summed_ratio
from ventplanner.printed import sizes
from ventplanner.printed.model import Fitted
from ventplanner.profile import Profile
from ventplanner.profile_parameters import PROFILE_PARAMETERS

SIZES_MM = sizes.SIZES_MM
"""Diameters of the holes in each row, from the first column to the last."""

COLUMN_MM, END_MM = 3.2, 2.5
"""Width of a column of holes, and of the massive ends."""

DEPTH_MM, BACK_MM, FLOOR_MM, ROOF_MM, INSIDE_MM = 12.0, 2.0, 1.2, 2.0, 3.0
"""The trough's depth, and thickness of its back, floor and roof; its clear height."""

ROOF_ROW_MM, FLOOR_ROW_MM = 2.5, 7.0
"""How far behind the front the holes of the roof and of the floor stand."""

PIT_MM, PIT_DEPTH_MM, PIT_STEP_MM = 0.7, 0.8, 1.2
"""Diameter and depth of the pits that count the columns, and their distance."""

DECIMALS = 3
"""Fitted lengths are rounded to this many decimals of a mm: far finer than graded holes can tell."""

HEIGHT_MM = FLOOR_MM + INSIDE_MM + ROOF_MM


def test_piece() -> Solid:
    """The test piece, closed, standing on z = 0 with its front towards -y; mm."""
    length = 2.0 * END_MM + COLUMN_MM * len(SIZES_MM)
    body = _block((0.0, 0.0, 0.0), (length, DEPTH_MM, HEIGHT_MM))
    roof = FLOOR_MM + INSIDE_MM
    tools = [_block((END_MM, -1.0, FLOOR_MM), (length - END_MM, DEPTH_MM - BACK_MM, roof))]
    for k, size in enumerate(SIZES_MM):
        x, radius = END_MM + (k + 0.5) * COLUMN_MM, 0.5 * size
        middle = FLOOR_MM + 0.5 * INSIDE_MM
        tools += [
            cylinder((x, ROOF_ROW_MM, roof - 0.5), (x, ROOF_ROW_MM, HEIGHT_MM + 0.5), radius),
            cylinder((x, FLOOR_ROW_MM, -0.5), (x, FLOOR_ROW_MM, FLOOR_MM + 0.5), radius),
            cylinder((x, DEPTH_MM - BACK_MM - 0.5, middle), (x, DEPTH_MM + 0.5, middle), radius),
            *_pits(x, k + 1),
        ]
    cut = Cutter(*body).cut(tools)
    faces = np.vstack((body[1][cut.kept], cut.new_faces))
    return Solid(np.vstack((body[0], cut.new_vertices)), np.ascontiguousarray(faces, dtype=np.int32)).compact()


def _pits(x: float, count: int) -> list[tuple[FloatArray, IntArray]]:
    """Pits in the roof, in pairs from the front to the back."""
    first = ROOF_ROW_MM + 2.0
    found = []
    for k in range(count):
        at = x + (0.5 if k % 2 else -0.5) * PIT_STEP_MM, first + (k // 2) * PIT_STEP_MM
        found.append(cylinder((*at, HEIGHT_MM - PIT_DEPTH_MM), (*at, HEIGHT_MM + 0.5), 0.5 * PIT_MM))
    return found


def _block(low: tuple[float, float, float], high: tuple[float, float, float]) -> tuple[FloatArray, IntArray]:
    corners = np.array([[(low, high)[(c >> axis) & 1][axis] for axis in range(3)] for c in range(8)])
    quads = ((0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5))
    faces = [f for a, b, c, d in quads for f in ((a, b, c), (a, c, d))]
    return corners, np.array(faces, dtype=np.int32)


def round_closes_below(profile: Profile) -> float:
    """Diameter in mm up to which an upright hole prints closed under very many layers: its middle just cures."""
    dose = summed_ratio(profile.penetration_mm, profile.exposure_ratio, profile.layer_height_mm)
    return closes_below(profile.blur_mm, dose) if dose > 1.0 else 0.0


def sideways_closes_below(profile: Profile) -> float:
    """Diameter in mm up to which a sideways hole prints closed: all of its upright middle line cures.

    The dose there is that of every layer above, a slit as wide as the hole is in that layer: its light reaches the
    middle from both sides, erfc(c / (blur sqrt 2)) with c half its width; above the hole it is whole.
    """

    def spare(diameter: float) -> float:
        return 1.0 - float(_line_dose(profile, diameter).min(initial=np.inf))

    return _root(spare, 1e-3, 20.0)


def base_closes_below(profile: Profile) -> float:
    """Diameter in mm up to which an upright hole through the base layers prints closed in one of them."""

    def spare(diameter: float) -> float:
        return 1.0 - float(_base_dose(profile, diameter).max(initial=0.0))

    return _root(spare, 1e-3, 50.0)


def _line_dose(profile: Profile, diameter: float) -> FloatArray:
    """Dose down the middle line of a sideways hole, at the middles of layers laid from its middle both ways."""
    layer, radius = profile.layer_height_mm, 0.5 * diameter
    above = max(1, math.ceil(20.0 * profile.penetration_mm / layer))
    half = max(1, math.ceil(radius / layer))
    z = (np.arange(-half, half + above) + 0.5) * layer
    c = np.sqrt(np.maximum(radius**2 - z**2, 0.0))
    share = erfc(c / (profile.blur_mm * math.sqrt(2.0))) if profile.blur_mm > 0.0 else np.zeros(len(z))
    share[np.abs(z) >= radius] = 1.0
    doses = _down(profile.exposure_ratio * share, layer, profile.penetration_mm)
    return np.asarray(doses[np.abs(z) < radius])


def _base_dose(profile: Profile, diameter: float) -> FloatArray:
    """Dose on the axis of an upright hole, in each base layer."""
    layer = profile.layer_height_mm
    n = profile.base_layers + max(1, math.ceil(20.0 * profile.penetration_mm / layer))
    ratio = np.array([profile.exposure_of(k) for k in range(n)])
    spread = np.where(np.arange(n) < profile.base_layers, profile.base_spread_mm, 0.0)
    left = np.maximum(0.5 * diameter - spread, 0.0)
    share = np.exp(-(left**2) / (2.0 * profile.blur_mm**2)) if profile.blur_mm > 0.0 else (left == 0.0).astype(float)
    return _down(ratio * share, layer, profile.penetration_mm)[: profile.base_layers]


def _down(light: FloatArray, layer: float, penetration: float) -> FloatArray:
    """Dose in the middle of each layer of the light of that layer and all above."""
    through = math.exp(-layer / penetration)
    out, dose = np.empty(len(light)), 0.0
    for k in range(len(light) - 1, -1, -1):
        dose = through * dose + math.sqrt(through) * float(light[k])
        out[k] = dose
    return out


def _root(rising: Callable[[float], float], low: float, high: float) -> float:
    """Where a rising function passes 0: `low` or `high` if it does not between them."""
    if rising(low) >= 0.0:
        return low
    return high if rising(high) <= 0.0 else float(brentq(rising, low, high, xtol=1e-4))


def fit(
    profile: Profile, smallest_open_round: float | None, smallest_open_sideways: float | None,
    smallest_open_base: float | None = None,
) -> Fitted:  # fmt: skip
    """A profile whose light spread, penetration depth and base spread close what a printed test piece has closed.

    Each argument: the smallest size of SIZES_MM that printed open in that row, in mm; None if it was not looked at. The
    limit of closing is put midway to the next smaller size. The exposure ratio is kept as it is: closed holes tell the
    light's reach only together with it. Raises ParameterError for a size that the test piece does not have.
    """
    notes: list[str] = []
    upright, sideways, base = (
        _limit(size, row, notes)
        for size, row in (
            (smallest_open_round, "roof"),
            (smallest_open_sideways, "back"),
            (smallest_open_base, "floor"),
        )
    )
    fitted = profile
    if sideways is not None:
        fitted = _with_penetration(fitted, upright, sideways, notes)
    if upright is not None:
        fitted = _with_blur(fitted, upright, notes)
    if base is not None:
        fitted = _with_base_spread(fitted, base, notes)
    return Fitted(fitted, tuple(notes))


def _limit(size: float | None, row: str, notes: list[str]) -> float | None:
    """Diameter in mm up to which a row's holes close; None if that cannot be told."""
    if size is None:
        notes.append(f"The row in the {row} was not looked at: what it would tell is kept as it was.")
        return None
    place = next((k for k, s in enumerate(SIZES_MM) if abs(s - size) < 1e-6), -1)
    if place < 0:
        known = ", ".join(f"{s:g}" for s in SIZES_MM)
        raise ParameterError(f"The test piece has no hole of {size:g} mm.", f"Give one of {known}.")
    if place == 0:
        notes.append(f"All holes in the {row} are open: they only tell an upper limit, so that is kept as it was.")
        return None
    return 0.5 * (SIZES_MM[place - 1] + SIZES_MM[place])


def _with_blur(profile: Profile, limit: float, notes: list[str]) -> Profile:
    name, fitted = "light spread", _solved(profile, "blur_mm", limit, round_closes_below)
    return _noted(profile, fitted, name, "upright holes of the roof", notes)


def _with_penetration(profile: Profile, upright: float | None, limit: float, notes: list[str]) -> Profile:
    """Penetration from the sideways holes, each time with the light spread that the upright ones ask for."""

    def closes(tried: Profile) -> float:
        spread = tried if upright is None else _solved(tried, "blur_mm", upright, round_closes_below)
        return sideways_closes_below(spread or tried)

    fitted = _solved(profile, "penetration_mm", limit, closes)
    return _noted(profile, fitted, "penetration depth", "sideways holes of the back", notes)


def _with_base_spread(profile: Profile, limit: float, notes: list[str]) -> Profile:
    name = "spread of base layers"
    if profile.base_layers == 0:
        notes.append(f"The {name} cannot be told: the profile has no base layers.")
        return profile
    fitted = _solved(profile, "base_spread_mm", limit, base_closes_below)
    return _noted(profile, fitted, name, "upright holes of the floor", notes)


def _solved(profile: Profile, field: str, limit: float, closes: Callable[[Profile], float]) -> Profile | None:
    """The profile whose holes close up to `limit`, by one number of it; None if no allowed value does that."""
    span = PROFILE_PARAMETERS[field]
    low, high = float(span.lowest or 0.0), float(span.highest or 0.0)

    def having(value: float) -> Profile:
        changed: dict[str, Any] = {field: value}
        return replace(profile, **changed)

    def above(value: float) -> float:
        return closes(having(value)) - limit

    if above(low) > 0.0 or above(high) < 0.0:
        return None
    return having(round(float(brentq(above, low, high, xtol=1e-5)), DECIMALS))


def _noted(before: Profile, after: Profile | None, name: str, told_by: str, notes: list[str]) -> Profile:
    if after is None:
        notes.append(f"The {name} cannot be told: no allowed value closes what closed of the {told_by}.")
        return before
    field = next(f for f, p in PROFILE_PARAMETERS.items() if p.label == name)
    value = getattr(after, field)
    notes.append(f"The {name} is {value:g} mm, from the {told_by}; before it was {getattr(before, field):g} mm.")
    return after
