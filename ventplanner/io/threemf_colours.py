"""The colours of the triangles in one 3MF model part: base materials (3MF Core Specification 1.4.0, chapter 5) and
colour groups (Materials and Properties Extension 1.2.1, chapter 3). Textures and mixtures give no colour here."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np

from ventplanner.io.colours import Colours, of_corners
from ventplanner.io.content import damaged
from ventplanner.io.threemf_model import CORE, MATERIAL, Model, ModelReader

_COLOUR = re.compile(r"#([0-9A-Fa-f]{6})(?:[0-9A-Fa-f]{2})?")
_NONE = (-1, -1, -1)

Rgb = tuple[int, int, int]


def parse_coloured(path: Path, part: str, data: bytes) -> Model:
    """As `parse_model`, with the colours of the triangles of every object that has any; takes longer."""
    return _ColourReader(path, part).parse(data)


class _ColourReader(ModelReader):
    def __init__(self, path: Path, part: str) -> None:
        self._groups: dict[str, list[Rgb]] = {}
        self._group: list[Rgb] = []
        self._own: tuple[str, str] = ("", "0")  # group and number that an object gives to its triangles
        self._looks: list[tuple[Rgb, Rgb, Rgb]] = []
        super().__init__(path, part)

    def _take_block(self, block: bytes) -> bool:
        return not (self._stack and self._stack[-1] == f"{CORE} triangles") and super()._take_block(block)

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        super()._start(name, attributes)
        if name in (f"{CORE} basematerials", f"{MATERIAL} colorgroup"):
            self._group = self._groups.setdefault(attributes.get("id", ""), [])
        elif name == f"{CORE} base":
            self._group.append(self._rgb(attributes.get("displaycolor", "")))
        elif name == f"{MATERIAL} color":
            self._group.append(self._rgb(attributes.get("color", "")))
        elif name == f"{CORE} object":
            self._own = attributes.get("pid", ""), attributes.get("pindex", "0")
            self._looks = []

    def _start_triangle(self, attributes: dict[str, str]) -> None:
        super()._start_triangle(attributes)
        pid, pindex = self._own
        first = attributes.get("p1", "") or pindex
        group = self._groups.get(attributes.get("pid", pid) if attributes.get("p1") else pid, [])
        one, two, three = (self._of(group, attributes.get(p, first)) for p in ("p1", "p2", "p3"))
        self._looks.append((one, two, three))

    def _end(self, name: str) -> None:
        if name == f"{CORE} object" and self._object is not None and self._looks:
            self._object.colours = _of_triangles(self._looks)
        super()._end(name)

    def _rgb(self, text: str) -> Rgb:
        found = _COLOUR.fullmatch(text)
        if found is None:
            raise damaged(self._path, f"{self._part}: {text[:20]!r} is no colour")
        red, green, blue = bytes.fromhex(found[1])
        return red, green, blue

    def _of(self, group: list[Rgb], number: str) -> Rgb:
        return group[int(number)] if number.isdecimal() and int(number) < len(group) else _NONE


def _of_triangles(looks: list[tuple[Rgb, Rgb, Rgb]]) -> Colours:
    corners = np.array(looks, dtype=np.int16).reshape(-1, 3)
    return of_corners(corners, np.arange(len(corners)).reshape(-1, 3))
