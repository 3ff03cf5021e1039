"""The test piece, and profiles fitted to what of it printed open."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.errors import ParameterError
from ventplanner.geometry.columns import Tool
from ventplanner.geometry.pose import Pose
from ventplanner.geometry.topology import topology
from ventplanner.io.meshes import read
from ventplanner.io.stl import write_stl
from ventplanner.physics.curing import print_through
from ventplanner.printed import calibration as c
from ventplanner.printed.part import PixelPart
from ventplanner.printed.widths import vent_as_printed
from ventplanner.profile import Profile


@cache
def piece() -> Findings:
    return analyse(c.test_piece(), Pose(on="plate"))


def tools(row: str) -> list[Tool]:
    """Where the holes of a row stand, as drills that take nothing away."""
    found = []
    roof = c.FLOOR_MM + c.INSIDE_MM
    for k, size in enumerate(c.SIZES_MM):
        x, r = c.END_MM + (k + 0.5) * c.COLUMN_MM, 0.5 * size
        middle, back = c.FLOOR_MM + 0.5 * c.INSIDE_MM, c.DEPTH_MM - c.BACK_MM
        ends = {
            "roof": ((x, c.ROOF_ROW_MM, roof - 0.1), (x, c.ROOF_ROW_MM, c.HEIGHT_MM + 0.1)),
            "back": ((x, back - 0.1, middle), (x, c.DEPTH_MM + 0.1, middle)),
            "floor": ((x, c.FLOOR_ROW_MM, -0.1), (x, c.FLOOR_ROW_MM, c.FLOOR_MM + 0.1)),
        }
        a, b = (tuple(piece().scene.frame.to_build(np.array(e)).tolist()) for e in ends[row])
        found.append(Tool(a, b, r))
    return found


def smallest_open(profile: Profile, row: str) -> float:
    """As the exact engine prints it."""
    part = PixelPart.of(piece(), profile)
    is_open = [vent_as_printed(part, tool).open for tool in tools(row)]
    assert is_open == sorted(is_open)  # a larger hole is never closed when a smaller one is open
    return c.SIZES_MM[is_open.index(True)]


def test_the_test_piece_is_closed_whole_and_of_the_stated_measures() -> None:
    solid = c.test_piece()
    found = topology(solid)
    assert found.is_closed
    assert found.is_oriented
    assert found.n_skins == 1
    assert solid.digest == c.test_piece().digest
    low, high = solid.bounds
    np.testing.assert_allclose(low, 0.0, atol=1e-9)
    np.testing.assert_allclose(high, (2 * c.END_MM + 12 * c.COLUMN_MM, c.DEPTH_MM, c.HEIGHT_MM), atol=1e-9)
    # Through-holes and the trough, by formula: 36 holes that join the trough to the outside.
    euler = len(solid.vertices) - len(solid.faces) // 2
    assert euler == 2 - 2 * 36
    area = sum(np.pi * s * s / 4 for s in c.SIZES_MM)
    trough = 12 * c.COLUMN_MM * (c.DEPTH_MM - c.BACK_MM) * c.INSIDE_MM
    pits = 78 * np.pi * c.PIT_MM**2 / 4 * c.PIT_DEPTH_MM
    holes = area * (c.ROOF_MM + c.FLOOR_MM + c.BACK_MM)
    assert solid.volume == pytest.approx(float(np.prod(high - low)) - trough - pits - holes, rel=1e-6)


def test_the_test_piece_is_written_and_read_like_any_part(tmp_path: object) -> None:
    file = tmp_path / "piece.stl"  # type: ignore[operator]
    write_stl(c.test_piece(), file)
    assert topology(read(file)).is_closed


def test_the_limit_of_a_sideways_hole_is_at_least_the_ceiling_that_comes_down() -> None:
    for depth, ratio in ((0.1, 4.0), (0.2, 8.0), (0.15, 3.0)):
        profile = Profile(penetration_mm=depth, exposure_ratio=ratio, blur_mm=0.0, layer_height_mm=0.01)
        assert c.sideways_closes_below(profile) == pytest.approx(print_through(depth, ratio, 0.01), abs=0.03)
        assert c.sideways_closes_below(Profile(penetration_mm=depth, exposure_ratio=ratio)) > 0.0


@pytest.mark.parametrize(
    "truth",
    [
        Profile(blur_mm=0.07, penetration_mm=0.12, exposure_ratio=5.0, base_spread_mm=0.25),
        pytest.param(
            Profile(blur_mm=0.1, penetration_mm=0.2, exposure_ratio=4.0, base_spread_mm=0.1), marks=pytest.mark.long
        ),
    ],
)
def test_a_fitted_profile_closes_what_closed(truth: Profile) -> None:
    seen = {row: smallest_open(truth, row) for row in ("roof", "back", "floor")}
    start = Profile(exposure_ratio=truth.exposure_ratio)
    fitted = c.fit(start, seen["roof"], seen["back"], seen["floor"])
    assert all("cannot" not in note for note in fitted.notes)
    for row, size in seen.items():
        again = smallest_open(fitted.profile, row)
        # The raster of the printer may carry a hole over the limit to the next size.
        assert abs(c.SIZES_MM.index(again) - c.SIZES_MM.index(size)) <= 1
    assert fitted.profile.blur_mm == pytest.approx(truth.blur_mm, abs=0.03)
    assert fitted.profile.penetration_mm == pytest.approx(truth.penetration_mm, rel=0.35)
    assert fitted.profile.base_spread_mm == pytest.approx(truth.base_spread_mm, abs=0.12)


def test_what_cannot_be_fitted_is_kept_and_said() -> None:
    start = Profile()
    nothing = c.fit(start, None, None)
    assert nothing.profile == start
    assert len(nothing.notes) == 3
    all_open = c.fit(start, 0.2, 0.2, 0.2)
    assert all_open.profile == start
    assert all("upper limit" in note for note in all_open.notes)
    no_base = c.fit(Profile(base_layers=0), 0.3, 0.5, 0.8)
    assert any("no base layers" in note for note in no_base.notes)
    odd = c.fit(Profile(blur_mm=0.5), None, 0.25)
    assert any("cannot be told" in note for note in odd.notes)
    assert odd.profile.penetration_mm == Profile().penetration_mm


def test_sizes_that_the_piece_does_not_have_are_refused() -> None:
    with pytest.raises(ParameterError, match=r"no hole of 0\.33 mm"):
        c.fit(Profile(), 0.33, 0.5)


def test_more_closed_holes_mean_more_light() -> None:
    fits = [c.fit(Profile(), size, None).profile.blur_mm for size in c.SIZES_MM[1:9]]
    assert fits == sorted(fits)
    deep = [c.fit(Profile(), None, size).profile.penetration_mm for size in c.SIZES_MM[2:9]]
    assert deep == sorted(deep)
