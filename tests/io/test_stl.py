"""STL of both kinds, written by hand, damaged in every way that real files are."""

from __future__ import annotations

from pathlib import Path

import mesh_files as hand
import numpy as np
import pytest

from ventplanner.errors import FileReadError, FileWriteError
from ventplanner.geometry.solid import Solid
from ventplanner.io import stl
from ventplanner.io.meshes import read, write


def test_a_binary_box_has_684_bytes_and_reads_as_eight_vertices(tmp_path: Path) -> None:
    data = hand.binary_stl(hand.box_soup())
    assert len(data) == 684  # 84 + 50 n
    path = tmp_path / "box.stl"
    path.write_bytes(data)
    solid = read(path)
    assert (len(solid.vertices), len(solid.faces)) == (8, 12)
    assert solid.volume == pytest.approx(hand.BOX_VOLUME)
    assert solid.source.single_precision
    np.testing.assert_array_equal(solid.vertices[solid.faces], hand.box_soup())


def test_a_binary_header_may_start_with_solid(tmp_path: Path) -> None:
    path = tmp_path / "box.stl"
    path.write_bytes(hand.binary_stl(hand.box_soup(), header=b"solid lighthouse\nfacet normal 0 0 0"))
    assert len(read(path).faces) == 12


def test_bytes_after_the_last_triangle_are_ignored_and_said(tmp_path: Path) -> None:
    path = tmp_path / "box.stl"
    path.write_bytes(hand.binary_stl(hand.box_soup(), header=b"solid seal") + b"padding")
    solid = read(path)
    assert len(solid.faces) == 12
    assert solid.source.notes == ("7 bytes after the last triangle were ignored.",)


def test_a_binary_file_cut_short_says_how_many_triangles_are_there(tmp_path: Path) -> None:
    path = tmp_path / "box.stl"
    path.write_bytes(hand.binary_stl(hand.box_soup(), header=b"solid seal")[:-60])
    with pytest.raises(FileReadError, match=r"promises 12 triangles \(684 bytes\), it has 624 bytes \(10 triangles\)"):
        read(path)


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
def test_a_coordinate_that_is_no_finite_number_names_its_triangle(tmp_path: Path, value: float) -> None:
    soup = hand.box_soup()
    soup[7, 2, 1] = value
    path = tmp_path / "box.stl"
    path.write_bytes(hand.binary_stl(soup))
    with pytest.raises(FileReadError, match=r"triangle 8 has a coordinate that is no finite number \(1 such"):
        read(path)


def test_a_signalling_nan_is_refused_like_any_other(tmp_path: Path) -> None:
    path = tmp_path / "box.stl"
    data = bytearray(hand.binary_stl(hand.box_soup()))
    data[96:100] = bytes.fromhex("0100807f")  # IEEE 754: the quiet bit is not set
    path.write_bytes(data)
    with pytest.raises(FileReadError, match="triangle 1 has a coordinate that is no finite number"):
        read(path)


def test_a_file_with_no_triangles_is_refused(tmp_path: Path) -> None:
    (tmp_path / "a.stl").write_bytes(hand.binary_stl(hand.box_soup()[:0]))
    (tmp_path / "b.stl").write_text("solid nothing\nendsolid nothing\n")
    for name in ("a.stl", "b.stl"):
        with pytest.raises(FileReadError, match="no triangles"):
            read(tmp_path / name)


@pytest.mark.parametrize("change", [str, str.upper, lambda t: t.replace("\n", "\r\n"), lambda t: t.replace("  ", "\t")])
def test_ascii_reads_like_binary(tmp_path: Path, change) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / "box.stl"
    path.write_text(change(hand.ascii_stl(hand.box_soup())), newline="")
    solid = read(path)
    np.testing.assert_array_equal(solid.vertices[solid.faces], hand.box_soup())
    assert not solid.source.single_precision


def test_several_ascii_solids_are_bodies(tmp_path: Path) -> None:
    path = tmp_path / "two.stl"
    path.write_text(hand.ascii_stl(hand.box_soup(), "bell buoy") + hand.ascii_stl(hand.box_soup()[:4] + 9, "cleat"))
    bodies = [(body.name, body.start, body.stop) for body in read(path).bodies]
    assert bodies == [("bell buoy", 0, 12), ("cleat", 12, 16)]


def test_long_ascii_is_read_in_chunks_without_losing_a_facet(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stl, "_CHUNK", 300)
    path = tmp_path / "box.stl"
    path.write_text(hand.ascii_stl(hand.box_soup()))
    solid = read(path)
    np.testing.assert_array_equal(solid.vertices[solid.faces], hand.box_soup())


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("vertex 2.0 3.0 0.0", "vertex 2.0 3,0 0.0", r"line 6: expected a number, found '3,0'"),
        ("outer loop", "outre loop", r"line 3: expected outer, found 'outre'"),
        ("endsolid", "", r"no \"endsolid\" after 12 whole facets"),
        ("    endloop\n  endfacet\nendsolid", "endsolid", "expected a whole facet"),
        ("endsolid box\n", "endsolid box\nmore", r"line 87: neither the end of the file nor another"),
    ],
)
def test_damaged_ascii_names_the_line(tmp_path: Path, old: str, new: str, message: str) -> None:
    text = hand.ascii_stl(hand.box_soup())
    assert old in text
    path = tmp_path / "box.stl"
    path.write_text(text.replace(old, new, 1))
    with pytest.raises(FileReadError, match=message):
        read(path)


def test_the_writer_says_who_wrote_it_and_computes_normals_from_the_winding(tmp_path: Path) -> None:
    path = tmp_path / "out.stl"
    flat = [(0, 0, 0), (1, 0, 0), (2, 0, 0)]  # no area, so no normal
    vertices = np.array(hand.BOX_POINTS + flat, float)
    write(Solid(vertices, np.array([*hand.BOX_FACES, (8, 9, 10)])), path)
    data = path.read_bytes()
    assert not data.lower().startswith(b"solid")
    assert len(data) == 84 + 50 * 13
    rows = np.frombuffer(data, dtype=stl.TRIANGLE, offset=84)
    outward = [(0, 0, -1), (0, 0, 1), (0, -1, 0), (1, 0, 0), (0, 1, 0), (-1, 0, 0)]
    expected = [list(map(float, normal)) for normal in outward for _ in range(2)]
    assert rows["normal"].tolist() == [*expected, [0.0, 0.0, 0.0]]


def test_a_part_beyond_single_precision_is_not_written(tmp_path: Path) -> None:
    with pytest.raises(FileWriteError, match="too large for STL"):
        write(Solid(np.array(hand.BOX_POINTS) * 1e39, np.array(hand.BOX_FACES)), tmp_path / "out.stl")
    assert list(tmp_path.iterdir()) == []
