"""What is left to do is said for each cavity that does not breathe, with what can be done about it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from hollow_parts import found, proposed

from ventplanner.analysis.cups import Cup
from ventplanner.app.left import Left, left_to_do
from ventplanner.app.outlook import Outlook
from ventplanner.geometry.pose import Pose
from ventplanner.plan.fitting import tool_of_vent
from ventplanner.plan.model import NoVent, Plan, Vent

ALL = proposed().vents


def outlook(*vents: Vent) -> Outlook:
    findings = found()
    return Outlook(findings, findings.scene.cups(tuple(tool_of_vent(findings, v) for v in vents)))


def of(cavity: str) -> list[Vent]:
    return [v for v in ALL if v.cavity == cavity]


def test_each_cavity_is_offered_its_own_vent() -> None:
    first = {cavity: of(cavity)[0].id for cavity in "AB"}
    assert left_to_do(outlook(), Plan(), ALL) == (
        Left(f"A is sealed from 2.0 mm: accept vent {first['A']}, or leave it as it is.", f"proposal {first['A']}"),
        Left(f"B is sealed from 5.0 mm: accept vent {first['B']}, or leave it as it is.", f"proposal {first['B']}"),
    )


def test_nothing_is_left_when_all_breathe() -> None:
    assert left_to_do(outlook(*ALL), Plan(ALL), ()) == ()


def test_one_vent_is_enough_for_a_cavity_to_breathe() -> None:
    vent = of("A")[0]
    left = left_to_do(outlook(vent), Plan((vent,)), [v for v in ALL if v is not vent])
    assert [text.text[0] for text in left] == ["B"]


def test_a_cavity_left_alone_is_not_reproached() -> None:
    left = left_to_do(outlook(), Plan(left_alone=(("A", "the lamp"),)), ALL)
    assert [text.text[0] for text in left] == ["B"]


def test_while_vents_are_looked_for_nothing_is_promised() -> None:
    left = left_to_do(outlook(), Plan(), None)
    assert left[0] == Left("A is sealed from 2.0 mm; vents are being looked for.", "cavity A")


def test_a_cup_without_a_possible_vent_says_why() -> None:
    none = NoVent(
        "A", "A1", "none of 40 straight ways leads through one wall to the outside", "the skin is too oblique"
    )
    left = left_to_do(outlook(), Plan(), [v for v in ALL if v.cavity == "B"], missing=(none,))
    assert left[0].target == "cup A1"
    assert "no vent was found for it, because none of 40 straight ways" in left[0].text
    assert "closest miss: the skin is too oblique" in left[0].text


def test_what_was_set_aside_can_be_brought_back() -> None:
    left = left_to_do(outlook(), Plan(), of("B"), set_aside=of("A")[:1])
    assert (
        left[0].text
        == f"A is sealed from 2.0 mm: bring back vent {of('A')[0].id}, which you set aside, or leave it as it is."
    )


def test_a_vent_that_opens_too_late_is_named() -> None:
    low = of("A")[0]
    x, _, _ = low.entry_mm
    high = replace(low, entry_mm=(x, -10.0, 2.0), exit_mm=(x, -6.0, 2.0), axis=(0.0, 1.0, 0.0))
    left = left_to_do(outlook(high), Plan((high,)), [v for v in ALL if v.cavity == "B"])
    assert left[0].target == f"vent {high.id}"
    assert left[0].text.startswith("A opens ")
    assert f"vent {high.id} opens too late; move nearer to the start" in left[0].text


def test_a_second_opening_is_not_offered_to_a_cup_that_opens_too_late() -> None:
    low = replace(of("A")[0], cup="A1")
    x, _, _ = low.entry_mm
    high = replace(low, entry_mm=(x, -10.0, 2.0), exit_mm=(x, -6.0, 2.0), axis=(0.0, 1.0, 0.0))
    x, y, z = high.exit_mm
    second, nearer = (replace(high, id=name, exit_mm=(x, y, z + by)) for name, by in (("8", 6.0), ("9", -3.0)))
    seen, plan = outlook(high), Plan((high,))
    assert f"vent {high.id} opens too late; move nearer" in left_to_do(seen, plan, (second,))[0].text
    assert f"vent {high.id} opens too late; move nearer" in left_to_do(seen, plan, (), set_aside=(second,))[0].text
    assert "accept vent 9, or leave" in left_to_do(seen, plan, (second, nearer))[0].text


def test_a_vent_that_leads_nowhere_is_named() -> None:
    stray = replace(ALL[0], id="9", cavity="", cup="")
    left = left_to_do(outlook(*ALL), Plan((*ALL, stray)), ())
    assert left == (Left("Vent 9 leads into no cavity: move it or remove it.", "vent 9"),)


def test_without_any_way_out_hanging_otherwise_is_offered() -> None:
    left = left_to_do(outlook(), Plan(), of("B"))
    assert left[0] == Left(
        "A is sealed from 2.0 mm: no vent was found for it; hang the part otherwise, or leave it as it is.", "cavity A"
    )


def test_only_vents_of_cups_that_do_not_breathe_are_blamed() -> None:
    # Cavity A has another cup, whose vent is fine; nothing leads into the one that does not breathe.
    elsewhere = replace(of("B")[0], cavity="A", cup="A2")
    left = left_to_do(outlook(elsewhere), Plan((elsewhere,)), [])
    about_a = next(x for x in left if x.text.startswith("A "))
    assert about_a.text.endswith("no vent leads into cup A1; add one there, or leave it as it is.")
    assert about_a.target == "cup A1"


def late(seen: Outlook, name: str) -> Cup:
    cup = dict(seen.bad("A"))["A1"]
    start = 2.0 * int(name[1:])
    return replace(cup, from_height=start, to_height=start + 3.0)


def test_all_late_cups_of_a_cavity_are_told_at_once() -> None:
    seen = outlook()
    cups = tuple((name, late(seen, name)) for name in ("A1", "A2", "A3"))
    own = tuple(replace(of("A")[0], id=str(k), cup=name) for k, (name, _) in enumerate(cups, start=5))
    told = Told(seen, {"A": cups, "B": ()})
    (left,) = left_to_do(told, Plan(own), ())
    assert left.text == (
        "A1, A2 and A3 open 3.0, 3.0 and 3.0 mm too late, at 5.0, 7.0 and 9.0 mm: vents 5, 6 and 7 open too late;"
        " move nearer to the start, or leave it as it is."
    )


def test_late_cups_are_told_beside_those_for_which_a_vent_is_offered() -> None:
    seen = outlook()
    cups = tuple((name, late(seen, name)) for name in ("A1", "A2"))
    drilled = replace(of("A")[0], id="5", cup="A2")
    told = Told(seen, {"A": cups, "B": ()})
    left = left_to_do(told, Plan((drilled,)), (replace(of("A")[0], id="1"),))
    assert [x.target for x in left] == ["proposal 1", "vent 5"]
    assert left[1].text.startswith("A opens 3.0 mm too late, at 7.0 mm: vent 5 opens too late;")


def test_a_second_opening_high_up_is_not_at_fault() -> None:
    seen = outlook()
    told = Told(seen, {"A": (("A1", late(seen, "A1")),), "B": ()})
    low = replace(of("A")[0], id="1", cup="A1")
    x, y, z = low.exit_mm
    high = replace(low, id="2", exit_mm=(x, y, z + 12.0))
    (left,) = left_to_do(told, Plan((high, low)), ())
    assert ": vent 1 opens too late; move nearer" in left.text
    assert left.target == "vent 1"


ON_PLATE = Pose(on="plate")


def on_plate(*vents: Vent) -> Outlook:
    findings = found(ON_PLATE)
    return Outlook(findings, findings.scene.cups(tuple(tool_of_vent(findings, v) for v in vents)))


def test_a_vent_whose_mouth_the_plate_closes_leaves_its_cavity_closed_and_is_named() -> None:
    through_the_plate = next(v for v in ALL if v.cavity == "A" and v.entry_mm[2] == -10.0)
    seen = on_plate(through_the_plate)
    # The cup starts in the drilled hole now, where there was material: it is cavity A's all the same.
    assert {cavity for cavity, _ in seen.homes} == {"A", "B"}
    assert seen.bad("") == ()
    left = left_to_do(seen, Plan((through_the_plate,)), ())
    assert left[0].text.startswith("A is closed by the plate from 0.0 mm: vent ")
    assert "ends on the plate; move to a side" in left[0].text
    assert left[0].target == f"vent {through_the_plate.id}"


def test_two_vents_through_the_face_on_the_plate_are_both_holes_of_their_cavity() -> None:
    first = next(v for v in ALL if v.cavity == "A" and v.entry_mm[2] == -10.0)
    x, y, z = first.exit_mm
    beside = replace(first, id="9", entry_mm=(x + 5.0, y, -10.0), exit_mm=(x + 5.0, y, z))
    seen = on_plate(first, beside)
    assert [home for home in seen.homes if home[0] == "A"] == [("A", "A1"), ("A", "A1")]
    assert ("", "") not in seen.homes


def test_a_cup_without_a_vent_is_told_beside_what_can_be_done_for_the_others_of_its_cavity() -> None:
    seen = outlook()
    (name, cup), *_ = seen.bad("A")
    two = Told(seen, {"A": ((name, cup), ("A2", cup)), "B": ()})
    none = NoVent("A", "A2", "no straight way was found")
    left = left_to_do(two, Plan(), of("A")[:1], missing=(none,))
    assert [x.target for x in left] == [f"proposal {of('A')[0].id}", "cup A2"]
    assert left[0].text.startswith("A is sealed from 2.0 mm: accept vent")
    assert left[1].text == "A has no vent for cup A2: none was found, because no straight way was found."


def test_a_search_that_was_stopped_is_not_called_in_vain() -> None:
    left = left_to_do(outlook(), Plan(), (), searched=False)
    assert left[0] == Left("A is sealed from 2.0 mm; vents have not been looked for.", "cavity A")


@dataclass(frozen=True, eq=False)
class Told(Outlook):
    """An outlook that names these cups, whatever the columns show."""

    told: dict[str, tuple[tuple[str, Cup], ...]]

    def __init__(self, seen: Outlook, told: dict[str, tuple[tuple[str, Cup], ...]]) -> None:
        object.__setattr__(self, "findings", seen.findings)
        object.__setattr__(self, "cups", seen.cups)
        object.__setattr__(self, "told", told)

    def bad(self, cavity_id: str) -> tuple[tuple[str, Cup], ...]:
        return self.told.get(cavity_id, ())
