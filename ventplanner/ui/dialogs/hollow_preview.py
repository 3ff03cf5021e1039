"""Beside the form of hollowing: what it would make of the part, in a section that follows the numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QSlider, QVBoxLayout, QWidget

from ventplanner.errors import VentplannerError
from ventplanner.profile import Profile
from ventplanner.ui.dialogs.questions import for_window
from ventplanner.ui.dialogs.section_picture import SectionPicture
from ventplanner.ui.log import log
from ventplanner.ui.panels.fields import Choice, label, row
from ventplanner.ui.units import length, resin, sentence
from ventplanner.ui.words import exact_mm
from ventplanner.ui.work.previewing import Cut, ShownSection, Side

if TYPE_CHECKING:
    from ventplanner.geometry.face_mask import FaceMask
    from ventplanner.hollowing.rules import HollowRules
    from ventplanner.ui.session import Session

SEEN: dict[str, Side] = {"seen from the front": "front", "seen from the side": "side", "seen from the top": "top"}
FROM: dict[Side, str] = {"front": "from the front", "side": "from the left", "top": "from the plate"}
STEPS = 100
AFTER_MS = 150
"""Nothing is begun before the numbers have rested so long."""
NOT_YET = "As soon as what is entered is allowed, a section is shown here."


class HollowPreview(QWidget):
    """`follow` brings the rules that are entered now, or None if they are not allowed."""

    def __init__(self, session: Session, hanging: bool) -> None:
        super().__init__()
        self._session = session
        self._previews = session.hollow_previews
        self._wanted: tuple[HollowRules, FaceMask | None] | None = None
        self.picture = SectionPicture(hanging)
        self.side = Choice()
        self.side.addItems(list(SEEN))
        self.side.setAccessibleName("Side from which the section is seen")
        self.slider = QSlider(Qt.Orientation.Horizontal)
        self.slider.setRange(0, STEPS)
        self.slider.setValue(STEPS // 2)
        self.slider.setPageStep(STEPS // 10)
        self.slider.setAccessibleName("Where the part is cut")
        self.place = label("", "muted")
        self.told = label("", wrap=True)
        self.coarse = label("", "muted", wrap=True)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 12, 0)
        column.setSpacing(8)
        column.addWidget(self.picture, 1)
        choose = row(self.side, stretch=False)
        choose.addWidget(self.slider, 1)
        column.addLayout(choose)
        for each in (self.place, self.told, self.coarse):
            column.addWidget(each)
        self._rest = QTimer(self, singleShot=True, interval=AFTER_MS)
        self._rest.timeout.connect(self._ask)
        self.side.currentIndexChanged.connect(lambda _: self._ask())
        self.slider.valueChanged.connect(lambda _: self._ask())
        self._previews.came.connect(self._show)
        self._previews.failed.connect(self._show_failure)

    def follow(self, rules: HollowRules | None, keep_solid: FaceMask | None) -> None:
        """These are the rules now; they are shown when they have rested for a moment."""
        self._wanted = None if rules is None else (rules, keep_solid)
        if rules is None:
            self._rest.stop()
            self._previews.lane.stop()
            self._say_nothing(NOT_YET)
        else:
            self.picture.wait()
            self._rest.start()

    def stop(self) -> None:
        """Nobody looks any more."""
        self._rest.stop()
        self._previews.stop()

    def _ask(self) -> None:
        state = self._session.state
        if self._wanted is not None and state is not None:
            self._rest.stop()
            cut = Cut(SEEN[self.side.currentText()], self.slider.value() / STEPS)
            self._previews.ask(state, *self._wanted, cut)

    def _show(self, shown: object) -> None:
        assert isinstance(shown, ShownSection)
        preview = shown.preview
        low = float(preview.box[0, shown.axis])
        self.place.setText(f"Cut {length(shown.at_mm - low)} {FROM[shown.cut.side]}")
        state = self._session.state
        profile = (state.profile if state is not None else None) or Profile()
        grams = 1e-6 * profile.density_kg_m3 * preview.saved_mm3
        share = 100.0 * preview.saved_mm3 / max(preview.part_mm3, 1e-9)
        self.told.setText(f"About {resin(preview.saved_mm3)} of resin saved, {share:.0f} %; {grams:.0f} g.")
        finer = preview.exact_mm < preview.step_mm
        exact = f" It is hollowed on {exact_mm(round(preview.exact_mm, 3))}, with the exact wall." if finer else ""
        self.coarse.setText(f"Coarse: drawn on a grid of {exact_mm(round(preview.step_mm, 2))}.{exact}")
        self.picture.show_section(shown, f"{self.place.text()}. {self.told.text()} {self.coarse.text()}")
        if self._rest.isActive():  # of before what is being typed
            self.picture.wait()

    def _show_failure(self, error: object) -> None:
        if isinstance(error, VentplannerError):
            self._say_nothing(sentence(f"{error.cause} {for_window(error.way_out)}"))
        else:
            log.error("The section of the hollow: %s", error)
            self._say_nothing("The section could not be drawn. The part can be hollowed all the same.")

    def _say_nothing(self, why: str) -> None:
        for each in (self.place, self.told, self.coarse):
            each.setText("")
        self.picture.show_problem(why)
