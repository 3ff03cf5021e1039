"""Parts that are refused before the work begins, and vertices that no face uses; also without any file."""

from __future__ import annotations

import bodies
import numpy as np
import pytest

from ventplanner.analysis.findings import analyse
from ventplanner.analysis.limits import check_pitch, checked_part
from ventplanner.errors import MeshError, ParameterError
from ventplanner.geometry.pose import BuildFrame, Pose
from ventplanner.geometry.solid import Solid, Source
from ventplanner.options import AnalysisOptions


def scaled(factor: float, unit: str | None = None) -> Solid:
    part = bodies.solid(bodies.box(1.0))
    return Solid(part.vertices * factor, part.faces, (), Source(unit_given=unit, unit_assumed=unit or "mm"))


@pytest.mark.parametrize("size", [0.5, 20.0, 5_000.0])
def test_sizes_that_can_be_meant_are_taken(size: float) -> None:
    checked_part(scaled(size))


@pytest.mark.parametrize(
    ("part", "way_out"),
    [
        (scaled(0.4), "cm, inch or m; --unit"),
        (scaled(0.4, "m"), "Scale the part"),
        (scaled(1e5), "far away"),
        (scaled(1e5, "m"), "mm, cm or inch; --unit"),
    ],
)
def test_other_sizes_are_refused_with_a_unit_that_would_do(part: Solid, way_out: str) -> None:
    with pytest.raises(ParameterError, match="any print") as error:
        checked_part(part)
    assert way_out in error.value.way_out


@pytest.mark.parametrize("axis", range(3))
def test_a_flat_part_is_refused_with_its_axis(axis: int) -> None:
    part = bodies.solid(bodies.box(20.0))
    with pytest.raises(MeshError, match=f"along {'xyz'[axis]}"):
        checked_part(Solid(part.vertices * np.delete(np.eye(4), axis, axis=0)[:, :3].sum(axis=0), part.faces))


def test_the_pitch_that_is_offered_instead_is_accepted() -> None:
    part = scaled(200.0)
    with pytest.raises(ParameterError) as error:
        check_pitch(part, Pose(), 0.02)
    offered = float(error.value.way_out.split()[1])
    assert 0.02 < offered < 0.1
    check_pitch(part, Pose(), offered)
    check_pitch(part, Pose(), None)


@pytest.mark.parametrize("place", [(0.0, 0.0, -100.0), (500.0, 500.0, 0.0)])
def test_vertices_that_no_face_uses_change_nothing(place: tuple[float, float, float]) -> None:
    part = bodies.solid(bodies.box(20.0), bodies.inward(bodies.box(16.0)))
    stray = Solid(np.vstack((part.vertices[:3], [place], part.vertices[3:])), part.faces + (part.faces >= 3))
    clean, found = analyse(part), analyse(stray)
    assert (stray.bounds == part.bounds).all()
    assert found.scene.height == clean.scene.height
    assert found.scene.runs.grid == clean.scene.runs.grid
    assert found.cups.cups[0].from_height == clean.cups.cups[0].from_height
    assert (found.part.vertices == part.vertices).all()
    assert (found.part.faces == part.faces).all()
    assert BuildFrame.of(stray, Pose()).lift == -10.0
    assert stray.volume == pytest.approx(part.volume, rel=1e-12)


def test_a_part_without_stray_vertices_is_kept_as_it_is() -> None:
    part = bodies.solid(bodies.box(20.0))
    assert part.compact() is part


def test_coordinates_that_are_no_numbers_are_refused_with_the_vertex() -> None:
    part = bodies.solid(bodies.box(20.0))
    for bad in (np.nan, np.inf):
        vertices = part.vertices.copy()
        vertices[3, 1] = bad
        with pytest.raises(MeshError, match="Vertex 3 "):
            Solid(vertices, part.faces)


def test_a_part_without_triangles_is_refused() -> None:
    with pytest.raises(MeshError, match="no triangles"):
        analyse(Solid(np.eye(3), np.zeros((0, 3), np.int32)))
    with pytest.raises(MeshError, match="no triangles"):
        analyse(Solid(np.zeros((0, 3)), np.zeros((0, 3), np.int32)))


def test_a_sheet_is_refused_by_the_analysis() -> None:
    with pytest.raises(MeshError, match="flat"):
        analyse(Solid(np.array([[0, 0, 0], [10, 0, 0], [0, 10, 0.0]]), np.array([[0, 1, 2], [0, 2, 1]], np.int32)))


def test_a_pitch_that_needs_too_much_memory_is_refused_by_the_analysis() -> None:
    with pytest.raises(ParameterError, match="million columns"):
        analyse(scaled(200.0), options=AnalysisOptions(pitch_mm=0.02))
