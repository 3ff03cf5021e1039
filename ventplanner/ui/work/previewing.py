"""Sections of the part as it would be hollowed, while the rules are still being chosen: in a thread, coarse."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, cast

from PySide6.QtCore import QObject, Signal

from ventplanner.app.state import AppState, key_of
from ventplanner.ui.work.lanes import Lane

if TYPE_CHECKING:
    from ventplanner.geometry.face_mask import FaceMask
    from ventplanner.hollowing.preview import Preview, Previewer
    from ventplanner.hollowing.rules import HollowRules
    from ventplanner.progress import Progress
    from ventplanner.ui.view.section import Outlines

Side = Literal["front", "side", "top"]
ACROSS: dict[Side, int] = {"side": 0, "front": 1, "top": 2}
"""The build axis across which is cut, by the side from which the section is seen."""


@dataclass(frozen=True)
class Cut:
    """Where to cut: seen from which side, and how far along its axis from 0 to 1."""

    side: Side = "front"
    share: float = 0.5


@dataclass(frozen=True, eq=False)
class ShownSection:
    """A section and what it is of. at_mm: where along its build axis. skin, hollows: outlines in build axes. on_plate:
    whether the part hangs on the plate itself, not on supports."""

    preview: Preview
    cut: Cut
    at_mm: float
    skin: Outlines
    hollows: Outlines
    on_plate: bool

    @property
    def axis(self) -> int:
        """The build axis across which it is cut."""
        return ACROSS[self.cut.side]


class HollowPreviews(QObject):
    """Asked for again and again: what runs for older rules is stopped. The part is made ready once, with bodies that
    overlap made one as when it is hollowed, and the hollows stay as long as only the cut is moved."""

    came = Signal(object)
    """A `ShownSection`."""
    failed = Signal(object)
    """The error that says why nothing can be shown by these rules."""
    busy_changed = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.lane = Lane("hollow preview", self, impatient=True)
        self.lane.done.connect(lambda _, shown: self.came.emit(shown))
        self.lane.failed.connect(lambda _, error: self.failed.emit(error))
        self.lane.busy_changed.connect(self.busy_changed)
        self._ready: tuple[str, Previewer] | None = None
        self._last: tuple[str, Preview] | None = None

    @property
    def is_busy(self) -> bool:
        """Whether a section is being worked out."""
        return self.lane.is_busy

    def ask(self, state: AppState, rules: HollowRules, keep_solid: FaceMask | None, cut: Cut) -> None:
        """Show the part as it hangs, hollowed by these rules and cut there; `came` or `failed` tells the end."""
        solid, pose = state.solid, state.pose
        marks = "" if keep_solid is None else keep_solid.digest
        part = key_of(solid.digest, pose.to_plate, pose.on, pose.gap_mm, marks)
        key = f"{part} {rules}"

        def work(progress: Progress) -> ShownSection:
            from ventplanner.app.hollowing import ready
            from ventplanner.hollowing.preview import Previewer

            if self._ready is None or self._ready[0] != part:
                whole, kept, _ = ready(solid, keep_solid, progress)
                self._ready = part, Previewer(whole, pose, kept)
            if self._last is None or self._last[0] != key:
                self._last = key, self._ready[1].preview(rules, progress)
            return _shown(self._last[1], cut, pose.on == "plate")

        self.lane.ask(f"{key} {cut}", work)

    def stop(self) -> None:
        """Nobody looks any more: what was made ready is let go."""
        self.lane.stop()
        self._ready = self._last = None


def _shown(preview: Preview, cut: Cut, on_plate: bool) -> ShownSection:
    import numpy as np

    from ventplanner.ui.view.section import Section, outlines

    axis = ACROSS[cut.side]
    low, high = preview.box[:, axis].tolist()
    at = low + cut.share * (high - low)
    place = cast("tuple[float, float, float]", tuple(at if k == axis else 0.0 for k in range(3)))
    plane = Section(place, cast("tuple[float, float, float]", tuple(float(k == axis) for k in range(3))))
    skin, hollows = (
        outlines(vertices, faces, np.zeros(len(faces), dtype=np.int16), plane)
        for vertices, faces in (
            (preview.vertices, preview.faces),
            (preview.skins.vertices, preview.skins.faces),
        )
    )
    return ShownSection(preview, cut, at, skin, hollows, on_plate)
