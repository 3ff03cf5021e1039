"""A session's marks: the surface that no vent may cut."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ventplanner.app.edits import Edit
from ventplanner.app.state import AppState
from ventplanner.ui.work.fits import Fits

if TYPE_CHECKING:
    from ventplanner.app.file_colours import Coloured
    from ventplanner.geometry.face_mask import FaceMask


class Marks(Fits):
    """A session's edits of the surface to be kept clear."""

    _area = ("", 0.0)

    @property
    def keep_clear(self) -> FaceMask | None:
        """The faces that no vent may cut; None if none are marked."""
        state = self.state
        return None if state is None else state.keep_clear

    @property
    def kept_area(self) -> float:
        """Area of these faces in mm2."""
        mask, state, findings = self.keep_clear, self.state, self.findings
        if mask is None or state is None:
            return 0.0
        if self._area[0] != mask.digest:
            areas = None if findings is None else findings.scene.topology.area_of_face
            known = areas is not None and findings is not None and findings.solid is state.solid
            # Known already, as a rule: to measure a million triangles anew takes 0.15 s.
            if known and areas is not None:
                self._area = mask.digest, float(areas[mask.flags].sum(dtype=float))
            else:
                self._area = mask.digest, mask.area(state.solid)
        return self._area[1]

    def mark(self, mask: FaceMask, name: str) -> None:
        """Keep these faces clear and no others, as one edit of this name."""

        def edit(state: AppState) -> Edit:
            from ventplanner.app.keeping_clear import mark

            return mark(state, mask, name)

        self._edit(edit)

    def keep_coloured(self, chosen: tuple[Coloured, ...]) -> None:
        """Keep clear what has these colours of the file, besides what is marked already, as one edit."""

        def edit(state: AppState) -> Edit:
            from ventplanner.app.file_colours import keep_coloured

            return keep_coloured(state, chosen)

        self._edit(edit)

    def _did(self, edit: Edit) -> None:
        """Take an edit into the history; where another part drops the marks, say so."""
        before = self.state
        super()._did(edit)
        if before is None or before.keep_clear is None or edit.state.keep_clear is not None:
            return
        if edit.state.solid is not before.solid and len(edit.state.solid.faces):
            from ventplanner.app.keeping_clear import DROPPED

            self.said.emit(DROPPED)
