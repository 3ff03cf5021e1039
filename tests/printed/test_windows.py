"""Parts with too many pixels to be cast at once: what is told of them is what the whole raster would tell."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from bodies import box, cut, rod, solid

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.geometry.columns import Tool, cast, cast_window
from ventplanner.geometry.pose import Pose
from ventplanner.printed import part as parts
from ventplanner.printed import patched, widths
from ventplanner.printed.engine import CURED, AsPrinted, as_printed
from ventplanner.printed.part import Box, PixelPart, material_in
from ventplanner.printed.widths import size_that_prints, vent_as_printed
from ventplanner.profile import Profile

LYING = Tool((-5.1, 0.3, 3.0), (-2.9, 0.3, 3.0), 0.6)
NARROW = Tool((5.1, 1.0, 7.0), (2.9, 1.0, 7.0), 0.1)
FEW = 25_000
"""Pixels that fit in memory; under the box lie 42 000 and more."""

STRONG = Profile(blur_mm=0.12, exposure_ratio=8.0)


@cache
def holed(hole: float, on: str = "supports") -> Findings:
    """A box 10 mm wide with walls of 2 mm and a hole of some diameter in its floor, off the pixels."""
    drill = rod((0.2, 0.13, -6.0), (0.2, 0.13, 0.0), 0.5 * hole)
    return analyse(solid(cut(box(10.0), box(6.0), drill)), Pose(on="plate") if on == "plate" else Pose())


def windowed(monkeypatch: pytest.MonkeyPatch, findings: Findings, profile: Profile) -> PixelPart:
    monkeypatch.setattr(parts, "MOST_PIXELS", FEW)
    return PixelPart.of(findings, profile)


def both(
    monkeypatch: pytest.MonkeyPatch, findings: Findings, tools: tuple[Tool, ...], profile: Profile
) -> tuple[AsPrinted, AsPrinted]:
    whole = as_printed(findings, tools, profile)
    part = windowed(monkeypatch, findings, profile)
    assert whole.is_whole
    assert not part.is_whole
    return whole, as_printed(findings, tools, profile, part=part)


@pytest.mark.parametrize("window", [(0, 40, 0, 40), (17, 18, 3, 90), (60, 130, 50, 101)])
def test_a_window_of_the_pixels_holds_the_very_runs_of_the_whole(window: tuple[int, int, int, int]) -> None:
    scene = holed(0.8).scene
    skins = scene.topology.skin_of_face
    whole = cast(scene.vertices, scene.solid.faces, skins, 0.0731)
    i0, i1, j0, j1 = window
    some = cast_window(scene.vertices, scene.solid.faces, skins, whole.grid, window)
    assert (some.grid.nx, some.grid.ny) == (i1 - i0, j1 - j0)
    columns = (np.arange(j0, j1)[:, None] * whole.grid.nx + np.arange(i0, i1)[None, :]).ravel()
    own = np.concatenate([np.arange(*whole.offsets[c : c + 2]) for c in columns])
    np.testing.assert_array_equal(np.diff(some.offsets), np.diff(whole.offsets)[columns])
    np.testing.assert_array_equal(some.z0, whole.z0[own])
    np.testing.assert_array_equal(some.z1, whole.z1[own])


def test_material_across_the_rim_of_the_part_is_the_same_in_windows(monkeypatch: pytest.MonkeyPatch) -> None:
    profile = Profile()
    whole, part = PixelPart.of(holed(0.8), profile), windowed(monkeypatch, holed(0.8), profile)
    for cells in (Box(-9, 140, -5, 20, -3, 30), Box(90, 260, 90, 260, 10, 60), Box(300, 320, 0, 9, 0, 5)):
        np.testing.assert_array_equal(material_in(whole, cells, (LYING,)), material_in(part, cells, (LYING,)))


@pytest.mark.parametrize("on", ["supports", "plate"])
@pytest.mark.parametrize(
    ("hole", "tools", "profile"),
    [(0.8, (), Profile()), (0.3, (LYING,), STRONG), (0.3, (), STRONG), (0.3, (NARROW,), STRONG)],
)
def test_a_part_in_windows_gets_the_widths_and_the_verdict_of_the_whole(
    monkeypatch: pytest.MonkeyPatch, on: str, hole: float, tools: tuple[Tool, ...], profile: Profile
) -> None:
    whole, some = both(monkeypatch, holed(hole, on), tools, profile)
    assert some.openings == whole.openings
    assert some.vents == whole.vents
    told = [[(c.cavity, c.cup, c.nominal, c.printed) for c in found.cups] for found in (whole, some)]
    assert told[0] == told[1]
    assert any("million pixels" in note for note in some.notes)
    assert not any("million pixels" in note for note in whole.notes)


def test_the_layers_of_a_part_in_windows_have_coarser_pixels_that_fit_in_memory(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    _, some = both(monkeypatch, holed(0.3), (), STRONG)
    assert 0.05 < some.grid.pitch < 0.08
    assert some.grid.n_columns <= FEW
    assert (some.layer(20) == CURED).any()
    assert not (some.layer(20, printed=False) == CURED).any()


def test_the_size_that_prints_is_that_of_the_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = size_that_prints(PixelPart.of(holed(0.8), STRONG), NARROW, 0.4)
    part = windowed(monkeypatch, holed(0.8), STRONG)
    assert size_that_prints(part, NARROW, 0.4) == whole
    assert len(part._windows) <= parts.MOST_WINDOWS


def test_a_way_of_too_many_cells_is_told_by_formula_as_a_lower_bound(monkeypatch: pytest.MonkeyPatch) -> None:
    part = PixelPart.of(holed(0.8), Profile())
    exact = vent_as_printed(part, LYING)
    monkeypatch.setattr(widths, "MOST_CELLS", 1000)
    bound = vent_as_printed(part, LYING)
    assert exact.exact
    assert not bound.exact
    assert 0.0 < bound.printed_mm <= exact.printed_mm + 1e-9
    size = size_that_prints(part, LYING, 1.0)
    assert size is not None
    assert size >= 1.0


def test_an_opening_is_followed_on_every_other_cell_as_on_all(monkeypatch: pytest.MonkeyPatch) -> None:
    (exact,) = as_printed(holed(0.8)).openings
    monkeypatch.setattr(widths, "MOST_COARSE", 400_000)
    (coarse,) = as_printed(holed(0.8)).openings
    assert coarse.printed_mm == pytest.approx(exact.printed_mm, abs=1e-9)


def test_stretches_are_taken_from_runs_and_nothing_else() -> None:
    runs = holed(0.8).scene.runs
    column = int(np.flatnonzero(np.diff(runs.offsets) == 3)[0])
    low, high = (float(a[runs.offsets[column] + 1]) for a in (runs.z0, runs.z1))
    cuts = np.array([low - 1.0, low + 2.0]), np.array([low + 1.0, low + 2.5])
    less = patched.without(runs, np.array([column, column]), *cuts)
    own = slice(int(less.offsets[column]), int(less.offsets[column + 1]))
    np.testing.assert_allclose(less.z0[own][1:-1], [low + 1.0, low + 2.5])
    np.testing.assert_allclose(less.z1[own][1:-1], [low + 2.0, high])
    assert less.material_volume == pytest.approx(runs.material_volume + 1.5 * runs.pixel_area)
    assert len(less.z0) == len(runs.z0) + 1
