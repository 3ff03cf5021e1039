"""An opening of the model closed before the print, or moved: an edit after which the part itself is another one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ventplanner.app.edits import Edit, add
from ventplanner.app.state import AppState
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.solid import Solid
from ventplanner.plan.model import Point, Vent


def close_opening(state: AppState, solid: Solid, at_mm: Point, width_mm: float) -> Edit:
    """Take the part with an opening closed. The plan is kept, and has to be looked up again; marks of what is to be
    kept clear stay on the triangles that are still there."""
    place = ", ".join(f"{x:.1f}" for x in at_mm)
    note = f"An opening {width_mm:.1f} mm wide at ({place}) mm was closed: the wall goes on there."
    source = replace(solid.source, notes=(*state.solid.source.notes, note))
    made = Solid(solid.vertices, solid.faces, solid.bodies, source)
    marks = None if state.keep_clear is None else carried(state.keep_clear, state.solid, made)
    after = replace(state, solid=made, keep_clear=marks if marks else None)
    return Edit(f"Close the opening of {width_mm:.1f} mm", after)


def move_opening(state: AppState, solid: Solid, at_mm: Point, width_mm: float, vent: Vent) -> Edit:
    """Take a vent into the plan, and the part without the opening that it stands for; as one edit."""
    after = close_opening(add(state, vent).state, solid, at_mm, width_mm).state
    return Edit(f"Move the opening of {width_mm:.1f} mm", after)


def carried(mask: FaceMask, before: Solid, after: Solid) -> FaceMask:
    """The marks of one solid on the same triangles of another one, whatever their order; others are not marked."""
    marked = np.sort(_names(before)[mask.chosen])
    names = _names(after)
    at = np.minimum(np.searchsorted(marked, names), max(len(marked) - 1, 0))
    return FaceMask.of(marked[at] == names if len(marked) else np.zeros(len(names), dtype=bool))


def _names(solid: Solid) -> NDArray[np.void]:
    """(m,) the coordinates of each face as one value, beginning at its least corner."""
    corners = solid.vertices[solid.faces] + 0.0
    first = np.lexsort(corners.transpose(2, 0, 1)[::-1], axis=-1)[:, 0]
    order = (first[:, None] + np.arange(3)) % 3
    turned = np.ascontiguousarray(np.take_along_axis(corners, order[:, :, None], axis=1)).reshape(-1, 9)
    return turned.view(np.dtype((np.void, turned.dtype.itemsize * 9))).ravel()
