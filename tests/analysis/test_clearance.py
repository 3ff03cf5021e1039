"""Openings of known width, chambers of known volume, and what is wide enough to be a cavity."""

from __future__ import annotations

import numpy as np
import pytest
from bodies import Mesh, ball, bell_buoy, block, box, cut, moved, rod, rotation, solid, turned, union

from ventplanner.analysis.cavities import Cavity
from ventplanner.analysis.findings import Findings, analyse


def look(part: Mesh) -> Findings:
    return analyse(solid(part))


def only(found: Findings) -> Cavity:
    (cavity,) = found.cavities
    assert cavity.kind == "chamber"
    return cavity


def hole(way: np.ndarray, radius: float) -> Mesh:
    """A drill along a direction from inside a ball of 12.5 mm to outside one of 15 mm."""
    way = way / np.linalg.norm(way)
    return rod(way * 8.0, way * 17.0, radius, 128)


@pytest.mark.parametrize(
    ("seed", "diameter"),
    [
        pytest.param(seed, diameter, marks=[pytest.mark.long] * ((seed + k) % 2))
        for seed in range(8)
        for k, diameter in enumerate((1.0, 2.5, 4.0))
    ],
)
def test_a_round_hole_is_as_wide_as_it_was_drilled_at_any_angle(seed: int, diameter: float) -> None:
    way = np.random.default_rng(seed).standard_normal(3)
    way /= np.linalg.norm(way)
    found = look(cut(ball(15), ball(12.5), hole(way, 0.5 * diameter)))
    cavity = only(found)
    (opening,) = cavity.openings
    assert opening.width == pytest.approx(diameter, abs=0.1)
    voxel = found.chambers.voxels.size
    at = found.scene.frame.to_file(opening.at)
    along = float(at @ way)
    assert np.linalg.norm(at - along * way) < voxel
    assert 12.0 - voxel < along < 15.0 + voxel
    assert float(found.scene.frame.direction_to_file(opening.outwards) @ way) > 0.5  # rough: by whole voxels
    assert cavity.volume == pytest.approx(4.0 / 3.0 * np.pi * 12.5**3, rel=0.02)


@pytest.mark.parametrize("lean", [0.0, 25.0, 45.0])
def test_a_slanted_hole_through_a_flat_wall_has_its_own_width(lean: float) -> None:
    # Across a slanted bore the ball that passes is the bore's; the wall is 2 mm, the bore far longer.
    drill = turned(rod((0, 0, 0), (0, 0, 20), 1.25, 128), lean, (0, 1, 0))
    cavity = only(look(cut(bell_buoy(), drill)))
    assert [o.width for o in cavity.openings] == pytest.approx([2.5], abs=0.15)


@pytest.mark.parametrize(
    ("size", "width"), [((0.8, 8.0), 0.8), ((1.0, 3.0), 1.0), ((3.0, 3.0), 3.0), ((1.5, 12.0), 1.5)]
)
@pytest.mark.parametrize("turn", [None, 1, 2])
def test_a_slot_is_as_wide_as_the_ball_that_passes_it(
    size: tuple[float, float], width: float, turn: int | None
) -> None:
    body = solid(cut(bell_buoy(), block((5, -0.5 * size[1], -0.5 * size[0]), (15, 0.5 * size[1], 0.5 * size[0]))))
    found = analyse(body if turn is None else moved(body, rotation(turn)))
    assert [o.width for o in only(found).openings] == pytest.approx([width], abs=0.1)


def test_several_holes_are_several_openings_widest_first() -> None:
    drills = (rod((0, 0, 0), (15, 0, 0), 1.5), rod((0, 0, 0), (-15, 0, 0), 1.0), rod((0, 0, 0), (0, 0, 15), 0.6))
    cavity = only(look(cut(bell_buoy(), *drills)))
    assert [o.width for o in cavity.openings] == pytest.approx([3.0, 2.0, 1.2], abs=0.1)


@pytest.mark.parametrize(("throat", "cavity"), [(5.0, True), (6.0, True), (7.4, False), (9.0, False)])
def test_a_chamber_needs_a_width_of_one_and_a_half_times_its_way_out(throat: float, cavity: bool) -> None:
    # A box 10 mm wide under a square way out: 10 / 1.5 = 6.67.
    body = cut(box(20), box(10), block((-throat / 2, -throat / 2, 0), (throat / 2, throat / 2, 11)))
    found = look(body)
    assert [c.kind for c in found.cavities] == ["chamber" if cavity else "cup"]


def test_two_chambers_that_do_not_meet_are_two_cavities() -> None:
    body = cut(
        box((40, 20, 20)),
        box(14, (-10, 0, 0)),
        box(14, (10, 0, 0)),
        rod((-10, 0, 0), (-25, 0, 0), 1.0),
        rod((10, 0, 0), (10, 0, 15), 1.25),
    )
    found = look(body)
    assert [c.kind for c in found.cavities] == ["chamber", "chamber"]
    assert sorted(o.width for c in found.cavities for o in c.openings) == pytest.approx([2.0, 2.5], abs=0.1)
    for c in found.cavities:
        assert c.volume == pytest.approx(14.0**3, rel=0.02)


@pytest.mark.parametrize("wall", [0.4, 0.8])
def test_a_thin_wall_between_two_open_chambers_does_not_leak(wall: float) -> None:
    half = 0.5 * wall
    body = cut(
        box((60, 24, 24)),
        block((-28, -10, -10), (-half, 10, 10)),
        block((half, -10, -10), (28, 10, 10)),
        rod((-15, 0, 0), (-15, 0, 15), 1.5),
        rod((15, 0, 0), (15, 0, 15), 1.5),
    )
    found = look(body)
    assert [(c.kind, len(c.openings)) for c in found.cavities] == [("chamber", 1)] * 2
    assert [c.volume for c in found.cavities] == pytest.approx([(28.0 - half) * 400.0] * 2, rel=0.02)


def test_the_bounds_and_the_surface_of_a_chamber_are_those_of_its_hollow() -> None:
    found = look(cut(bell_buoy(), rod((0, 0, 0), (15, 0, 0), 1.25)))
    cavity = only(found)
    np.testing.assert_allclose(cavity.bounds[0], [-8.0] * 3, atol=1e-6)
    np.testing.assert_allclose(cavity.bounds[1][1:], [8.0] * 2, atol=1e-6)
    faces = found.surface(cavity.id)
    corners = found.solid.vertices[found.solid.faces[faces]]
    middle = corners.mean(axis=1)
    assert np.abs(middle).max() < 10.0
    area = 0.5 * np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1).sum()
    inner = 6.0 * 256.0 - np.pi * 1.25**2
    assert inner * 0.99 < area < inner + 2.0 * np.pi * 1.25 * 2.0 + 1.0


@pytest.mark.parametrize(("neck", "own_cavity"), [(3.0, True), (5.0, False)])
def test_a_lobe_is_a_cavity_of_its_own_if_its_neck_is_narrower_than_the_hole(neck: float, own_cavity: bool) -> None:
    """Two balls with a neck between them and a hole of 4 mm into the larger."""
    hollow = union(ball(9, (-10, 0, 0)), ball(7, (11, 0, 0)), rod((-10, 0, 0), (11, 0, 0), 0.5 * neck))
    found = look(cut(box((44, 24, 24)), hollow, rod((-10, 0, 0), (-10, 0, 15), 2.0)))
    assert [len(c.openings) for c in found.cavities] == ([2, 1] if own_cavity else [1])
    widths = [o.width for c in found.cavities for o in c.openings]
    assert widths == pytest.approx([4.0, neck, neck] if own_cavity else [4.0], abs=0.1)
    assert sum(c.volume for c in found.cavities) == pytest.approx(hollow.volume + np.pi * 4.0 * 3.0, rel=0.02)
    if own_cavity:
        assert [c.volume for c in found.cavities] == pytest.approx([ball(9).volume, ball(7).volume], rel=0.03)
        assert [o.beyond for c in found.cavities for o in c.openings] == [0, 2, 1]
