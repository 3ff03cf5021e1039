"""The surface to be kept clear, from a file: by the colours of the part, of another file of it, or from a plan."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from scipy.spatial import cKDTree

from ventplanner.errors import FileReadError, ProjectError
from ventplanner.geometry.face_mask import BoolArray, FaceMask
from ventplanner.geometry.solid import FloatArray, IntArray, Solid
from ventplanner.io.colours import Colours, bright, colour_of, is_colour, like, most_common, read_colours
from ventplanner.io.meshes import read
from ventplanner.io.project import SUFFIX, load_plan

SAME_PLACE = 1e-5
"""Two files of one part may round their coordinates: by so much of its size at most (own judgement)."""


def marks_from(wanted: str, part: Solid) -> FaceMask:
    """The faces of a part to be kept clear.

    wanted: a colour (#RRGGBB) of the part's own file; or another file with the same triangles in any order, those in it
    that have a colour (white, grey and black do not count); or a plan file, what is marked in it. Raises
    ParameterError, FileReadError and ProjectError, each with the way out.
    """
    if is_colour(wanted):
        return of_colour(part, colour_of(wanted))
    if Path(wanted).suffix.lower() == SUFFIX:
        saved = load_plan(wanted)
        if saved.keep_clear is None:
            raise ProjectError(f"{wanted}: no surface is marked in this plan.", "Name a plan in which one is marked.")
        return FaceMask.of(saved.keep_clear.flags[_same_faces(wanted, saved.part, part)])
    other = read(wanted, part.source.unit_assumed)
    number = _same_faces(wanted, other, part)
    marked = bright(fitting(wanted, read_colours(wanted), other))
    if not marked.any():
        raise FileReadError(
            f"{wanted}: nothing is painted in it; white, grey and black do not count.",
            "Paint the surface to be kept clear in a colour such as red.",
        )
    return FaceMask.of(marked[number])


def of_colour(part: Solid, colour: tuple[int, int, int]) -> FaceMask:
    """The faces of a part that have this colour in its own file. Raises FileReadError for a file without it."""
    path = part.source.path
    if not path or not Path(path).is_file() or Path(path).suffix.lower() == SUFFIX:
        raise FileReadError(
            "The colours of the part are not known: a plan keeps none.", "Open the part from its own file."
        )
    colours = fitting(path, read_colours(path), part)
    return FaceMask.of(_of_that_colour(path, colours, colour))


def _of_that_colour(path: str, colours: Colours, colour: tuple[int, int, int]) -> BoolArray:
    marked = like(colours, colour)
    if not marked.any():
        found = ", ".join(f"{name} ({count} triangles)" for name, count in most_common(colours, 6))
        raise FileReadError(f"{path}: no triangle has this colour.", f"The colours in it are {found}.")
    return marked


def fitting(path: str, colours: Colours, part: Solid) -> Colours:
    """The colours, if there is one for each face of the part; else raises FileReadError."""
    if len(colours) != len(part.faces):
        raise FileReadError(
            f"{path}: the file has {len(colours)} triangles now, the part {len(part.faces)}.", "Read the part again."
        )
    return colours


def _same_faces(path: str, other: Solid, part: Solid) -> IntArray:
    """(m,) for each face of the part the face of the other solid in the same place. FileReadError if they differ."""
    if len(other.faces) != len(part.faces):
        raise FileReadError(
            f"{path}: it has {len(other.faces)} triangles, and the part has {len(part.faces)}.", _WAY_OUT
        )
    reach = SAME_PLACE * float(np.ptp(part.bounds, axis=0).max())
    here, there = _places(part), _places(other)
    if np.abs(here - there).max() <= reach:
        return np.arange(len(here), dtype=np.int32)
    found = cKDTree(there).query(here, distance_upper_bound=3.0 * reach)
    away, number = np.asarray(found[0]), np.asarray(found[1])
    wrong = np.flatnonzero(~np.isfinite(away))
    if len(wrong) or len(np.unique(number)) < len(number):
        place = ", ".join(f"{x:.4g}" for x in part.vertices[part.faces[wrong[0] if len(wrong) else 0]].mean(axis=0))
        what = f"{max(len(wrong), 1)} triangles of the part are not in it, one at ({place}) mm"
        raise FileReadError(f"{path}: {what}.", _WAY_OUT)
    return np.asarray(number, dtype=np.int32)


_WAY_OUT = "Export it from the same model, at the same place and with the same triangles."


def _places(solid: Solid) -> FloatArray:
    """(m, 9) middle, lowest and highest corner of each face: the same with whichever corner a file begins."""
    corners = solid.vertices[solid.faces]
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    low, high = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
    return np.concatenate(((a + b + c) / 3.0, low, high), axis=1)
