"""Hollow the part: how thick the wall, how smooth the inside, what stays solid; a form of the declared parameters."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QComboBox, QDialog, QFrame, QScrollArea, QVBoxLayout, QWidget

from ventplanner.errors import ParameterError
from ventplanner.hollow_parameters import HOLLOW_PARAMETERS
from ventplanner.hollowing.rules import HollowRules
from ventplanner.ui.dialogs.questions import tell
from ventplanner.ui.dialogs.settings import Entry
from ventplanner.ui.panels.fields import button, label, row
from ventplanner.ui.units import sentence

if TYPE_CHECKING:
    from ventplanner.ui.session import Session

GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Wall", ("wall_mm", "quality", "grid_mm")),
    ("Inside", ("radius_mm", "steepness_deg", "filling", "cell_mm", "strut_mm")),
    ("What stays solid", ("least_mm3", "solid_below_mm", "limb_mm")),
    ("At the plate", ("open_side",)),
)
OF_THE_LATTICE = ("cell_mm", "strut_mm")
ABOUT = (
    "The skin stays as it is, to the last bit. Ceilings, ribs and heights go by how the part hangs now. A hollow is"
    " sealed at first: its vents are proposed when it is there."
)


class HollowDialog(QDialog):
    """What is entered is checked as it is typed; the part is hollowed by all of it, as one edit."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Hollow the part")
        self._session = session
        self.entries: dict[str, Entry] = {}
        form = QWidget()
        rows = QVBoxLayout(form)
        rows.setContentsMargins(0, 0, 12, 0)
        rows.setSpacing(2)
        for title, names in GROUPS:
            rows.addWidget(label(title, "heading"))
            for name in names:
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
        self.usual = button("The usual values", lambda: self._show(HollowRules()), "quiet")
        self.cancel = button("Cancel", self.reject)
        self.apply = button("Hollow it", self.accept, "primary")
        self.apply.setDefault(True)
        answers = row(self.usual, stretch=True)
        answers.setContentsMargins(0, 8, 12, 0)
        answers.addWidget(self.cancel)
        answers.addWidget(self.apply)
        column = QVBoxLayout(self)
        column.setContentsMargins(22, 18, 10, 16)
        column.setSpacing(10)
        column.addWidget(label(sentence(ABOUT), "muted", wrap=True))
        column.addWidget(area, 1)
        column.addLayout(answers)
        filling = self.entries["filling"].field
        assert isinstance(filling, QComboBox)
        filling.currentTextChanged.connect(self._show_lattice)
        self._show(session.hollow_rules)
        self.resize(560, 680)

    def _show(self, rules: HollowRules) -> None:
        for name, entry in self.entries.items():
            entry.show_value(getattr(rules, name))
        self._show_lattice(rules.filling)

    def _show_lattice(self, filling: str) -> None:
        for name in OF_THE_LATTICE:
            self.entries[name].setVisible(filling != "none")

    def rules(self) -> HollowRules | None:
        """What was entered; None if something in it is not allowed, which is then shown."""
        shown = {
            n: e for n, e in self.entries.items() if n not in OF_THE_LATTICE or self.entries["filling"].text != "none"
        }
        for entry in shown.values():
            if entry.problem():
                entry.field.setFocus()
                return None
        try:
            return HollowRules(**{name: entry.value() for name, entry in shown.items()})  # type: ignore[arg-type]
        except ParameterError as error:
            tell(self, error, "These numbers do not go together")
            return None

    def accept(self) -> None:
        """Begin, if all that was entered is allowed."""
        rules = self.rules()
        if rules is not None:
            self._session.hollow(rules)
            super().accept()
