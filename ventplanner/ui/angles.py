"""Directions as people give them: two angles in degrees instead of three numbers of a unit vector."""

from __future__ import annotations

import math

import numpy as np

from ventplanner.geometry.pose import Pose
from ventplanner.plan.model import Point


def slope_and_heading(axis: Point, pose: Pose) -> tuple[float, float]:
    """Degrees by which a drill rises on its way in (build height grows), and its heading around the build axis.

    The heading counts from build x towards build y, 0 to 360; it is 0 for an upright drill.
    """
    x, y, z = (float(v) for v in pose.rotation @ np.asarray(axis, dtype=np.float64))
    level = math.hypot(x, y)
    heading = math.degrees(math.atan2(y, x)) % 360.0 if level > 1e-9 else 0.0
    return math.degrees(math.atan2(z, level)), _tidy(heading)


def axis_of(slope: float, heading: float, pose: Pose) -> Point:
    """The unit vector, in the file's axes, with this slope and heading."""
    up, turn = math.radians(slope), math.radians(heading)
    build = np.array([math.cos(up) * math.cos(turn), math.cos(up) * math.sin(turn), math.sin(up)])
    x, y, z = (float(v) for v in pose.rotation.T @ build)
    return (x, y, z)


def tilt_and_turn(to_plate: Point) -> tuple[float, float]:
    """Degrees between a direction and the file's -z, and the side it leans to, counted from x towards y."""
    x, y, z = to_plate
    side = math.hypot(x, y)
    turn = math.degrees(math.atan2(y, x)) % 360.0 if side > 1e-9 else 0.0
    return math.degrees(math.atan2(side, -z)), _tidy(turn)


def to_plate_of(tilt: float, turn: float) -> Point:
    """The direction with this tilt from the file's -z and this turn; axes come out exact."""
    a, b = math.radians(tilt), math.radians(turn)
    x, y, z = math.sin(a) * math.cos(b), math.sin(a) * math.sin(b), -math.cos(a)
    return (_snap(x), _snap(y), _snap(z))


def _snap(value: float) -> float:
    nearest = float(round(value))
    return nearest if abs(value - nearest) < 1e-12 else value


def _tidy(degrees: float) -> float:
    return 0.0 if degrees > 360.0 - 1e-9 else degrees
