"""The linear network, against a published package and by Kirchhoff's laws."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventplanner.flow.network import Liquid, Pressures, solve
from ventplanner.physics import ducts
from ventplanner.physics.ducts import Section

STILL = Liquid(0.3, 0.0)
"""Without mass there is no inertia: the network is linear."""


LENGTH, WIDTH = 2e-3, 2e-3

Joint = tuple[int, int]


def solved(
    joints: list[Joint], sections: list[Section], liquid: Liquid, taken: np.ndarray, seep: np.ndarray | None = None
) -> Pressures:
    """At one height; all ways are 2 mm wide and long."""
    area = np.array([s.area for s in sections])
    inertia = 0.5 * ducts.loss_coefficient(LENGTH, WIDTH) * liquid.density / area**2
    resistance = np.array([s.resistance(LENGTH, liquid.viscosity) for s in sections])
    ends = np.array(joints, dtype=np.int64).reshape(-1, 2)
    found = solve(ends, resistance[None], inertia[None], taken[None], None if seep is None else seep[None])
    return Pressures(found.pressure[0], found.fed[0], found.flow[0])


def test_a_tube_carries_what_openpnm_says() -> None:
    # openpnm 3.6.4, StokesFlow, one throat of 2 mm width and length, 1000 Pa, 0.3 Pa s: 6.54498469e-7 m3/s.
    tube = Section(np.pi * 1e-6, np.pi * 1e-12 / 8.0, np.inf)
    found = solved([(1, 0)], [tube], STILL, np.array([0.0, 6.54498469e-7]))
    assert found.pressure[1] == pytest.approx(1000.0, rel=1e-8)


def test_a_small_network_has_the_pressures_of_openpnm() -> None:
    # openpnm 3.6.4, StokesFlow: four pores, these conductances (m3/(s Pa)), 4e-7 and 1e-7 m3/s at the first two, the
    # last one held at 0 (signs turned: there the flow is put in).
    links = ((1, 2, 1e-10), (2, 3, 3e-10), (1, 3, 2e-11), (3, 0, 5e-11), (2, 0, 4e-12))
    sections = [Section(1e-6, g * 0.3 * 2e-3, np.inf) for _, _, g in links]
    found = solved([(a, b) for a, b, _ in links], sections, STILL, np.array([0.0, 4e-7, 1e-7, 0.0]))
    assert found.pressure[1:] == pytest.approx([13531.79190751, 10404.62427746, 9167.6300578], rel=1e-9)


links = st.lists(st.tuples(st.integers(0, 7), st.integers(0, 7), st.floats(1e-13, 1e-9)), min_size=1, max_size=20)


@given(links, st.lists(st.floats(0.0, 1e-6), min_size=8, max_size=8))
def test_what_flows_in_flows_out(given_links: list[tuple[int, int, float]], drawn: list[float]) -> None:
    pairs = [(max(a, b), min(a, b), g) for a, b, g in given_links if a != b]
    # A section whose conductance in a hole of 2 mm is g.
    sections = [Section(1e-6, g * 0.3 * 2e-3, np.inf) for _, _, g in pairs]
    taken = np.array([0.0, *drawn[1:]])
    found = solved([(a, b) for a, b, _ in pairs], sections, STILL, taken)
    net = np.zeros(8)
    for (a, b, _), q in zip(pairs, found.flow, strict=True):
        net[a] += q
        net[b] -= q
    fed = found.fed[1:]
    assert net[1:][fed] == pytest.approx(taken[1:][fed], rel=1e-6, abs=1e-15)
    assert np.isinf(found.pressure[1:][~fed & (taken[1:] > 0.0)]).all()
    assert (found.pressure[1:][fed] >= -1e-9).all()
    for (a, b, g), q in zip(pairs, found.flow, strict=True):
        if found.fed[a]:
            assert q == pytest.approx(g * (found.pressure[a] - found.pressure[b]), rel=1e-6, abs=1e-14)


@given(
    st.lists(st.tuples(st.integers(0, 5), st.integers(0, 5), st.floats(-40.0, 0.0)), max_size=14),
    st.lists(st.floats(0.0, 1e-5), min_size=6, max_size=6),
    st.lists(st.floats(-30.0, -8.0), min_size=6, max_size=6),
)
def test_no_network_is_beyond_solving(
    given_links: list[tuple[int, int, float]], drawn: list[float], leaks: list[float]
) -> None:
    pairs = [(max(a, b), min(a, b), 10.0**g) for a, b, g in given_links if a != b]
    sections = [Section(1e-6, g * 0.3 * 2e-3, np.inf) for _, _, g in pairs]
    seep = np.array([10.0**x if x > -20.0 else 0.0 for x in leaks])
    seep[0] = 0.0
    taken = np.array([0.0, *drawn[1:]])
    found = solved([(a, b) for a, b, _ in pairs], sections, Liquid(0.3, 1100.0), taken, seep)
    assert not np.isnan(found.pressure).any()
    assert np.isfinite(found.pressure[found.fed]).all()
    assert (found.pressure >= -1e-6 * np.abs(found.pressure[found.fed]).max(initial=1.0)).all()


def test_inertia_settles_at_the_sum_of_both_losses() -> None:
    for flow in (1e-8, 1e-6, 1e-5):
        found = solved([(1, 0)], [ducts.circle(2e-3)], Liquid(0.01, 1100.0), np.array([0.0, flow]))
        assert found.pressure[1] == pytest.approx(ducts.pressure_drop(flow, 2e-3, 2e-3, 0.01, 1100.0), rel=1e-3)


@given(st.lists(st.floats(1e-9, 1e-6), min_size=1, max_size=5), st.floats(5e8, 1e10))
def test_many_heights_at_once_are_each_as_if_alone(drawn: list[float], resistance: float) -> None:
    ends = np.array([(1, 0), (2, 1)], dtype=np.int64)
    taken = np.array([[0.0, q, 0.3 * q] for q in drawn])
    # At every other height the way between the rooms is not there yet.
    printed = np.array([[resistance, np.inf if k % 2 else 2.0 * resistance] for k in range(len(drawn))])
    inertia = np.full(printed.shape, 1e13)
    together = solve(ends, printed, inertia, taken)
    for k in range(len(drawn)):
        alone = solve(ends, printed[k : k + 1], inertia[k : k + 1], taken[k : k + 1])
        assert together.pressure[k] == pytest.approx(alone.pressure[0], rel=1e-9)
        assert together.fed[k].tolist() == [True, True, k % 2 == 0]
        assert np.isinf(together.pressure[k, 2]) == (k % 2 == 1)
