"""Looking at orientations: the card with map and short list, and the view with the part as it would hang."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ventplanner.ui.card_mode import CardMode

if TYPE_CHECKING:
    from ventplanner.app.orientations import Place
    from ventplanner.orienting.model import Search
    from ventplanner.plan.model import Point
    from ventplanner.ui.orient.card import OrientCard
    from ventplanner.ui.view.posing import Posing
    from ventplanner.ui.view.view import View
    from ventplanner.ui.window import MainWindow


class Orienting(CardMode):
    """From the command on until it ends. What is looked at is only shown; `use` alone turns the part, as one edit."""

    card: OrientCard | None

    def __init__(self, window: MainWindow) -> None:
        super().__init__(window)
        self._view: Posing | None = None
        self._looked: tuple[Search, Place] | None = None
        for name in ("standing", "hanging"):
            window.actions_by_name[name].triggered.connect(self._follow)

    @property
    def now(self) -> Place | None:
        """The present orientation; None as long as nothing is known of it."""
        found, state = self._found, self._session.state
        if found is None or state is None:
            return None
        from ventplanner.app.orientations import now_in

        return now_in(found, state, self._session.present_orientation)

    @property
    def looked(self) -> Place | None:
        """The orientation that is looked at: the present one, unless another was chosen."""
        from ventplanner.app.orientations import is_same

        now = self.now
        # A place of another search is none of this one: its figures and its number would be wrong.
        if now is None or self._looked is None or self._looked[0] is not self._found:
            return now
        # As soon as it is used, more is known of it than the map told.
        return now if is_same(self._looked[1].pose, now.pose) else self._looked[1]

    def look_at(self, direction: Point) -> None:
        """Look at a direction of the map."""
        found, state = self._found, self._session.state
        if found is None or state is None:
            return
        from ventplanner.app.orientations import there

        self._look((found, there(found, direction, state.pose)))

    def take(self, number: int) -> None:
        """Look at one of the short list, counted from 1; 0: the present orientation."""
        found = self._found
        if found is None:
            return
        from ventplanner.app.orientations import short_list

        places = short_list(found)
        if 0 <= number <= len(places):
            self._look((found, places[number - 1]) if number else None)

    def use(self) -> None:
        """Turn the part as it is looked at, as one edit."""
        looked = self.looked
        if looked is not None:
            self._session.set_pose(looked.pose)

    @property
    def _found(self) -> Search | None:
        return self._session.orientations if self.is_on else None

    def _enter(self, view: View | None) -> None:
        self._looked = None
        if view is not None:
            from ventplanner.ui.view.posing import Posing  # comes with the view

            self._view = Posing(view)
        self._session.look_for_orientations()

    def _leave(self, *, same_part: bool) -> None:
        self._looked = None
        self._session.stop_orienting()
        if self._view is not None:
            self._view.end()
        self._view = None

    def _new_card(self) -> OrientCard:
        from ventplanner.ui.orient.card import OrientCard  # made when it is first asked for

        return OrientCard(self._session, self)

    def _look(self, looked: tuple[Search, Place] | None) -> None:
        self._looked = looked
        self._follow()
        if self._has_card:
            self._window.card.show_session()  # which makes room for what the card says now

    def _follow_part(self) -> None:
        """Show the part as it is looked at."""
        state, findings = self._session.state, self._session.findings
        if self._view is not None and state is not None and findings is not None:
            looked = self.looked
            wanted = state.pose if looked is None else looked.pose
            corners = np.zeros((0, 3)) if self._found is None else self._found.corners
            self._view.show(findings, wanted, corners, decided=wanted == state.pose)
