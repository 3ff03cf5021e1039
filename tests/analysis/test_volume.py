"""The volume of the material, and what is said about skins that overlap."""

from __future__ import annotations

import numpy as np
import pytest
from bodies import Mesh, ball, box, cone, cut, inward, rod, solid, turned

from ventplanner.analysis.findings import LEAST_OVERLAP_MM3, OVERLAPPING_SKINS, Findings, analyse
from ventplanner.options import AnalysisOptions

SHARED = {OVERLAPPING_SKINS}


def look(*skins: Mesh) -> Findings:
    return analyse(solid(*skins))


def notes(found: Findings) -> set[str]:
    return {note.what for note in found.health}


@pytest.mark.parametrize(("wall", "width"), [(0.4, 30.0), (0.4, 29.9), (0.8, 30.0)])
def test_thin_walls_along_the_axes_have_their_exact_volume_and_no_overlap(wall: float, width: float) -> None:
    found = look(cut(box((width, width, 30.0)), box((width - 2 * wall, width - 2 * wall, 40.0))))
    assert found.volume == pytest.approx(30.0 * (width**2 - (width - 2 * wall) ** 2), rel=1e-6)
    assert not notes(found) & SHARED


def test_what_two_bodies_share_counts_once_and_is_said_with_a_place_in_it() -> None:
    found = look(box(10.0), box(10.0, (5.0, 0.0, 0.0)))
    assert found.volume == pytest.approx(1500.0, rel=0.005)
    (note,) = [n for n in found.health if n.what == OVERLAPPING_SKINS]
    assert note.at_mm is not None
    assert (np.array([0.0, -5.0, -5.0]) <= note.at_mm).all()
    assert (np.array([5.0, 5.0, 5.0]) >= note.at_mm).all()


def test_bars_that_cross_without_a_corner_in_each_other_are_an_overlap_too() -> None:
    found = look(box((20.0, 4.0, 4.0)), box((4.0, 20.0, 4.0)))
    assert found.volume == pytest.approx(2 * 320.0 - 64.0, rel=0.005)
    assert notes(found) == SHARED


def test_three_bodies_in_one_place_count_once() -> None:
    found = analyse(solid(box(10.0), box(8.0), box(6.0)), options=AnalysisOptions(nested="solid"))
    assert found.volume == pytest.approx(1000.0, rel=0.005)


def test_hollows_that_overlap_are_taken_away_once() -> None:
    found = look(box(20.0), inward(box(6.0)), inward(box(6.0, (3.0, 0.0, 0.0))))
    assert found.volume == pytest.approx(8000.0 - 324.0, rel=0.001)
    assert notes(found) == SHARED


def _fine(mesh: Mesh) -> Mesh:
    return mesh.subdivide().subdivide()


@pytest.mark.parametrize(
    ("skins", "volume"),
    [
        ((box(10.0), box(10.0, (10.0, 0.0, 0.0))), 2000.0),
        ((box(10.0), _fine(box(10.0, (0.0, 0.0, 10.0)))), 2000.0),
        ((cut(box(20.0), ball(6.0)), _fine(ball(6.0))), 8000.0),
        ((cut(box((20.0, 20.0, 60.0)), cone(5.0, 28.0)), _fine(cone(5.0, 28.0))), 24000.0),
        (
            tuple(
                turned(mesh, 50.0, (0.3, 1.0, 0.0))
                for mesh in (cut(box(20.0), rod((0, 0, -9), (0, 0, 9), 5.0)), _fine(rod((0, 0, -9), (0, 0, 9), 5.0)))
            ),
            8000.0,
        ),
    ],
)
def test_bodies_that_only_touch_do_not_overlap(skins: tuple[Mesh, ...], volume: float) -> None:
    found = look(*skins)
    assert found.volume == pytest.approx(volume, rel=1e-6)
    assert found.volume == pytest.approx(found.solid.volume, rel=1e-12)
    assert not notes(found) & SHARED
    overlap = found.scene.runs.overlap
    assert overlap is None or overlap.doubled + overlap.missed < 0.01 * LEAST_OVERLAP_MM3
