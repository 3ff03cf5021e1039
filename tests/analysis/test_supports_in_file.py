"""Supports and rafts that came as bodies of their own are recognised; ordinary bodies are not."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from scipy.spatial.transform import Rotation
from trimesh.creation import cylinder, icosphere

from ventplanner.analysis.findings import analyse
from ventplanner.analysis.supports_in_file import supports_in_file
from ventplanner.geometry.pose import Pose
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.topology import topology
from ventplanner.options import AnalysisOptions

Mesh = trimesh.Trimesh
BODY = icosphere(subdivisions=3, radius=15).apply_translation((0, 0, 20))
PLACES = [(x, y) for x in (-6, 0, 6) for y in (-6, 0, 6)]


def joined(*meshes: Mesh) -> Solid:
    starts = np.cumsum([0] + [len(m.vertices) for m in meshes])
    faces = np.concatenate([m.faces + s for m, s in zip(meshes, starts, strict=False)])
    return Solid(np.concatenate([m.vertices for m in meshes]), faces.astype(np.int32))


def found(*meshes: Mesh, to_plate: tuple[float, float, float] = (0, 0, -1)) -> tuple[list[int], str]:
    solid = joined(*meshes)
    mask, sentence = supports_in_file(solid, topology(solid), Pose(to_plate))
    return np.flatnonzero(mask).tolist(), sentence


def skin_height(x: float, y: float) -> float:
    """Height of the body's underside above (x, y)."""
    return float(20 - np.sqrt(15**2 - x * x - y * y))


def strut(x: float, y: float, top: float, foot: float = 0.0, tip: float = 0.2) -> Mesh:
    """A turned strut of 1.6 mm that narrows over its last 2 mm to the tip's radius."""
    outline = [[0, foot], [0.8, foot], [0.8, top - 2], [tip, top], [0, top]]
    return trimesh.creation.revolve(np.array(outline), sections=16).apply_translation((x, y, 0))


def block(x: float, y: float, z: float, at: tuple[float, float, float]) -> Mesh:
    return trimesh.creation.box((x, y, z)).apply_translation(at)


STRUTS = [strut(x, y, skin_height(x, y) + 0.2) for x, y in PLACES]


def test_struts_below_a_raised_body_are_recognised_and_said() -> None:
    mask, sentence = found(BODY, *STRUTS)
    assert mask == list(range(1, 10))
    assert "9 supports in 9 bodies" in sentence


def test_the_raft_they_stand_on_belongs_to_them() -> None:
    mask, sentence = found(block(30, 30, 1, (0, 0, 0.5)), *STRUTS, BODY)
    assert mask == list(range(10))
    assert "raft" in sentence


def test_struts_and_raft_in_one_skin_are_recognised() -> None:
    raft = block(30, 30, 1, (0, 0, 0.5))
    forest = trimesh.boolean.union([raft, *STRUTS], engine="manifold")
    mask, sentence = found(BODY, forest)
    assert mask == [1]
    assert "9 supports in 1 body" in sentence


def test_a_raft_under_a_part_with_fused_supports_is_recognised_alone() -> None:
    # Where a strut has become one with the part, nothing tells its faces from the part's.
    part = trimesh.boolean.union([BODY, *STRUTS], engine="manifold")
    mask, sentence = found(part, block(30, 30, 2.0, (0, 0, -1.0)))
    assert mask == [1]
    assert "raft" in sentence


@pytest.mark.parametrize("seed", range(4))
def test_supports_follow_the_pose(seed: int) -> None:
    turn = Rotation.random(rng=np.random.default_rng(seed)).as_matrix()
    matrix = np.eye(4)
    matrix[:3, :3] = turn
    meshes = [m.copy().apply_transform(matrix) for m in (BODY, *STRUTS)]
    down = tuple(float(x) for x in turn @ [0, 0, -1])
    assert found(*meshes, to_plate=down)[0] == list(range(1, 10))  # type: ignore[arg-type]
    up = tuple(float(x) for x in turn @ [0, 0, 1])
    assert found(*meshes, to_plate=up)[0] == []  # type: ignore[arg-type]


ORDINARY = {
    "eyes": [BODY, *[icosphere(subdivisions=2, radius=2).apply_translation((x, -10, 28)) for x in (-5, 5)]],
    "pegs inside": [BODY, *[cylinder(1, 8).apply_translation((x, y, 20)) for x, y in PLACES]],
    "two thin legs": [BODY, *[cylinder(0.9, 9).apply_translation((x, 0, 4.5)) for x in (-4, 4)]],
    "four legs": [
        BODY,
        *[cylinder(1.2, 14).apply_translation((x, y, 7)) for x in (-6, 6) for y in (-6, 6)],
    ],
    "four thick tapering legs": [BODY, *[trimesh.creation.cone(3, 12).apply_translation((*p, 0)) for p in PLACES[:4]]],
    "a plinth": [BODY, block(40, 40, 5.2, (0, 0, 2.6))],
    "a thin plinth": [BODY, block(40, 40, 2, (0, 0, 4.2))],
    "small parts beside": [
        BODY,
        *[icosphere(subdivisions=2, radius=2).apply_translation((30, y, 2)) for y in range(0, 50, 5)],
    ],
    "a small crab below": [
        BODY,
        trimesh.boolean.union(
            [block(20, 20, 2, (0, 0, 4)), *[cylinder(0.8, 5).apply_translation((x, y, 2.0)) for x, y in PLACES]],
            engine="manifold",
        ),
    ],
    "one body": [BODY],
}


@pytest.mark.parametrize("meshes", ORDINARY.values(), ids=ORDINARY.keys())
def test_ordinary_bodies_are_no_supports(meshes: list[Mesh]) -> None:
    assert found(*meshes) == ([], "")


def test_three_struts_are_too_few_to_tell() -> None:
    assert found(BODY, *STRUTS[:3]) == ([], "")


def test_the_air_between_supports_is_no_cavity_and_the_hollow_above_them_is_one() -> None:
    hollow = icosphere(subdivisions=3, radius=13).apply_translation((0, 0, 20))
    hollow.invert()
    wide = [strut(x, y, skin_height(x, y) + 0.2) for x in (-6, -2, 2, 6) for y in (-6, -2, 2, 6)]
    part = analyse(joined(block(26, 26, 1, (0, 0, 0.5)), *wide, BODY, hollow), options=AnalysisOptions(pitch_mm=0.2))
    assert part.support_skins.sum() == 17
    assert [(c.id, c.kind) for c in part.cavities] == [("A", "sealed")]


def test_a_hollow_into_which_a_support_reaches_is_a_cavity_with_bounds_of_its_own() -> None:
    hollow = icosphere(subdivisions=3, radius=13).apply_translation((0, 0, 20))
    way = cylinder(radius=2.5, segment=[(0, 0, 0), (0, 0, 12)], sections=32)
    opened = trimesh.boolean.difference([BODY, hollow, way], engine="manifold")
    inside = strut(0, 0, 20 - 13 + 26 + 0.2)
    part = analyse(joined(opened, inside, *STRUTS[:4], *STRUTS[5:]), options=AnalysisOptions(pitch_mm=0.3))
    assert part.support_skins.sum() == 9
    (cavity,) = part.cavities
    assert cavity.kind == "chamber"
    np.testing.assert_allclose(cavity.bounds[1], [13, 13, 33], atol=0.3)
    assert cavity.bounds[0][2] > 3.0
