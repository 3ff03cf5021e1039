"""Sections, groups of faces, drills in the view: plain arithmetic, checked against what is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from ui.pictures import block, picture_of_sample

from ventplanner.ui.picture import Mesh, Picture
from ventplanner.ui.view import drill_shape
from ventplanner.ui.view.eye import Eye
from ventplanner.ui.view.groups import BORE, SKIN, carried_over, groups_of
from ventplanner.ui.view.section import Outlines, Section, outlines
from ventplanner.ui.view.shapes import COARSE, COARSE_ABOVE, make_shapes


def _area(cut: Outlines, normal: np.ndarray) -> float:
    """Area inside the loops by Stokes' theorem, material positive."""
    return float(0.5 * np.cross(cut.start, cut.stop).sum(axis=0) @ normal)


def _cut(picture: Picture, section: Section) -> Outlines:
    group = groups_of(picture.part, [c.faces for c in picture.cavities])
    return outlines(picture.part.vertices, picture.part.faces, group, section)


def test_a_section_of_a_hollow_cube_has_the_area_of_its_walls() -> None:
    cut = _cut(block(), Section.printed_to(10.1))
    assert abs(_area(cut, np.array([0, 0, 1.0]))) == pytest.approx(20.0**2 - 14.0**2)
    assert len(cut.loops) == 2
    assert sorted(set(cut.group.tolist())) == [SKIN, 0]


def test_below_the_cavity_a_section_is_solid() -> None:
    cut = _cut(block(), Section.printed_to(1.1))
    assert abs(_area(cut, np.array([0, 0, 1.0]))) == pytest.approx(400.0)
    assert len(cut.loops) == 1


def test_a_slanted_section_is_larger_by_the_cosine_of_its_slant() -> None:
    normal = np.array([0.0, 0.1, 1.0]) / np.linalg.norm([0.0, 0.1, 1.0])
    cut = _cut(block(), Section((0.0, 0.0, 10.05), tuple(normal)))  # type: ignore[arg-type]
    assert abs(_area(cut, normal)) == pytest.approx((20.0**2 - 14.0**2) / normal[2])


def test_loops_are_closed_and_hold_every_segment_once() -> None:
    picture = picture_of_sample("lighthouse.stl")
    cut = _cut(picture, Section.printed_to(68.03))
    assert sorted(np.concatenate(cut.loops).tolist()) == list(range(len(cut.start)))
    for loop in cut.loops:
        assert np.array_equal(cut.stop[loop], np.roll(cut.start[loop], -1, axis=0))


def test_sections_of_all_heights_add_up_to_the_volume() -> None:
    picture = picture_of_sample("seal-pup.stl")
    heights = np.arange(0.1, picture.height, 0.2)
    areas = [abs(_area(_cut(picture, Section.printed_to(float(h))), np.array([0, 0, 1.0]))) for h in heights]
    v = picture.part.vertices[picture.part.faces]
    volume = float(np.einsum("ij,ij->", v[:, 0], np.cross(v[:, 1], v[:, 2])) / 6.0)
    assert 0.2 * sum(areas) == pytest.approx(volume, rel=2e-3)


def test_a_plane_beside_the_part_cuts_nothing() -> None:
    cut = _cut(block(), Section.printed_to(30.0))
    assert not len(cut.start)
    assert cut.loops == ()


def test_faces_of_the_drilled_part_keep_their_cavity_and_the_holes_are_told_from_it() -> None:
    picture = picture_of_sample("lighthouse.stl", accept=2, drilled=True)
    assert picture.drilled is not None
    before = groups_of(picture.part, [c.faces for c in picture.cavities])
    after = carried_over(picture.part, before, picture.drilled)
    assert after is not None
    area_before, area_after = _areas(picture.part), _areas(picture.drilled)
    mouth = np.pi * (0.5 * picture.vents[0].diameter) ** 2
    for number, cavity in enumerate(picture.cavities):
        lost = area_before[before == number].sum() - area_after[after == number].sum()
        is_drilled = cavity.id in {v.cavity for v in picture.vents[:2]}
        # A mouth that meets its surface at a slant takes up to twice its own area.
        assert 0.9 * mouth < lost < 2 * mouth if is_drilled else lost == pytest.approx(0.0, abs=1e-6)
    # The wall of a hole lies at the drill's radius from its axis, its floor, where it has one, within.
    bore = picture.drilled.vertices[picture.drilled.faces[after == BORE]].reshape(-1, 3)
    assert len(bore)
    off = np.min([_off_axis(v.start, v.end, bore) / (v.diameter / 2) for v in picture.vents[:2]], axis=0)
    assert off.max() < 1.02
    assert np.median(np.abs(off - 1.0)) < 0.01


def test_without_a_drilled_part_groups_are_those_of_the_cavities() -> None:
    picture = block()
    assert (groups_of(picture.part, [c.faces for c in picture.cavities]) == 0).sum() == len(picture.cavities[0].faces)


def test_a_large_part_gets_a_stand_in_of_bounded_size_in_the_same_place() -> None:
    picture = block(n=160)
    assert len(picture.part.faces) > 2 * COARSE_ABOVE
    shapes = make_shapes(picture)
    assert shapes.has_stand_in
    assert 0.4 * COARSE < len(shapes.coarse.faces) < 1.5 * COARSE
    for k in range(3):
        assert shapes.coarse.vertices[:, k].max() == pytest.approx(shapes.high[k], abs=0.2)
        assert shapes.coarse.vertices[:, k].min() == pytest.approx(shapes.low[k], abs=0.2)
    assert set(shapes.coarse.group.tolist()) == {SKIN, 0}


def test_a_huge_part_is_drawn_coarser_at_rest_too_and_picked_and_cut_as_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    picture = block(n=60)
    plain = make_shapes(picture)
    monkeypatch.setattr("ventplanner.ui.view.shapes.FINE_ABOVE", 20_000)
    monkeypatch.setattr("ventplanner.ui.view.shapes.FINE", 10_000)
    shapes = make_shapes(picture)
    assert plain.skin.full.n_cells + plain.inner.full.n_cells == len(picture.part.faces)
    assert 4_000 < shapes.skin.full.n_cells + shapes.inner.full.n_cells < 15_000
    assert shapes.skin.full.bounds == pytest.approx(plain.skin.full.bounds, abs=0.3)
    assert np.array_equal(shapes.full.faces, plain.full.faces)


def test_a_small_part_is_its_own_stand_in() -> None:
    shapes = make_shapes(block())
    assert shapes.coarse is shapes.full
    assert shapes.skin.coarse is shapes.skin.full


def test_the_outline_of_a_drill_seen_from_its_side_is_its_rectangle() -> None:
    vent = block().vents[0]
    eye = Eye(mm_per_px=0.1, width=400, height=400, azimuth=90.0)
    outline = drill_shape.outline(vent, eye)
    size = np.ptp(outline, axis=0) * 0.1
    assert size[0] == pytest.approx(abs(vent.end[1] - vent.start[1]))
    assert size[1] == pytest.approx(vent.diameter, rel=0.01)


@pytest.mark.parametrize("azimuth", [0.0, 35.0, 90.0, 180.0])
@pytest.mark.parametrize("elevation", [0.0, 20.0, 90.0])
def test_the_outline_of_a_drill_is_the_hull_of_its_rims(azimuth: float, elevation: float) -> None:
    vent = replace(block().vents[0], end=(2.0, -5.0, 9.0))
    eye = Eye(mm_per_px=0.1, width=400, height=400, azimuth=azimuth, elevation=elevation)
    exact = drill_shape.hull(eye.to_screen(np.concatenate(drill_shape.rims(vent)))[:, :2])
    outline = drill_shape.outline(vent, eye)
    assert _polygon_area(outline) == pytest.approx(_polygon_area(exact))
    assert np.allclose(outline.min(axis=0), exact.min(axis=0))
    assert np.allclose(outline.max(axis=0), exact.max(axis=0))


def test_a_drill_as_triangles_is_closed_and_has_its_volume() -> None:
    vent = block().vents[0]
    points, faces = drill_shape.cylinder(vent)
    a, b, c = (points[faces[:, k]] for k in range(3))
    volume = np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6
    length = abs(vent.end[1] - vent.start[1])
    assert abs(volume) == pytest.approx(np.pi * (vent.diameter / 2) ** 2 * length, rel=0.01)


def _polygon_area(polygon: np.ndarray) -> float:
    after = np.roll(polygon, -1, axis=0)
    return float(abs((polygon[:, 0] * after[:, 1] - polygon[:, 1] * after[:, 0]).sum() / 2))


def _areas(mesh: Mesh) -> np.ndarray:
    a, b, c = (mesh.vertices[mesh.faces[:, k]] for k in range(3))
    return 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)


def _off_axis(start: tuple[float, ...], end: tuple[float, ...], points: np.ndarray) -> np.ndarray:
    axis = np.array(end) - np.array(start)
    axis /= np.linalg.norm(axis)
    away = points - np.array(start)
    return np.linalg.norm(away - np.outer(away @ axis, axis), axis=1)


def test_a_cut_of_the_part_in_another_pose_is_told_at_once_and_the_part_is_drawn_as_it_came() -> None:
    cut = picture_of_sample("lighthouse.stl", accept=1, drilled=True)
    other = picture_of_sample("lighthouse.stl", to_plate=(0.6, 0.0, -0.8))
    group = groups_of(other.part, [c.faces for c in other.cavities])
    assert cut.drilled is not None
    assert carried_over(other.part, group, cut.drilled) is None
    shapes = make_shapes(replace(other, drilled=cut.drilled))
    assert np.array_equal(np.sort(shapes.full.faces, axis=0), np.sort(other.part.faces, axis=0))
    assert np.array_equal(np.bincount(shapes.full.group + 2), np.bincount(group + 2))
