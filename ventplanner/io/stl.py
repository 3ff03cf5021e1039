"""STL, binary and ASCII.

Binary (3D Systems, 1989): 80 bytes of header, uint32 count, then for each triangle twelve float32 (normal and three
corners) and a uint16, all little endian; the size is 84 + 50 n bytes, which is what tells it from text: a binary
header may well start with the word "solid".
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import NoReturn

import numpy as np
from numpy.typing import NDArray

from ventplanner.errors import FileReadError, FileWriteError
from ventplanner.geometry.solid import Body, FloatArray, Solid
from ventplanner.io.content import Content, damaged
from ventplanner.io.units import from_mm
from ventplanner.progress import Progress, silent

TRIANGLE = np.dtype([("normal", "<f4", (3,)), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
HEADER = b"Binary triangle mesh written by ventplanner"
_HEAD, _TRIANGLE_BYTES = 84, TRIANGLE.itemsize
# The words of one facet in order; "#" stands for a number.
_FACET = b"facet normal # # # outer loop vertex # # # vertex # # # vertex # # # endloop endfacet".split()
_CHUNK = 32 << 20


def looks_like_stl(head: bytes, size: int) -> bool:
    """Whether the first bytes and the size of a file fit an STL of either kind."""
    return _binary_count(head, size) is not None or _is_text(head)


def read_stl(path: Path, progress: Progress = silent) -> Content:
    """Read an STL of either kind as a soup. Raises FileReadError for one that is cut short, empty or garbled."""
    size = path.stat().st_size
    with path.open("rb") as file:
        head = file.read(1024)
    count = _binary_count(head, size)
    if count is None and _is_text(head):
        return _read_text(path, progress)
    notes: tuple[str, ...] = ()
    if size < _HEAD:
        raise damaged(path, f"this is no STL: {size} bytes, while the smallest one has {_HEAD}")
    if count is None:
        count = int.from_bytes(head[80:84], "little")
        needed = _HEAD + _TRIANGLE_BYTES * count
        if size < needed:
            whole = (size - _HEAD) // _TRIANGLE_BYTES
            raise damaged(
                path,
                f"the file is cut short or no STL: its header promises {count} triangles ({needed} bytes), "
                f"it has {size} bytes ({whole} triangles)",
            )
        notes = (f"{size - needed} bytes after the last triangle were ignored.",)
    records = np.fromfile(path, dtype=TRIANGLE, count=count, offset=_HEAD)
    progress("reading", 1.0)
    return Content(records["corners"], single_precision=True, notes=notes)


def write_stl(solid: Solid, path: Path, progress: Progress = silent) -> None:
    """Write binary STL in the unit of the source: float32 corners, normals from the winding (zero where it has none).

    Raises FileWriteError when a coordinate is beyond float32.
    """
    with np.errstate(over="ignore"):
        points = from_mm(solid.vertices, solid.source.mm_per_unit, single=True).astype("<f4")
    if not np.isfinite(points).all():
        raise FileWriteError(f"{path}: a coordinate is too large for STL.", "Choose PLY, OBJ or 3MF.")
    records = np.zeros(len(solid.faces), dtype=TRIANGLE)
    records["corners"] = points[solid.faces]
    records["normal"] = _normals(records["corners"])
    with path.open("wb") as file:
        file.write(HEADER.ljust(80, b"\0") + len(records).to_bytes(4, "little"))
        file.write(records.view(np.uint8).data)
    progress("writing", 1.0)


def _normals(corners: NDArray[np.float32]) -> FloatArray:
    """Unit normals (m, 3) by the right-hand rule; zero for a triangle without area."""
    origin = corners[:, 0].astype(np.float64)
    normals = np.cross(corners[:, 1] - origin, corners[:, 2] - origin)
    length = np.linalg.norm(normals, axis=1, keepdims=True)
    unit: FloatArray = np.divide(normals, length, out=np.zeros_like(normals), where=length > 0)
    return unit


def _binary_count(head: bytes, size: int) -> int | None:
    """The number of triangles if the size is exactly that of a binary STL with this header, else None."""
    count = int.from_bytes(head[80:84], "little")
    return count if len(head) >= _HEAD and size == _HEAD + _TRIANGLE_BYTES * count else None


def _is_text(head: bytes) -> bool:
    words = head.lower().split(None, 1)
    return words[:1] == [b"solid"] and b"\0" not in head


def _read_text(path: Path, progress: Progress) -> Content:
    data = path.read_bytes()
    if b"endsolid" not in data:
        data = data.lower()
    corners: list[FloatArray] = []
    bodies: list[Body] = []
    done = place = 0
    for name, start, stop in _sections(path, data):
        first, place = done, start
        while place < stop:
            cut = _after_facet(data, place, stop)
            corners.append(_facets(path, data, place, cut))
            done += len(corners[-1]) // 3
            place = cut
            progress("reading", place / len(data))
        if done > first:
            bodies.append(Body(name or f"solid {len(bodies) + 1}", first, done))
    if not done:
        raise FileReadError(f"{path}: the file holds no triangles.", "Export the part as a mesh.")
    return Content(np.concatenate(corners).reshape(-1, 3, 3), bodies=tuple(bodies) if len(bodies) > 1 else ())


def _sections(path: Path, data: bytes) -> Iterator[tuple[str, int, int]]:
    """Name, start and stop of each stretch of facets between "solid NAME" and "endsolid"."""
    heading, closing = re.compile(rb"\s*solid\b([^\r\n]*)", re.IGNORECASE), re.compile(rb"endsolid[^\r\n]*")
    place = 0
    while found := heading.match(data, place):
        ended = closing.search(data, found.end())
        if not ended:
            facets = data.lower().count(b"endfacet")
            raise damaged(path, f'the file is cut short: no "endsolid" after {facets} whole facets')
        yield found[1].decode("utf-8", "replace").strip(), found.end(), ended.start()
        place = ended.end()
    if rest := data[place:].lstrip():
        line = data.count(b"\n", 0, len(data) - len(rest)) + 1
        raise damaged(path, f'line {line}: neither the end of the file nor another "solid" after "endsolid"')


def _after_facet(data: bytes, start: int, stop: int) -> int:
    """A place after a whole facet, about one chunk on."""
    if stop - start <= _CHUNK:
        return stop
    for word in (b"endfacet", b"ENDFACET"):
        found = data.find(word, start + _CHUNK, stop)
        if found >= 0:
            return found + len(word)
    return stop


def _facets(path: Path, data: bytes, start: int, stop: int) -> FloatArray:
    """The corners (3 k, 3) of the k facets in data[start:stop]."""
    words = data[start:stop].lower().split()
    per_facet = len(_FACET)
    whole = len(words) // per_facet
    for place, expected in enumerate(_FACET):
        found = words[place::per_facet]
        if expected != b"#" and found.count(expected) != len(found):
            row = next(i for i, word in enumerate(found) if word != expected)
            _refuse(path, data, start, row * per_facet + place, expected.decode())
    if whole * per_facet != len(words):
        _refuse(path, data, start, len(words), "a whole facet")
    flat = np.empty((whole, 9))
    for column, place in enumerate((8, 9, 10, 12, 13, 14, 16, 17, 18)):
        numbers = words[place::per_facet]
        try:
            flat[:, column] = np.fromiter(map(float, numbers), dtype=np.float64, count=whole)
        except ValueError:
            row = next(i for i, word in enumerate(numbers) if not _is_number(word))
            _refuse(path, data, start, row * per_facet + place, "a number")
    return flat.reshape(-1, 3)


def _is_number(word: bytes) -> bool:
    try:
        float(word)
    except ValueError:
        return False
    return True


def _refuse(path: Path, data: bytes, start: int, word: int, expected: str) -> NoReturn:
    """Raise the error for the word-th word after `start`, with its line."""
    place = start
    for count, found in enumerate(re.finditer(rb"\S+", data[start:])):
        if count == word:
            place = start + found.start()
            break
    else:
        place = len(data)
    line = data.count(b"\n", 0, place) + 1
    found_word = data[place : place + 40].split()[:1]
    shown = repr(found_word[0].decode("utf-8", "replace")) if found_word else "the end"
    raise damaged(path, f"line {line}: expected {expected}, found {shown}")
