"""Flow through holes, against published tables and worked values."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.sparse import coo_array, eye_array
from scipy.sparse.linalg import spsolve

from ventplanner.physics import ducts

MU = 0.3


def test_tube_and_mouths_of_a_two_millimetre_hole() -> None:
    # Worked by hand: 128 mu L/(pi D^4) and 24 mu/D^3 (Hagen and Poiseuille; Sampson 1891).
    hole = ducts.circle(2e-3)
    assert MU * 2e-3 / hole.duct == pytest.approx(1.5278875e9, rel=1e-7)
    assert MU / hole.orifice == pytest.approx(9.0e8, rel=1e-12)
    assert ducts.circle(3e-3).resistance(2e-3, MU) == pytest.approx(5.684716e8, rel=1e-6)


@pytest.mark.parametrize(
    ("length", "solved"),
    [(0.10, 3.2424), (0.25, 3.6116), (0.5, 4.2363), (1.0, 5.5025), (2.0, 8.0481), (4.0, 13.1411), (8.0, 23.3270)],
)
def test_the_sum_is_at_most_one_percent_above_the_stokes_equations(length: float, solved: float) -> None:
    # Axisymmetric Stokes flow by finite elements (P2-P1, reservoirs 14 radii deep), R a^3/mu; solved beforehand.
    assert 1.0 <= ducts.circle(2.0).resistance(length, 1.0) / solved < 1.01


@pytest.mark.parametrize(("aspect", "constant"), [(1, 0.1406), (1.5, 0.196), (2, 0.229), (4, 0.281), (10, 0.312)])
def test_rectangular_ducts_follow_the_torsion_table(aspect: float, constant: float) -> None:
    # Timoshenko & Goodier, Theory of Elasticity, table of k1: J = k1 long short^3, and the duct is J/4 (from memory).
    assert 4.0 * ducts.rectangle(aspect, 1.0).duct == pytest.approx(constant * aspect, rel=4e-3)


def test_elliptical_ducts_and_mouths() -> None:
    # pi a^3 b^3/(4(a^2+b^2)) for a = 2, b = 1; mouths relative to the circle of equal area 0.9172 (Roscoe 1949).
    section = ducts.ellipse(4.0, 2.0)
    assert section.duct == pytest.approx(1.256637, rel=1e-6)
    equal = ducts.circle(2.0 * math.sqrt(2.0))
    assert section.orifice / equal.orifice == pytest.approx(0.9172, abs=1e-4)


@given(st.floats(1e-4, 1e-2))
def test_a_round_ellipse_and_a_complete_part_circle_are_circles(diameter: float) -> None:
    whole = ducts.circle(diameter)
    for same in (ducts.ellipse(diameter, diameter), ducts.part_circle(diameter, diameter)):
        assert same.area == pytest.approx(whole.area, rel=1e-9)
        assert same.duct == pytest.approx(whole.duct, rel=1e-9)
        assert same.orifice == pytest.approx(whole.orifice, rel=1e-9)


def test_half_a_circle_has_the_torsion_constant_of_the_handbooks() -> None:
    # J of a half circle of radius 1: 0.2976 (Timoshenko & Goodier; from memory).
    assert 4.0 * ducts.part_circle(2.0, 1.0).duct == pytest.approx(0.2976, rel=1e-3)


@pytest.mark.parametrize("share", [0.13, 0.27, 0.5, 0.68, 0.9])
def test_part_circles_solve_poissons_equation(share: float) -> None:
    assert ducts.part_circle(2.0, 2.0 * share).duct == pytest.approx(_poisson(share), rel=0.03)


def _poisson(share: float) -> float:
    """Integral of u with lap u = -1 and u = 0 on the rim of the segment, on a plain grid: a second way."""
    n = 500
    step = 2.0 / n
    # A row of points on the cut, where u = 0; the round rim is a staircase, whose error falls with the step.
    cut = -1.0 + 2.0 * share
    x, y = np.meshgrid(np.arange(n + 1) * step - 1.0, cut - np.arange(n + 1) * step, indexing="ij")
    inside = (x**2 + y**2 < 1.0) & (y < cut - 1e-9)
    number = np.full(inside.shape, -1)
    number[inside] = np.arange(inside.sum())
    rows, columns = [], []
    for axis in (0, 1):
        first, second = (np.take(number, np.arange(n) + k, axis=axis).ravel() for k in (0, 1))
        both = (first >= 0) & (second >= 0)
        rows += [first[both], second[both]]
        columns += [second[both], first[both]]
    row, column = np.concatenate(rows), np.concatenate(columns)
    size = int(inside.sum())
    neighbours = coo_array((np.ones(len(row)), (row, column)), shape=(size, size))
    u = spsolve((4.0 * eye_array(size) - neighbours).tocsc(), np.full(size, step**2))
    return float(u.sum() * step**2)


@given(st.floats(1e-4, 5e-3), st.floats(0.01, 0.99), st.floats(1e-4, 1e-2))
def test_more_of_a_hole_lets_more_through(diameter: float, share: float, length: float) -> None:
    less, more = (ducts.part_circle(diameter, diameter * s) for s in (share, min(1.0, share + 0.01)))
    assert less.area < more.area
    assert less.duct < more.duct
    assert less.orifice < more.orifice
    assert less.resistance(length, MU) > more.resistance(length, MU) > 0.0


def test_nothing_open_resists_without_end() -> None:
    tiny = ducts.ellipse(1e-180, 1e-180)
    for shut in (ducts.part_circle(1e-3, 0.0), ducts.ellipse(1e-3, 0.0), ducts.rectangle(0.0, 1e-3), tiny):
        assert shut.resistance(1e-3, MU) == math.inf


def test_suction_of_the_square_cup() -> None:
    # Cup 20 x 20 mm lifted at 1 mm/s, one vent of 2 mm through 2 mm, 0.3 Pa s: 971.155 Pa; inertia 13.4 to 25.4 Pa.
    flow = 20e-3 * 20e-3 * 1e-3
    creeping = ducts.circle(2e-3).resistance(2e-3, MU) * flow
    assert creeping == pytest.approx(971.155, rel=1e-6)
    whole = ducts.pressure_drop(flow, 2e-3, 2e-3, MU, 1100.0)
    assert 13.3 <= whole - creeping <= 25.5
    assert ducts.pressure_drop(-flow, 2e-3, 2e-3, MU, 1100.0) == -whole
    assert ducts.pressure_drop(0.0, 2e-3, 2e-3, MU, 1100.0) == 0.0
    assert ducts.reynolds(flow, 2e-3, MU, 1100.0) == pytest.approx(0.934, abs=5e-4)


def test_inertial_loss_has_the_limits_of_the_diagram() -> None:
    # Idelchik, diagram 4-18: 2.85 in a thin plate, about 1.5 in a long hole (from memory).
    assert ducts.loss_coefficient(0.0, 1.0) == pytest.approx(2.85, abs=0.01)
    assert ducts.loss_coefficient(3.0, 1.0) == pytest.approx(1.5, abs=0.01)


def stadium_by_collocation(straight: float, terms: int = 26) -> float:
    """K of a slot of width 1: u = -r^2/4 + sum of c_n Re z^2n, fitted to be 0 on the rim; its integral over the slot.
    An independent method (Trefftz 1926) to the table's finite differences."""
    half, quarter = 0.5 * straight, 0.25 * np.pi
    t = (np.arange(600) + 0.5) / 600 * (half + quarter)
    angle = np.clip((t - half) / 0.5, 0.0, 0.5 * np.pi)
    z = np.where(t < half, t, half + 0.5 * np.sin(angle)) + 1j * np.where(t < half, 0.5, 0.5 * np.cos(angle))
    scale = half + 0.5
    powers = 2 * np.arange(terms)
    basis = np.real((z[:, None] / scale) ** powers)
    weights = np.linalg.lstsq(basis, 0.25 * np.abs(z) ** 2, rcond=None)[0]
    x, y = np.meshgrid((np.arange(500) + 0.5) / 500 * scale, (np.arange(300) + 0.5) / 600)
    inside = np.hypot(np.maximum(x - half, 0.0), y) < 0.5
    w = (x + 1j * y)[inside]
    u = np.real((w[:, None] / scale) ** powers) @ weights - 0.25 * np.abs(w) ** 2
    return float(4.0 * u.sum() * (scale / 500) / 600)


@pytest.mark.parametrize("straight", [0.0, 0.17, 0.6, 1.2])
def test_a_slot_conducts_as_another_solution_of_poissons_equation_says(straight: float) -> None:
    assert ducts.slot(1.0, 1.0 + straight).duct == pytest.approx(stadium_by_collocation(straight), rel=6e-3)


@given(st.floats(0.3, 4.0), st.floats(0.0, 5.0), st.floats(0.0, 1.0))
def test_a_slot_lies_between_the_shapes_inside_and_round_it(width: float, straight: float, share: float) -> None:
    """The flow only grows with the opening. Torsion constants of rectangles are 4 K (Timoshenko; from memory)."""
    length = width + width * straight
    whole = ducts.slot(width, length)
    for inside in (ducts.rectangle(width * straight, width), ducts.ellipse(width, length), ducts.circle(width)):
        assert inside.duct <= whole.duct * 1.0005
        assert inside.orifice <= whole.orifice * 1.0005
    assert whole.duct <= ducts.rectangle(width, length).duct
    for rise in (0.0, 0.05, 0.5, 1.0):
        high = width + (length - width) * rise
        some, more = (ducts.part_slot(width, length, rise, s * high) for s in (share, min(share + 0.05, 1.0)))
        assert some.duct <= more.duct * 1.0005
        assert more.duct <= whole.duct * 1.0005
        assert more.orifice <= whole.orifice * 1.0005


def test_slots_and_squares_begin_and_end_as_what_is_known() -> None:
    assert ducts.slot(2.0, 2.0).duct == pytest.approx(ducts.circle(2.0).duct, rel=1e-4)
    assert ducts.slot(1.0, 101.0).duct == pytest.approx(100.0 / 12.0, rel=3e-3)  # parallel plates
    assert ducts.part_square(1.0, 1.0, 1.0).duct == pytest.approx(0.0351443, rel=1e-5)  # White 2006, eq. 3-48
    assert ducts.part_square(1.0, 1.2, 1.1).duct < ducts.part_square(1.0, 1.2, 1.2).duct
    assert ducts.part_square(1.0, 1.0, 0.5).duct == pytest.approx(0.1143408 * 0.5**4, rel=1e-5)
