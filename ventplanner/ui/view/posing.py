"""The view while orientations are looked at: the part turned as it would hang, before anything is decided."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from ventplanner.geometry.solid import FloatArray
from ventplanner.plan.model import Point
from ventplanner.ui.view.shown import Laid, plate_below

if TYPE_CHECKING:
    from ventplanner.analysis.findings import Findings
    from ventplanner.geometry.pose import Pose
    from ventplanner.ui.view.eye import Eye
    from ventplanner.ui.view.view import View

_OVER = np.diag([-1.0, 1.0, -1.0])
_SAME = 1e-9

LOOKED_AT = "Not turned yet"

Stance = tuple[Point, Point, Point]


class Posing:
    """Turns the eye of a view about its part: its build axes, and all that is drawn in them, stay what they are."""

    def __init__(self, view: View) -> None:
        self._view = view

    def show(self, drawn: Findings, wanted: Pose, corners: FloatArray, *, decided: bool) -> None:
        """The part as it hangs in another pose, with its plate. drawn: of the part in the pose that it is drawn in;
        corners: (k, 3) of its convex hull in the file's axes, none: no plate. decided: the part has the pose, and will
        be drawn so."""
        frame, has = drawn.scene.frame, drawn.pose
        stance = stance_of(frame.rotation, wanted.rotation, self._view.eye.hanging)
        if stance is None and has.on == wanted.on and (has.on == "plate" or has.gap_mm == wanted.gap_mm):
            self._turn(None, "", None)
            return
        laid = None
        if len(corners):
            laid = laid_under(frame.to_build(corners), wanted.rotation @ frame.rotation.T, wanted)
        self._turn(stance, "" if decided else LOOKED_AT, laid)

    def end(self) -> None:
        """The part as it hangs."""
        self._turn(None, "", None)

    def _turn(self, stance: Stance | None, told: str, laid: Laid | None) -> None:
        view = self._view
        is_other = not _is_same(view.eye, stance)
        if (told, laid) != (view.shown.posed, view.shown.laid):
            view.sheet_shows(posed=told, laid=laid)
            is_other = True
        if is_other:
            view.turn_to(replace(view.eye, stance=stance))
            view.frames.draw(view.shown)


def laid_under(corners: FloatArray, turn: FloatArray, pose: Pose) -> Laid:
    """The plate of a pose. corners: (k, 3) build points of the part as it is drawn; turn: (3, 3) from there to the
    build axes of the pose."""
    held = corners @ turn.T
    low, high = held.min(axis=0), held.max(axis=0)
    rectangle = plate_below(low, high, float(low[2]) - (pose.gap_mm if pose.on == "supports" else 0.0)) @ turn
    a, b, c, d = ((float(x), float(y), float(z)) for x, y, z in rectangle)
    return Laid((a, b, c, d), pose.on, pose.gap_mm)


def stance_of(drawn: FloatArray, wanted: FloatArray, hanging: bool) -> Stance | None:
    """Rows of the rotation from the build axes that are drawn to the room in which the part has the wanted pose; None
    if it has it."""
    turn = wanted @ drawn.T
    if np.abs(turn - np.eye(3)).max() < _SAME:
        return None
    x, y, z = ((float(a), float(b), float(c)) for a, b, c in (_OVER @ turn if hanging else turn))
    return x, y, z


def _is_same(eye: Eye, stance: Stance | None) -> bool:
    if eye.stance is None or stance is None:
        return eye.stance is stance
    return bool(np.allclose(eye.stance, stance, atol=_SAME))
