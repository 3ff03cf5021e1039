"""The card of the whole part: what was read, how it hangs, what was taken for granted."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ventplanner.geometry.face_mask import FaceMask
from ventplanner.parameters import UNIT
from ventplanner.ui.panels.advice import PrinterAdvice
from ventplanner.ui.panels.card import Card, Heading
from ventplanner.ui.panels.fields import Button, Choice, Figures, button, row
from ventplanner.ui.panels.inside import InsideList
from ventplanner.ui.panels.notes import Note, Notes, of_assumptions, of_mesh
from ventplanner.ui.panels.supports import SupportsLine
from ventplanner.ui.units import area, resin, sentence
from ventplanner.ui.words import count, exact_mm, file_name, looked_from, mm, side, size, title_of, volume

if TYPE_CHECKING:
    from ventplanner.analysis.findings import Findings
    from ventplanner.ui.session import Session


class PartCard(Card):
    """Shown when nothing is selected."""

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self._heading = Heading("Part", "")
        self._figures = Figures()
        self._fields = Figures()
        self._unit = Choice()
        self._unit.addItems(list(UNIT.choices))
        self._unit.setAccessibleName("Unit of the file")
        self._unit.activated.connect(lambda _: session.set_unit(self._unit.currentText()))
        self._fields.add_field("Unit of the file", self._unit, "Reads the file again, and can be undone")
        self._clear = Button("Keep nothing clear")
        self._clear.setToolTip("Take all marks off the part; undo brings them back")
        self._clear.clicked.connect(self._keep_nothing)
        self._advice = PrinterAdvice(session)
        self._supports = SupportsLine(session)
        self._inside = InsideList(session)
        self._damage = Notes(session)
        self.mend = button("Mend…", session.mend_wanted.emit, tip="First a look at what would be done (Ctrl+Shift+M)")
        self._matter, self._notes, self._of_suction = Notes(session), Notes(session), Notes(session)
        self.column.addWidget(self._heading)
        self.column.addWidget(self._figures)
        self.column.addWidget(self._fields)
        self.column.addWidget(self._clear)
        self.column.addLayout(self._matter)
        self.column.addWidget(self._supports)
        self.column.addWidget(self._inside)
        self.column.addWidget(self._advice)
        self.column.addSpacing(4)
        self.column.addLayout(self._damage)
        self.column.addLayout(row(self.mend))
        self.column.addLayout(self._notes)
        self.column.addLayout(self._of_suction)
        self.column.addStretch(1)

    def refresh(self) -> bool:
        """Show how things are now."""
        state, findings = self.session.state, self.session.findings
        if state is None:
            return False
        self._heading.above.setText(f"Part · {file_name(state.path)}" if state.path else "Part")
        self._heading.title.setText(title_of(state.path))
        low, high = state.solid.bounds
        self._figures.put("Size", size(list(low), list(high)))
        self._figures.put("Triangles", f"{len(state.solid.faces):,}".replace(",", "\u2009"))
        unit = state.solid.source.unit_assumed
        if self._unit.findText(unit) < 0:
            self._unit.addItem(unit)
        self._unit.setCurrentText(unit)
        self._fields.setVisible(not self.session.path.lower().endswith(".ventplan"))
        pose = state.pose
        held = "the plate" if pose.on == "plate" else f"supports, {mm(pose.gap_mm)}"
        self._figures.put(
            "Side to the plate", side(pose.to_plate), "As the part stands in its file, and the axis of the file"
        )
        self._figures.put("Held by", held)
        told = looked_from(state.rules.seen_from)
        self._figures.put("Looked at", told, "Where it stands when it is done: vents hide from there (Ctrl+Shift+J)")
        marks = state.keep_clear
        told = "" if marks is None else f"{area(self.session.kept_area)}, {count(marks.count, 'triangle')}"
        self._figures.put("Kept clear", told, "Surface in which no vent may be: hatched in the view (K)")
        self._clear.setVisible(marks is not None)
        if findings is not None:
            self._show_findings(findings)
        self._advice.setVisible(findings is not None and bool(findings.cavities or self.session.breathing))
        self._advice.refresh()
        self._supports.refresh()
        self._inside.refresh()
        found = self.session.breathing
        self._matter.say(() if findings is None else _matter(findings))
        damage = () if findings is None else findings.health
        self._damage.say(of_mesh([(n.what, n.count, n.at_mm) for n in damage]))
        self.mend.setVisible(bool(damage))
        self._notes.say(() if findings is None else _notes(findings))
        about = () if found is None else found.after.notes
        self._of_suction.say([Note("Taken for granted of suction", sentence(text)) for text in about])
        return True

    def _keep_nothing(self) -> None:
        state = self.session.state
        if state is not None:
            self.session.mark(FaceMask.none_of(len(state.solid.faces)), "Keep nothing clear")

    def _show_findings(self, findings: Findings) -> None:
        self._figures.put("Resin", resin(findings.volume), "Volume of the part's material")
        self._figures.put("Cavities", str(len(findings.cavities)))
        held = sum(c.volume for c in findings.cavities)
        self._figures.put("Hollow", volume(held) if findings.cavities else "", "Volume of all cavities")
        resolution = findings.scene.resolution
        self._figures.put("Pitch", exact_mm(resolution.pitch_mm), "Distance between the columns that measure the part")


def _matter(findings: Findings) -> list[Note]:
    """What to do with a part in which there is nothing to vent."""
    if findings.cavities:
        return []
    title = "Nothing to vent"
    if findings.cups.filtered_count:
        small = "Hollows and cups below the filter are left out. A smaller filter (Ctrl+,) shows them."
        return [Note(title, small), _MEANT_HOLLOW]
    return [
        Note(
            title,
            "This part is solid, or open everywhere: it has no hollow and no cup, so it needs no vent. An export would"
            " write the same part again.",
        ),
        _MEANT_HOLLOW,
    ]


_MEANT_HOLLOW = Note(
    "Nothing to vent", "Was it meant to be hollow? Part, Hollow the part (Ctrl+Shift+H) gives it an even wall."
)


def _notes(findings: Findings) -> list[Note]:
    from ventplanner.io.report import assumptions  # loads the analysis, which the start does not wait for

    return of_assumptions(assumptions(findings))
