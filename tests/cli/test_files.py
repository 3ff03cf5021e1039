"""Files that come in and go out: bad ones are refused before the long work, good ones keep what they say."""

from __future__ import annotations

import os
import struct
import zipfile
from collections.abc import Callable
from pathlib import Path

import bodies
import numpy as np
import pytest
import trimesh
from command_line import Runner, hollow_box

import ventplanner
from ventplanner.app import jobs

pytestmark = pytest.mark.usefixtures("no_other_places")


def stl(path: Path, triangles: np.ndarray, count: int | None = None) -> None:
    """Binary STL by its layout: 80 bytes, a count, and 50 bytes for each triangle."""
    records = np.zeros(len(triangles), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("more", "<u2")])
    records["corners"] = triangles
    path.write_bytes(bytes(80) + struct.pack("<I", len(triangles) if count is None else count) + records.tobytes())


def with_value(value: float) -> np.ndarray:
    triangles = np.array(hollow_box().triangles)
    triangles[3, 1, 2] = value
    return triangles


TRIANGLES = np.array(hollow_box().triangles)

SHEET = np.array([[[0, 0, 0], [9, 1, 2], [2, 8, 7]], [[0, 0, 0], [2, 8, 7], [9, 1, 2]]])
"""Two triangles back to back: closed, and nothing in between."""

BROKEN: dict[str, tuple[Callable[[Path], object], str]] = {
    "missing": (lambda path: None, "there is no such file"),
    "folder": (lambda path: path.mkdir(), "folder"),
    "empty": (lambda path: path.touch(), "the file is empty"),
    "garbage": (lambda path: path.write_bytes(bytes(range(256)) * 4), ""),
    "text": (lambda path: path.write_text("a shopping list\n" * 20), ""),
    "cut short": (lambda path: stl(path, TRIANGLES, 100), "cut short"),
    "without triangles": (lambda path: stl(path, TRIANGLES[:0]), "no triangles"),
    "not a number": (lambda path: stl(path, with_value(np.nan)), "triangle 4"),
    "endless": (lambda path: stl(path, with_value(np.inf)), "triangle 4"),
    "too large": (lambda path: stl(path, TRIANGLES * 1e30), "too large"),
    "far piece": (lambda path: stl(path, np.concatenate([TRIANGLES, np.add(TRIANGLES, [1e6, 0, 0])])), "far away"),
    "in metres": (lambda path: stl(path, TRIANGLES * 1e-3), "--unit"),
    "tiny": (lambda path: stl(path, TRIANGLES * 1e-40), "too small"),
    "one point": (lambda path: stl(path, TRIANGLES * 0.0), "all points"),
    "flat": (lambda path: stl(path, TRIANGLES * [1, 1, 0]), "flat"),
    "one triangle": (lambda path: stl(path, np.array([[[0, 0, 0], [9, 1, 2], [2, 8, 7]]])), ""),
    "a sheet": (lambda path: stl(path, SHEET), "no material"),
    "half of its triangles": (lambda path: stl(path, TRIANGLES[::2]), "large holes"),
}  # fmt: skip


@pytest.mark.parametrize("case", BROKEN)
def test_a_file_that_cannot_be_used_is_named_with_the_cause(run: Runner, tmp_path: Path, case: str) -> None:
    make, cause = BROKEN[case]
    path = tmp_path / "part.stl"
    make(path)
    before = sorted(tmp_path.iterdir())
    for words in (("inspect", path, "--json"), ("vent", path, "--out", tmp_path / "out.stl")):
        done = run(*words, "--pitch", 0.5)
        assert (done.code, done.out) == (2, "")
        assert len(done.err.splitlines()) == 1
        assert cause in done.err
    assert sorted(tmp_path.iterdir()) == before


def test_a_part_far_from_the_origin_is_vented_all_the_same(run: Runner, tmp_path: Path) -> None:
    stl(tmp_path / "far.stl", TRIANGLES + 1e5)
    report = run("vent", tmp_path / "far.stl", "--out", tmp_path / "out.stl", "--json").json
    assert report["verified"] is True
    assert report["part"]["bounds_mm"] == [[99990.0] * 3, [100010.0] * 3]


def test_an_open_mesh_is_inspected_but_not_cut(run: Runner, parts: dict[str, Path], tmp_path: Path) -> None:
    assert run("inspect", parts["open_box"]).code == 3
    done = run("vent", parts["open_box"], "--out", tmp_path / "out.stl")
    assert (done.code, done.out) == (2, "")
    assert "3 edges are open, the first at" in done.err
    assert not (tmp_path / "out.stl").exists()


def test_doubled_faces_are_refused_before_the_cut_with_their_place(run: Runner, tmp_path: Path) -> None:
    stl(tmp_path / "doubled.stl", np.concatenate([TRIANGLES, TRIANGLES]))
    done = run("vent", tmp_path / "doubled.stl", "--out", tmp_path / "out.stl")
    assert done.code == 2
    assert "24 faces repeat others, the first at (" in done.err
    assert not (tmp_path / "out.stl").exists()


REFUSED: dict[str, tuple[list[str], str]] = {
    "unknown suffix": (["--out", "out.xyz"], "Use one of .3mf, .ply, .stl, .obj"),
    "a format only read": (["--out", "out.off"], "Use one of"),
    "no suffix": (["--out", "out"], "Use one of"),
    "empty name": (["--out", ""], "Use one of"),
    "existing": (["--out", "old.stl"], "--overwrite"),
    "folder": (["--out", "folder.stl"], "folder"),
    "missing folder": (["--out", "missing/out.stl"], "missing"),
    "file as folder": (["--out", "old.stl/out.stl"], "old.stl"),
    "long name": (["--out", "x" * 300 + ".stl"], "too long"),
    "system folder": (["--out", "/proc/out.stl"], "/proc"),
    "plan of another suffix": (["--out", "o.stl", "--save", "plan.zip"], ".ventplan"),
    "existing plan": (["--out", "o.stl", "--save", "old.ventplan"], "--overwrite"),
    "plan in a missing folder": (["--out", "o.stl", "--save", "missing/p.ventplan"], "missing"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_a_name_that_cannot_be_written_is_refused_before_the_work(
    run: Runner, box: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, case: str
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(jobs, "open_part", lambda *_: pytest.fail("the work has begun"))
    (tmp_path / "folder.stl").mkdir()
    for name in ("old.stl", "old.ventplan"):
        (tmp_path / name).write_bytes(b"precious")
    before = sorted(tmp_path.rglob("*"))
    words, named = REFUSED[case]
    done = run("vent", box, *words)
    assert (done.code, done.out) == (2, "")
    assert len(done.err.splitlines()) == 1
    assert named in done.err
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.skipif(os.geteuid() == 0, reason="the administrator may write anywhere")
def test_a_folder_that_can_only_be_read_is_refused_before_the_work(run: Runner, box: Path, tmp_path: Path) -> None:
    closed = tmp_path / "closed"
    closed.mkdir(mode=0o500)
    done = run("vent", box, "--out", closed / "out.stl")
    assert done.code == 2
    assert "no permission" in done.err


def test_names_and_unit_of_a_3mf_come_back(run: Runner, tmp_path: Path) -> None:
    """The file is written by its standard (3MF Core 1.4.0, sections 3 and 4), by hand."""

    def mesh(body: trimesh.Trimesh) -> str:
        points = "".join(f'<vertex x="{x}" y="{y}" z="{z}"/>' for x, y, z in body.vertices.tolist())
        faces = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in body.faces.tolist())
        return f"<mesh><vertices>{points}</vertices><triangles>{faces}</triangles></mesh>"

    hollow = trimesh.util.concatenate([bodies.box(1), bodies.inward(bodies.box(0.75))])
    named = {"Bell Büoy": hollow, "Anchor & chain": bodies.box(0.5, (2, 0, -0.25))}
    objects = "".join(
        f'<object id="{k}" name="{name.replace("&", "&amp;")}" type="model">{mesh(body)}</object>'
        for k, (name, body) in enumerate(named.items(), 1)
    )
    model = (
        '<?xml version="1.0" encoding="UTF-8"?><model unit="inch" xml:lang="en-US"'
        ' xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"><resources>'
        f'{objects}</resources><build><item objectid="1"/><item objectid="2"/></build></model>'
    )
    with zipfile.ZipFile(tmp_path / "part.3mf", "w") as archive:
        archive.writestr(
            "[Content_Types].xml",
            '<?xml version="1.0" encoding="UTF-8"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/'
            'content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.'
            'relationships+xml"/><Default Extension="model" ContentType="application/vnd.ms-package.'
            '3dmanufacturing-3dmodel+xml"/></Types>',
        )
        archive.writestr(
            "_rels/.rels",
            '<?xml version="1.0" encoding="UTF-8"?><Relationships xmlns="http://schemas.openxmlformats.org/package/'
            '2006/relationships"><Relationship Id="r0" Target="/3D/3dmodel.model" Type="http://schemas.microsoft.com/'
            '3dmanufacturing/2013/01/3dmodel"/></Relationships>',
        )
        archive.writestr("3D/3dmodel.model", model)
    done = run("vent", tmp_path / "part.3mf", "--out", tmp_path / "out.3mf", "--json")
    assert done.code == 0
    report = done.json
    assert report["part"]["unit"] == {"given": "inch", "assumed": "inch"}
    assert sum("Bell Büoy, Anchor & chain" in text for text in report["assumptions"]) == 1
    assert report["cavities"][0]["volume_mm3"] == pytest.approx((0.75 * 25.4) ** 3, rel=0.01)
    written = ventplanner.read(tmp_path / "out.3mf")
    assert [body.name for body in written.bodies] == list(named)
    assert written.source.unit_given == "inch"
    assert written.bounds == pytest.approx(np.array([[-0.5, -0.5, -0.5], [2.25, 0.5, 0.5]]) * 25.4)


def test_every_format_that_is_read_gives_the_same_vents(run: Runner, tmp_path: Path) -> None:
    vents, sizes = [], []
    for suffix in (".stl", ".obj", ".ply", ".off", ".3mf"):
        path, out = tmp_path / f"box{suffix}", tmp_path / f"{suffix}.stl"
        hollow_box().export(path)
        vents.append(run("vent", path, "--out", out, "--json").json["vents"])
        sizes.append(out.stat().st_size)
    assert vents == vents[:1] * 5
    assert sizes == sizes[:1] * 5
