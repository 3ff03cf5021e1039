"""OFF (Geomview's object file format): text, with or without colours, normals and texture coordinates."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ventplanner.errors import FileReadError
from ventplanner.geometry.solid import FloatArray
from ventplanner.io.colours import Colours, from_numbers, of_corners
from ventplanner.io.content import Content, check_indices, damaged
from ventplanner.io.polygons import triangulate
from ventplanner.io.text import floats, integers
from ventplanner.progress import Progress, silent

_MAGIC = re.compile(rb"(?:ST)?C?N?OFF(?=\s|#|$)")


def looks_like_off(head: bytes, size: int) -> bool:
    """Whether the first word is OFF, perhaps with the letters for texture, colour or normals before it."""
    return _MAGIC.match(_uncommented(head[:4096]).lstrip()) is not None


def read_off(path: Path, progress: Progress = silent) -> Content:
    """Read an OFF file. Raises FileReadError for the binary kind, numbers that do not fit, or a file cut short."""
    _, rows, polygons = _lines(path)
    points = _points(path, rows)
    progress("reading", 0.5)
    corners, sizes = _corners(path, polygons, len(points))
    triangles, _ = triangulate(points, corners, sizes)
    progress("reading", 1.0)
    dropped = int(np.count_nonzero(sizes < 3))
    return Content(
        points, triangles, notes=(f"{dropped} faces with less than three corners were left out.",) * (dropped > 0)
    )


def read_off_colours(path: Path) -> Colours | None:
    """Colours of the triangles: of the faces if any has one, else of the vertices; None without.

    Three or four numbers behind the corners of a face; a single one names a colour of a map that the file does not
    hold, and is passed over.
    """
    magic, rows, polygons = _lines(path)
    points = _points(path, rows)
    corners, sizes = _corners(path, polygons, len(points))
    triangles, polygon = triangulate(points, corners, sizes)
    behind = [row[size + 1 :] for row, size in zip(polygons, sizes.tolist(), strict=True)]
    if any(len(words) >= 3 for words in behind):
        return _colours(path, behind)[polygon]
    before = 6 if b"N" in magic.removesuffix(b"OFF") else 3
    if b"C" not in magic:
        return None
    return of_corners(_colours(path, [row.split()[before : before + 4] for row in rows]), triangles)


def _colours(path: Path, rows: list[list[bytes]]) -> Colours:
    """(k, 3) of three or four numbers each, -1 for a row with fewer: whole from 0 to 255, or from 0 to 1."""
    given = [k for k, row in enumerate(rows) if len(row) >= 3]
    words = [word for k in given for word in rows[k][:3]]
    whole = not any(b"." in word or b"e" in word.lower() for word in words)
    colours = np.full((len(rows), 3), -1, np.int16)
    colours[given] = from_numbers(floats(path, words, "colours").reshape(-1, 3), whole=whole)
    return colours


def _lines(path: Path) -> tuple[bytes, list[bytes], list[list[bytes]]]:
    """The first word, the lines of the vertices, and the words of the faces."""
    text = _uncommented(path.read_bytes()).lstrip()
    magic = _MAGIC.match(text)
    if magic is None:
        raise damaged(path, "the first word is not OFF")
    lines = [line for line in text[magic.end() :].splitlines() if line.strip()]
    if lines and lines[0].split()[0] == b"BINARY":
        raise FileReadError(f"{path}: binary OFF is not supported.", "Export the part as text OFF, STL or PLY.")
    counts = integers(path, lines[0].split()[:2], "counts").tolist() if lines else []
    if len(counts) < 2 or min(counts) < 0:
        raise damaged(path, "the counts of vertices and faces are missing")
    vertices, faces = counts
    if len(lines) < 1 + vertices + faces:
        raise damaged(
            path,
            f"the file is cut short: it promises {vertices} vertices and {faces} faces, "
            f"it has {len(lines) - 1} lines after the counts",
        )
    if not faces:
        raise FileReadError(f"{path}: the file has {vertices} points and no faces.", "Export the part as a mesh.")
    return magic[0], lines[1 : 1 + vertices], [line.split() for line in lines[1 + vertices : 1 + vertices + faces]]


def _points(path: Path, lines: list[bytes]) -> FloatArray:
    rows = [line.split(None, 3)[:3] for line in lines]
    short = next((i for i, row in enumerate(rows) if len(row) < 3), None)
    if short is not None:
        raise damaged(path, f"vertex {short + 1} has {len(rows[short])} coordinates")
    return floats(path, [word for row in rows for word in row], "coordinates").reshape(-1, 3)


def _corners(path: Path, polygons: list[list[bytes]], count: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Vertex indices of all polygons, and the size of each."""
    sizes = integers(path, [row[0] for row in polygons], "face sizes")
    for i, (row, size) in enumerate(zip(polygons, sizes.tolist(), strict=True)):
        if not 0 <= size < len(row):
            raise damaged(path, f"face {i + 1} promises {size} corners and has {len(row) - 1} numbers")
    named = [word for row, size in zip(polygons, sizes.tolist(), strict=True) for word in row[1 : size + 1]]
    corners = integers(path, named, "face indices")
    check_indices(path, corners, sizes, count)
    return corners, sizes


def _uncommented(text: bytes) -> bytes:
    return re.sub(rb"#[^\r\n]*", b"", text) if b"#" in text else text
