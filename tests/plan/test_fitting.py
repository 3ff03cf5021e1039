"""A drill fitted to its wall: what it refuses, and that it clears the wall and nothing else."""

from __future__ import annotations

from collections.abc import Sequence

import bodies as b
import numpy as np
import pytest
import vent_oracle as oracle
from hypothesis import example, given, settings
from hypothesis import strategies as st
from vent_oracle import Hollowed, Shape

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.geometry.pose import Pose
from ventplanner.plan.fitting import Fit, as_vent, fit
from ventplanner.plan.refusal import place_of_refusal

BOX = Hollowed(Shape((20, 20, 20)), (Shape((16, 16, 16)),))
TWO = Hollowed(Shape((40, 20, 20)), (Shape((8, 16, 16), (-13, 0, 0)), Shape(7.0, (2, 0, 0))))


def at(findings: Findings, origin: Sequence[float], way: Sequence[float], radius: float) -> Fit | str:
    """Fit along a way (file axes, as the default pose has them) near where it first meets material."""
    start = findings.scene.frame.to_build(np.array(origin, dtype=float))
    unit = np.array(way) / np.linalg.norm(way)
    met = oracle.stretches(findings.part, origin, np.array(origin) + 60 * unit)
    return fit(findings, start, unit, radius, met[0])


def place(findings: Findings, refusal: Fit | str) -> np.ndarray:
    """The place of a refusal in the file's axes."""
    where = place_of_refusal(refusal)
    assert where is not None, refusal
    return findings.scene.frame.to_file(where)


@pytest.fixture(scope="module")
def box() -> Findings:
    return analyse(BOX.solid())


@pytest.fixture(scope="module")
def two() -> Findings:
    return analyse(TWO.solid())


def test_a_straight_hole_is_a_little_longer_than_the_wall(box: Findings) -> None:
    found = at(box, (0, 0, 0), (1, 0, 0), 1.25)
    assert isinstance(found, Fit)
    assert (found.wall, found.blocked) == (pytest.approx(2.0, abs=1e-5), 0.0)
    assert 0.1 <= found.before <= 0.5
    assert 0.1 <= found.beyond <= 0.5


@pytest.mark.parametrize("tilt", [0.2, 0.5, 0.8])
def test_a_slanted_hole_clears_the_whole_rim(box: Findings, tilt: float) -> None:
    found = at(box, (0, 0, 0), (1, tilt, 0), 1.25)
    assert isinstance(found, Fit)
    # Along an oblique skin the rim lies radius * tan(angle) further out on one side and further in on the other.
    assert found.before > 1.25 * tilt
    assert found.beyond > 1.25 * tilt
    vent = as_vent(box, found, "1", ("A", "A1", "vent"), "")
    assert oracle.clean_cut(BOX, 0, vent) == []


def test_refusals_say_what_is_in_the_way(two: Findings) -> None:
    # The other hollow is a ball: past its edge, some of the hole goes through it and some does not.
    assert isinstance(at(two, (-13, 6.5, 0), (1, 0, 0), 1.25), str)
    # So oblique that the skin runs off sideways.
    assert at(two, (-13, 0, -7), (1, 0, 0.1), 1.25) != at(two, (-13, 0, -7), (0, 0, -1), 1.25)
    assert at(two, (-16, 0, 7), (0.35, 0, 0.1), 1.25) == "the skin is too oblique there"


def test_a_hole_past_another_hollow_is_refused_even_if_only_its_rim_meets_it() -> None:
    # The lower hollow's way out downwards passes a ball whose skin comes within `gap` of the hole's rim.
    for gap, good in ((-0.3, False), (0.1, False), (0.5, True)):
        ball = Shape(3.0, (1.25 + gap + 3.0, 0.3, -6))
        part = Hollowed(Shape((20, 20, 24)), (Shape((16, 16, 10), (0, 0, 5)), ball))
        findings = analyse(part.solid())
        found = at(findings, (0, 0.3, 5), (0, 0, -1), 1.25)
        assert isinstance(found, Fit) == good, gap
        if not good:  # the place is on the ball, which is faceted, beside the hole
            where = place(findings, found)
            assert np.linalg.norm(where - ball.at) == pytest.approx(3.0, abs=0.08)
            assert np.hypot(where[0], where[1] - 0.3) < 1.25 + 0.5
            if gap > 0:
                assert where == pytest.approx((1.25 + gap, 0.3, -6), abs=0.3)


def test_the_corner_of_another_hollow_between_the_rays_is_seen() -> None:
    # A slender box that pokes 0.5 mm into the section of the hole, 0.25 mm wide: narrower than the rays are apart.
    for angle in np.arange(0, 90, 11.0):
        part = b.solid(
            b.box((20, 20, 24)),
            b.inward(b.box((16, 16, 10), (0, 0, 5))),
            b.inward(b.turned(b.box((4, 0.25, 4), (2.75, 0, -6)), angle, (0, 0, 1))),
        )
        findings = analyse(part)
        start = findings.scene.frame.to_build(np.array([0, 0, 5.0]))
        assert isinstance(fit(findings, start, np.array([0.0, 0, -1]), 1.25, (5.0, 17.0)), str), angle


def test_a_shallow_hollow_shortens_the_drill() -> None:
    part = Hollowed(Shape((20, 20, 20)), (Shape((16, 16, 0.8)),))
    found = at(analyse(part.solid()), (0, 0, 0), (0, 0, -1), 1.25)
    assert isinstance(found, Fit)
    assert found.beyond < 0.8
    part = Hollowed(Shape((20, 20, 20)), (Shape((16, 16, 0.2)),))
    flat = analyse(part.solid())
    found = at(flat, (0, 0, 0), (0, 0, -1), 1.25)
    assert found == "the far wall is too near"
    assert place(flat, found)[2] == pytest.approx(0.1, abs=1e-6)  # the ceiling


def test_on_the_plate_no_hole_enters_through_the_face_on_it() -> None:
    standing = analyse(BOX.solid(), Pose(on="plate"))
    found = at(standing, (0, 0, 0), (0, 0, -1), 1.25)
    assert found == "it would enter through the face on the plate"
    assert place(standing, found) == pytest.approx((0, 0, -10), abs=1e-6)
    assert isinstance(at(standing, (0, 0, 0), (1, 0, 0), 1.25), Fit)


@settings(max_examples=60)
@example(seed=56, radius=2.0)  # in a corner: it runs into the side beside its mouth, not into the wall across
@example(seed=60, radius=2.0)
@given(seed=st.integers(0, 2**31), radius=st.sampled_from([0.3, 0.75, 1.25, 2.0]))
def test_whatever_is_fitted_is_a_clean_cut(two: Findings, seed: int, radius: float) -> None:
    rng = np.random.default_rng(seed)
    hollow = int(rng.integers(2))
    shape = TWO.hollows[hollow]
    origin = np.array(shape.at) + rng.uniform(-0.45, 0.45, 3) * np.ptp(shape.bounds, axis=0)
    if not shape.inside(origin[None], 0.1)[0]:
        return
    way = rng.standard_normal(3)
    if len(oracle.stretches(two.part, origin, origin + 60 * way / np.linalg.norm(way))) > 1:
        return  # into the other hollow: whether a wall leads outside is for the search to know
    found = at(two, tuple(origin), tuple(way), radius)
    if isinstance(found, Fit):
        vent = as_vent(two, found, "1", ("A", "A1", "vent"), "")
        assert oracle.clean_cut(TWO, hollow, vent) == []
    else:
        assert found
        if place_of_refusal(found) is not None:  # by the drill, up to what it keeps away from other hollows
            off = place(two, found) - origin
            unit = way / np.linalg.norm(way)
            assert np.linalg.norm(off - (off @ unit) * unit) < radius + 0.51
