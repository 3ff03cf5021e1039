"""Read and write model files: one way in (`read`) and one way out (`write`), whatever the format."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from ventplanner.errors import FileReadError, FileWriteError
from ventplanner.geometry.solid import FloatArray, IntArray, Solid, Source
from ventplanner.geometry.weld import weld, weld_points
from ventplanner.io import obj, off, ply, stl, threemf_package, threemf_read, threemf_write
from ventplanner.io.atomic import replacing
from ventplanner.io.content import Content, check_indices, check_room, damaged, read_error
from ventplanner.io.units import MM_PER_UNIT, checked_unit, to_mm, unit_hint
from ventplanner.progress import Progress, silent

PathLike = str | os.PathLike[str]
_HEAD_BYTES = 1 << 16


@dataclass(frozen=True)
class Format:
    """A file format: how to know it from its first bytes and size, read it and (if we do) write it.

    takes: reading takes at least so many times the size of the file in memory (measured with a million triangles).
    """

    name: str
    suffix: str
    matches: Callable[[bytes, int], bool]
    read: Callable[[Path, Progress], Content]
    write: Callable[[Solid, Path, Progress], None] | None = None
    takes: float = 1.0


FORMATS: tuple[Format, ...] = (
    Format("3MF", ".3mf", threemf_package.looks_like_3mf, threemf_read.read_3mf, threemf_write.write_3mf),
    Format("PLY", ".ply", ply.looks_like_ply, ply.read_ply, ply.write_ply, takes=8.0),
    Format("OFF", ".off", off.looks_like_off, off.read_off, takes=8.0),
    Format("STL", ".stl", stl.looks_like_stl, stl.read_stl, stl.write_stl, takes=1.8),
    # Last, because it has no signature: what looks like one may be another text format.
    Format("OBJ", ".obj", obj.looks_like_obj, obj.read_obj, obj.write_obj, takes=8.0),
)


def read(path: PathLike, unit: str | None = None, progress: Progress = silent) -> Solid:
    """Read a model file: STL (binary, ASCII), 3MF, OBJ, PLY or OFF, known by its content, else by its suffix.

    Vertices with equal coordinates are joined, in indexed formats as well, because otherwise neighbouring faces would
    not know each other (in a 3MF file only within one mesh, since objects may touch); vertices that no face uses are
    left out; polygons are cut into triangles; nothing else is changed. `unit` (mm, cm, inch, m, micron, foot) wins
    over the one in the file; without either, mm is assumed.

    Raises FileReadError for a file that is missing, damaged, of no known format or without triangles, ParameterError
    for an unknown unit.
    """
    path = Path(path)
    asked = checked_unit(unit) if unit is not None else None
    try:
        format_, notes = format_of(path)
        check_room(path, format_.takes)
        content = format_.read(path, progress)
    except OSError as error:
        raise read_error(path, error) from error
    if asked and content.unit and asked != content.unit:
        notes += (f"The file says {content.unit}; it was read as {asked}, as asked.",)
    given = asked or content.unit
    factor = MM_PER_UNIT[given or "mm"]
    source = Source(
        path=str(path),
        format=format_.name,
        unit_given=given,
        unit_assumed=given or "mm",
        mm_per_unit=factor,
        single_precision=content.single_precision,
        notes=notes + content.notes,
    )
    vertices, faces = _joined(path, content, factor)
    if given is None:
        extent = max(float(np.ptp(vertices[:, axis])) for axis in range(3))
        source = replace(source, unit_hint=unit_hint(extent))
    return Solid(vertices, faces, content.bodies, source)


def write(
    solid: Solid,
    path: PathLike,
    *,
    overwrite: bool = False,
    format: str | None = None,
    replaces: PathLike | None = None,
    progress: Progress = silent,
) -> None:
    """Write the part in one step: `path` afterwards holds all of it or what it held before.

    The format is that of the suffix, or `format` ("stl", "3mf", "obj", "ply"). Same axes, origin and unit as the
    source; coordinates of vertices that were read come out unchanged in the precision of the format. An existing
    file, the source among them, needs `overwrite`; `replaces` (default: the path the part was read from) names the
    source, so that the refusal can say what would be lost.

    Raises FileWriteError; the old file is intact then.
    """
    path = Path(path)
    source = replaces if replaces is not None else solid.source.path
    if not overwrite and source and path.exists() and Path(source).exists() and path.samefile(source):
        raise FileWriteError(f"{path}: this is the source file.", "Choose another name or allow overwriting.")
    writable_format(path, format)
    with replacing(path, overwrite=overwrite) as draft:
        write_draft(solid, draft.path, format=format, progress=progress)
        draft.commit()


def write_draft(solid: Solid, path: PathLike, *, format: str | None = None, progress: Progress = silent) -> None:
    """Write straight into `path`, whatever it holds: for the draft of `atomic.replacing`.

    Raises FileWriteError for a part without triangles or a format that is not written, OSError from the system.
    """
    path = Path(path)
    chosen = writable_format(path, format)
    if len(solid.faces) == 0:
        raise FileWriteError(f"{path}: the part has no triangles.", "Nothing was written.")
    assert chosen.write is not None
    chosen.write(solid, path, progress)


def writable_format(path: PathLike, format: str | None = None) -> Format:
    """The format to write for a path or a format name. Raises FileWriteError, which lists those we write."""
    wanted = f".{format.lstrip('.').lower()}" if format else Path(path).suffix.lower()
    for candidate in FORMATS:
        if candidate.write is not None and candidate.suffix == wanted:
            return candidate
    known = ", ".join(f.suffix for f in FORMATS if f.write is not None)
    what = f"the format {wanted} is not written" if wanted else "the name has no suffix to tell the format by"
    raise FileWriteError(f"{path}: {what}.", f"Use one of {known}.")


def format_of(path: Path) -> tuple[Format, tuple[str, ...]]:
    """The format by content, else by suffix, and a note when the two differ."""
    size = path.stat().st_size
    with path.open("rb") as file:
        head = file.read(_HEAD_BYTES)
    if size == 0:
        raise FileReadError(f"{path}: the file is empty.", "Export the part again.")
    suffix = path.suffix.lower()
    for candidate in FORMATS:
        if candidate.matches(head, size):
            if suffix == candidate.suffix or not suffix:
                return candidate, ()
            return candidate, (f"The name ends in {suffix}, but the content is {candidate.name}; it was read as that.",)
    for candidate in FORMATS:
        if suffix == candidate.suffix:
            return candidate, ()
    known = ", ".join(candidate.suffix for candidate in FORMATS)
    raise FileReadError(f"{path}: the format is not known.", f"Use one of {known}.")


def _joined(path: Path, content: Content, mm_per_unit: float) -> tuple[FloatArray, IntArray]:
    """Checked and welded vertices in mm and their faces."""
    faces = content.faces
    if (content.points.size if faces is None else len(faces)) == 0:
        raise FileReadError(f"{path}: the file holds no triangles.", "Export the part as a mesh with faces.")
    if faces is None and content.points.dtype == np.float32:
        # Before the change of unit, which keeps float32 values apart: six times fewer products.
        vertices, welded = weld(content.points)
        vertices = to_mm(vertices, mm_per_unit)
    elif faces is None:
        vertices, welded = weld(to_mm(content.points, mm_per_unit))
    else:
        check_indices(path, faces.ravel(), np.full(len(faces), 3), len(content.points))
        used = np.zeros(len(content.points), dtype=bool)
        used[faces] = True
        starts = [int(np.count_nonzero(used[:start])) for start in content.pieces[1:]]
        vertices, index = _weld_pieces(to_mm(content.points[used], mm_per_unit), starts)
        renumbered = np.zeros(len(content.points), dtype=np.int32)
        renumbered[used] = index
        welded = renumbered[faces]
    if not np.isfinite(vertices).all():
        bad = np.flatnonzero(~np.isfinite(content.points).reshape(-1, 3).all(axis=1))
        if not len(bad):
            raise FileReadError(f"{path}: the coordinates are too large to hold in mm.", "Check the unit.")
        where = f"triangle {bad[0] // 3 + 1}" if faces is None else f"vertex {bad[0] + 1}"
        raise damaged(path, f"{where} has a coordinate that is no finite number ({len(bad)} such points)")
    return vertices, welded


def _weld_pieces(points: FloatArray, starts: list[int]) -> tuple[FloatArray, IntArray]:
    """Join equal points between each start and the next."""
    if not starts:
        return weld_points(points)
    vertices: list[FloatArray] = []
    index: list[IntArray] = []
    count = 0
    for piece in np.split(points, starts):
        distinct, numbers = weld_points(piece)
        vertices.append(distinct)
        index.append(numbers + np.int32(count))
        count += len(distinct)
    return np.concatenate(vertices), np.concatenate(index)
