"""Print-through and bleed, against worked values and by brute force."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter

from ventplanner.physics import curing


def test_the_working_curve() -> None:
    # Jacobs 1992: Dp ln(E/Ec).
    assert curing.cure_depth(0.2, 8.0) == pytest.approx(0.415888, abs=1e-6)
    assert curing.cure_depth(0.1, 3.0) == pytest.approx(0.109861, abs=1e-6)


@pytest.mark.parametrize(
    ("layers", "depth"), [(1, 0.365888), (2, 0.481076), (5, 0.600111), (10, 0.650497), (None, 0.667627)]
)
def test_print_through_of_a_ceiling(layers: int | None, depth: float) -> None:
    # Dp = 0.2, layer 0.05, E/Ec = 8, worked by hand from the sum of the doses.
    assert curing.print_through(0.2, 8.0, 0.05, layers) == pytest.approx(depth, abs=1e-6)


def test_low_ceilings_of_published_channels_lie_within_the_model() -> None:
    # Gong et al. 2015, RSC Adv. 5, 106621: least channel height 3.5 to 5.5 penetration depths, layer/depth 0.3 to 1.
    for share in (0.3, 0.5, 1.0):
        for ratio in (4.0, 8.0, 20.0):
            assert curing.print_through(1.0, ratio, share) <= 5.5


def test_dose_that_never_cures_leaves_the_ceiling() -> None:
    assert curing.print_through(0.01, 1.05, 0.5, 1) == 0.0


@given(st.floats(0.02, 0.5), st.floats(1.2, 50.0), st.floats(0.01, 0.2), st.integers(1, 60))
def test_doses_add_up_as_in_a_plain_sum(depth: float, ratio: float, layer: float, layers: int) -> None:
    down = curing.print_through(depth, ratio, layer, layers)
    dose = ratio * sum(math.exp(-(down + k * layer) / depth) for k in range(1, layers + 1))
    assert dose == pytest.approx(1.0, rel=1e-9) if down > 0.0 else dose <= 1.0 + 1e-9


@pytest.mark.parametrize(
    ("nominal", "printed"), [(0.10, 0.0), (0.12, 0.04452), (0.20, 0.13480), (0.40, 0.33908), (1.00, 0.94119)]
)
def test_printed_diameter_of_round_holes(nominal: float, printed: float) -> None:
    # Blur 25 um, E/Ec = 8, from the non-central chi-square distribution.
    assert curing.printed_diameter(nominal, 0.025, 8.0) == pytest.approx(printed, abs=1e-5)


def test_edges_and_limits_of_closing() -> None:
    assert curing.edge_shift(0.025, 8.0) == pytest.approx(0.0287587, abs=1e-7)
    assert curing.closes_below(0.025, 8.0) == pytest.approx(2 * 0.050983, abs=2e-6)
    assert curing.slit_closes_below(0.05, 4.0) == pytest.approx(0.11503, abs=1e-4)
    assert curing.printed_diameter(0.3, 0.0, 8.0) == 0.3


@pytest.mark.parametrize(("diameter", "blur", "ratio"), [(0.5, 0.05, 4.0), (0.3, 0.05, 4.0), (0.4, 0.04, 10.0)])
def test_printed_diameter_by_blurring_a_picture(diameter: float, blur: float, ratio: float) -> None:
    # A second way: the mask as pixels, blurred by scipy, cut at the critical dose.
    pixel = 0.0025
    x = (np.arange(401) - 200) * pixel
    solid = np.hypot(*np.meshgrid(x, x)) > 0.5 * diameter
    dose = ratio * gaussian_filter(solid.astype(float), blur / pixel, mode="nearest", truncate=6.0)
    open_area = float((dose < 1.0).sum()) * pixel**2
    assert 2.0 * math.sqrt(open_area / math.pi) == pytest.approx(
        curing.printed_diameter(diameter, blur, ratio), abs=2 * pixel
    )


@given(st.floats(0.05, 3.0), st.floats(0.005, 0.1), st.floats(1.5, 30.0))
def test_longer_exposure_and_smaller_holes_print_narrower(diameter: float, blur: float, ratio: float) -> None:
    printed = curing.printed_diameter(diameter, blur, ratio)
    assert curing.printed_diameter(diameter, blur, 1.5 * ratio) <= printed + 1e-9
    assert printed <= curing.printed_diameter(1.1 * diameter, blur, ratio) + 1e-9
