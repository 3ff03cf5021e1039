"""What is done with the free section plane of a view: by its handle, by buttons, by numbers, by keys."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ventplanner.ui.view import plane
from ventplanner.ui.view.eye import Eye
from ventplanner.ui.view.plane import Facing, Handle
from ventplanner.ui.view.section import Section

if TYPE_CHECKING:
    from ventplanner.ui.view.view import View

STEP_MM, FINE_MM = 1.0, 0.1
"""A step of a key or of the wheel moves the plane so far; with Shift."""


class Cutting:
    """The hand of a view that holds the plane. Nothing is done while the picture is not cut open, unless said."""

    def __init__(self, view: View) -> None:
        self._view = view
        self._held: tuple[Section, Eye] | None = None

    @property
    def section(self) -> Section | None:
        """The plane."""
        return self._view.shown.section

    @property
    def is_held(self) -> bool:
        """True while the handle is dragged."""
        return self._held is not None

    @property
    def position(self) -> float:
        """Where the plane stands, mm from where the part begins in its direction; 0 without a plane."""
        return plane.position(self.section, self._view.shown.box) if self.section is not None else 0.0

    @property
    def reach(self) -> tuple[float, float]:
        """Positions at which the plane meets the part, mm."""
        return plane.reach(self.section, self._view.shown.box) if self.section is not None else (0.0, 0.0)

    @property
    def handle(self) -> Handle | None:
        """The handle on the screen."""
        shown = self._view.shown
        return plane.handle(self.section, shown.eye, shown.box) if self.section is not None and shown.picture else None

    def is_facing(self, side: Facing) -> bool:
        """Whether the plane looks to this side, or away from it."""
        return self.section is not None and plane.faces(self.section, self._view.eye, side)

    def face(self, side: Facing) -> None:
        """Cut through the middle of the part, from this side; opens the picture if it is closed."""
        if self._view.shown.picture is not None:
            self._view.set_section(plane.facing(self._view.eye, self._view.shown.box, side))

    def close(self) -> None:
        """Show the part uncut."""
        self._held = None
        self._view.set_section(None)

    def flip(self) -> None:
        """Take the other side away."""
        if self.section is not None:
            self._view.set_section(plane.flipped(self.section))

    def put_through(self, word: str) -> bool:
        """Put the plane through a vent or a cavity, in the words of a selection; False if it has no place.

        The view turns if it would see the plane from its edge.
        """
        shown = self._view.shown
        if shown.picture is None:
            return False
        begun = self.section or plane.facing(shown.eye, shown.box, "viewer")
        section = plane.through(begun, shown.picture, shown.eye, word)
        if section is not None:
            eye = plane.seen_square(section, shown.eye)
            if eye != shown.eye:
                self._view.turn_to(eye)
            self._view.set_section(section)
        return section is not None

    def put_at(self, mm: float) -> None:
        """Put the plane at a position, mm, kept within the part."""
        if self.section is not None:
            self._view.set_section(plane.put_at(self.section, self._view.shown.box, mm))

    def step(self, steps: float, fine: bool = False) -> None:
        """Move the plane by steps; those above 0 cut less away."""
        if self.section is not None:
            moved = self.section.moved(steps * (FINE_MM if fine else STEP_MM))
            self._view.set_section(plane.put_at(moved, self._view.shown.box, self._position_of(moved)))

    def is_at(self, x: float, y: float) -> bool:
        """Whether a pixel is on the handle."""
        handle = self.handle
        return handle is not None and handle.is_at(x, y)

    def take(self) -> None:
        """Take the handle in hand."""
        if self.section is not None:
            self._held = self.section, self._view.eye

    def drag(self, across: float, down: float) -> None:
        """The handle is held, and so many pixels away from where it was taken."""
        if self._held is not None:
            section, eye = self._held
            self._view.set_section(plane.dragged(section, eye, self._view.shown.box, across, down))

    def let_go(self, back: bool = False) -> None:
        """Let the handle go; back: where it was taken."""
        held, self._held = self._held, None
        if held is not None:
            self._view.set_section(held[0] if back else self.section)
            self._view.hold_changed()

    def _position_of(self, section: Section) -> float:
        return plane.position(section, self._view.shown.box)
