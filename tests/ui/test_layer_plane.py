"""Where the layer view looks, and outlines of drills at a height: held against points in the cylinder."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st

from ventplanner.geometry.bore import Bore
from ventplanner.geometry.outline import Outline, Shape
from ventplanner.ui.layer.plane import Plane, layer_of, layers_of, level_cut, outline_at
from ventplanner.ui.picture import ShownVent

some_mm = st.floats(-20.0, 20.0)


def drill(start: tuple[float, float, float], end: tuple[float, float, float], diameter: float) -> ShownVent:
    return ShownVent("1", "A", "accepted", "vent", start, end, diameter, start)


def is_in(vent: ShownVent, points: np.ndarray) -> np.ndarray:
    a, b = np.asarray(vent.start), np.asarray(vent.end)
    u = (b - a) / np.linalg.norm(b - a)
    along = (points - a) @ u
    off = np.linalg.norm(points - a - along[:, None] * u, axis=1)
    return (along >= 0) & (along <= np.linalg.norm(b - a)) & (off <= 0.5 * vent.diameter)


def area_of(outline: np.ndarray) -> float:
    x, y = outline.T
    return 0.5 * abs(float(np.dot(x, np.roll(y, 1)) - np.dot(y, np.roll(x, 1))))


@given(st.tuples(some_mm, some_mm, some_mm), st.tuples(some_mm, some_mm, some_mm), st.floats(0.5, 4.0), some_mm)
def test_an_outline_is_what_the_cylinder_is_at_that_height(
    start: tuple[float, float, float], end: tuple[float, float, float], diameter: float, z: float
) -> None:
    if np.linalg.norm(np.subtract(start, end)) < 0.5:
        return
    vent = drill(start, end, diameter)
    step = 0.1
    low, high = np.minimum(start, end)[:2] - diameter, np.maximum(start, end)[:2] + diameter
    x, y = np.meshgrid(np.arange(low[0], high[0], step), np.arange(low[1], high[1], step))
    inside = is_in(vent, np.column_stack((x.ravel(), y.ravel(), np.full(x.size, z))))
    outline = outline_at(vent, z)
    area = 0.0 if outline is None else area_of(outline)
    size = float((high - low).sum())
    assert area == pytest.approx(inside.sum() * step**2, abs=2.0 * step * size * 0.5 + 0.05)


def test_the_outline_of_an_upright_drill_is_its_circle() -> None:
    outline = outline_at(drill((1.0, 2.0, -1.0), (1.0, 2.0, 3.0), 2.0), 0.0)
    assert outline is not None
    assert np.hypot(*(outline - (1.0, 2.0)).T) == pytest.approx(np.ones(len(outline)))
    assert outline_at(drill((1.0, 2.0, -1.0), (1.0, 2.0, 3.0), 2.0), 3.5) is None


def test_the_outline_of_a_level_drill_is_as_wide_as_its_chord() -> None:
    outline = outline_at(drill((0.0, 0.0, 5.0), (10.0, 0.0, 5.0), 2.0), 5.6)
    assert outline is not None
    assert np.ptp(outline[:, 0]) == pytest.approx(10.0)
    assert np.ptp(outline[:, 1]) == pytest.approx(1.6)


@given(some_mm, some_mm, st.floats(0.2, 5.0), st.floats(0.0, 300.0), st.floats(0.0, 200.0))
def test_what_is_enlarged_stays_under_the_pointer(x: float, y: float, factor: float, column: float, row: float) -> None:
    plane = Plane(x, y, 0.05, 300, 200)
    before = plane.to_mm(column, row)
    after = plane.zoomed(factor, column, row)
    assert after.to_mm(column, row) == pytest.approx(before, abs=1e-9)
    assert after.to_px(*before) == pytest.approx((column, row), abs=1e-6)


def test_a_box_is_fitted_into_the_middle_above_the_scale() -> None:
    plane = Plane(width=400, height=300).fitted(np.array([-10.0, 0.0]), np.array([30.0, 10.0]))
    assert plane.to_px(10.0, 5.0) == pytest.approx((200.0, 142.0))
    assert plane.to_px(-10.0, 5.0)[0] == pytest.approx(22.0)


@pytest.mark.parametrize(
    ("height", "number"), [(None, 199), (0.0, 0), (0.05, 0), (0.0501, 1), (5.0, 99), (10.0, 199), (99.0, 199)]
)
def test_a_height_is_the_last_printed_layer(height: float | None, number: int) -> None:
    assert layer_of(height, 10.0, 0.05) == number
    assert layers_of(10.0, 0.05) == 200


@given(st.tuples(some_mm, some_mm, some_mm), st.floats(0.5, 4.0), st.sampled_from(["slot", "square"]), some_mm)
def test_other_sections_and_countersinks_are_cut_as_their_mesh_is(
    end: tuple[float, float, float], diameter: float, shape: Shape, z: float
) -> None:
    """Against trimesh's cut of the same body."""
    if np.linalg.norm(end) < 0.5:
        return
    outline = Outline(shape, 3.0 * diameter if shape == "slot" else 0.0, (0.3, 0.5, 0.9))
    for spread in (0.0, 0.8):
        bore = Bore((0.0, 0.0, 0.0), end, 0.5 * diameter, outline, spread)
        mesh = trimesh.Trimesh(*bore.mesh(), process=False)
        if np.abs(mesh.vertices[:, 2] - z).min() < 1e-4:
            continue  # a cap or a corner lies in the plane: both answers are right
        cut = mesh.section(plane_origin=(0.0, 0.0, z), plane_normal=(0.0, 0.0, 1.0))
        found = level_cut(bore, z)
        assert (cut is None) == (found is None)
        if cut is not None and found is not None:
            exact = cut.discrete[0][:-1, :2]
            assert area_of(found) == pytest.approx(area_of(exact), rel=1e-6, abs=1e-9)
