"""Islands against layers that are labelled one by one, and on bodies whose islands are plain to see."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from bodies import ball, block, box, cone, cut, inward, rod, solid, turned, union, voxel_solid
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from ventplanner.analysis.findings import analyse
from ventplanner.analysis.inside import Inside, look_inside
from ventplanner.analysis.islands import held_runs, islands_of
from ventplanner.geometry.material import material_runs
from ventplanner.geometry.pose import On, Pose
from ventplanner.geometry.solid import Solid
from ventplanner.options import AnalysisOptions

LAYER = 0.05


@dataclass
class Piece:
    """What the oracle knows of an island: the layers in voxels."""

    birth: int
    area: int
    held: float = np.inf
    joined: float | None = None
    volume: int = 0
    peak: int = 0


def by_layers(filled: np.ndarray) -> list[Piece]:
    """Islands of a voxel body that stands on its first layer, found by labelling each layer by itself.

    A patch of a layer that rests on nothing starts an island; patches that rest on several join them, the oldest stays.
    """
    corners = np.ones((3, 3), dtype=int)
    pieces: dict[int, Piece] = {}
    parent: dict[int, int] = {0: 0}
    below = np.full(filled.shape[:2], -1)

    def root(k: int) -> int:
        while parent[k] != k:
            k = parent[k]
        return k

    for z in range(filled.shape[2]):
        label, n = ndimage.label(filled[:, :, z], corners)
        here = np.full(filled.shape[:2], -1)
        for patch in range(1, n + 1):
            at = label == patch
            roots = sorted({root(int(k)) for k in np.unique(below[at]) if k >= 0}, key=lambda k: (k != 0, k))
            if z == 0:
                roots = [0]
            elif not roots:
                new = max([0, *pieces]) + 1
                pieces[new], parent[new] = Piece(z, int(at.sum())), new
                roots = [new]
            for k in roots[1:]:
                if roots[0] == 0:
                    pieces[k].held = z
                else:
                    pieces[k].joined = z
                parent[k] = roots[0]
            here[at] = roots[0]
        owner = np.vectorize(lambda k: -1 if k < 0 else root(int(k)), otypes=[int])(here)
        for k, piece in pieces.items():
            size = int((owner == k).sum())
            piece.volume += size
            piece.peak = max(piece.peak, size)
        below = owner
    for k, piece in pieces.items():  # an island that joined an older one is held when that is
        while parent[k] not in (0, k):
            k = parent[k]  # noqa: PLW2901
        piece.held = pieces[k].held
        piece.joined = None if piece.joined == piece.held else piece.joined
    return list(pieces.values())


def lumps(seed: int, share: float, blur: float, size: int = 10) -> np.ndarray:
    noise = ndimage.gaussian_filter(np.random.default_rng(seed).standard_normal((size,) * 3), blur)
    filled = noise < np.quantile(noise, share)
    filled[0, 0, 0] = True
    return filled


@settings(max_examples=30, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    share=st.sampled_from([0.1, 0.25, 0.4, 0.6]),
    blur=st.sampled_from([0.0, 0.6, 1.1]),
    on=st.sampled_from(["plate", "supports"]),
)
def test_islands_are_those_of_layers_labelled_one_by_one(seed: int, share: float, blur: float, on: On) -> None:
    filled = lumps(seed, share, blur)
    runs = analyse(voxel_solid(filled), Pose(on=on), AnalysisOptions(pitch_mm=1.0)).scene.runs
    material = material_runs(runs)
    found = islands_of(material, held_runs(material, LAYER, None), LAYER, 0.0, 0.0)
    # Ties of age are broken by place in one and by label in the other: of two that start together and join, which one
    # is said to have joined, and how its volume is told apart, may differ. Sums over equal starts do not.
    expected = by_layers(filled)
    assert sorted(i.from_height for i in found) == pytest.approx(sorted(float(p.birth) for p in expected), abs=1e-6)
    assert sorted(i.start_area for i in found) == pytest.approx(sorted(p.area for p in expected))
    assert sorted(i.held_height or np.inf for i in found) == pytest.approx(sorted(p.held for p in expected))
    assert sorted(i.joins_height or -1.0 for i in found) == pytest.approx(sorted(p.joined or -1.0 for p in expected))
    for height in {p.birth for p in expected}:
        mine = sum(i.volume for i in found if round(i.from_height) == height)
        assert mine == pytest.approx(sum(p.volume for p in expected if p.birth == height))


def looked_at(part: Solid, pose: Pose | None = None, pitch: float | None = None) -> Inside:
    return look_inside(analyse(part, pose, AnalysisOptions(pitch_mm=pitch)))


def hook() -> Solid:
    """A post 30 mm high with an arm at its top, from whose end a rod of 2 mm hangs down to 10 mm above the foot."""
    post, arm = block((-3, -3, 0), (3, 3, 30)), block((-3, -3, 25), (20, 3, 30))
    return solid(union(post, arm, rod((17, 0, 10), (17, 0, 27), 1.0)))


def test_a_point_in_a_column_without_material_is_in_none() -> None:
    material = material_runs(analyse(hook()).scene.runs)
    low, high = material.z0.min(), material.z1.max()
    rim = np.array([[x, y, z] for x in (-99.0, 99.0) for y in (-99.0, 99.0) for z in (low - 1, low, 1.0, high)])
    assert (material.run_at(rim) == -1).all()
    assert (material.run_at(np.array([[0.0, 0.0, 15.0], [0.0, 0.0, 31.0], [10.0, 8.0, 15.0]])) >= 0).tolist() == [
        True,
        False,
        False,
    ]


@pytest.mark.parametrize("on", ["plate", "supports"])
def test_a_rod_that_hangs_from_an_arm_is_an_island_until_the_arm_reaches_it(on: On) -> None:
    (island,) = looked_at(hook(), Pose(on=on)).islands
    assert island.from_height == pytest.approx(10.0, abs=1e-3)
    assert island.joins_height is None
    assert island.held_height == pytest.approx(25.0, abs=1e-3)
    assert island.volume == pytest.approx(np.pi * 15.0, rel=0.1)
    assert island.start_area == pytest.approx(np.pi, rel=0.1)
    assert island.peak_area == pytest.approx(np.pi, rel=0.1)
    assert island.start[:2] == pytest.approx([17.0, 0.0], abs=0.4)
    assert island.cavity == ""


def test_turned_over_the_rod_stands_on_the_arm_and_is_none() -> None:
    assert looked_at(hook(), Pose((0.0, 0.0, 1.0))).islands == ()


def test_a_drop_inside_a_cavity_is_told_with_its_cavity() -> None:
    hollow = cut(box(30.0), cut(block((-12, -12, -12), (12, 12, 12)), cone(4.0, 8.0, (3, 0, 12), point_down=True)))
    inside = looked_at(solid(hollow))
    (island,) = inside.islands
    assert island.cavity == "A"
    assert island.from_height == pytest.approx(15.0 + 4.0, abs=0.3)
    assert island.held_height == pytest.approx(27.0, abs=1e-3)
    # A cone of 4 mm by 8 mm.
    assert island.volume == pytest.approx(np.pi * 16 * 8 / 3, rel=0.1)


def test_a_drop_in_a_chamber_that_is_open_is_told_with_its_cavity_however_it_lies_between_the_voxels() -> None:
    """A blunt drop hangs from the ceiling of a room with a hole in its side: near it no voxel is a free one."""
    room, hole = block((-10, -10, -10), (10, 10, 10)), rod((0, 0, 0), (20, 0, 0), 2.0)
    for low in (-3.0, -2.67):
        drop = block((-4, -4, low), (4, 4, 12))
        part = solid(cut(box(28.0), cut(room, drop), hole))
        (island,) = look_inside(analyse(part)).islands
        assert island.from_height == pytest.approx(14.0 + low, abs=1e-3)
        assert island.cavity == "A"


def test_a_loose_ball_in_a_cavity_is_never_held() -> None:
    part = solid(box(30.0), inward(box(24.0)), ball(4.0, (0, 0, 2)))
    (island,) = looked_at(part).islands
    assert island.held_height is None
    assert island.cavity == "A"
    assert island.volume == pytest.approx(4 / 3 * np.pi * 64, rel=0.02)


@pytest.mark.parametrize("angle", [0.0, 13.0, 30.0, 45.0, 61.0])
def test_a_slanted_keel_is_one_whatever_its_direction_in_the_raster(angle: float) -> None:
    """The lowest line of a prism that dips by 3 degrees: sampled by columns it must not fall apart into islands."""
    prism = turned(turned(turned(block((-20, -5, -5), (20, 5, 5)), 45, (1, 0, 0)), 3, (0, 1, 0)), angle, (0, 0, 1))
    assert looked_at(solid(prism)).islands == ()


def test_a_wall_as_thin_as_the_pitch_sees_it_does_not_fall_apart() -> None:
    thin = turned(turned(block((-15, -15, -0.2), (15, 15, 0.2)), 50, (1, 0, 0)), 33, (0, 0, 1))
    inside = looked_at(solid(thin), pitch=0.3)
    assert inside.islands == ()


def test_what_the_supports_in_the_file_hold_is_no_island_and_what_they_do_not_is_one() -> None:
    body = block((-10, -10, 0), (10, 10, 8))
    knob = block((6, 6, -2), (8, 8, 1))
    struts = [turned(cone(0.6, 6.1, (x, y, -6.0)), 0, (0, 0, 1)) for x in (-8, -4, 0, 4) for y in (-8, -4, 0, 4)]
    inside = looked_at(solid(union(body, knob), *struts))
    (island,) = inside.islands
    assert island.start[:2] == pytest.approx([7.0, 7.0], abs=0.3)
    assert island.from_height == pytest.approx(4.0, abs=1e-3)
    assert island.held_height == pytest.approx(6.0, abs=1e-3)
