"""3MF (Core Specification 1.4.0) into one mesh: every build item with its transform, components unfolded.

All build items form one part under the positive-fill rule, each a body of its own. A transform with a negative
determinant mirrors the shape; its triangles are turned over so that the sign of the volume stays, as the specification
demands. Model parts that the production extension keeps in other files of the container are followed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ventplanner.errors import FileReadError
from ventplanner.geometry.solid import Body, FloatArray
from ventplanner.io.colours import Colours
from ventplanner.io.content import Content, check_indices, damaged
from ventplanner.io.threemf_colours import parse_coloured
from ventplanner.io.threemf_model import IDENTITY, Model, Object, Reference, determinant, parse_model
from ventplanner.io.threemf_package import Package
from ventplanner.progress import Progress, silent

# What the object types mean for a part to be printed; None = it is printed as it is.
_TYPES: dict[str, str | None] = {
    "model": None,
    "solidsupport": None,
    "support": "supports without a volume of their own",
    "surface": "a surface without a volume",
    "other": "not meant to be printed",
}
# Nested components can multiply a small file without end; this is far beyond what the analysis can hold.
_MOST_TRIANGLES = 100_000_000
_DEEPEST = 64

Parse = Callable[[Path, str, bytes], Model]


def read_3mf(path: Path, progress: Progress = silent) -> Content:
    """Read a 3MF file. Raises FileReadError for a broken container or XML, a bad reference, or nothing to print."""
    assembly, model = _assembled(path, parse_model, progress)
    progress("reading", 1.0)
    if not assembly.bodies:
        why = f" ({' '.join(assembly.notes)})" if assembly.notes else ""
        raise FileReadError(f"{path}: the build items hold no triangles to print.{why}", "Export the part as a mesh.")
    if len(assembly.bodies) > 1:
        names = ", ".join(body.name for body in assembly.bodies)
        assembly.notes.insert(0, f"{len(assembly.bodies)} build items form one part: {names}.")
    return Content(
        np.concatenate(assembly.points),
        np.concatenate(assembly.faces),
        tuple(assembly.bodies),
        pieces=tuple(assembly.pieces),
        unit=model.unit,
        notes=tuple(dict.fromkeys(assembly.notes)),
    )


def read_3mf_colours(path: Path) -> Colours | None:
    """Colours of the triangles, in the order of `read_3mf`; None without."""
    assembly, _ = _assembled(path, parse_coloured, silent)
    return np.concatenate(assembly.colours) if assembly.colours else None


def _assembled(path: Path, parse: Parse, progress: Progress) -> tuple[_Assembly, Model]:
    with Package(path) as package:
        root = package.model_part()
        assembly = _Assembly(path, package, root, parse)
        model = assembly.model(root)
        progress("reading", 0.7)
        if not model.items:
            raise FileReadError(
                f"{path}: the 3MF file has no build items.", "Place the part on the plate, then export."
            )
        assembly.check_size(model.items, root)
        for item in model.items:
            assembly.add_item(item, root)
    return assembly, model


@dataclass
class _Assembly:
    """Collects the meshes of the build items."""

    path: Path
    package: Package
    root: str
    parse: Parse
    points: list[FloatArray] = field(default_factory=list)
    faces: list[NDArray[np.int64]] = field(default_factory=list)
    colours: list[Colours] = field(default_factory=list)
    pieces: list[int] = field(default_factory=list)
    bodies: list[Body] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    _models: dict[str, Model] = field(default_factory=dict)
    _vertices: int = 0
    _triangles: int = 0

    def model(self, part: str) -> Model:
        """The model of a part of the container, parsed once."""
        if part not in self._models:
            self._models[part] = self.parse(self.path, part.strip("/"), self.package.read(part))
            if self._models[part].unit != self._models[self.root].unit:
                raise damaged(self.path, f"{part} has another unit than {self.root}")
        return self._models[part]

    def check_size(self, items: list[Reference], part: str) -> None:
        """Raise FileReadError for references in a circle or more triangles than any part has, before unfolding."""
        counts: dict[tuple[str, str], int] = {}

        def count(reference: Reference, part: str, above: tuple[tuple[str, str], ...]) -> int:
            part, found = self._find(reference, part)
            key = (part, found.id)
            if key in above or len(above) >= _DEEPEST:
                raise damaged(self.path, f"object {found.id} is a component of itself, or nested too deep")
            if key not in counts:
                counts[key] = len(found.faces) + sum(count(c, part, (*above, key)) for c in found.components)
            return counts[key]

        total = sum(count(item, part, ()) for item in items)
        if total > _MOST_TRIANGLES:
            raise FileReadError(
                f"{self.path}: the components unfold to {total} triangles, more than {_MOST_TRIANGLES}.",
                "Export the part as STL.",
            )

    def add_item(self, item: Reference, part: str) -> None:
        """Add one build item as a body."""
        first = self._triangles
        _, found = self._find(item, part)
        name = found.name or item.label or f"object {found.id}"
        self._add(item, part, IDENTITY, name)
        if self._triangles > first:
            self.bodies.append(Body(name, first, self._triangles))
            if found.type == "solidsupport":
                self.notes.append(f"{name!r} is marked as solid supports; it is kept as part of the print.")

    def _find(self, reference: Reference, part: str) -> tuple[str, Object]:
        """The object a reference names and the part it is in."""
        part = reference.part or part
        found = self.model(part).objects.get(reference.object_id)
        if found is None:
            raise damaged(self.path, f"object {reference.object_id} is used but does not exist in {part.strip('/')}")
        return part, found

    def _add(self, reference: Reference, part: str, above: FloatArray, name: str) -> None:
        part, found = self._find(reference, part)
        if found.type not in _TYPES:
            raise damaged(self.path, f"object {found.id} has the unknown type {found.type!r}")
        why = _TYPES[found.type]
        if why is not None:
            self.notes.append(f"An object of type {found.type!r} in {name!r} was left out: it is {why}.")
            return
        transform = _chained(reference.transform, above)
        if len(found.faces):
            check_indices(self.path, found.faces.ravel(), np.full(len(found.faces), 3), len(found.points))
            mirrored = determinant(transform) < 0
            self.pieces.append(self._vertices)
            self.points.append(_moved(found.points, transform))
            self.faces.append((found.faces[:, ::-1] if mirrored else found.faces) + self._vertices)
            none = np.full((len(found.faces), 3), -1, np.int16)
            self.colours.append(none if found.colours is None else found.colours)
            self._vertices += len(found.points)
            self._triangles += len(found.faces)
        for component in found.components:
            self._add(component, part, transform, name)


def _chained(inner: FloatArray, outer: FloatArray) -> FloatArray:
    """(4, 3): first `inner`, then `outer`, for row vectors [x y z 1] @ transform (chapter "3D Matrices")."""
    if inner is IDENTITY or outer is IDENTITY:
        return outer if inner is IDENTITY else inner
    chained = np.array(_moved(inner, np.vstack([outer[:3], np.zeros(3)])))
    chained[3] += outer[3]
    return chained


def _moved(points: FloatArray, transform: FloatArray) -> FloatArray:
    """[x y z 1] @ transform, summed in a fixed order so that no library or processor changes the last bit."""
    if np.array_equal(transform, IDENTITY):
        return points
    x, y, z = points.T
    with np.errstate(over="ignore", invalid="ignore"):  # what becomes infinite is refused with its place
        return np.stack([x * row[0] + y * row[1] + z * row[2] + row[3] for row in transform.T], axis=1)
