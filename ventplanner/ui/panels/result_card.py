"""The card after an export: verified, what was written, what is left, and what to mind."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QUrl
from PySide6.QtGui import QDesktopServices

from ventplanner.io.summary import CAUTIONS
from ventplanner.ui.panels.card import Card, Heading
from ventplanner.ui.panels.fields import Figures, button, label, row
from ventplanner.ui.panels.notes import Notes, of_assumptions, of_mesh
from ventplanner.ui.units import sentence
from ventplanner.ui.words import count, file_name, volume

if TYPE_CHECKING:
    from ventplanner.ui.session import Session
    from ventplanner.ui.work.messages import Exported

VERIFIED = (
    "The file was read again: every edge is closed, nothing changed away from the vents, and every cup is as planned,"
    " measured twice more with other columns."
)


class ResultCard(Card):
    """What an export did."""

    def __init__(self, session: Session, exported: Exported, write_sheet: Callable[[], object]) -> None:
        super().__init__(session)
        heading = Heading("Exported", file_name(exported.path))
        heading.pill.show_state("accepted", "verified")
        figures = Figures()
        figures.put("Drilled", count(exported.vents, "vent"))
        figures.put("Taken away", volume(exported.removed_mm3) if exported.vents else "")
        figures.put("Triangles", f"{exported.triangles:,}".replace(",", "\u2009"))
        figures.put("Folder", _short(Path(exported.path).parent))
        self.folder = button("Show in folder", lambda: _show_folder(exported.path))
        for widget in (heading, label(VERIFIED, wrap=True), figures):
            self.column.addWidget(widget)
        self.sheet = button("Write the sheet…", write_sheet, tip="Ctrl+Shift+E")
        self.column.addLayout(row(self.folder, self.sheet))
        self._say("Left in the written file", [sentence(text) for text in exported.left])
        self._say("Mind", CAUTIONS)
        notes = Notes(session)
        notes.say([*of_mesh(exported.damage), *of_assumptions(exported.notes)])
        self.column.addSpacing(6)
        self.column.addLayout(notes)
        self.column.addStretch(1)

    def _say(self, title: str, texts: Sequence[str]) -> None:
        if not texts:
            return
        self.column.addSpacing(6)
        self.column.addWidget(label(title, "heading"))
        for text in texts:
            self.column.addWidget(label(text, wrap=True, select=True))

    def refresh(self) -> bool:
        """What was written does not change."""
        return True


def _short(folder: Path) -> str:
    home = Path.home()
    return f"~/{folder.relative_to(home)}".rstrip("./") if folder.is_relative_to(home) else str(folder)


def _show_folder(path: str) -> None:
    QDesktopServices.openUrl(QUrl.fromLocalFile(str(Path(path).parent)))
