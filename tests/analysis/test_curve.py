"""The sealed-area curve: what it adds up to, and how it agrees with the cups."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from bodies import Mesh, ball, bell_buoy, block, box, cut, inward, moved, rod, rotation, solid, turned, union
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplanner.analysis.cups import Cups
from ventplanner.analysis.findings import Findings, analyse
from ventplanner.geometry.pose import On, Pose
from ventplanner.geometry.solid import Solid
from ventplanner.options import AnalysisOptions


def check_books(cups: Cups, height: float, pitch: float) -> None:
    """Every cubic millimetre that is sealed belongs to one cup or to what was filtered."""
    curve = cups.sealed_area
    assert curve.height[0] == 0.0
    assert curve.height[-1] == pytest.approx(height)
    steps = np.diff(curve.height)
    assert (steps > 0).all()
    assert steps.max() <= pitch * (1.0 + 1e-9)
    assert np.isfinite(curve.area).all()
    assert (curve.area >= 0.0).all()
    total = sum(c.sealed_volume for c in cups.cups) + cups.filtered_volume
    by_trapezia = float(np.sum(0.5 * (curve.area[1:] + curve.area[:-1]) * steps))
    assert by_trapezia == pytest.approx(total, rel=1e-9, abs=1e-9)
    together = sum((c.area for c in cups.cups), np.zeros(len(curve.area) - 2))
    assert (together <= curve.area[1:-1] + 1e-6).all()
    for c in cups.cups:
        assert c.sealed_volume == pytest.approx(c.area.sum() * height / len(c.area), rel=1e-6)
        assert c.peak_area == pytest.approx(c.area.max())
        assert c.from_height <= c.peak_height + pitch
        ends = [x for x in (c.joins_height, c.to_height) if x is not None]
        assert all(x > c.from_height for x in ends)
        if len(ends) == 2:
            assert ends[0] <= ends[1]
        # The peak is a mean over a pitch, and the first and last pitch may be sealed in part.
        assert c.sealed_volume <= c.peak_area * (c.top_height - c.from_height + 2.0 * pitch) * (1.0 + 1e-6)


PARTS: dict[str, Mesh] = {
    "box": bell_buoy(),
    "side hole": cut(bell_buoy(), rod((5, 0, 0), (15, 0, 0), 1.25)),
    "dumb-bell": cut(box((44, 24, 24)), ball(8, (-10, 0, 0)), ball(8, (10, 0, 0)), rod((-10, 0, 0), (10, 0, 0), 2)),
    "comb": cut(box((30, 10, 20)), *(block((x, -4, -8 + 0.1 * x), (x + 2, 4, 12)) for x in range(-13, 12, 4))),
    "sieve": cut(bell_buoy(), *(rod((x, y, 5), (x, y, 15), 0.4) for x in range(-6, 7, 3) for y in range(-6, 7, 3))),
}


@pytest.mark.parametrize("name", PARTS)
@pytest.mark.parametrize("on", ["supports", "plate"])
@pytest.mark.parametrize("seed", [None, 0])
def test_cups_and_what_was_filtered_add_up_to_the_curve(name: str, on: On, seed: int | None) -> None:
    part = solid(PARTS[name])
    part = part if seed is None else moved(part, rotation(seed))
    found = analyse(part, Pose(on=on), AnalysisOptions(pitch_mm=0.4))
    check_books(found.cups, found.scene.height, 0.4)


@settings(max_examples=15)
@given(
    seed=st.integers(0, 2**31),
    pitch=st.sampled_from([0.3, 0.41, 0.7]),
    shift=st.floats(0.0, 0.999),
    on=st.sampled_from(["supports", "plate"]),
    least=st.sampled_from([0.0, 1.0, 50.0]),
)
def test_the_books_balance_for_random_hollows(seed: int, pitch: float, shift: float, on: On, least: float) -> None:
    rng = np.random.default_rng(seed)
    caves = [ball(rng.uniform(1.0, 4.0), rng.uniform(-7.0, 7.0, 3), 2) for _ in range(6)]
    body = cut(turned(box(18.0), rng.uniform(0, 90), rng.standard_normal(3)), union(*caves))
    options = AnalysisOptions(pitch_mm=pitch, ignore_below_mm3=least)
    found = analyse(solid(body), Pose(on=on), options, shift=shift)
    check_books(found.cups, found.scene.height, pitch)


def analysed_at(part: Solid, pitch: float) -> Findings:
    return analyse(part, None, AnalysisOptions(pitch_mm=pitch))


def test_the_sealed_area_of_a_ball_is_that_of_its_sections() -> None:
    found = analysed_at(solid(ball(12, fine=5), inward(ball(10, fine=5))), 0.2)
    curve = found.cups.sealed_area
    expected = np.pi * np.maximum(100.0 - (curve.height - 12.0) ** 2, 0.0)
    inner = (curve.height > 2.3) & (curve.height < 21.7)
    np.testing.assert_allclose(curve.area[inner], expected[inner], rtol=0.02, atol=1.0)
    (cup,) = found.cups.cups
    assert cup.peak_area == pytest.approx(100.0 * np.pi, rel=0.005)
    assert cup.peak_height == pytest.approx(12.0, abs=0.5)


def test_a_cone_is_sealed_over_more_area_the_higher_it_gets() -> None:
    # A funnel with its tip towards the plate: from radius 0 at 2 mm to 8 mm at 18 mm, closed above.
    tip, rim = 2.0, 18.0
    z = np.linspace(tip, rim, 2)
    ring = np.linspace(0.0, 2.0 * np.pi, 97)[:-1]
    mouth = np.c_[8.0 * np.cos(ring), 8.0 * np.sin(ring), np.full(96, rim)]
    funnel = trimesh.convex.convex_hull(np.vstack([[0.0, 0.0, z[0]], mouth]))
    found = analysed_at(solid(cut(block((-10, -10, 0), (10, 10, 20)), funnel)), 0.1)
    curve = found.cups.sealed_area
    inside = (curve.height > tip + 0.2) & (curve.height < rim - 0.2)
    expected = np.pi * (0.5 * (curve.height - tip)) ** 2
    np.testing.assert_allclose(curve.area[inside], expected[inside], rtol=0.02, atol=0.3)
    assert found.cups.sealed_area.volume == pytest.approx(np.pi * 64.0 * 16.0 / 3.0, rel=0.005)
    assert found.cups.cups[0].from_height == pytest.approx(tip, abs=0.15)


def test_a_finer_pitch_changes_the_curve_only_within_the_raster() -> None:
    part = moved(solid(PARTS["side hole"]), rotation(3))
    coarse, fine = (analysed_at(part, pitch).cups.sealed_area for pitch in (0.3, 0.1))
    at = np.linspace(0.0, fine.height[-1], 60)
    difference = np.abs(np.interp(at, coarse.height, coarse.area) - np.interp(at, fine.height, fine.area))
    assert np.median(difference) < 0.01 * fine.area.max()
    assert coarse.volume == pytest.approx(fine.volume, rel=0.05)
