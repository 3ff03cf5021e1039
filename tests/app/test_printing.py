"""How a plan prints, as the window asks for it: keys, vents by their drills, ways out, what is left to do."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
from hollow_parts import found, proposed, two_bells
from plan_values import vent

from ventplanner.app.printing import (
    LIGHT,
    Printed,
    WayOut,
    left_as_printed,
    printed_key,
    printing,
    shut_by_the_print,
    told_causes,
    way_out,
)  # fmt: skip
from ventplanner.app.state import AppState
from ventplanner.errors import Cancelled
from ventplanner.geometry.pose import Pose
from ventplanner.plan.model import Plan
from ventplanner.profile import Profile
from ventplanner.profile_parameters import PROFILE_PARAMETERS

COARSE = Profile("Coarse", pixel_mm=0.2, layer_height_mm=0.1)
SPREADING = replace(COARSE, name="Spreading", base_layers=40, base_spread_mm=0.6)
"""The lowest 4 mm grow by 0.6 mm sideways: a hole of 1 mm through them prints closed."""

ON_PLATE = Pose(on="plate")


def low_vent(name: str = "1") -> Plan:
    """Into A from the front (y = -10), 2.7 mm above the lower side (z = -7.3), along y, 1 mm wide."""
    return Plan(
        (
            vent(
                name,
                entry_mm=(-9.0, -10.0, -7.3),
                exit_mm=(-9.0, -6.0, -7.3),
                axis=(0.0, 1.0, 0.0),
                diameter_mm=1.0,
                wall_mm=4.0,
            ),
        )
    )


@cache
def spread() -> Printed:
    return printing(found(ON_PLATE), low_vent(), SPREADING)


def test_the_way_out_is_cancelled_in_the_search_for_a_size() -> None:
    printed, shares = spread(), []

    def cancel(phase: str, share: float) -> None:
        shares.append((phase, share))
        if len(shares) == 2:
            raise Cancelled

    (one,) = low_vent().vents
    with pytest.raises(Cancelled):
        way_out(printed, found(ON_PLATE), low_vent(), one, cancel)
    assert len(shares) == 2
    assert {phase for phase, _ in shares} == {"Sizes that print open"}
    assert 0.0 <= shares[0][1] < shares[1][1] < 0.5


def test_the_key_is_that_of_the_light_and_the_drills() -> None:
    state = AppState(two_bells(), plan=proposed())
    key = printed_key(state, COARSE)
    assert printed_key(state, replace(COARSE, viscosity_mpas=900.0, lift_speed_mm_min=10.0)) == key
    for name in LIGHT:
        other = "Another" if name == "name" else getattr(COARSE, name) + (1 if name == "base_layers" else 0.01)
        assert printed_key(state, replace(COARSE, **{name: other})) != key, name  # type: ignore[arg-type]
    assert {n for n, p in PROFILE_PARAMETERS.items() if p.group in ("light", "base layers")} == {*LIGHT} - {"name"}
    renamed = Plan(tuple(replace(v, id=f"9{v.id}") for v in proposed().vents))
    assert printed_key(replace(state, plan=renamed), COARSE) == key
    assert printed_key(replace(state, plan=Plan(proposed().vents[:1])), COARSE) != key


def test_a_vent_is_found_by_its_drill_whatever_it_is_called() -> None:
    (first,) = low_vent("7").vents
    opening = spread().of(first)
    assert opening is not None
    assert opening.nominal_mm == 1.0
    assert spread().of(replace(first, diameter_mm=1.1)) is None


def test_a_vent_through_base_layers_is_told_with_the_size_that_opens_and_the_height_that_is_clear() -> None:
    plan = low_vent()
    opening = spread().of(plan.vents[0])
    assert opening is not None
    assert not opening.open
    assert opening.cause == "base layers"
    way = way_out(spread(), found(ON_PLATE), plan, plan.vents[0])
    # Its lowest point is 2.2 mm above the plate, the base layers end at 4 mm.
    assert way.higher_mm == pytest.approx(1.8, abs=0.11)
    assert way.opens_mm is not None
    assert 1.0 < way.opens_mm < 3.0
    assert way.as_asked_mm is not None
    assert way.as_asked_mm > way.opens_mm
    (left,) = left_as_printed(spread(), plan, {"1": way})
    assert left.target == "vent 1"
    assert left.text == (
        f"Vent 1 would print closed (base layers, estimate): {way.opens_mm:.1f} mm would print open, or put it"
        f" {way.higher_mm:.1f} mm higher."
    )


def test_as_wide_as_it_is_told_it_does_print_open() -> None:
    plan = low_vent()
    way = way_out(spread(), found(ON_PLATE), plan, plan.vents[0])
    assert way.opens_mm is not None
    wider = Plan((replace(plan.vents[0], diameter_mm=way.opens_mm),))
    opening = printing(found(ON_PLATE), wider, SPREADING, before=spread()).of(wider.vents[0])
    assert opening is not None
    assert opening.open
    assert opening.printed_mm >= 4 * SPREADING.pixel_mm - 1e-9


def test_causes_are_told_in_their_order_and_add_up() -> None:
    opening = spread().of(low_vent().vents[0])
    assert opening is not None
    told = told_causes(opening)
    assert [cause for cause, _ in told][-1] == "base layers"
    assert sum(mm for _, mm in told) == pytest.approx(opening.nominal_mm - opening.printed_mm, abs=0.03)


@pytest.mark.parametrize(
    ("way", "text"),
    [
        (None, "make it wider, or put it elsewhere."),
        (WayOut(None, None, 2.0), "put it 2.0 mm higher."),
        (WayOut(3.0, None, None), "3.0 mm would print open."),
    ],
)
def test_ways_out_that_are_not_there_are_not_told(way: WayOut | None, text: str) -> None:
    (left,) = left_as_printed(spread(), low_vent(), {} if way is None else {"1": way})
    assert left.text.endswith(text)


def test_a_cavity_that_is_left_as_it_is_is_not_reproached() -> None:
    plan = low_vent()
    assert shut_by_the_print(spread(), plan) == ("A",)
    alone = replace(plan, left_alone=(("A", "never mind"),))
    assert shut_by_the_print(spread(), alone) == ()
