"""Write 3MF (Core Specification 1.4.0): one object and one build item for each body, without transforms."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from ventplanner.geometry.solid import Body, FloatArray, IntArray, Solid
from ventplanner.io.content import body_runs
from ventplanner.io.threemf_model import CORE, UNITS
from ventplanner.io.threemf_package import MODEL_RELATION, RELATIONS
from ventplanner.io.units import from_mm
from ventplanner.progress import Progress, silent

_MODEL = "3D/3dmodel.model"
_CONTENT_TYPES = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/>'
    "</Types>\n"
)
_RELATIONSHIPS = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    f'<Relationship Id="model" Type="{MODEL_RELATION}" Target="/{_MODEL}"/>'
    "</Relationships>\n"
)
_ROWS = 50_000
# Fast rather than small: the text of a mesh is hardly smaller at higher levels.
_LEVEL = 3
# Control characters that XML 1.0 has no way to write.
_UNWRITABLE = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff\ud800-\udfff]")


def write_3mf(solid: Solid, path: Path, progress: Progress = silent) -> None:
    """Write a 3MF in the unit of the source (millimeter if it had none), numbers in the shortest form that is exact.

    Triangles that name a vertex twice are left out because the format forbids them; they have no area, and the edges
    of the others still pair up. If a body alone has no positive volume (a cavity's skin that came as an object of its
    own), all bodies become one object: the positive-fill rule works within an object. The same part always gives the
    same bytes (entries carry no date of their own).
    """
    source = solid.source
    points = from_mm(solid.vertices, source.mm_per_unit, single=source.single_precision)
    bodies = body_runs(solid)
    if any(_volume(solid, body) <= 0 for body in bodies):
        bodies = (Body(bodies[0].name, 0, len(solid.faces)),)
    unit = next(name for name, short in UNITS.items() if short == source.unit_assumed)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=_LEVEL) as container:
        for name, text in (("[Content_Types].xml", _CONTENT_TYPES), (RELATIONS, _RELATIONSHIPS)):
            with container.open(name, "w") as part:
                part.write(text.encode())
        with container.open(_MODEL, "w", force_zip64=True) as part:
            part.write(
                f'<?xml version="1.0" encoding="UTF-8"?>\n<model unit="{unit}" xml:lang="en-US" xmlns="{CORE}">\n'
                '<metadata name="Application">ventplanner</metadata>\n<resources>\n'.encode()
            )
            for number, body in enumerate(bodies, start=1):
                part.write(f'<object id="{number}" type="model" name={_quoted(body.name)}><mesh>\n'.encode())
                for text in _mesh(points, solid.faces[body.start : body.stop]):
                    part.write(text.encode())
                part.write(b"</mesh></object>\n")
                progress("writing", body.stop / len(solid.faces))
            items = "".join(f'<item objectid="{number}"/>\n' for number in range(1, len(bodies) + 1))
            part.write(f"</resources>\n<build>\n{items}</build>\n</model>\n".encode())


def _quoted(name: str) -> str:
    from xml.sax.saxutils import quoteattr  # loads what talks to the net, which no start needs

    return quoteattr(_UNWRITABLE.sub("", name))


def _volume(solid: Solid, body: Body) -> float:
    return Solid(solid.vertices, solid.faces[body.start : body.stop]).volume


def _mesh(points: FloatArray, faces: IntArray) -> Iterator[str]:
    """The lists of vertices and triangles of one object, which has only the vertices it uses."""
    a, b, c = faces.T
    faces = faces[(a != b) & (b != c) & (c != a)]
    used = np.zeros(len(points), dtype=bool)
    used[faces] = True
    renumbered = np.cumsum(used) - 1
    points = points[used]
    yield "<vertices>\n"
    for start in range(0, len(points), _ROWS):
        rows = points[start : start + _ROWS].tolist()
        yield "".join([f'<vertex x="{x!r}" y="{y!r}" z="{z!r}"/>\n' for x, y, z in rows])
    yield "</vertices>\n<triangles>\n"
    for start in range(0, len(faces), _ROWS):
        triples = renumbered[faces[start : start + _ROWS]].tolist()
        yield "".join([f'<triangle v1="{i}" v2="{j}" v3="{k}"/>\n' for i, j, k in triples])
    yield "</triangles>\n"
