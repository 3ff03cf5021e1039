"""How to set the printer for the part with its vents, and hollows that suck though they are no cavity."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ventplanner.ui.panels.fields import Figures, label, row
from ventplanner.ui.panels.suction import Block, figure
from ventplanner.ui.units import sentence
from ventplanner.ui.words import mm

if TYPE_CHECKING:
    from ventplanner.app.breathing import Breathing
    from ventplanner.ui.session import Session


class PrinterAdvice(Block):
    """One line for each setting, its reason below it; before them what no setting helps, then hollows."""

    def __init__(self, session: Session) -> None:
        super().__init__(session, "Setting the printer, an estimate")

    def _fill(self, found: Breathing) -> None:
        from ventplanner.app.suction import advice, cautions, hollows, kpa

        for text in cautions(found):
            self.column.addWidget(label(sentence(text), "wrong", wrap=True, select=True))
        for each in advice(found):
            line = row(label(each.what), stretch=True)
            line.addWidget(figure(each.what, sentence(each.figure)))
            self.column.addLayout(line)
            self.add_sentences([f"{each.why[:1].upper()}{each.why[1:]}"])
            self.column.addSpacing(3)
        others = hollows(found.after)
        if others:
            self.column.addWidget(label("Open, and yet they suck", "heading"))
            rows = Figures()
            for hollow in others:
                rows.put(f"Hollow from {mm(hollow.starts)}", kpa(max(hollow.peak_suction, hollow.startup_suction)))
            self.column.addWidget(rows)
