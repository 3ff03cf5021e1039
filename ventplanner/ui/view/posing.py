"""The view while orientations are looked at: the part turned as it would hang, before anything is decided."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from ventplanner.geometry.solid import FloatArray
from ventplanner.plan.model import Point

if TYPE_CHECKING:
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

    def show(self, drawn: FloatArray, wanted: FloatArray, *, decided: bool) -> None:
        """The part as it hangs in another pose. drawn, wanted: (3, 3) rotations from the file's axes to the build axes
        of the pose that it is drawn in, and of the one to be seen. decided: the part has it, and will be drawn so."""
        stance = stance_of(drawn, wanted, self._view.eye.hanging)
        self._turn(stance, "" if decided or stance is None else LOOKED_AT)

    def end(self) -> None:
        """The part as it hangs."""
        self._turn(None, "")

    def _turn(self, stance: Stance | None, told: str) -> None:
        view = self._view
        if told != view.shown.posed:
            view.sheet_shows(posed=told)
        if not _is_same(view.eye, stance):
            view.turn_to(replace(view.eye, stance=stance))
            view.frames.draw(view.shown)


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
