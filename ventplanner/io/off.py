"""OFF (Geomview's object file format): text, with or without colours, normals and texture coordinates."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np

from ventplanner.errors import FileReadError
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
    rows = [line.split(None, 3)[:3] for line in lines[1 : 1 + vertices]]
    short = next((i for i, row in enumerate(rows) if len(row) < 3), None)
    if short is not None:
        raise damaged(path, f"vertex {short + 1} has {len(rows[short])} coordinates")
    points = floats(path, [word for row in rows for word in row], "coordinates").reshape(-1, 3)
    progress("reading", 0.5)
    polygons = [line.split() for line in lines[1 + vertices : 1 + vertices + faces]]
    sizes = integers(path, [row[0] for row in polygons], "face sizes")
    for i, (row, size) in enumerate(zip(polygons, sizes.tolist(), strict=True)):
        if not 0 <= size < len(row):
            raise damaged(path, f"face {i + 1} promises {size} corners and has {len(row) - 1} numbers")
    named = [word for row, size in zip(polygons, sizes.tolist(), strict=True) for word in row[1 : size + 1]]
    corners = integers(path, named, "face indices")
    check_indices(path, corners, sizes, vertices)
    triangles, _ = triangulate(points, corners, sizes)
    progress("reading", 1.0)
    dropped = int(np.count_nonzero(sizes < 3))
    return Content(
        points, triangles, notes=(f"{dropped} faces with less than three corners were left out.",) * (dropped > 0)
    )


def _uncommented(text: bytes) -> bytes:
    return re.sub(rb"#[^\r\n]*", b"", text) if b"#" in text else text
