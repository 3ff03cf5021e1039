"""The whole part in one sentence, as it is with the accepted vents."""

from __future__ import annotations

from dataclasses import replace

import pytest
from bodies import box, solid
from hollow_parts import found, proposed

from ventplanner.analysis.cavities import Cavity
from ventplanner.analysis.cups import Cup, State
from ventplanner.analysis.findings import analyse
from ventplanner.app.outlook import Outlook
from ventplanner.app.verdict import Verdict, verdict
from ventplanner.geometry.pose import Pose
from ventplanner.plan.fitting import tool_of_vent
from ventplanner.plan.model import Plan, Vent

ALL = proposed().vents


def outlook(*vents: Vent, pose: Pose | None = None) -> Outlook:
    findings = found(pose)
    return Outlook(findings, findings.scene.cups(tuple(tool_of_vent(findings, v) for v in vents)))


def of(cavity: str) -> Vent:
    return next(v for v in ALL if v.cavity == cavity)


def test_two_sealed_cavities() -> None:
    assert verdict(outlook(), Plan()) == Verdict("sealed", "2 cavities: both are sealed")


def test_it_follows_the_vents() -> None:
    assert verdict(outlook(of("A")), Plan()) == Verdict("sealed", "2 cavities: B is sealed, A breathes")
    assert verdict(outlook(*ALL), Plan()) == Verdict("breathing", "2 cavities: both breathe")


def test_a_vent_too_high_says_by_how_much() -> None:
    low = of("A")
    x, _, _ = low.entry_mm
    high = replace(low, entry_mm=(x, -10.0, 0.0), exit_mm=(x, -6.0, 0.0), axis=(0.0, 1.0, 0.0))
    seen = outlook(high, of("B"))
    (_, cup) = seen.bad("A")[0]
    assert cup.to_height is not None
    told = verdict(seen, Plan())
    assert told.mark == "late"
    assert told.text == f"2 cavities: A opens {cup.to_height - cup.from_height:.1f} mm too late, B breathes"
    # The floor of A is at 2 mm, the lowest point of the hole at 10 mm less its radius.
    assert cup.to_height - cup.from_height == pytest.approx(8.0 - 0.5 * low.diameter_mm, abs=0.2)


def test_what_is_left_as_it_is_is_said_and_not_reproached() -> None:
    plan = Plan(left_alone=(("A", "the lamp"),))
    assert verdict(outlook(*ALL), plan) == Verdict("breathing", "2 cavities: A is left as it is, B breathes")
    both = Plan(left_alone=(("A", ""), ("B", "")))
    assert verdict(outlook(), both) == Verdict("left", "2 cavities: both are left as they are")


def test_a_late_cavity_that_is_left_as_it_is_is_still_said_to_open_late() -> None:
    vents = tuple(v for v in ALL if v.cavity == "B")
    low = next(v for v in ALL if v.cavity == "A")
    x, _, _ = low.entry_mm
    high = replace(low, entry_mm=(x, -10.0, 2.0), exit_mm=(x, -6.0, 2.0), axis=(0.0, 1.0, 0.0))
    seen = outlook(high, *vents)
    told = verdict(seen, Plan((high, *vents), left_alone=(("A", ""),)))
    ((_, cup),) = seen.bad("A")
    assert cup.to_height is not None
    assert (
        told.text
        == f"2 cavities: A is left as it is, opens {cup.to_height - cup.from_height:.1f} mm too late, B breathes"
    )
    assert told.mark == "breathing"


def test_the_plate_is_named_where_it_closes_a_cavity() -> None:
    through_the_plate = next(v for v in ALL if v.cavity == "A" and v.entry_mm[2] == -10.0)
    told = verdict(outlook(through_the_plate, pose=Pose(on="plate")), Plan())
    assert told == Verdict("sealed", "2 cavities: B is sealed, A is closed by the plate")


def test_a_solid_part_has_nothing_to_vent() -> None:
    findings = analyse(solid(box((20.0, 20.0, 20.0))))
    told = verdict(Outlook(findings, findings.cups), Plan())
    assert told == Verdict("none", "No cavity and no cup: the part is solid, or open everywhere")


@pytest.mark.parametrize(
    ("states", "text"),
    [
        ("s", "1 cavity: A is sealed"),
        ("b", "1 cavity: A breathes"),
        ("sbs", "3 cavities: A and C are sealed, B breathes"),
        ("slbb", "4 cavities: A is sealed, B opens 7.0 mm too late, all others breathe"),
        ("lllb", "4 cavities: A, B and C open too late, D breathes"),
        ("ll", "2 cavities: A opens 7.0 mm too late, B opens 7.0 mm too late"),
        ("ssssssbb", "8 cavities: 6 are sealed, all others breathe"),
        ("bbb", "3 cavities: all breathe"),
        ("sss", "3 cavities: all are sealed"),
    ],
)
def test_sentences(states: str, text: str) -> None:
    told = verdict(Told(states), Plan())
    assert told.text == text
    assert told.mark == ("sealed" if "s" in states else "late" if "l" in states else "breathing")


class Told(Outlook):
    """An outlook with cavities of these states: s sealed, l late by 7 mm, b breathing."""

    def __init__(self, states: str) -> None:
        seen = outlook()
        one: Cavity = seen.findings.cavities[0]
        names = [chr(ord("A") + k) for k in range(len(states))]
        findings = replace(seen.findings, cavities=tuple(replace(one, id=name) for name in names))
        object.__setattr__(self, "findings", findings)
        object.__setattr__(self, "cups", seen.cups)
        self.__dict__["told"] = dict(zip(names, states, strict=True))

    def bad(self, cavity_id: str) -> tuple[tuple[str, Cup], ...]:
        cup = self.cups.cups[0]
        late = replace(cup, to_height=cup.from_height + 7.0)
        kinds = {"s": ((f"{cavity_id}1", cup),), "l": ((f"{cavity_id}1", late),)}
        return kinds.get(self.__dict__["told"].get(cavity_id, ""), ())

    def state(self, cavity_id: str) -> State:
        states: dict[str, State] = {"s": "sealed", "l": "late"}
        return states.get(self.__dict__["told"].get(cavity_id, ""), "breathing")
