"""Looking at orientations: the card with map and short list, and the view with the part as it would hang."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

if TYPE_CHECKING:
    from ventplanner.app.orientations import Place
    from ventplanner.orienting.model import Search
    from ventplanner.plan.model import Point
    from ventplanner.ui.orient.card import OrientCard
    from ventplanner.ui.view.posing import Posing
    from ventplanner.ui.window import MainWindow


class Orienting(QObject):
    """From the command on until it ends. What is looked at is only shown; `use` alone turns the part, as one edit."""

    def __init__(self, window: MainWindow) -> None:
        super().__init__(window)
        self._window, self._session = window, window.session
        self._view: Posing | None = None
        self._part: object = None
        self._looked: tuple[Search, Place] | None = None
        self.card: OrientCard | None = None
        for news in (window.session.changed, window.session.stepped):
            news.connect(self._follow)
        window.session.selection_changed.connect(self._selected)
        for name in ("standing", "hanging"):
            window.actions_by_name[name].triggered.connect(self._follow)

    @property
    def is_on(self) -> bool:
        """Whether orientations are looked at, or awaited."""
        return self._part is not None

    @property
    def now(self) -> Place | None:
        """The present orientation; None as long as nothing is known of it."""
        found, state = self._found, self._session.state
        if found is None or state is None:
            return None
        from ventplanner.app.orientations import found_for

        return found_for(found, state.pose)

    @property
    def looked(self) -> Place | None:
        """The orientation that is looked at: the present one, unless another was chosen."""
        # A place of another search is none of this one: its figures and its number would be wrong.
        return self._looked[1] if self._looked is not None and self._looked[0] is self._found else self.now

    def switch(self) -> None:
        """Begin; bring back the card, if another one stands in its place; else end."""
        if self.is_on and self._has_card:
            self.end()
        elif self.is_on:
            self._session.select("")
            self._show_card()
        else:
            self._begin()

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

    def end(self) -> bool:
        """Everything as before; False if it was not on."""
        if not self.is_on:
            return False
        self._part, self._looked = None, None
        self._session.stop_orienting()
        if self._view is not None:
            self._view.end()
        if self._has_card:
            self._window.card.unpin()
        self.card = self._view = None
        self._window.refresh_commands()
        return True

    @property
    def _found(self) -> Search | None:
        return self._session.orientations if self.is_on else None

    @property
    def _has_card(self) -> bool:
        return self.card is not None and self._window.card.card is self.card

    def _begin(self) -> None:
        state, view = self._session.state, self._window.stage.view
        if state is None:
            return
        self._window.draining.end()
        self._session.select("")
        self._part, self._looked = state.solid, None
        if view is not None:
            from ventplanner.ui.view.posing import Posing  # comes with the view

            self._window.stage.set_printed(None)
            self._view = Posing(view)
        self._session.look_for_orientations()
        self._show_card()
        self._window.refresh_commands()

    def _show_card(self) -> None:
        from ventplanner.ui.orient.card import OrientCard  # made when it is first asked for

        self.card = OrientCard(self._session, self)
        self._window.card.show_card(self.card)

    def _look(self, looked: tuple[Search, Place] | None) -> None:
        self._looked = looked
        self._follow()
        if self._has_card:
            self._window.card.show_session()  # which makes room for what the card says now

    def _selected(self) -> None:
        """Back from a vent to nothing: to the orientations."""
        if self.is_on and not self._session.selected and not self._has_card:
            self._show_card()

    def _follow(self) -> None:
        """Show the part as it is looked at; a part that is gone, or another one in its place, ends it."""
        if not self.is_on:
            return
        state, findings = self._session.state, self._session.findings
        if state is None or state.solid is not self._part:
            self.end()
            return
        if self._view is not None and findings is not None:
            looked = self.looked
            wanted = state.pose if looked is None else looked.pose
            self._view.show(findings.scene.frame.rotation, wanted.rotation, decided=wanted == state.pose)
