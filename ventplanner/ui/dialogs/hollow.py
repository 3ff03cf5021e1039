"""Hollow the part: how thick the wall, how smooth the inside, what stays solid; a form of the declared parameters, and
beside it a section of what comes of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QComboBox, QDialog, QFrame, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from ventplanner.errors import ParameterError
from ventplanner.hollow_parameters import HOLLOW_PARAMETERS
from ventplanner.hollowing.rules import HollowRules
from ventplanner.ui.dialogs.hollow_preview import HollowPreview
from ventplanner.ui.dialogs.keep_solid import KeepSolid
from ventplanner.ui.dialogs.questions import tell
from ventplanner.ui.dialogs.settings import Entry
from ventplanner.ui.panels.fields import button, label, row
from ventplanner.ui.units import sentence

if TYPE_CHECKING:
    from ventplanner.ui.session import Session

GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Wall", ("wall_mm", "fineness", "grid_mm")),
    ("Inside", ("radius_mm", "steepness_deg", "filling", "cell_mm", "strut_mm")),
    ("What stays solid", ("least_mm3", "solid_below_mm", "limb_mm", "solid_depth_mm")),
    ("At the plate", ("open_side",)),
)
OF_THE_LATTICE = ("cell_mm", "strut_mm")
OF_A_SURFACE = ("solid_depth_mm",)
ABOUT = (
    "The skin stays as it is, to the last bit. Ceilings, ribs and heights go by how the part hangs now. A hollow is"
    " sealed at first: its vents are proposed when it is there."
)


class HollowDialog(QDialog):
    """What is entered is checked as it is typed; the part is hollowed by all of it, as one edit."""

    def __init__(self, session: Session, parent: QWidget | None = None, *, hanging: bool = False) -> None:
        super().__init__(parent)
        self.setWindowTitle("Hollow the part")
        self._session = session
        self.entries: dict[str, Entry] = {}
        self.keep_solid = KeepSolid(session)
        self.preview = HollowPreview(session, hanging)
        self.usual = button("The usual values", lambda: self._show(HollowRules()), "quiet")
        self.cancel = button("Cancel", self.reject)
        self.apply = button("Hollow it", self.accept, "primary")
        self.apply.setDefault(True)
        answers = row(self.usual, stretch=True)
        answers.setContentsMargins(0, 8, 12, 0)
        answers.addWidget(self.cancel)
        answers.addWidget(self.apply)
        both = QHBoxLayout()
        both.setSpacing(18)
        both.addWidget(self._form(), 3)
        both.addWidget(self.preview, 2)
        column = QVBoxLayout(self)
        column.setContentsMargins(22, 18, 10, 16)
        column.setSpacing(10)
        column.addWidget(label(sentence(ABOUT), "muted", wrap=True))
        column.addLayout(both, 1)
        column.addLayout(answers)
        self._show(session.hollow_rules)
        for entry in self.entries.values():
            entry.edited.connect(self._follow)
            if isinstance(entry.field, QComboBox):
                entry.field.currentIndexChanged.connect(lambda _: self._follow())
        self.keep_solid.edited.connect(self._follow)
        self.finished.connect(lambda _: self.preview.stop())
        self.resize(980, 680)

    def _form(self) -> QScrollArea:
        form = QWidget()
        rows = QVBoxLayout(form)
        rows.setContentsMargins(0, 0, 12, 0)
        rows.setSpacing(2)
        for title, names in GROUPS:
            rows.addWidget(label(title, "heading"))
            for name in names:
                if name in OF_A_SURFACE:
                    rows.addWidget(self.keep_solid)
                self.entries[name] = Entry(HOLLOW_PARAMETERS[name])
                rows.addWidget(self.entries[name])
            rows.addSpacing(10)
        rows.addStretch(1)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setAccessibleName("How to hollow the part")
        area.setFrameShape(QFrame.Shape.NoFrame)
        area.setHorizontalScrollBarPolicy(area.horizontalScrollBarPolicy().ScrollBarAlwaysOff)
        area.setWidget(form)
        return area

    def _show(self, rules: HollowRules) -> None:
        for name, entry in self.entries.items():
            entry.show_value(getattr(rules, name))
        self._follow()

    def _follow(self) -> None:
        """Show the fields that count, and what comes of what stands in them."""
        for name, entry in self.entries.items():
            entry.setVisible(self._counts(name))
        self.preview.follow(self._allowed(), self.keep_solid.chosen)

    def _counts(self, name: str) -> bool:
        if name in OF_THE_LATTICE:
            return self.entries["filling"].text != "none"
        return name not in OF_A_SURFACE or self.keep_solid.chosen is not None

    def _allowed(self) -> HollowRules | None:
        """What is entered, without a word about what is not allowed."""
        try:
            return self._entered()
        except ParameterError:
            return None

    def _entered(self) -> HollowRules:
        counting = {n: e.value() for n, e in self.entries.items() if self._counts(n)}
        return HollowRules(**counting)  # type: ignore[arg-type]  # checked by the parameters

    def rules(self) -> HollowRules | None:
        """What was entered; None if something in it is not allowed, which is then shown."""
        for name, entry in self.entries.items():
            if self._counts(name) and entry.problem():
                entry.field.setFocus()
                return None
        try:
            return self._entered()
        except ParameterError as error:
            tell(self, error, "These numbers do not go together")
            return None

    def accept(self) -> None:
        """Begin, if all that was entered is allowed."""
        rules = self.rules()
        if rules is not None:
            self._session.hollow(rules, self.keep_solid.chosen)
            super().accept()
