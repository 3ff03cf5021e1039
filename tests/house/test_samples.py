"""The sample parts: sound meshes, made by the script beside them, that show what their table says."""

from __future__ import annotations

import hashlib
import importlib
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
import sample_parts
import trimesh
from scipy.spatial import cKDTree

import ventplanner

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "samples"

# File -> state of each cavity and its number of cups, at the default pose; skins: outer ones and inner ones.
SHOWN = {
    "seal-pup.stl": ([("sealed", 1)], 1, 1),
    "lighthouse.stl": ([("sealed", 1)] * 4, 1, 4),
    "puffin.stl": ([("sealed", 4)], 1, 1),
    "whelk.stl": ([("late", 1)], 1, 0),
    "rope-cleat.stl": ([("sealed", 2)], 1, 1),
    "bollard.stl": ([], 1, 0),
    "fisherman.3mf": ([("late", 1)], 3, 0),
}


@pytest.fixture(scope="module")
def make() -> ModuleType:
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(ROOT))
        return importlib.import_module("samples.make")


def _skins(name: str) -> list[trimesh.Trimesh]:
    loaded = trimesh.load(SAMPLES / name)
    whole = loaded.to_mesh() if isinstance(loaded, trimesh.Scene) else loaded
    return list(whole.split(only_watertight=False))


def _digest(skin: tuple[np.ndarray, np.ndarray]) -> str:
    vertices, faces = skin
    return hashlib.sha256(vertices.tobytes() + faces.tobytes()).hexdigest()


def test_table_names_every_part_and_every_file_is_made_by_the_script(make: ModuleType) -> None:
    stored = {p.name for p in SAMPLES.iterdir() if p.suffix in (".stl", ".3mf")}
    assert stored == set(SHOWN) == {file for _, file, _ in make.PARTS.values()}
    text = (SAMPLES / "README.md").read_text(encoding="utf-8")
    assert all(f"`{name}`" in text for name in stored)


@pytest.mark.parametrize("name", SHOWN)
def test_sample_is_closed_oriented_without_specks_and_stands_on_the_ground(name: str) -> None:
    _, outer, inner = SHOWN[name]
    assert (SAMPLES / name).stat().st_size < 6e6
    skins = _skins(name)
    for skin in skins:
        edges = np.sort(skin.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
        _, uses = np.unique(edges, axis=0, return_counts=True)
        assert (uses == 2).all()
        assert skin.is_winding_consistent
        assert abs(skin.volume) > 100.0
    assert [sum(s.volume > 0 for s in skins), sum(s.volume < 0 for s in skins)] == [outer, inner]
    bounds = np.array([skin.bounds for skin in skins])
    low, high = bounds[:, 0].min(axis=0), bounds[:, 1].max(axis=0)
    assert low[2] == pytest.approx(0.0, abs=1e-3)
    assert (high - low).min() > 30.0
    assert (high - low).max() < 105.0


@pytest.mark.parametrize("name", SHOWN)
def test_sample_shows_what_it_is_for(name: str) -> None:
    expected, _, _ = SHOWN[name]
    assert [(c.state, len(c.cups)) for c in sample_parts.findings(name).cavities] == expected


def test_holes_of_the_whelk_are_above_its_pocket_start() -> None:
    (cavity,) = sample_parts.findings("whelk.stl").cavities
    assert len(cavity.openings) == 2
    assert [round(o.width, 1) for o in cavity.openings] == pytest.approx([2.4, 2.4], abs=0.15)
    assert min(float(o.at[2]) for o in cavity.openings) > cavity.cups[0].cup.from_height + 5.0


def test_limbs_of_the_puffin_are_cups_that_join_the_oldest() -> None:
    (cavity,) = sample_parts.findings("puffin.stl").cavities
    body, *limbs = (c.cup for c in cavity.cups)
    assert body.joins_height is None
    assert all(c.joins_height > c.from_height > body.from_height + 10.0 for c in limbs if c.joins_height is not None)
    assert [c.joins_height is not None for c in limbs] == [True, True, True]


@pytest.fixture(scope="module")
def whelk(make: ModuleType) -> tuple[np.ndarray, np.ndarray]:
    made: tuple[np.ndarray, np.ndarray] = make.build("whelk")["whelk"]
    return made


def test_script_makes_the_stored_part_again(whelk: tuple[np.ndarray, np.ndarray]) -> None:
    vertices, faces = whelk
    stored = trimesh.load_mesh(SAMPLES / "whelk.stl")
    assert trimesh.Trimesh(vertices, faces, process=False).volume == pytest.approx(stored.volume, rel=1e-4)
    assert len(faces) == pytest.approx(len(stored.faces), rel=0.01)
    away, _ = cKDTree(stored.vertices).query(vertices)
    assert np.quantile(away, 0.99) < 0.05


def test_script_makes_the_same_part_every_time(make: ModuleType, whelk: tuple[np.ndarray, np.ndarray]) -> None:
    assert _digest(make.build("whelk")["whelk"]) == _digest(whelk)


def test_written_files_are_the_same_every_time_and_read_back(make: ModuleType, tmp_path: Path) -> None:
    ball = trimesh.creation.icosphere(radius=5.0)
    skin = (np.asarray(ball.vertices, float), np.asarray(ball.faces, np.int32))
    for name in ("a", "b"):
        make.write_stl(tmp_path / f"{name}.stl", [skin])
        make.write_3mf(tmp_path / f"{name}.3mf", {"left": skin, "right": skin})
    for suffix in ("stl", "3mf"):
        assert (tmp_path / f"a.{suffix}").read_bytes() == (tmp_path / f"b.{suffix}").read_bytes()
    assert trimesh.load_mesh(tmp_path / "a.stl").volume == pytest.approx(ball.volume, rel=1e-5)
    assert [body.name for body in ventplanner.read(tmp_path / "a.3mf").bodies] == ["left", "right"]
