"""The colours that a part has in its own file, each with the surface that bears it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ventplanner.app.edits import Edit
from ventplanner.app.keeping_clear import mark
from ventplanner.app.marks_from_file import fitting
from ventplanner.app.state import AppState
from ventplanner.errors import FileReadError
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.solid import Solid
from ventplanner.io.colours import bright, like, name_of, read_colours
from ventplanner.io.project import SUFFIX

MOST = 24
"""So many colours are told, the largest; a scan with a photograph on it has thousands."""

WITHOUT = ("", "STL")
"""Formats in which triangles have no colour; their files are not read again."""


@dataclass(frozen=True, eq=False)
class Coloured:
    """A colour of the file, #rrggbb, and what has it. area: in mm2. is_bright: neither white, grey nor black."""

    name: str
    faces: FaceMask
    area: float
    is_bright: bool

    @property
    def is_all(self) -> bool:
        """Whether the whole part has it: then it tells nothing apart."""
        return self.faces.count == self.faces.faces


def file_colours(part: Solid) -> tuple[Coloured, ...]:
    """The colours of a part in its own file, the largest area first; () if it has none.

    Colours that differ by rounding only count as one. Reads the file again; raises FileReadError only if it is there
    no more, or is another one by now.
    """
    path = part.source.path
    # A plan keeps the bare name of the part's file: what lies there now may be another one.
    if part.source.format in WITHOUT or not Path(path).is_absolute() or Path(path).suffix.lower() == SUFFIX:
        return ()
    try:
        colours = read_colours(path)
    except FileReadError:
        if Path(path).is_file():
            return ()
        raise
    fitting(path, colours, part)
    a, b, c = np.moveaxis(part.vertices[part.faces], 1, 0)
    areas = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)
    given = np.flatnonzero(colours[:, 0] >= 0)
    kinds, which = np.unique(colours[given], axis=0, return_inverse=True)
    which = which.reshape(-1)
    area_of = np.bincount(which, areas[given], len(kinds))
    found: list[Coloured] = []
    free = np.ones(len(kinds), np.bool_)
    for k in np.argsort(-area_of, kind="stable").tolist():
        if len(found) == MOST:
            break
        if free[k]:
            red, green, blue = kinds[k].tolist()
            chosen = like(kinds, (red, green, blue)) & free
            free &= ~chosen
            faces = FaceMask.at(len(colours), given[chosen[which]])
            is_bright = bool(bright(kinds[k : k + 1])[0])
            found.append(Coloured(name_of(kinds[k]), faces, float(area_of[chosen].sum()), is_bright))
    return tuple(sorted(found, key=lambda one: -one.area))


def worth_offering(found: tuple[Coloured, ...]) -> bool:
    """Whether somebody painted a part of it: a colour other than white, grey and black, but not all over, and no
    photograph."""
    return len(found) < MOST and any(one.is_bright and not one.is_all for one in found)


def keep_coloured(state: AppState, chosen: tuple[Coloured, ...]) -> Edit:
    """Keep clear what has these colours, besides what is kept clear already, as one edit. Raises InputError for colours
    of another part."""
    mask = chosen[0].faces
    for one in chosen[1:]:
        mask |= one.faces
    if state.keep_clear is not None and state.keep_clear.faces == mask.faces:
        mask |= state.keep_clear
    names = chosen[0].name if len(chosen) == 1 else f"{len(chosen)} colours"
    return mark(state, mask, f"Keep clear what is {names}" if len(chosen) == 1 else f"Keep {names} clear")
