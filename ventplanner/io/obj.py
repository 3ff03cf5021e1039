"""Wavefront OBJ: vertices, polygons, objects and groups; of what concerns the look only colours, on request."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ventplanner.errors import FileReadError
from ventplanner.geometry.solid import Body, FloatArray, Solid
from ventplanner.io.colours import Colours, from_numbers, of_corners
from ventplanner.io.content import Content, body_runs, check_indices, damaged
from ventplanner.io.polygons import triangulate
from ventplanner.io.text import floats, integers
from ventplanner.io.units import from_mm
from ventplanner.progress import Progress, silent

_ELEMENT = re.compile(rb"^[ \t]*(?:v|f)[ \t]+[-+.\d]", re.MULTILINE)
# What follows the vertex index in a corner "vertex/texture/normal".
_LOOKS = re.compile(rb"(?<=\S)/\S*")
_CHUNK_ROWS = 100_000


@dataclass
class _Lines:
    """The lines that matter, sorted by kind; `seen` counts the vertices before each face, for indices from the end.
    materials: from which face on which one is used. libraries: the files that describe them."""

    vertices: list[bytes] = field(default_factory=list)
    faces: list[bytes] = field(default_factory=list)
    seen: list[int] = field(default_factory=list)
    names: list[tuple[int, str]] = field(default_factory=list)
    materials: list[tuple[int, str]] = field(default_factory=list)
    libraries: list[str] = field(default_factory=list)


def looks_like_obj(head: bytes, size: int) -> bool:
    """Whether a file starts like an OBJ: text with a line "v 1 2 3" or "f 1 2 3". It has no signature of its own."""
    return b"\0" not in head and _ELEMENT.search(head) is not None


def read_obj(path: Path, progress: Progress = silent) -> Content:
    """Read an OBJ. Each object or group that has faces is a body.

    Raises FileReadError for numbers that are none, indices out of range, or a file without faces.
    """
    lines = _sorted(path.read_bytes())
    progress("reading", 0.3)
    if not lines.faces:
        what = f"only {len(lines.vertices)} points" if lines.vertices else "nothing of a mesh"
        raise FileReadError(f"{path}: the file holds {what}, no faces.", "Export the part as a mesh.")
    points = _points(path, lines.vertices)
    progress("reading", 0.6)
    corners, sizes = _corners(path, lines, len(points))
    check_indices(path, corners, sizes, len(points))
    faces, polygon = triangulate(points, corners, sizes)
    progress("reading", 1.0)
    dropped = int(np.count_nonzero(sizes < 3))
    notes = (f"{dropped} faces with less than three corners were left out.",) if dropped else ()
    return Content(points, faces, _bodies(lines.names, polygon), notes=notes)


def read_obj_colours(path: Path) -> Colours | None:
    """Colours of the triangles: of the vertices where all of them have one, else of the materials; None without."""
    lines = _sorted(path.read_bytes())
    points = _points(path, lines.vertices)
    corners, sizes = _corners(path, lines, len(points))
    check_indices(path, corners, sizes, len(points))
    faces, polygon = triangulate(points, corners, sizes)
    words = [line.split(b"#")[0].split() for line in lines.vertices]
    if words and all(len(row) == 7 for row in words):
        numbers = floats(path, [word for row in words for word in row[4:]], "colours").reshape(-1, 3)
        return of_corners(from_numbers(numbers, whole=bool((numbers > 1.0).any())), faces)
    known = _materials(path, lines.libraries)
    if not known:
        return None
    firsts = [0, *(first for first, _ in lines.materials)]
    used = np.array([(-1, -1, -1), *(known.get(name, (-1, -1, -1)) for _, name in lines.materials)], dtype=np.int16)
    return used[np.searchsorted(firsts, polygon, side="right") - 1]


def _materials(path: Path, libraries: list[str]) -> dict[str, tuple[int, int, int]]:
    """Diffuse colours by name of the materials in the files that lie beside the OBJ; one that is not there has none."""
    found: dict[str, tuple[int, int, int]] = {}
    for library in libraries:
        file, name = path.parent / Path(library.replace("\\", "/")).name, ""
        if not file.is_file():
            continue
        for line in file.read_text("utf-8", "replace").splitlines():
            words = line.split()
            if words[:1] == ["newmtl"]:
                name = line.split(None, 1)[1].strip() if len(words) > 1 else ""
            elif words[:1] == ["Kd"] and len(words) >= 4 and words[1] not in ("spectral", "xyz"):
                numbers = floats(file, [word.encode() for word in words[1:4]], f"the colour of {name!r}")
                red, green, blue = from_numbers(numbers, whole=False).tolist()
                found[name] = (red, green, blue)
    return found


def write_obj(solid: Solid, path: Path, progress: Progress = silent) -> None:
    """Write an OBJ in the unit of the source, one object for each body; numbers in the shortest form that is exact."""
    points = from_mm(solid.vertices, solid.source.mm_per_unit, single=solid.source.single_precision)
    with path.open("w", encoding="utf-8", newline="\n") as file:
        file.write("# triangle mesh written by ventplanner\n")
        for start in range(0, len(points), _CHUNK_ROWS):
            rows = points[start : start + _CHUNK_ROWS].tolist()
            file.write("".join([f"v {x!r} {y!r} {z!r}\n" for x, y, z in rows]))
            progress("writing", start / (len(points) + len(solid.faces)))
        for body in body_runs(solid):
            file.write(f"o {' '.join(body.name.split()) or 'part'}\n")
            for start in range(body.start, body.stop, _CHUNK_ROWS):
                corners = (solid.faces[start : min(start + _CHUNK_ROWS, body.stop)].astype(np.int64) + 1).tolist()
                file.write("".join([f"f {a} {b} {c}\n" for a, b, c in corners]))
                progress("writing", (len(points) + start) / (len(points) + len(solid.faces)))


def _sorted(data: bytes) -> _Lines:
    if b"\\" in data:
        data = re.sub(rb"\\\r?\n", b" ", data)
    if b"\t" in data:
        data = data.replace(b"\t", b" ")
    found = _Lines()
    for raw in data.splitlines():
        line = raw.lstrip() if raw[:1] == b" " else raw
        kind = line[:2]
        if kind == b"v ":
            found.vertices.append(line)
        elif kind == b"f ":
            found.faces.append(line)
            found.seen.append(len(found.vertices))
        elif kind in (b"o ", b"g "):
            found.names.append((len(found.faces), line[2:].decode("utf-8", "replace").strip()))
        elif line.startswith(b"usemtl "):
            found.materials.append((len(found.faces), line[7:].decode("utf-8", "replace").strip()))
        elif line.startswith(b"mtllib "):
            found.libraries.append(line[7:].decode("utf-8", "replace").strip())
    return found


def _points(path: Path, lines: list[bytes]) -> FloatArray:
    """(n, 3): the first three numbers of each line; weights and colours may follow."""
    words = b" ".join(lines).split()
    if len(words) == 4 * len(lines) and words[0::4].count(b"v") == len(lines):
        return np.stack([floats(path, words[i::4], "coordinates") for i in (1, 2, 3)], axis=1)
    split = [line.split(b"#")[0].split()[1:4] for line in lines]
    for place, row in enumerate(split):
        if len(row) < 3:
            raise damaged(path, f"vertex {place + 1} has {len(row)} coordinates")
    return floats(path, [word for row in split for word in row], "coordinates").reshape(-1, 3)


def _corners(path: Path, lines: _Lines, count: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Vertex indices of all polygons, from 0, and the size of each polygon."""
    text = b" ".join(lines.faces)
    words = (_LOOKS.sub(b"", text) if b"/" in text else text).split()
    if len(words) == 4 * len(lines.faces) and words[0::4].count(b"f") == len(lines.faces):
        indices = np.stack([integers(path, words[i::4], "face indices") for i in (1, 2, 3)], axis=1).ravel()
        sizes = np.full(len(lines.faces), 3, dtype=np.int64)
    else:
        polygons = [_LOOKS.sub(b"", line.split(b"#")[0]).split()[1:] for line in lines.faces]
        indices = integers(path, [word for polygon in polygons for word in polygon], "face indices")
        sizes = np.array([len(polygon) for polygon in polygons], dtype=np.int64)
    if len(indices) and indices.min() <= 0:
        if (indices == 0).any():
            polygon = int(np.searchsorted(np.cumsum(sizes), np.flatnonzero(indices == 0)[0], side="right"))
            raise damaged(path, f"face {polygon + 1} names vertex 0, but OBJ counts from 1")
        seen = np.repeat(np.array(lines.seen, dtype=np.int64), sizes)
        indices = np.where(indices < 0, indices + seen + 1, indices)
    return indices - 1, sizes


def _bodies(names: list[tuple[int, str]], polygon: NDArray[np.int64]) -> tuple[Body, ...]:
    """Bodies from (first polygon, name) marks and the polygon of each triangle."""
    marks = [(0, "part"), *names]
    starts = [int(np.searchsorted(polygon, first)) for first, _ in marks]
    stops = [*starts[1:], len(polygon)]
    return tuple(
        Body(name or f"object {i}", start, stop)
        for i, ((_, name), start, stop) in enumerate(zip(marks, starts, stops, strict=True))
        if stop > start
    )
