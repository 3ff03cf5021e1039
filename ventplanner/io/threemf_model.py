"""The XML of one 3MF model part (3MF Core Specification 1.4.0) as plain values.

Nearly all of a large model is the rows of its meshes. Those blocks are cut out and read with one regular expression
each, if every tag in them is of the usual form; the XML parser gets the rest, and any block that is not.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import chain
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ventplanner.errors import FileReadError
from ventplanner.geometry.solid import FloatArray, Unit
from ventplanner.io.colours import Colours
from ventplanner.io.content import damaged
from ventplanner.io.text import floats, integers
from ventplanner.io.threemf_package import safe_parser, xml_errors

CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
PRODUCTION = "http://schemas.microsoft.com/3dmanufacturing/production/2015/06"
MATERIAL = "http://schemas.microsoft.com/3dmanufacturing/material/2015/02"
# Extensions that may be required of a reader here: they say nothing else about the shape.
_HARMLESS = (
    CORE,
    PRODUCTION,
    MATERIAL,
    "http://schemas.microsoft.com/3dmanufacturing/trianglesets/2021/07",
)
UNITS: dict[str, Unit] = {
    "micron": "micron",
    "millimeter": "mm",
    "centimeter": "cm",
    "inch": "inch",
    "foot": "foot",
    "meter": "m",
}
# Determinant, of rows scaled to 1, that is zero but for rounding.
_FLAT = 1e-12
IDENTITY = np.vstack([np.eye(3), np.zeros(3)])

_BLOCK = re.compile(rb"<(vertices|triangles)(?:\s[^<>]*)?(?<!/)>")
_VERTEX = re.compile(rb'<vertex\s+x="([^"<&]*)"\s+y="([^"<&]*)"\s+z="([^"<&]*)"\s*/>')
_TRIANGLE = re.compile(rb'<triangle\s+v1="([^"<&]*)"\s+v2="([^"<&]*)"\s+v3="([^"<&]*)"(?:\s[^<>&]*)?/>')


@dataclass(frozen=True)
class Reference:
    """A use of an object: a component or a build item. transform: (4, 3), applied as [x y z 1] @ transform."""

    object_id: str
    transform: FloatArray
    part: str = ""
    label: str = ""


@dataclass
class Object:
    """An object of the resources: a mesh, or components. colours: of its triangles, if they were asked for."""

    id: str
    type: str
    name: str
    points: FloatArray = field(default_factory=lambda: np.zeros((0, 3)))
    faces: NDArray[np.int64] = field(default_factory=lambda: np.zeros((0, 3), np.int64))
    components: list[Reference] = field(default_factory=list)
    colours: Colours | None = None


@dataclass
class Model:
    """One model part: its unit, objects by id and build items."""

    unit: Unit = "mm"
    objects: dict[str, Object] = field(default_factory=dict)
    items: list[Reference] = field(default_factory=list)


def parse_model(path: Path, part: str, data: bytes) -> Model:
    """Parse the XML of a model part. Raises FileReadError with the line or the row of what is wrong."""
    return ModelReader(path, part).parse(data)


class ModelReader:
    """Reads one model part; see `parse_model`."""

    def __init__(self, path: Path, part: str) -> None:
        self._path, self._part = path, part
        self._model = Model()
        self._object: Object | None = None
        self._stack: list[str] = []
        self._rows: list[str] = []
        self._prefixes: dict[str, str] = {}
        self._skipped_lines = 0
        self._parser = safe_parser(path, part)
        self._parser.buffer_text = True
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._end
        self._parser.StartNamespaceDeclHandler = self._namespace
        self._starts = {
            "model": self._start_model,
            "object": self._start_object,
            "component": self._start_component,
            "item": self._start_item,
            "vertex": self._start_vertex,
            "triangle": self._start_triangle,
        }

    def parse(self, data: bytes) -> Model:
        """The model of the XML."""
        place = 0
        with xml_errors(self._path, self._part, lambda: self._skipped_lines):
            for start, stop in _blocks(data):
                self._parser.Parse(data[place:start], False)
                place = start
                if self._take_block(data[start:stop]):
                    self._skipped_lines += data.count(b"\n", start, stop)
                    place = stop
            self._parser.Parse(data[place:], True)
        return self._model

    def _take_block(self, block: bytes) -> bool:
        """Read the rows of the mesh list that is open, if all of them are of the usual form."""
        kind = self._stack[-1] if self._stack else ""
        if self._object is None or kind not in (f"{CORE} vertices", f"{CORE} triangles"):
            return False
        rows = (_VERTEX if kind.endswith("vertices") else _TRIANGLE).findall(block)
        if block.count(b"<") != len(rows):
            return False
        words = list(chain.from_iterable(rows))
        where = f"the mesh of object {self._object.id}"
        if kind.endswith("vertices"):
            self._object.points = floats(self._path, words, f"vertices in {where}").reshape(-1, 3)
        else:
            self._object.faces = integers(self._path, words, f"triangles in {where}").reshape(-1, 3)
        return True

    def _namespace(self, prefix: str | None, uri: str) -> None:
        self._prefixes[prefix or ""] = uri

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        if not self._stack and name != f"{CORE} model":
            raise damaged(self._path, f"the part {self._part} is no 3MF core model (its root is {name!r})")
        self._stack.append(name)
        namespace, _, local = name.rpartition(" ")
        if namespace == CORE and local in self._starts:
            try:
                self._starts[local](attributes)
            except KeyError as error:
                line = self._parser.CurrentLineNumber + self._skipped_lines
                raise damaged(self._path, f"{self._part}, line {line}: <{local}> lacks {error.args[0]!r}") from error

    def _end(self, name: str) -> None:
        self._stack.pop()
        if self._object is None:
            return
        where = f"the mesh of object {self._object.id}"
        if name == f"{CORE} vertices" and self._rows:
            self._object.points = floats(self._path, self._rows, f"vertices in {where}").reshape(-1, 3)
        elif name == f"{CORE} triangles" and self._rows:
            self._object.faces = integers(self._path, self._rows, f"triangles in {where}").reshape(-1, 3)
        elif name == f"{CORE} object":
            self._object = None
        if name in (f"{CORE} vertices", f"{CORE} triangles"):
            self._rows = []

    def _start_model(self, attributes: dict[str, str]) -> None:
        unit = attributes.get("unit", "millimeter")
        if unit not in UNITS:
            raise damaged(self._path, f"the unit {unit!r} of the model is none of {', '.join(UNITS)}")
        self._model.unit = UNITS[unit]
        required = [self._prefixes.get(prefix, prefix) for prefix in attributes.get("requiredextensions", "").split()]
        unknown = [uri for uri in required if uri not in _HARMLESS]
        if unknown:
            raise FileReadError(
                f"{self._path}: the model needs the 3MF extension {unknown[0]}, which is not supported.",
                "Export the part as a plain mesh.",
            )

    def _start_object(self, attributes: dict[str, str]) -> None:
        id_ = attributes["id"]
        if id_ in self._model.objects:
            raise damaged(self._path, f"{self._part} has two objects with the id {id_}")
        self._object = Object(id_, attributes.get("type", "model"), attributes.get("name", "").strip())
        self._model.objects[id_] = self._object

    def _start_component(self, attributes: dict[str, str]) -> None:
        if self._object is not None:
            self._object.components.append(self._reference(attributes))

    def _start_item(self, attributes: dict[str, str]) -> None:
        self._model.items.append(self._reference(attributes))

    def _start_vertex(self, attributes: dict[str, str]) -> None:
        self._rows += (attributes["x"], attributes["y"], attributes["z"])

    def _start_triangle(self, attributes: dict[str, str]) -> None:
        self._rows += (attributes["v1"], attributes["v2"], attributes["v3"])

    def _reference(self, attributes: dict[str, str]) -> Reference:
        id_ = attributes["objectid"]
        transform = IDENTITY
        if "transform" in attributes:
            words = attributes["transform"].split()
            if len(words) != 12:
                raise damaged(self._path, f"a transform of object {id_} has {len(words)} numbers instead of 12")
            transform = floats(self._path, words, f"transform of object {id_}").reshape(4, 3)
            if not np.isfinite(transform).all() or abs(determinant(transform)) < _FLAT:
                raise damaged(self._path, f"a transform of object {id_} is singular: it would flatten the object")
        return Reference(id_, transform, attributes.get(f"{PRODUCTION} path", ""), attributes.get("partnumber", ""))


def determinant(transform: FloatArray) -> float:
    """Of the linear part of a (4, 3) transform, whose rows are scaled to a largest entry of 1 first; 0 if singular."""
    rows = transform[:3]
    scale = np.abs(rows).max(axis=1, keepdims=True)
    return float(np.linalg.det(rows / scale)) if scale.all() else 0.0


def _blocks(data: bytes) -> Iterator[tuple[int, int]]:
    """Where the insides of <vertices> and <triangles> begin and end; none if text could be taken for markup."""
    if b"<!" in data:
        return
    place = 0
    while found := _BLOCK.search(data, place):
        stop = data.find(b"</" + found[1] + b">", found.end())
        if stop < 0:
            return
        yield found.end(), stop
        place = stop
