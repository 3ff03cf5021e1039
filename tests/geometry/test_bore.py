"""Drills of all sections: their volume by formulas, their planes, and what the columns and the plug say of them."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh
from bodies import box, inward, solid
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplanner.geometry.bore import Bore
from ventplanner.geometry.columns import Grid, tool_intervals
from ventplanner.geometry.outline import ROUND, Outline
from ventplanner.geometry.plug import reach, volume_taken
from ventplanner.geometry.plug_euler import euler_taken

OUTLINES = (ROUND, Outline("slot", 6.5, (0.3, 1.0, 0.2)), Outline("square", 0.0, (0.3, 1.0, 0.2)))
outlines = st.sampled_from(OUTLINES)
widths, spreads = st.floats(0.4, 1.5), st.sampled_from([0.0, 0.6])


def formula(bore: Bore) -> float:
    """Volume between two true sections whose sides lean evenly: prismoid, exact for what grows by offsets."""
    low, high = bore.radius, bore.radius + bore.spread
    outline = bore.outline
    middle = outline.grown(0.5 * bore.spread).area(0.5 * (low + high))
    return bore.length / 6.0 * (outline.area(low) + 4.0 * middle + outline.grown(bore.spread).area(high))


def drill(outline: Outline, radius: float, spread: float) -> Bore:
    return Bore((0.3, -4.0, 5.1), (1.1, 4.5, 6.3), radius, outline, spread)


@settings(max_examples=30, deadline=None)
@given(outlines, widths, spreads)
def test_a_drill_is_closed_has_the_volume_of_its_true_section_and_lies_between_its_planes(
    outline: Outline, radius: float, spread: float
) -> None:
    bore = drill(outline, radius, spread)
    mesh = trimesh.Trimesh(*bore.mesh(), process=False)
    assert mesh.is_watertight
    assert mesh.volume == pytest.approx(formula(bore), rel=1e-9 if spread == 0.0 else 2e-3)
    assert np.abs(bore.outside(mesh.vertices[:-2])).max() < 1e-9
    assert bore.outside(mesh.triangles_center + 1e-6 * mesh.face_normals).min() > 0.0
    corners = np.linalg.norm(bore.place(mesh.vertices)[:, :2], axis=1).max()
    assert corners == pytest.approx(bore.outer_radius)
    larger = trimesh.Trimesh(*bore.grown(0.1).mesh(), process=False)
    assert larger.volume > mesh.volume


@settings(max_examples=10, deadline=None)
@given(outlines, widths, spreads)
def test_columns_cover_the_volume_of_a_drill(outline: Outline, radius: float, spread: float) -> None:
    bore = drill(outline, radius, spread)
    _, low, high = tool_intervals(bore, Grid(-8.0, -8.0, 0.05, 400, 400))
    assert (high - low).sum() * 0.05**2 == pytest.approx(formula(bore), rel=0.01)


@settings(max_examples=10, deadline=None)
@given(outlines, widths, spreads)
def test_the_plug_is_foretold_and_it_is_one(outline: Outline, radius: float, spread: float) -> None:
    """A wall 2 mm thick across the drill's middle: the volume by the boolean, one plug (Euler number 1)."""
    part = solid(box((40.0, 30.0, 40.0)), inward(box((36.0, 26.0, 36.0))))
    bore = Bore((0.3, -18.0, 5.1), (1.1, -9.5, 6.3), radius, outline, spread)
    met = reach(part.vertices, part.faces, bore)
    wall = trimesh.creation.box((40.0, 2.0, 40.0)).apply_translation((0.0, -14.0, 0.0))
    exact = trimesh.boolean.intersection([wall, trimesh.Trimesh(*bore.mesh())], engine="manifold").volume
    taken, unsure = volume_taken(met)
    assert taken == pytest.approx(exact, rel=0.003)
    assert unsure < 0.02 * taken
    assert euler_taken([met]) == 1


@given(outlines, widths, st.floats(-4.0, 4.0), st.floats(-4.0, 4.0))
def test_a_point_is_within_the_section_as_its_polygon_says(outline: Outline, radius: float, x: float, y: float) -> None:
    normals, offsets = outline.sides(radius)
    outside = float((normals @ [x, y] - offsets).max())
    off = float(outline.beyond_middle(np.array(x), np.array(y), radius)) - radius
    assert abs(off - outside) < 0.02 or (off > 0.02 and outside > 0.0)


@pytest.mark.parametrize("outline", OUTLINES)
def test_round_lanes_cover_a_section_and_do_not_leave_it(outline: Outline) -> None:
    radius, angle = 1.2, np.linspace(0.0, 2.0 * math.pi, 50)
    lanes = outline.lanes(radius)
    rim = outline.rim(radius, 200)
    apart = np.array([np.hypot(rim[:, 0] - x, rim[:, 1] - y) - r for x, y, r in lanes]).min(axis=0)
    assert apart.max() < (0.11 if outline.shape == "square" else 0.02) * radius
    for x, y, r in lanes:
        p, q = x + r * np.cos(angle), y + r * np.sin(angle)
        assert outline.beyond_middle(p, q, radius).max() < radius * 1.000001
