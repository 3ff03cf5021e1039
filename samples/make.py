"""Makes the sample parts: `python samples/make.py [NAME ...] [--million OUT.stl]`. No names: all of them."""

from __future__ import annotations

import argparse
import importlib
import struct
import sys
import time
import zipfile
from pathlib import Path

import numpy as np

FOLDER = Path(__file__).resolve().parent
sys.path.insert(0, str(FOLDER.parent))

# Name of the part -> (module, file, finest grid step in mm).
PARTS = {
    "seal-pup": ("seal_pup", "seal-pup.stl", 0.5),
    "lighthouse": ("lighthouse", "lighthouse.stl", 0.45),
    "puffin": ("puffin", "puffin.stl", 0.55),
    "whelk": ("whelk", "whelk.stl", 0.55),
    "rope-cleat": ("rope_cleat", "rope-cleat.stl", 0.6),
    "bollard": ("bollard", "bollard.stl", 0.55),
    "fisherman": ("fisherman", "fisherman.3mf", 0.52),
}

from samples.meshing import Skin, parted  # noqa: E402


def build(name: str, step: float | None = None) -> dict[str, Skin]:
    """The objects of a part: vertices (n, 3) float64 in mm and faces (m, 3) int32, by object name."""
    module, _, finest = PARTS[name]
    made: dict[str, Skin] = importlib.import_module(f"samples.{module}").make(step or finest)
    return finished(made)


def finished(objects: dict[str, Skin]) -> dict[str, Skin]:
    """The objects moved together so that the lowest point is at z = 0, and fit for single precision."""
    down = min(float(vertices[:, 2].min()) for vertices, _ in objects.values())
    return {name: parted((vertices - [0, 0, down], faces)) for name, (vertices, faces) in objects.items()}


def write_stl(path: Path, skins: list[Skin]) -> None:
    """Binary STL: 80 bytes of header, a count, then normal, three corners and two spare bytes for each triangle."""
    corners = np.vstack([vertices[faces] for vertices, faces in skins])
    records = np.zeros(len(corners), np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")]))
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    records["normal"] = normals / np.maximum(np.linalg.norm(normals, axis=1), 1e-30)[:, None]
    records["corners"] = corners
    path.write_bytes(b"harbour shop ornament, mm".ljust(80) + struct.pack("<I", len(corners)) + records.tobytes())


def write_3mf(path: Path, objects: dict[str, Skin]) -> None:
    """3MF Core 1.4.0 with one build item per named object, in mm."""
    xml = ['<?xml version="1.0" encoding="UTF-8"?>\n<model unit="millimeter" xml:lang="en-GB" ']
    xml.append('xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"><resources>')
    for number, (name, (vertices, faces)) in enumerate(objects.items(), 1):
        xml.append(f'<object id="{number}" type="model" name="{name}"><mesh><vertices>')
        xml += [f'<vertex x="{x:.4f}" y="{y:.4f}" z="{z:.4f}"/>' for x, y, z in vertices]
        xml.append("</vertices><triangles>")
        xml += [f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in faces]
        xml.append("</triangles></mesh></object>")
    xml.append("</resources><build>")
    xml += [f'<item objectid="{number}"/>' for number in range(1, len(objects) + 1)]
    xml.append("</build></model>")
    kinds = "http://schemas.openxmlformats.org/package/2006/"
    files = {
        "[Content_Types].xml": f'<Types xmlns="{kinds}content-types">'
        f'<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>',
        "_rels/.rels": f'<Relationships xmlns="{kinds}relationships"><Relationship Target="/3D/3dmodel.model" Id="r1" '
        'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>',
        "3D/3dmodel.model": "".join(xml),
    }
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for name, text in files.items():
            # A fixed date, so that the same part gives the same bytes.
            archive.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), text, zipfile.ZIP_DEFLATED, 9)


def main() -> None:
    """Makes what the command line asks for and says what it wrote."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"of {', '.join(PARTS)}")
    parser.add_argument("--million", type=Path, metavar="OUT.stl", help="the lighthouse with a million triangles")
    given = parser.parse_args()
    unknown = sorted(set(given.names) - set(PARTS))
    if unknown:
        parser.error(f"no such part: {', '.join(unknown)}")
    if given.million:
        report(given.million, "lighthouse", fine=True)
    for name in given.names or ([] if given.million else PARTS):
        report(FOLDER / PARTS[name][1], name)


def report(path: Path, name: str, fine: bool = False) -> None:
    """Makes one part, writes it, and prints its size."""
    began = time.perf_counter()
    objects = finished(importlib.import_module("samples.lighthouse").make_fine()) if fine else build(name)
    if path.suffix == ".3mf":
        write_3mf(path, objects)
    else:
        write_stl(path, list(objects.values()))
    count = sum(len(faces) for _, faces in objects.values())
    print(f"{path}: {count} triangles, {path.stat().st_size / 1e6:.1f} MB, {time.perf_counter() - began:.0f} s")


if __name__ == "__main__":
    main()
