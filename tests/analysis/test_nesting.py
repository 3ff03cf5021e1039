"""Which skins are nested, and which of them are read as cavities."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplanner.analysis.nesting import Nested, Reading, read_nesting
from ventplanner.errors import ParameterError
from ventplanner.geometry.inside import windings
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.topology import topology

Mesh = trimesh.Trimesh


def joined(*meshes: Mesh) -> Solid:
    starts = np.cumsum([0] + [len(m.vertices) for m in meshes])
    faces = np.concatenate([m.faces + s for m, s in zip(meshes, starts, strict=False)])
    return Solid(np.concatenate([m.vertices for m in meshes]), faces.astype(np.int32))


def turned(mesh: Mesh) -> Mesh:
    return Mesh(mesh.vertices, mesh.faces[:, ::-1], process=False)


def ball(radius: float, at: tuple[float, float, float] = (0, 0, 0), subdivisions: int = 4) -> Mesh:
    return trimesh.creation.icosphere(subdivisions=subdivisions, radius=radius).apply_translation(at)


def box(*size: float, at: tuple[float, float, float] = (0, 0, 0)) -> Mesh:
    return trimesh.creation.box(size).apply_translation(at)


def read(*meshes: Mesh, nested: Nested = "auto") -> Reading:
    solid = joined(*meshes)
    return read_nesting(solid, topology(solid), nested)


def test_a_single_skin_is_left_alone_without_a_word() -> None:
    solid = joined(ball(5))
    reading = read_nesting(solid, topology(solid))
    assert reading.solid is solid
    assert reading.nested_count == 0
    assert not reading.ambiguous
    assert reading.notes == ()


def test_an_inward_skin_is_a_cavity_and_a_loose_solid_inside_it_stays_solid() -> None:
    reading = read(ball(20), turned(ball(17)), ball(4, (5, 0, 0)))
    assert reading.container.tolist() == [-1, 0, 1]
    assert reading.depth.tolist() == [0, 1, 2]
    assert reading.is_cavity.tolist() == [False, True, False]
    assert len(reading.flipped_skins) == 0
    assert not reading.ambiguous
    assert "taken at its word" in reading.notes[0]


@pytest.mark.parametrize("wall", [0.8, 2.0, 5.0])
def test_an_even_wall_under_outward_skins_is_read_as_a_cavity_with_the_evidence(wall: float) -> None:
    reading = read(ball(20), ball(20 - wall), ball(3, (4, 0, 0)))
    assert reading.ambiguous
    assert reading.flipped_skins.tolist() == [1]
    assert reading.is_cavity.tolist() == [False, True, False]
    assert reading.solid.volume == pytest.approx(ball(20).volume - ball(20 - wall).volume + ball(3).volume)
    assert f"{wall:.1f}" in reading.notes[1]
    again = topology(reading.solid)
    assert reading.topology.volume_of_skin == pytest.approx(again.volume_of_skin)


@pytest.mark.parametrize(
    "body",
    [
        ball(3, (9, 6, 9)),
        ball(1, (2, 3, 1)),
        ball(6, (0, 12, 0)),
        trimesh.creation.cylinder(2, 12).apply_translation((8, 0, 8)),
        box(8, 8, 1, at=(0, 0, 17)),
        box(4, 4, 4, at=(10, 10, 0)),
    ],
    ids=["eye", "bead deep inside", "ball", "peg", "plate", "cube"],
)
def test_a_buried_body_with_an_uneven_distance_is_read_as_solid(body: Mesh) -> None:
    for outer in (ball(20), box(40, 40, 40)):
        reading = read(outer, body)
        assert reading.ambiguous
        assert len(reading.flipped_skins) == 0
        assert "solid body" in reading.notes[1]


def test_a_box_of_a_few_large_triangles_has_an_even_wall_too() -> None:
    reading = read(box(100, 60, 40), box(96, 56, 36))
    assert reading.is_cavity.tolist() == [False, True]
    assert "even: 2.00 mm over" in reading.notes[1]


def test_two_chambers_behind_a_thick_bulkhead_are_both_read_as_cavities() -> None:
    reading = read(box(100, 30, 30), box(40, 26, 26, at=(-28, 0, 0)), box(40, 26, 26, at=(28, 0, 0)))
    assert reading.is_cavity.tolist() == [False, True, True]
    assert "2 cavities" in reading.notes[1]


@pytest.mark.parametrize(
    ("nested", "cavities"),
    [("auto", [1]), ("solid", []), ("cavity", [1, 3]), ("as-is", [])],
)
def test_the_choice_decides_over_outward_nested_skins(nested: Nested, cavities: list[int]) -> None:
    reading = read(ball(20), ball(18), ball(3, (5, 0, 0)), ball(1, (5, 0, 0.5)), nested=nested)
    if nested == "auto":
        assert reading.container.tolist() == [-1, 0, 1, 2]
    assert np.flatnonzero(reading.is_cavity).tolist() == cavities
    assert reading.flipped_skins.tolist() == cavities


def test_another_choice_is_refused() -> None:
    with pytest.raises(ParameterError, match="hollow"):
        read(ball(1), nested="hollow")  # type: ignore[arg-type]


def test_an_inside_out_part_is_turned_over_as_a_whole() -> None:
    reading = read(turned(ball(20)), ball(17))
    assert reading.flipped_skins.tolist() == [0, 1]
    assert reading.is_cavity.tolist() == [False, True]
    assert not reading.ambiguous
    assert "turned over" in reading.notes[0]
    untouched = read(turned(ball(20)), ball(17), nested="as-is")
    assert len(untouched.flipped_skins) == 0


def test_one_inside_out_part_beside_a_sound_one_is_turned_over_alone() -> None:
    reading = read(ball(5), turned(ball(5, (30, 0, 0))))
    assert reading.flipped_skins.tolist() == [1]


def test_an_inward_body_that_cuts_through_an_outward_one_is_left_alone() -> None:
    reading = read(box(20, 20, 20), turned(box(4, 4, 30)))
    assert len(reading.flipped_skins) == 0
    assert reading.container.tolist() == [-1, -1]


def test_an_eye_that_pokes_out_overlaps_and_is_not_nested() -> None:
    # Its bounds are inside those of the head, but it reaches through the head's surface.
    eye = ball(3, (10, 10, 9.5))
    for nested in ("auto", "cavity", "solid"):
        reading = read(ball(20), eye, nested=nested)  # type: ignore[arg-type]
        assert reading.container.tolist() == [-1, -1]
        assert reading.pokes.tolist() == [False, True]
        assert reading.nested_count == 0
        assert len(reading.flipped_skins) == 0


def test_a_face_missing_over_a_cavity_does_not_hide_the_nesting() -> None:
    outer = ball(20)
    top = int(outer.triangles_center[:, 2].argmax())
    reading = read(Mesh(outer.vertices, np.delete(outer.faces, top, axis=0), process=False), turned(ball(18)))
    assert reading.container.tolist() == [-1, 0]
    assert reading.is_cavity.tolist() == [False, True]


def test_two_thousand_small_skins_are_all_placed() -> None:
    grid = np.stack(np.meshgrid(*[np.arange(13.0)] * 3), axis=-1).reshape(-1, 3)[:2000] * 2 - 12
    beads = [turned(ball(0.6, tuple(c), subdivisions=0)) for c in grid]
    reading = read(box(40, 40, 40), *beads)
    assert reading.nested_count == 2000
    assert (reading.container[1:] == 0).all()
    assert reading.is_cavity[1:].all()


@dataclass(frozen=True)
class Nest:
    """A box, in which direction it points, and the boxes inside it."""

    outward: bool
    inside: tuple[Nest, ...]


nests = st.recursive(
    st.builds(Nest, st.booleans(), st.just(())),
    lambda deeper: st.builds(Nest, st.booleans(), st.lists(deeper, max_size=3).map(tuple)),
    max_leaves=8,
)


def built(nest: Nest, low: np.ndarray, high: np.ndarray, parent: int, out: list[tuple[Mesh, int, bool]]) -> None:
    """Append the box and all it holds, each child in its own slice of the inside."""
    mesh = trimesh.creation.box(bounds=np.array([low, high]))
    here = len(out)
    out.append((mesh if nest.outward else turned(mesh), parent, nest.outward))
    n = max(len(nest.inside), 1)
    wide = (high - low) * [1 / n, 1, 1]
    for k, child in enumerate(nest.inside):
        corner = low + wide * [k, 0, 0]
        built(child, corner + wide * 0.07, corner + wide * 0.93, here, out)


@settings(max_examples=80, deadline=None)
@given(st.lists(nests, min_size=1, max_size=3), st.sampled_from(["auto", "solid", "cavity", "as-is"]), st.randoms())
def test_boxes_in_boxes_follow_the_rules_at_any_depth(parts: list[Nest], nested: Nested, random: object) -> None:
    out: list[tuple[Mesh, int, bool]] = []
    for k, part in enumerate(parts):
        built(part, np.array([k * 30.0, 0, 0]), np.array([k * 30.0 + 20, 18, 16]), -1, out)
    order = list(range(len(out)))
    random.shuffle(order)  # type: ignore[attr-defined]
    rank = {old: new for new, old in enumerate(order)}
    parent = [rank.get(out[i][1], -1) for i in order]
    outward = [out[i][2] for i in order]
    reading = read(*(out[i][0] for i in order), nested=nested)

    assert reading.container.tolist() == parent
    chains = []
    for skin in range(len(parent)):
        chain = [skin]
        while parent[chain[-1]] >= 0:
            chain.append(parent[chain[-1]])
        chains.append(chain)
    assert reading.depth.tolist() == [len(c) - 1 for c in chains]
    righted = [o != (nested != "as-is" and not outward[c[-1]]) for o, c in zip(outward, chains, strict=True)]
    ambiguous = any(p >= 0 for p in parent) and all(o for o, p in zip(righted, parent, strict=True) if p >= 0)
    assert reading.ambiguous == ambiguous
    final = [o != (i in reading.flipped_skins) for i, o in enumerate(outward)]
    if nested in ("solid", "as-is") or (nested == "auto" and not ambiguous):
        assert final == righted
    for skin, up in enumerate(parent):
        if up >= 0 and nested == "cavity":
            assert final[skin] == (righted[skin] and not final[up])
        if up >= 0 and nested == "auto" and ambiguous and not final[skin]:
            assert final[up]
        assert reading.is_cavity[skin] == (up >= 0 and not final[skin] and final[up])
    assert [v > 0 for v in topology(reading.solid).volume_of_skin] == final


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_windings_agree_with_the_analytic_inside_even_on_the_grid_of_a_box(seed: int) -> None:
    rng = np.random.default_rng(seed)
    outer, inner = box(20, 20, 20), turned(box(10, 10, 10))
    marker = box(0.1, 0.1, 0.1)
    solid = joined(outer, inner, marker)
    # Points on whole numbers have rays through the edges and vertices of the boxes.
    points = rng.integers(-11, 12, (300, 3)).astype(float)
    points[:, 2] += 0.5
    found = windings(solid, topology(solid), points, np.full(300, 2, np.int32))
    counted = np.zeros((300, 3), int)
    counted[found.point, found.skin] = found.winding
    # Half-open in x and y, like the rule for edges: a point on the low side is in, one on the high side is out.
    for skin, half, sign in ((0, 10, 1), (1, 5, -1)):
        within = (points[:, :2] >= -half).all(axis=1) & (points[:, :2] < half).all(axis=1)
        within &= np.abs(points[:, 2]) < half
        assert np.array_equal(counted[:, skin], sign * within)
