"""The card after an export: verified, what was written, what is left, and what to mind."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QUrl
from PySide6.QtGui import QDesktopServices

from ventplanner.io.summary import CAUTIONS
from ventplanner.ui.panels.card import Card, Heading
from ventplanner.ui.panels.fields import Figures, button, label, row
from ventplanner.ui.words import STATE_WORDS, count, file_name, volume

if TYPE_CHECKING:
    from ventplanner.app.exporting import Exported
    from ventplanner.ui.session import Session


class ResultCard(Card):
    """What an export did."""

    def __init__(self, session: Session, exported: Exported) -> None:
        super().__init__(session)
        path = exported.path
        heading = Heading("Exported", file_name(str(path)))
        heading.pill.show_state("accepted", "verified")
        text = (
            "The file was read again: every edge is closed, nothing changed away from the vents, and the cups breathe"
            " as planned."
        )
        figures = Figures()
        vents = exported.drilled.plan.vents
        figures.put("Drilled", count(len(vents), "vent"))
        for cavity in exported.after.cavities:
            figures.put(f"Cavity of {volume(cavity.volume)}", STATE_WORDS[cavity.state])
        self.folder = button("Show in folder", lambda: _show_folder(str(path.parent)))
        for widget in (heading, label(text, wrap=True), figures):
            self.column.addWidget(widget)
        if not exported.after.cavities:
            self.column.addWidget(label("Read again, it has no cavity that could hold air or resin back.", wrap=True))
        self.column.addLayout(row(self.folder))
        self.column.addSpacing(8)
        self.column.addWidget(label("Mind", "heading"))
        for caution in CAUTIONS:
            self.column.addWidget(label(caution, wrap=True, select=True))
        self.column.addStretch(1)

    def refresh(self) -> bool:
        """What was written does not change."""
        return True


def _show_folder(folder: str) -> None:
    QDesktopServices.openUrl(QUrl.fromLocalFile(folder))
