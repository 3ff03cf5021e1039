"""Colours of triangles in files of each format, in the order of the triangles."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import mesh_files as hand
import numpy as np
import pytest

from ventplanner.errors import FileReadError, ParameterError
from ventplanner.io.colours import bright, colour_of, like, most_common, read_colours
from ventplanner.io.meshes import read

POINTS = [(0, 0, 0), (10, 0, 0), (0, 10, 0), (0, 0, 10)]
FACES = [(0, 2, 1), (0, 1, 3), (0, 3, 2), (1, 2, 3)]
RED, BLUE, NONE = [255, 0, 0], [0, 0, 255], [-1, -1, -1]


def ply(folder: Path) -> Path:
    """Faces coloured: two red, one blue, one white."""
    colours = ["255 0 0", "0 0 255", "255 0 0", "255 255 255"]
    head = "ply\nformat ascii 1.0\nelement vertex 4\nproperty float x\nproperty float y\nproperty float z\n"
    head += "element face 4\nproperty list uchar int vertex_indices\n"
    head += "".join(f"property uchar {c}\n" for c in ("red", "green", "blue")) + "end_header\n"
    rows = [" ".join(map(str, p)) for p in POINTS]
    rows += [f"3 {a} {b} {c} {rgb}" for (a, b, c), rgb in zip(FACES, colours, strict=True)]
    return written(folder / "part.ply", head + "\n".join(rows) + "\n")


def ply_of_vertices(folder: Path) -> Path:
    """Vertices coloured by fractions: three red ones, whose face is red, and a blue one."""
    head = "ply\nformat ascii 1.0\nelement vertex 4\nproperty float x\nproperty float y\nproperty float z\n"
    head += "".join(f"property float {c}\n" for c in ("red", "green", "blue"))
    head += "element face 4\nproperty list uchar int vertex_indices\nend_header\n"
    colours = ["1 0 0", "1.0 0 0", "1 0 0", "0 0 1"]
    rows = [f"{x} {y} {z} {rgb}" for (x, y, z), rgb in zip(POINTS, colours, strict=True)]
    return written(folder / "vertices.ply", head + "\n".join([*rows, *(f"3 {a} {b} {c}" for a, b, c in FACES)]) + "\n")


def obj_of_vertices(folder: Path) -> Path:
    colours = ["1 0 0", "1 0 0", "1 0 0", "0 0 1"]
    rows = [f"v {x} {y} {z} {rgb}" for (x, y, z), rgb in zip(POINTS, colours, strict=True)]
    return written(folder / "v.obj", "\n".join([*rows, *(f"f {a + 1} {b + 1} {c + 1}" for a, b, c in FACES)]) + "\n")


def obj_of_materials(folder: Path) -> Path:
    written(folder / "part.mtl", "newmtl sea\nKd 0 0 1\nnewmtl flag\nKd 1 0 0\n")
    used = ["usemtl flag", "usemtl sea", "usemtl flag", "usemtl nobody knows"]
    rows = ["mtllib part.mtl", *(f"v {x} {y} {z}" for x, y, z in POINTS)]
    for (a, b, c), material in zip(FACES, used, strict=True):
        rows += [material, f"f {a + 1} {b + 1} {c + 1}"]
    return written(folder / "m.obj", "\n".join(rows) + "\n")


def off(folder: Path) -> Path:
    colours = [" 255 0 0", " 0.0 0.0 1.0"]
    rows = ["OFF", "4 4 0", *(" ".join(map(str, p)) for p in POINTS)]
    rows += [f"3 {a} {b} {c}{colours[0] if k in (0, 2) else ''}" for k, (a, b, c) in enumerate(FACES)]
    return written(folder / "part.off", "\n".join(rows) + "\n")


def off_of_vertices(folder: Path) -> Path:
    colours = ["1.0 0 0 1", "1 0 0 1", "1 0 0 1", "0 0 1 1"]
    rows = ["COFF", "4 4 0", *(f"{x} {y} {z} {c}" for (x, y, z), c in zip(POINTS, colours, strict=True))]
    return written(folder / "v.off", "\n".join([*rows, *(f"3 {a} {b} {c}" for a, b, c in FACES)]) + "\n")


def threemf(folder: Path) -> Path:
    """A colour group, used by triangles and by the object; base materials by one triangle."""
    space = "http://schemas.microsoft.com/3dmanufacturing/material/2015/02"
    groups = f'<m:colorgroup xmlns:m="{space}" id="7"><m:color color="#FF0000FF"/><m:color color="#0000ff"/>'
    groups += '</m:colorgroup><basematerials id="8"><base name="flag" displaycolor="#FF0000"/></basematerials>'
    looks = ["", 'pid="7" p1="1"', 'pid="8" p1="0"', 'pid="7" p1="0" p2="1" p3="0"']
    vertices = "".join(f'<vertex x="{x}" y="{y}" z="{z}"/>' for x, y, z in POINTS)
    triangles = "".join(
        f'<triangle v1="{a}" v2="{b}" v3="{c}" {look}/>' for (a, b, c), look in zip(FACES, looks, strict=True)
    )
    mesh = f"<mesh><vertices>{vertices}</vertices><triangles>{triangles}</triangles></mesh>"
    core = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
    resources = f'{groups}<object id="1" type="model" pid="7" pindex="0">{mesh}</object>'
    build = '<item objectid="1"/>'
    model = f'<model xmlns="{core}"><resources>{resources}</resources><build>{build}</build></model>'
    path = folder / "part.3mf"
    path.write_bytes(hand.threemf(model))
    return path


def written(path: Path, text: str) -> Path:
    path.write_text(text)
    return path


WHITE = [255, 255, 255]
FILES: list[tuple[Callable[[Path], Path], list[list[int]]]] = [
    (ply, [RED, BLUE, RED, WHITE]),
    (ply_of_vertices, [RED, NONE, NONE, NONE]),
    (obj_of_vertices, [RED, NONE, NONE, NONE]),
    (obj_of_materials, [RED, BLUE, RED, NONE]),
    (off, [RED, NONE, RED, NONE]),
    (off_of_vertices, [RED, NONE, NONE, NONE]),
    (threemf, [RED, BLUE, RED, NONE]),
]


@pytest.mark.parametrize(("make", "expected"), FILES, ids=lambda value: getattr(value, "__name__", ""))
def test_colours_come_in_the_order_of_the_triangles(
    tmp_path: Path, make: Callable[[Path], Path], expected: list[list[int]]
) -> None:
    path = make(tmp_path)
    assert read_colours(path).tolist() == expected
    # And the part is read as it was before: triangles in the order of the file.
    solid = read(path)
    assert solid.vertices[solid.faces].tolist() == np.array(POINTS, float)[np.array(FACES)].tolist()


def test_colours_are_told_apart(tmp_path: Path) -> None:
    colours = read_colours(ply(tmp_path))
    assert like(colours, colour_of("#ff0000")).tolist() == [True, False, True, False]
    assert like(colours, colour_of("#fe0100")).tolist() == [True, False, True, False]
    assert not like(colours, colour_of("#f00000")).any()
    assert bright(colours).tolist() == [True, True, True, False]
    assert most_common(colours, 2) == [("#ff0000", 2), ("#0000ff", 1)]


@pytest.mark.parametrize("text", ["#ff00", "#gg0000", "#ff00001", "#"])
def test_what_is_no_colour_is_refused(text: str) -> None:
    with pytest.raises(ParameterError, match="no colour") as caught:
        colour_of(text)
    assert "#RRGGBB" in caught.value.way_out


def test_files_without_colours_are_refused(tmp_path: Path) -> None:
    rows = [f"v {x} {y} {z}" for x, y, z in POINTS] + [f"f {a + 1} {b + 1} {c + 1}" for a, b, c in FACES]
    plain = written(tmp_path / "plain.obj", "\n".join(rows) + "\n")
    with pytest.raises(FileReadError, match="has no colours"):
        read_colours(plain)
    with pytest.raises(FileReadError, match="STL holds none"):
        read_colours(Path("samples/puffin.stl"))
    with pytest.raises(FileReadError, match="no such file"):
        read_colours(tmp_path / "nowhere.ply")
