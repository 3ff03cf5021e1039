"""Model files written by hand, byte by byte, so that no reader is tested with the writer next door."""

from __future__ import annotations

import io
import struct
import zipfile
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

# A box of 2 x 3 x 5 with one corner at the origin, counter-clockwise seen from outside; volume 30.
BOX_POINTS = [(0, 0, 0), (2, 0, 0), (2, 3, 0), (0, 3, 0), (0, 0, 5), (2, 0, 5), (2, 3, 5), (0, 3, 5)]
BOX_QUADS = [(0, 3, 2, 1), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7)]
BOX_FACES = [t for a, b, c, d in BOX_QUADS for t in ((a, b, c), (a, c, d))]
BOX_VOLUME = 30.0

CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
_RELS = (
    '<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Id="r0" Target="/MODEL" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
)
_TYPES = (
    '<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>'
)


def box_soup() -> NDArray[np.float32]:
    """(12, 3, 3) float32."""
    return np.array(BOX_POINTS, np.float32)[np.array(BOX_FACES)]


def binary_stl(soup: NDArray[np.floating], header: bytes = b"", count: int | None = None) -> bytes:
    """80 bytes of header, uint32 count, 50 bytes for each triangle (STL layout, 3D Systems 1989)."""
    rows = b"".join(struct.pack("<12fH", 0, 0, 0, *triangle.ravel().tolist(), 0) for triangle in soup)
    return header.ljust(80, b" ") + struct.pack("<I", len(soup) if count is None else count) + rows


def ascii_stl(soup: NDArray[np.floating], name: str = "box") -> str:
    lines = [f"solid {name}"]
    for triangle in soup.tolist():
        lines += ["  facet normal 0 0 0", "    outer loop"]
        lines += [f"      vertex {x!r} {y!r} {z!r}" for x, y, z in triangle]
        lines += ["    endloop", "  endfacet"]
    return "\n".join([*lines, f"endsolid {name}", ""])


def box_obj() -> str:
    rows = [f"v {x} {y} {z}" for x, y, z in BOX_POINTS]
    return "\n".join([*rows, *("f " + " ".join(str(i + 1) for i in quad) for quad in BOX_QUADS), ""])


def box_off() -> str:
    rows = [" ".join(map(str, point)) for point in BOX_POINTS]
    return "\n".join(["OFF", "8 6 12", *rows, *("4 " + " ".join(map(str, quad)) for quad in BOX_QUADS), ""])


def ply_header(form: str, vertices: int, faces: int, number: str = "float") -> str:
    return (
        f"ply\nformat {form} 1.0\ncomment by hand\nelement vertex {vertices}\n"
        f"property {number} x\nproperty {number} y\nproperty {number} z\n"
        f"element face {faces}\nproperty list uchar int vertex_indices\nend_header\n"
    )


def mesh_xml(
    points: Sequence[Sequence[float]] = BOX_POINTS, faces: Sequence[Sequence[int]] = BOX_FACES, shift: float = 0.0
) -> str:
    rows = "\n".join(f'<vertex x="{x + shift}" y="{y}" z="{z}"/>' for x, y, z in points)
    triangles = "\n".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in faces)
    return f"<mesh><vertices>\n{rows}\n</vertices><triangles>\n{triangles}\n</triangles></mesh>"


def object_xml(id_: int, body: str, more: str = "") -> str:
    return f'<object id="{id_}" {more}>{body}</object>'


def model_xml(objects: str, items: str, attributes: str = 'unit="millimeter"') -> str:
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<model {attributes} xmlns="{CORE}">\n'
        f"<resources>{objects}</resources>\n<build>{items}</build>\n</model>"
    )


def box_model(attributes: str = 'unit="millimeter"') -> str:
    return model_xml(object_xml(1, mesh_xml()), '<item objectid="1"/>', attributes)


def threemf(model: str | bytes, others: dict[str, str] | None = None, name: str = "3D/part.model") -> bytes:
    """A 3MF container by the Open Packaging Conventions, as chapter "3MF Document Format" of the core shows it."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as container:
        container.writestr("[Content_Types].xml", _TYPES)
        container.writestr("_rels/.rels", _RELS.replace("MODEL", name))
        container.writestr(name, model)
        for other, text in (others or {}).items():
            container.writestr(other, text)
    return buffer.getvalue()
