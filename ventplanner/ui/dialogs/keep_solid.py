"""Under which surface a part stays solid: what is marked to be kept clear, or a colour of its own file."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from ventplanner.ui.panels.fields import Choice, label, row
from ventplanner.ui.units import area

if TYPE_CHECKING:
    from ventplanner.geometry.face_mask import FaceMask
    from ventplanner.ui.session import Session

NOTHING, MARKED = "no surface", "what is kept clear"
ABOUT = "The part stays solid under it, so deep as said below: for a thread, a magnet, a face that is to be sanded."
HOW = "Mark a surface first (K): then it can be chosen here. So can the colours of a file that has any."


class KeepSolid(QWidget):
    """`edited` when another surface was chosen."""

    edited = Signal()

    def __init__(self, session: Session) -> None:
        super().__init__()
        self._surfaces: dict[str, FaceMask] = {}
        state = session.state
        if state is not None and state.keep_clear is not None:
            self._surfaces[f"{MARKED}, {area(session.kept_area)}"] = state.keep_clear
        for one in session.file_colours.found:
            if not one.is_all and (state is None or one.faces.faces == len(state.solid.faces)):
                self._surfaces[f"what is {one.name} in the file, {area(one.area)}"] = one.faces
        self.field = Choice()
        self.field.addItems([NOTHING, *self._surfaces])
        self.field.setAccessibleName("Surface under which the part stays solid")
        self.field.setAccessibleDescription(ABOUT if self._surfaces else HOW)
        self.field.setEnabled(bool(self._surfaces))
        self.field.currentIndexChanged.connect(lambda _: self.edited.emit())
        name = label("Solid under")
        name.setBuddy(self.field)
        line = row(name, stretch=True)
        line.addWidget(self.field)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 4, 0, 6)
        column.setSpacing(3)
        column.addLayout(line)
        column.addWidget(label(ABOUT if self._surfaces else HOW, "muted", wrap=True))

    @property
    def chosen(self) -> FaceMask | None:
        """The surface; None for none."""
        return self._surfaces.get(self.field.currentText())
