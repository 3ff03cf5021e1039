"""One way in and one way out: which format it is, what cannot be read, and that writing gives back what was read."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import get_args

import mesh_files as hand
import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from numpy.typing import NDArray

from ventplanner.errors import Cancelled, FileReadError, FileWriteError
from ventplanner.geometry.solid import Solid, Source, Unit
from ventplanner.geometry.weld import weld
from ventplanner.io import meshes
from ventplanner.io.meshes import read, write
from ventplanner.io.project import load_plan
from ventplanner.io.units import MM_PER_UNIT, to_mm
from ventplanner.machine import memory_bytes

WRITTEN = ("stl", "3mf", "obj", "ply")
FILES = {
    "STL": hand.binary_stl(hand.box_soup()),
    "OBJ": hand.box_obj().encode(),
    "OFF": hand.box_off().encode(),
    "PLY": (
        hand.ply_header("ascii", 8, 6).encode()
        + "".join(f"{x} {y} {z}\n" for x, y, z in hand.BOX_POINTS).encode()
        + "".join(f"4 {a} {b} {c} {d}\n" for a, b, c, d in hand.BOX_QUADS).encode()
    ),
    "3MF": hand.threemf(hand.box_model(), name="3D/3dmodel.model"),
}

TILTED = "v 0.1 0.2 0.3\nv 1.1 0.7 -3.3\nv 0.0 25.4 1e-07\no part\nf 1 2 3\n"


def corners(solid: Solid) -> NDArray[np.float64]:
    """(m, 3, 3) in file order, without regard to how the vertices are numbered."""
    picked: NDArray[np.float64] = solid.vertices[solid.faces]
    return picked


def turned(triangles: NDArray[np.float64]) -> list[list[list[float]]]:
    """Sorted triangles, each from its least corner on: the same lists for the same oriented surface."""
    return sorted(min([a, b, c], [b, c, a], [c, a, b]) for a, b, c in triangles.tolist())


@pytest.mark.parametrize("name", FILES)
@pytest.mark.parametrize("suffix", [".stl", ".xyz", ""])
def test_the_content_tells_the_format_whatever_the_name(tmp_path: Path, name: str, suffix: str) -> None:
    path = tmp_path / f"part{suffix}"
    path.write_bytes(FILES[name])
    solid = read(path)
    assert solid.source.format == name
    assert solid.volume == pytest.approx(hand.BOX_VOLUME)
    as_named = suffix == "" or suffix == f".{name.lower()}"
    assert any("the content is" in note for note in solid.source.notes) != as_named


@pytest.mark.parametrize("name", FILES)
def test_trimesh_reads_the_same_part(tmp_path: Path, name: str) -> None:
    """An independent reader (trimesh, process=False) as oracle; it lists the halves of quads in an order of its own."""
    path = tmp_path / f"part.{name.lower()}"
    path.write_bytes(FILES[name])
    theirs = trimesh.load(path, process=False, force="mesh")
    assert isinstance(theirs, trimesh.Trimesh)
    assert turned(corners(read(path))) == turned(theirs.vertices[theirs.faces])


@pytest.mark.parametrize("suffix", WRITTEN)
def test_trimesh_reads_what_is_written(tmp_path: Path, suffix: str) -> None:
    body = trimesh.creation.annulus(r_min=3, r_max=5.5, height=7)
    solid = Solid(body.vertices / 3, body.faces, source=Source(single_precision=suffix == "stl"))
    path = tmp_path / f"ring.{suffix}"
    write(solid, path)
    theirs = trimesh.load(path, process=False, force="mesh")
    assert isinstance(theirs, trimesh.Trimesh)
    expected = corners(solid).astype(np.float32) if suffix == "stl" else corners(solid)
    np.testing.assert_array_equal(theirs.vertices[theirs.faces], expected)
    assert theirs.is_watertight or suffix == "stl"
    assert theirs.volume == pytest.approx(solid.volume, rel=1e-5)


# Decimals as a text file has them, and doubles of any kind; large and small enough to meet rounding everywhere.
numbers = st.integers(-(10**9), 10**9).map(lambda n: n / 10**6) | st.floats(-1e6, 1e6).filter(
    lambda x: x == 0 or abs(x) > 1e-30
)


@given(
    st.sampled_from(WRITTEN),
    st.sampled_from(get_args(Unit)),
    st.booleans(),
    arrays.arrays(np.float64, st.tuples(st.integers(1, 8), st.just(3), st.just(3)), elements=numbers),
)
def test_what_is_written_is_read_again_to_the_last_bit(
    suffix: str, unit: Unit, single: bool, soup: NDArray[np.float64]
) -> None:
    single = single or suffix == "stl"
    in_file = soup.astype(np.float32) if single else soup
    vertices, faces = weld(to_mm(in_file, MM_PER_UNIT[unit]))
    source = Source(unit_given=unit, unit_assumed=unit, mm_per_unit=MM_PER_UNIT[unit], single_precision=single)
    solid = Solid(vertices, faces, source=source)
    if suffix == "3mf":  # which has no place for a triangle with two equal corners
        a, b, c = faces.T
        solid = Solid(vertices, faces[(a != b) & (b != c) & (c != a)], source=source)
    if not len(solid.faces):
        return
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"part.{suffix}"
        write(solid, path)
        again = read(path, unit=unit)
        np.testing.assert_array_equal(corners(again), corners(solid))
        assert again.source.unit_given == unit
        # And the file of what was read is the same file.
        write(again, Path(folder) / f"again.{suffix}")
        assert read(Path(folder) / f"again.{suffix}", unit=unit).digest == again.digest
        if suffix == "stl":
            rows = np.frombuffer(path.read_bytes(), dtype=meshes.stl.TRIANGLE, offset=84)
            np.testing.assert_array_equal(rows["corners"], in_file)


@pytest.mark.parametrize("unit", get_args(Unit))
@pytest.mark.parametrize("suffix", ["obj", "3mf"])
def test_text_comes_back_in_its_shortest_form(tmp_path: Path, suffix: str, unit: Unit) -> None:
    first = tmp_path / "first.obj"
    first.write_text(TILTED)
    write(read(first, unit=unit), tmp_path / f"again.{suffix}")
    again = tmp_path / f"again.{suffix}"
    if suffix == "obj":
        assert [line for line in again.read_text().splitlines() if line[0] != "#"] == TILTED.splitlines()
    else:
        assert read(again, unit=unit).digest == read(first, unit=unit).digest


def test_the_unit_of_a_file_without_one_stays_and_mm_is_said_where_a_format_asks(tmp_path: Path) -> None:
    (tmp_path / "box.stl").write_bytes(FILES["STL"])
    solid = read(tmp_path / "box.stl")
    write(solid, tmp_path / "box.3mf")
    assert read(tmp_path / "box.3mf").source.unit_given == "mm"


def test_an_empty_a_missing_or_a_strange_file_is_refused_with_a_way_out(tmp_path: Path) -> None:
    (tmp_path / "empty.stl").touch()
    (tmp_path / "picture.png").write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(100))
    (tmp_path / "short.stl").write_bytes(b"\x01" * 20)
    for name, message in (
        ("empty.stl", "the file is empty"),
        ("missing.stl", "there is no such file"),
        (".", "this is a folder"),
        ("picture.png", r"the format is not known. Use one of .*\.3mf.*\.stl"),
        ("short.stl", "no STL: 20 bytes"),
    ):
        with pytest.raises(FileReadError, match=message) as caught:
            read(tmp_path / name)
        assert caught.value.way_out


@pytest.mark.parametrize("suffix", [".3mf", ".ply", ".off", ".stl", ".obj"])
def test_nonsense_by_any_name_is_refused(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"nonsense{suffix}"
    path.write_bytes(np.random.default_rng(1).bytes(5000))
    with pytest.raises(FileReadError):
        read(path)


BREAKABLE = {
    **FILES,
    "text STL": hand.ascii_stl(hand.box_soup()).encode(),
    "XML in 3MF": hand.box_model().encode(),
    "binary PLY": hand.ply_header("binary_little_endian", 8, 12).encode()
    + np.array(hand.BOX_POINTS, "<f4").tobytes()
    + b"".join(b"\3" + np.array(face, "<i4").tobytes() for face in hand.BOX_FACES),
}


@given(st.sampled_from(sorted(BREAKABLE)), st.data())
def test_a_file_with_any_byte_changed_or_cut_off_is_read_or_refused_but_never_crashes(
    name: str, data: st.DataObject
) -> None:
    content = bytearray(BREAKABLE[name])
    for _ in range(data.draw(st.integers(0, 3))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    cut = data.draw(st.just(len(content)) | st.integers(1, len(content)))
    broken = bytes(content[:cut])
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"part.{name[-3:].lower()}"
        path.write_bytes(hand.threemf(broken) if name == "XML in 3MF" else broken)
        try:
            solid = read(path)
        except FileReadError:
            return
    assert np.isfinite(solid.vertices).all()
    assert len(solid.faces) > 0


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="root may read everything")
def test_a_file_without_permission_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "box.stl"
    path.write_bytes(FILES["STL"])
    path.chmod(0)
    with pytest.raises(FileReadError, match="no permission"):
        read(path)


def test_the_source_is_never_overwritten_by_accident(tmp_path: Path) -> None:
    path = tmp_path / "box.stl"
    path.write_bytes(FILES["STL"])
    solid = read(path)
    with pytest.raises(FileWriteError, match="this is the source file"):
        write(solid, tmp_path / "." / "box.stl")
    (tmp_path / "other.stl").write_text("other")
    with pytest.raises(FileWriteError, match="exists already"):
        write(solid, tmp_path / "other.stl")
    with pytest.raises(FileWriteError, match="this is the source file"):
        write(solid, tmp_path / "other.stl", replaces=tmp_path / "other.stl")
    assert path.read_bytes() == FILES["STL"]
    write(solid, path, overwrite=True)
    np.testing.assert_array_equal(corners(read(path)), hand.box_soup())


@pytest.mark.parametrize("name", ["part.off", "part.step", "part"])
def test_formats_that_are_not_written_list_those_that_are(tmp_path: Path, name: str) -> None:
    solid = Solid(np.array(hand.BOX_POINTS, float), np.array(hand.BOX_FACES))
    with pytest.raises(FileWriteError, match=r"Use one of \.3mf, \.ply, \.stl, \.obj"):
        write(solid, tmp_path / name)
    write(solid, tmp_path / name, format="stl")
    assert (tmp_path / name).stat().st_size == 684


def test_a_part_without_triangles_is_not_written(tmp_path: Path) -> None:
    with pytest.raises(FileWriteError, match="no triangles"):
        write(Solid(np.zeros((0, 3)), np.zeros((0, 3), int)), tmp_path / "part.stl")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", FILES)
def test_progress_is_told_and_a_cancel_passes_through(tmp_path: Path, name: str) -> None:
    path = tmp_path / f"part.{name.lower()}"
    path.write_bytes(FILES[name])
    told: list[tuple[str, float]] = []
    read(path, progress=lambda phase, share: told.append((phase, share)))
    shares = [share for _, share in told]
    assert shares == sorted(shares)
    assert shares[-1] == 1.0

    def cancel(phase: str, share: float) -> None:
        raise Cancelled

    with pytest.raises(Cancelled):
        read(path, progress=cancel)


@pytest.mark.parametrize("name", ["huge.stl", "huge.obj", "huge.ply", "huge.off", "huge.3mf"])
def test_a_file_larger_than_the_memory_is_refused_before_it_is_read(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    triangles = memory_bytes() // 40
    head = {".stl": b"\0" * 80 + triangles.to_bytes(4, "little")}.get(path.suffix, b"")
    with path.open("wb") as file:  # a file with a hole: it takes no room on the disk
        file.write(head)
        file.truncate(84 + 50 * triangles)
    with pytest.raises(FileReadError, match=r"huge.*the file has .* GB; to read it takes at least .* GB of memory"):
        read(path)


def test_a_plan_larger_than_the_memory_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "huge.ventplan"
    with path.open("wb") as file:
        file.truncate(memory_bytes())
    with pytest.raises(FileReadError, match="fewer triangles"):
        load_plan(path)
