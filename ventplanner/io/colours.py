"""Colours of the triangles of a model file, in the order in which `read` gives the triangles.

PLY: red, green, blue of faces or vertices. OBJ: of vertices (three numbers behind the place, from 0 to 1), or the
diffuse colour of the material. OFF: of faces or vertices. 3MF: base materials and colour groups. A triangle whose
corners differ in colour has none.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ventplanner.errors import FileReadError, ParameterError

Colours = NDArray[np.int16]
"""(m, 3): red, green, blue from 0 to 255; -1 for a triangle without a colour."""

SAME_COLOUR = 2
"""Colours that differ by so little in each channel are the same: files round them."""

_HASH = re.compile(r"#?([0-9a-fA-F]{6})")


def is_colour(text: str) -> bool:
    """Whether a text looks like a colour such as #ff0000."""
    return text.startswith("#")


def colour_of(text: str) -> tuple[int, int, int]:
    """Red, green, blue of a text such as #ff0000. Raises ParameterError for anything else."""
    found = _HASH.fullmatch(text.strip())
    if found is None:
        raise ParameterError(f"'{text:.40}' is no colour.", "Give it as #RRGGBB, such as #ff0000 for red.")
    red, green, blue = bytes.fromhex(found[1])
    return red, green, blue


def name_of(colour: ArrayLike) -> str:
    """#rrggbb of a colour."""
    return "#" + "".join(f"{int(x):02x}" for x in np.asarray(colour))


def like(colours: Colours, colour: tuple[int, int, int]) -> NDArray[np.bool_]:
    """(m,) bool: the triangles of this colour."""
    apart = np.abs(colours - np.array(colour, np.int16)).max(axis=1)
    return np.asarray((colours[:, 0] >= 0) & (apart <= SAME_COLOUR))


def bright(colours: Colours) -> NDArray[np.bool_]:
    """(m,) bool: the triangles that have a colour other than white, grey and black, which programs give to all that
    nobody painted."""
    spread = colours.max(axis=1) - colours.min(axis=1)
    return np.asarray((colours[:, 0] >= 0) & (spread > 2 * SAME_COLOUR))


def most_common(colours: Colours, count: int) -> list[tuple[str, int]]:
    """The most common colours by name, with how many triangles have them, most first."""
    given = colours[colours[:, 0] >= 0]
    found, times = np.unique(given, axis=0, return_counts=True)
    order = np.argsort(-times, kind="stable")[:count]
    return [(name_of(found[k]), int(times[k])) for k in order]


def from_numbers(values: ArrayLike, *, whole: bool) -> Colours:
    """(n, 3) colours of numbers from 0 to 255 (whole), or from 0 to 1."""
    numbers = np.asarray(values, dtype=np.float64) * (1.0 if whole else 255.0)
    colours: Colours = np.rint(np.clip(np.nan_to_num(numbers), 0.0, 255.0)).astype(np.int16)
    return colours


def of_corners(corner_colours: Colours, triangles: NDArray[np.integer]) -> Colours:
    """(m, 3) colours of triangles from those of the (n, 3) vertices: where all three corners have the same one."""
    found = corner_colours[triangles]
    same = (np.ptp(found, axis=1) <= SAME_COLOUR).all(axis=1)
    colours: Colours = found[:, 0].copy()
    colours[~same] = -1
    return colours


def read_colours(path: str | Path) -> Colours:
    """The colours of all triangles of a file. Raises FileReadError for a file without any, and what `read` raises."""
    # Here, not above: the readers use what is above.
    from ventplanner.io import obj, off, ply, threemf_read
    from ventplanner.io.content import check_room, read_error
    from ventplanner.io.meshes import format_of

    path = Path(path)
    readers = {
        "PLY": ply.read_ply_colours,
        "OBJ": obj.read_obj_colours,
        "OFF": off.read_off_colours,
        "3MF": threemf_read.read_3mf_colours,
    }
    try:
        known, _ = format_of(path)
        check_room(path, known.takes)
        colours = readers[known.name](path) if known.name in readers else None
    except OSError as error:
        raise read_error(path, error) from error
    if colours is None or not (colours[:, 0] >= 0).any():
        why = "STL holds none" if known.name == "STL" else "none of its triangles has one"
        raise FileReadError(
            f"{path}: the file has no colours ({why}).", "Export the part with colours, as 3MF, PLY, OBJ or OFF."
        )
    return colours
