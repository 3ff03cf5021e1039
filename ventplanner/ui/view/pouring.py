"""The view while the pour plan is played: the part as a person holds it, the liquid in it, where it runs out."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from ventplanner.ui.picture import Mesh
from ventplanner.ui.view.eye import Eye

if TYPE_CHECKING:
    from ventplanner.app.pouring import Scene, Stance
    from ventplanner.plan.model import Point
    from ventplanner.ui.view.view import View

ELEVATION_DEG = 14.0
"""The part is looked at from a little above: a level that is seen edge on is but a line."""


class Pouring:
    """Puts scenes into a view, and the view back to how it was."""

    def __init__(self, view: View) -> None:
        self._view = view
        self._before: tuple[Eye, bool] | None = None

    @property
    def is_on(self) -> bool:
        """Whether the view shows a pour plan, or waits for one."""
        return self._before is not None

    def begin(self) -> None:
        """Look at the part as it hangs, from a little above, with its cavities like glass."""
        if self._before is None:
            self._before = self._view.eye, self._view.is_fitted
            self._view.turn_to(replace(self._view.eye, elevation=ELEVATION_DEG))
            self.show(None)

    def as_seen(self) -> Stance:
        """How the part is held if down is down in the picture, which stays as it is: it is looked at from a little
        above the horizon then."""
        view, level = self._view, Eye(elevation=ELEVATION_DEG)
        held = level.axes.T @ view.eye.axes
        x, y, z = ((float(a), float(b), float(c)) for a, b, c in held)
        view.turn_to(replace(view.eye, azimuth=0.0, elevation=ELEVATION_DEG, stance=(x, y, z), hanging=False))
        return x, y, z

    def show(self, scene: Scene | None, hints: tuple[tuple[Point, str], ...] = ()) -> None:
        """This step; None: nothing is known, the part stays as it is held. hints: build points where a vent would help,
        each with a word."""
        view = self._view
        mesh = None if scene is None else Mesh("", scene.liquid.vertices, scene.liquid.faces)
        view.frames.tell(lambda stage: stage.set_liquid(mesh, through=True))
        view.sheet_shows(streams=() if scene is None else tuple((s.at, s.name) for s in scene.streams), hints=hints)
        if scene is not None:
            hangs = scene.on_plate
            held = None if hangs else scene.stance
            if (held, hangs) != (view.eye.stance, view.eye.hanging and view.eye.stance is None):
                view.turn_to(replace(view.eye, stance=held, hanging=hangs))
        view.frames.draw(view.shown)

    def end(self, hanging: bool, *, same_part: bool = True) -> None:
        """Everything as it was before; of another part, level and fitted."""
        view, before, self._before = self._view, self._before, None
        if before is None:
            return
        view.frames.tell(lambda stage: stage.set_liquid(None))
        view.sheet_shows(streams=(), hints=())
        eye, was_fitted = before
        if not same_part:
            eye, was_fitted = replace(view.eye, stance=None, elevation=0.0), True
        view.look_from(eye.turned_over(hanging).resized(view.width(), view.height()), by_user=not was_fitted)
        if was_fitted:
            view.is_fitted = True
            view.fit()
        view.frames.draw(view.shown)
