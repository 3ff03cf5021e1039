"""The printed raster of whole parts against brute force, cell by cell and cup by cup."""

from __future__ import annotations

import numpy as np
import pytest
from bodies import voxel_solid
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplanner.analysis.findings import analyse
from ventplanner.errors import Cancelled
from ventplanner.geometry.pose import Pose
from ventplanner.geometry.solid import Solid
from ventplanner.printed.engine import as_printed
from ventplanner.printed.part import PixelPart
from ventplanner.printed.raster import printed_runs
from ventplanner.profile import Profile

from .brute_force import cells_of, doses, sealed_cells

UNSURE = 2e-3
"""Cells whose dose is nearer to the threshold may go either way: the engine cuts the blur off, the oracle later."""


def filled(seed: int, shape: tuple[int, int, int], share: float) -> np.ndarray:
    """Random voxels with a frame round them, so that something is enclosed; (nx, ny, nz) bool."""
    rng = np.random.default_rng(seed)
    out = rng.random(shape) < share
    out[0], out[-1], out[:, 0], out[:, -1] = True, True, True, True
    out[:, :, 0] |= rng.random(shape[:2]) < 0.7
    out[:, :, -1] |= rng.random(shape[:2]) < 0.7
    out[0, 0, 0] = out[-1, -1, -1] = out[0, -1, 0] = True
    return out


def mask_of(voxels: np.ndarray, times: int, rings: int) -> np.ndarray:
    """(nz, ny, nx) bool cells of voxels that are `times` cells wide, with empty cells beside them."""
    fine = voxels
    for axis in range(3):
        fine = np.repeat(fine, times, axis=axis)
    return np.pad(fine.transpose(2, 1, 0), ((0, 0), (rings, rings), (rings, rings)))


def compare(voxels: np.ndarray, times: int, profile: Profile, pose: Pose) -> None:
    part = voxel_solid(voxels, times * profile.pixel_mm)
    findings = analyse(part, pose)
    printed = as_printed(findings, (), profile)
    rings = printed.part.light.margin + 1
    mask = mask_of(voxels, times, rings)
    dose = doses(mask, profile, pose.gap_mm if pose.on == "supports" else 0.0)
    unsure = ~mask & (np.abs(dose - 1.0) < UNSURE)
    void = ~mask & (dose < 1.0)
    mine = cells_of(printed_runs(printed.part.runs, printed.part.light), printed.layers, profile.layer_height_mm)
    assert mine.shape == void.shape
    assert not (mine != void)[~unsure].any()
    void = np.where(unsure, mine, void)
    area = printed.found.sealed_area.area[1:-1]
    expected = sealed_cells(void, pose.on == "plate") * profile.pixel_mm**2
    np.testing.assert_allclose(area, expected, atol=1e-9)


@settings(max_examples=8, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    share=st.sampled_from((0.25, 0.4, 0.55)),
    times=st.sampled_from((3, 4, 6)),
    blur=st.sampled_from((0.0, 0.03, 0.05, 0.11)),
    penetration=st.sampled_from((0.05, 0.1, 0.2)),
    ratio=st.sampled_from((1.5, 4.0, 10.0)),
    on=st.sampled_from(("plate", "supports")),
)
def test_random_parts_print_as_by_brute_force(
    seed: int, share: float, times: int, blur: float, penetration: float, ratio: float, on: str
) -> None:
    profile = Profile(blur_mm=blur, penetration_mm=penetration, exposure_ratio=ratio, base_layers=3, base_spread_mm=0.1)
    pose = Pose(on="plate") if on == "plate" else Pose(on="supports", gap_mm=0.1)
    compare(filled(seed, (7, 6, 6), share), times, profile, pose)


def test_a_part_of_many_bands_and_blocks_prints_as_by_brute_force(monkeypatch: pytest.MonkeyPatch) -> None:
    # Bands of few rows, and rows of several blocks: nothing may change where they meet.
    monkeypatch.setattr("ventplanner.printed.raster.ROWS", 7)
    compare(filled(3, (24, 5, 4), 0.35), 5, Profile(base_spread_mm=0.15), Pose(on="plate"))


def tube() -> Solid:
    return voxel_solid(filled(1, (6, 6, 6), 0.4), 1.0)


def test_it_can_be_cancelled_between_bands() -> None:
    part = PixelPart.of(analyse(tube()), Profile())

    def stop(phase: str, share: float) -> None:
        if share > 0.0:
            raise Cancelled

    with pytest.raises(Cancelled):
        printed_runs(part.runs, part.light, stop)
