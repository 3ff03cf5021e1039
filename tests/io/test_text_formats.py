"""OBJ, OFF and PLY, written by hand: what they can say and how they break."""

from __future__ import annotations

import struct
from pathlib import Path

import mesh_files as hand
import numpy as np
import pytest

from ventplanner.errors import FileReadError
from ventplanner.geometry.solid import Solid
from ventplanner.io.meshes import read


def saved(folder: Path, name: str, content: str | bytes) -> Path:
    path = folder / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path


def assert_box(solid: Solid) -> None:
    np.testing.assert_array_equal(solid.vertices, np.array(hand.BOX_POINTS, float))
    np.testing.assert_array_equal(solid.faces, np.array(hand.BOX_FACES))


def binary_ply(order: str, number: str, index: str, faces: list[tuple[int, ...]]) -> bytes:
    """A PLY of the box with a colour after each vertex and a flag before each list of corners."""
    form = {"<": "binary_little_endian", ">": "binary_big_endian"}[order]
    types = {"f": "float", "d": "double", "i": "int", "H": "ushort"}
    header = (
        f"ply\nformat {form} 1.0\nelement vertex 8\nproperty {types[number]} x\nproperty {types[number]} y\n"
        f"property {types[number]} z\nproperty uchar red\nelement face {len(faces)}\nproperty short flag\n"
        f"property list uchar {types[index]} vertex_index\nend_header\n"
    )
    rows = [struct.pack(f"{order}3{number}B", *point, 200) for point in hand.BOX_POINTS]
    rows += [struct.pack(f"{order}hB{len(face)}{index}", -1, len(face), *face) for face in faces]
    return header.encode() + b"".join(rows)


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize(("number", "index"), [("f", "i"), ("d", "H")])
def test_binary_ply_of_either_byte_order(tmp_path: Path, order: str, number: str, index: str) -> None:
    solid = read(saved(tmp_path, "box.ply", binary_ply(order, number, index, hand.BOX_FACES)))
    assert_box(solid)
    assert solid.source.single_precision == (number == "f")


def test_ply_faces_of_different_sizes(tmp_path: Path) -> None:
    mixed = [*hand.BOX_QUADS[:3], *hand.BOX_FACES[6:]]
    assert_box(read(saved(tmp_path, "box.ply", binary_ply("<", "f", "i", mixed))))


def test_ascii_ply_keeps_every_digit(tmp_path: Path) -> None:
    rows = [f"{x / 10!r} {y} {z}" for x, y, z in hand.BOX_POINTS] + [f"3 {a} {b} {c}" for a, b, c in hand.BOX_FACES]
    solid = read(saved(tmp_path, "box.ply", hand.ply_header("ascii", 8, 12) + "\n".join(rows)))
    assert solid.vertices[1].tolist() == [0.2, 0, 0]


def test_obj_quads_are_cut_and_looks_are_passed_over(tmp_path: Path) -> None:
    assert_box(read(saved(tmp_path, "box.obj", hand.box_obj())))
    dressed = hand.box_obj().replace("f 1 4 3 2", "vn 0 0 -1\nvt 0 0\nusemtl brass\ns 1\nf 1/1/1 4//1 3/1 2 # floor")
    assert_box(read(saved(tmp_path, "dressed.obj", "mtllib none.mtl\n" + dressed)))


def test_obj_indices_may_count_from_the_end(tmp_path: Path) -> None:
    text = hand.box_obj().replace("f 1 4 3 2", "f -8 -5 -6 -7")
    assert_box(read(saved(tmp_path, "box.obj", text)))


def test_obj_lines_may_go_on_carry_colours_or_use_tabs(tmp_path: Path) -> None:
    text = hand.box_obj().replace("v 2 3 0", "v\t2 \\\n 3 0 0.5 0.5 0.5").replace("f 1 4", "  f 1 4")
    assert_box(read(saved(tmp_path, "box.obj", text)))


def test_obj_objects_and_groups_are_bodies_and_empty_ones_are_not(tmp_path: Path) -> None:
    lines = hand.box_obj().splitlines()
    text = "\n".join([*lines[:8], "o whelk", "g shell", *lines[8:10], "g empty", "o lip", *lines[10:]])
    solid = read(saved(tmp_path, "whelk.obj", text))
    assert [(body.name, body.start, body.stop) for body in solid.bodies] == [("shell", 0, 4), ("lip", 4, 12)]


@pytest.mark.parametrize("magic", ["OFF", "OFF # by hand", "# by hand\nOFF", "COFF"])
def test_off_with_comments_and_colours(tmp_path: Path, magic: str) -> None:
    text = hand.box_off().replace("OFF", magic, 1)
    text = text.replace("2 3 0", "2 3 0 255 0 0 255").replace("4 0 3 2 1", "4 0 3 2 1 9")
    assert_box(read(saved(tmp_path, "box.off", text)))


def test_equal_vertices_are_joined_and_unused_ones_left_out_in_indexed_formats(tmp_path: Path) -> None:
    soup = hand.box_soup().reshape(-1, 3).tolist()
    rows = ["v 99 99 99", *(f"v {x} {y} {z}" for x, y, z in soup)]
    faces = [f"f {3 * i + 2} {3 * i + 3} {3 * i + 4}" for i in range(12)]
    solid = read(saved(tmp_path, "soup.obj", "\n".join(rows + faces)))
    assert solid.vertices.shape == (8, 3)
    np.testing.assert_array_equal(solid.vertices[solid.faces], hand.box_soup())


PLY_TEXT = hand.ply_header("ascii", 3, 1) + "0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n"


@pytest.mark.parametrize(
    ("name", "content", "message"),
    [
        ("a.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\n", "only 3 points, no faces"),
        ("a.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 4\n", "face 1 names vertex 4, but there are 3 vertices"),
        ("a.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\nf 1 0 2\n", "face 2 names vertex 0"),
        ("a.obj", "v 0 0 0\nv 1 0 0\nf 1 2 -3\n", "names vertex 0, but there are 2 vertices"),
        ("a.obj", "v 0 0 0\nv 1 x 0\nv 0 1 0\nf 1 2 3\n", "coordinates: 'x' is no number"),
        ("a.obj", "v 0 0 0\nv 1 0\nv 0 1 0\nf 1 2 3\n", "vertex 2 has 2 coordinates"),
        ("a.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 z\n", "face indices: 'z' is no number"),
        ("a.obj", "v 0 0 0\nv nan 0 0\nv 0 1 0\nf 1 2 3\n", "vertex 2 has a coordinate that is no finite number"),
        ("a.obj", "v 0 0 0\nv 1 0 0\nf 1 2\n", "no triangles"),
        ("a.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3 /3\n", "face indices: '/3' is no number"),
        ("a.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 /3\n", "face indices: '/3' is no number"),
        ("a.off", "OFF\n3 1 0\n0 0 0\n1 0 0\n", "promises 3 vertices and 1 faces, it has 2 lines"),
        ("a.off", "OFF\n3 0 0\n0 0 0\n1 0 0\n0 1 0\n", "3 points and no faces"),
        ("a.off", "OFF\n3 1 0\n0 0 0\n1 0 0\n0 1 0\n3 0 1 3\n", "face 1 names vertex 4, but there are 3"),
        ("a.off", "OFF\n3 1 0\n0 0 0\n1 0 0\n0 1 0\n4 0 1 2\n", "face 1 promises 4 corners and has 3 numbers"),
        ("a.off", "OFF\n3 1 0\n0 0 0\n1 0\n0 1 0\n3 0 1 2\n", "vertex 2 has 2 coordinates"),
        ("a.off", "OFF BINARY\n3 1 0\n", "binary OFF is not supported"),
        ("a.off", "OFF\n", "counts of vertices and faces are missing"),
        ("a.off", "something else\n", "the first word is not OFF"),
        ("a.ply", PLY_TEXT.replace("3 0 1 2", "3 0 1 3"), "face 1 names vertex 4, but there are 3"),
        ("a.ply", PLY_TEXT.replace("3 0 1 2", "3 0 1"), "promises 1 rows of 'face', it holds 0"),
        ("a.ply", PLY_TEXT.replace("1 0 0", "1 O 0"), "'O' is no number"),
        ("a.ply", PLY_TEXT.replace("float y", "real y"), "line 6 of the PLY header is not understood"),
        ("a.ply", PLY_TEXT.replace("float y", "float why"), "lack one of the properties x, y, z"),
        ("a.ply", PLY_TEXT.replace("vertex_indices", "corners"), "lack the property vertex_indices"),
        ("a.ply", PLY_TEXT.replace("end_header", "end"), "no end_header"),
        ("a.ply", PLY_TEXT.replace("format ascii 1.0\n", ""), "no format line"),
        ("a.ply", PLY_TEXT.replace("element face 1\nproperty list uchar int vertex_indices\n", ""), "no faces"),
        ("a.ply", PLY_TEXT.replace("3 0 1 2", "3 0 1.5 2"), "something else than a whole number"),
        ("a.ply", PLY_TEXT.replace("3 0 1 2", "3 0 inf 2"), "something else than a whole number"),
        ("a.ply", PLY_TEXT.replace("vertex 3", "vertex 999999999999"), "promises 999999999999 rows of 'vertex'"),
        ("a.ply", PLY_TEXT.replace("face 1", "face 999999999999"), "promises 999999999999 rows of 'face', it holds 1"),
        ("a.ply", PLY_TEXT.replace("3 0 1 2", "-3 0 1 2"), "a list of 'vertex_indices' has the length -3"),
        ("a.ply", binary_ply("<", "f", "i", hand.BOX_FACES)[:-3], "promises 12 rows of 'face', it holds 11"),
        ("a.ply", binary_ply("<", "f", "i", hand.BOX_FACES)[:250], "promises 8 rows of 'vertex', it holds 3"),
    ],
)
def test_damage_is_named_with_its_place(tmp_path: Path, name: str, content: str | bytes, message: str) -> None:
    with pytest.raises(FileReadError, match=message) as caught:
        read(saved(tmp_path, name, content))
    assert str(tmp_path / name) in str(caught.value)
    assert caught.value.way_out
