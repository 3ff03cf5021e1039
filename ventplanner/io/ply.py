"""PLY (G. Turk, 1994): ASCII and binary of either byte order; positions of vertices, faces, and colours on request."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ventplanner.errors import FileReadError
from ventplanner.geometry.solid import FloatArray, Solid
from ventplanner.io.colours import Colours, from_numbers, of_corners
from ventplanner.io.content import Content, check_indices, damaged
from ventplanner.io.polygons import triangulate
from ventplanner.io.text import floats
from ventplanner.io.units import from_mm
from ventplanner.progress import Progress, silent

_TYPES = {
    **dict.fromkeys(("char", "int8"), "i1"),
    **dict.fromkeys(("uchar", "uint8"), "u1"),
    **dict.fromkeys(("short", "int16"), "i2"),
    **dict.fromkeys(("ushort", "uint16"), "u2"),
    **dict.fromkeys(("int", "int32"), "i4"),
    **dict.fromkeys(("uint", "uint32"), "u4"),
    **dict.fromkeys(("float", "float32"), "f4"),
    **dict.fromkeys(("double", "float64"), "f8"),
}
_ORDERS = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
_FACE_LISTS = ("vertex_indices", "vertex_index")
_MOST_HEADER = 1 << 20


@dataclass(frozen=True)
class Property:
    """A property of an element: its number type, and the type of its length when it is a list ("" = a scalar)."""

    name: str
    type: str
    length: str = ""


@dataclass(frozen=True)
class Element:
    """An element: `count` rows of properties."""

    name: str
    count: int
    properties: tuple[Property, ...]


_CHANNELS = ("red", "green", "blue")

# Columns of one element by property: all values one after the other, and how many each row has.
Columns = dict[str, tuple[NDArray[np.generic], NDArray[np.int64]]]


def looks_like_ply(head: bytes, size: int) -> bool:
    """Whether a file starts with the word "ply" on a line of its own."""
    return head[:4] in (b"ply\n", b"ply\r")


def read_ply(path: Path, progress: Progress = silent) -> Content:
    """Read a PLY. Raises FileReadError for a broken header, a file cut short, or one without faces."""
    order, elements, tables = _tables(path)
    progress("reading", 0.7)
    points, triangles, _ = _mesh(path, tables)
    progress("reading", 1.0)
    single = bool(order) and all(p.type == "f4" for p in elements["vertex"].properties if p.name in "xyz")
    return Content(points, triangles, single_precision=single)


def read_ply_colours(path: Path) -> Colours | None:
    """Colours of the triangles: of the faces if they have any, else of the vertices; None without."""
    _, elements, tables = _tables(path)
    _, triangles, polygon = _mesh(path, tables)
    for name in ("face", "vertex"):
        kinds = {p.name: p.type for p in elements[name].properties if not p.length}
        if all(channel in kinds for channel in _CHANNELS):
            numbers = np.stack([np.asarray(tables[name][c][0], dtype=np.float64) for c in _CHANNELS], axis=1)
            wide = 65535.0 / 255.0 if kinds["red"] == "u2" else 1.0
            colours = from_numbers(numbers / wide, whole=kinds["red"][0] != "f")
            return colours[polygon] if name == "face" else of_corners(colours, triangles)
    return None


def _tables(path: Path) -> tuple[str, dict[str, Element], dict[str, Columns]]:
    """Byte order, and by name the elements and their rows; vertices and faces are among them."""
    data = path.read_bytes()
    order, elements, start = _header(path, data)
    names = [element.name for element in elements]
    if "vertex" not in names or "face" not in names:
        missing = "vertices" if "vertex" not in names else "faces (a point cloud?)"
        raise FileReadError(f"{path}: the file has no {missing}.", "Export the part as a mesh.")
    rows = _Rows(path, data, start, order)
    return order, {e.name: e for e in reversed(elements)}, {element.name: rows.take(element) for element in elements}


def _mesh(path: Path, tables: dict[str, Columns]) -> tuple[FloatArray, NDArray[np.int64], NDArray[np.int64]]:
    """Points, triangles, and the polygon that each triangle is of."""
    face = tables["face"]
    axes = [tables["vertex"].get(axis) for axis in "xyz"]
    if any(axis is None for axis in axes):
        raise damaged(path, "the vertices lack one of the properties x, y, z")
    with np.errstate(invalid="ignore"):  # a signalling NaN; what is not finite is refused later, with its place
        points = np.stack([axis[0] for axis in axes if axis is not None], axis=1).astype(np.float64)
    lists = next((face[name] for name in _FACE_LISTS if name in face), None)
    if lists is None:
        raise damaged(path, f"the faces lack the property {_FACE_LISTS[0]}")
    corners, sizes = _whole(path, lists[0]), lists[1]
    check_indices(path, corners, sizes, len(points))
    triangles, polygon = triangulate(points, corners, sizes)
    return points, triangles, polygon


def write_ply(solid: Solid, path: Path, progress: Progress = silent) -> None:
    """Write a binary little endian PLY in the unit of the source: float32 if the source was, else float64."""
    single = solid.source.single_precision
    points = from_mm(solid.vertices, solid.source.mm_per_unit, single=single).astype("<f4" if single else "<f8")
    rows = np.empty(len(solid.faces), dtype=[("size", "u1"), ("corners", "<i4", (3,))])
    rows["size"], rows["corners"] = 3, solid.faces
    number = "float" if single else "double"
    header = (
        "ply\nformat binary_little_endian 1.0\ncomment triangle mesh written by ventplanner\n"
        f"element vertex {len(points)}\nproperty {number} x\nproperty {number} y\nproperty {number} z\n"
        f"element face {len(rows)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    with path.open("wb") as file:
        file.write(header.encode("ascii"))
        file.write(points.data)
        progress("writing", 0.5)
        file.write(rows.view(np.uint8).data)
    progress("writing", 1.0)


def _header(path: Path, data: bytes) -> tuple[str, list[Element], int]:
    """Byte order ("" = text), elements, and where the rows begin."""
    end = data.find(b"end_header", 0, _MOST_HEADER)
    newline = data.find(b"\n", end)
    if end < 0 or newline < 0:
        raise damaged(path, "the PLY header has no end_header line")
    order: str | None = None
    found: list[tuple[str, int, list[Property]]] = []
    for number, line in enumerate(data[:end].decode("latin-1").splitlines(), start=1):
        match line.split():
            case ["format", kind, *_] if kind in _ORDERS:
                order = _ORDERS[kind]
            case ["element", name, count] if count.isdecimal():
                found.append((name, int(count), []))
            case ["property", "list", length, kind, name] if found and length in _TYPES and kind in _TYPES:
                found[-1][2].append(Property(name, _TYPES[kind], _TYPES[length]))
            case ["property", kind, name] if found and kind in _TYPES:
                found[-1][2].append(Property(name, _TYPES[kind]))
            case [] | ["ply"] | ["comment" | "obj_info", *_]:
                pass
            case _:
                raise damaged(path, f"line {number} of the PLY header is not understood: {line[:60]!r}")
    if order is None:
        raise damaged(path, "the PLY header has no format line")
    return order, [Element(name, count, tuple(properties)) for name, count, properties in found], newline + 1


def _whole(path: Path, values: NDArray[np.generic]) -> NDArray[np.int64]:
    """Indices as int64; from text, or a file that keeps them as floats, they may be none."""
    with np.errstate(invalid="ignore"):
        floating = values.astype(np.float64) if values.dtype.kind == "f" else np.zeros(0)
    if (~np.isfinite(floating) | (floating != np.floor(floating)) | (np.abs(floating) > 2**53)).any():
        raise damaged(path, "a face names a vertex by something else than a whole number")
    return values.astype(np.int64)


class _Rows:
    """Takes one element after the other off the data part of a file.

    Text becomes binary first: every number a float64 (exact for indices too), so that one way of reading serves both.
    """

    def __init__(self, path: Path, data: bytes, start: int, order: str) -> None:
        self._path, self._order = path, order
        self._data = data if order else floats(path, data[start:].split(), "numbers after the header").tobytes()
        self._place = start if order else 0

    def take(self, element: Element) -> Columns:
        """All rows of the element."""
        if not element.count or not element.properties:
            return {p.name: (np.zeros(0), np.zeros(0, np.int64)) for p in element.properties}
        columns = self._even(element)
        return columns if columns is not None else self._uneven(element)

    def _type(self, kind: str) -> np.dtype[np.generic]:
        return np.dtype(self._order + kind if self._order else "f8")

    def _even(self, element: Element) -> Columns | None:
        """The usual case in one step: every list as long as in the first row; None if they are not."""
        fields: list[tuple[str, np.dtype[np.generic], tuple[int, ...]]] = []
        place = self._place
        for i, p in enumerate(element.properties):
            shape: tuple[int, ...] = ()
            if p.length:
                shape = (self._length(p, place),)
                fields.append((f"length {i}", self._type(p.length), ()))
            fields.append((f"value {i}", self._type(p.type), shape))
            place = self._place + np.dtype(fields).itemsize
        row = np.dtype(fields)
        if self._place + row.itemsize * element.count > len(self._data):
            if not any(p.length for p in element.properties):
                raise self._cut_short(element, (len(self._data) - self._place) // row.itemsize)
            return None
        table = np.frombuffer(self._data, dtype=row, count=element.count, offset=self._place)
        columns: Columns = {}
        for i, p in enumerate(element.properties):
            values = table[f"value {i}"]
            lengths = table[f"length {i}"].astype(np.int64) if p.length else np.ones(element.count, np.int64)
            if p.length and (lengths != values.shape[1]).any():
                return None
            columns[p.name] = (values.reshape(-1), lengths)
        self._place += row.itemsize * element.count
        return columns

    def _uneven(self, element: Element) -> Columns:
        """Row by row."""
        values: list[list[NDArray[np.generic]]] = [[] for _ in element.properties]
        lengths: list[list[int]] = [[] for _ in element.properties]
        place = self._place
        for row in range(element.count):
            for i, p in enumerate(element.properties):
                lengths[i].append(self._length(p, place) if p.length else 1)
                place += self._type(p.length).itemsize if p.length else 0
                size = lengths[i][-1] * self._type(p.type).itemsize
                if place + size > len(self._data):
                    raise self._cut_short(element, row)
                values[i].append(np.frombuffer(self._data[place : place + size], dtype=self._type(p.type)))
                place += size
        self._place = place
        return {
            p.name: (np.concatenate(values[i]), np.array(lengths[i], dtype=np.int64))
            for i, p in enumerate(element.properties)
        }

    def _cut_short(self, element: Element, rows: int) -> FileReadError:
        return damaged(
            self._path,
            f"the file is cut short: the header promises {element.count} rows of {element.name!r}, it holds {rows}",
        )

    def _length(self, p: Property, place: int) -> int:
        """The length of a list that begins at `place`; 0 beyond the end, where the row is found short anyway."""
        kind = self._type(p.length)
        if place + kind.itemsize > len(self._data):
            return 0
        length = float(np.frombuffer(self._data, dtype=kind, count=1, offset=place)[0])
        if not 0 <= length <= len(self._data) or length != int(length):
            raise damaged(self._path, f"a list of {p.name!r} has the length {length:g}")
        return int(length)
