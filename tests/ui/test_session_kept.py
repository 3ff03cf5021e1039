"""Numbers of proposals stay, what ends late is told for what it is, and a lack of room leaves a worker that works."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hollow_parts import ON_SIDE, two_bells
from pytestqt.qtbot import QtBot
from ui.session_kit import MOST_MS, counted, opened_, part_, session_, settle  # noqa: F401  fixtures

from ventplanner.app.lookup import look_up
from ventplanner.app.state import numbered_apart
from ventplanner.errors import NotVerifiedError, WorkError
from ventplanner.plan.model import Plan, Vent
from ventplanner.ui.session import Session
from ventplanner.ui.work import memory
from ventplanner.ui.work.messages import EXPORTING, DrillOrder, Exported, Part
from ventplanner.ui.work.worker import Worker


def three(opened: Session) -> tuple[Vent, ...]:
    return tuple(replace(opened.proposals[0], id=name) for name in "123")


def numbers(vents: tuple[Vent, ...]) -> list[str]:
    return [v.id for v in vents]


def test_deciding_on_a_proposal_renumbers_no_other(opened: Session) -> None:
    one, two, third = three(opened)
    shown = numbered_apart((one, two, third), (one, two))
    assert numbers(shown) == ["4", "5", "3"]
    # Whichever is accepted or set aside, the rest are called as before.
    assert numbers(numbered_apart((two, third), (one, two, shown[0]))) == ["5", "3"]
    assert numbers(numbered_apart((one, third), (one, two, shown[1]))) == ["4", "3"]
    assert numbers(numbered_apart((one, two), (one, two, third))) == ["4", "5"]


def test_a_proposal_has_no_number_of_one_set_aside_in_another_pose(opened: Session, qtbot: QtBot) -> None:
    opened.set_aside_proposal(opened.proposals[0].id)
    opened.set_pose(ON_SIDE)
    settle(qtbot, opened)
    assert opened.proposals
    assert not set(numbers(opened.set_aside)) & set(numbers(opened.proposals))


def test_proposals_keep_their_numbers_when_a_cavity_is_left_as_it_is(opened: Session, qtbot: QtBot) -> None:
    opened.accept_all()
    opened.set_pose(ON_SIDE)
    settle(qtbot, opened)
    before = {v.id: v.entry_mm for v in opened.proposals}
    cavity = opened.proposals[0].cavity
    opened.leave_alone(cavity)
    assert opened.left_alone_ids == (cavity,)
    assert {v.id: v.entry_mm for v in opened.proposals}.items() <= before.items()


def test_names_found_by_an_analysis_do_not_keep_another_file_from_being_opened(
    opened: Session, part: str, qtbot: QtBot
) -> None:
    opened.accept_all()
    settle(qtbot, opened)
    history, findings = opened.history, opened.findings
    assert history is not None
    assert findings is not None
    opened.open(part)  # after "do not save"
    opened._history = history.amended(look_up(history.state, findings))
    with qtbot.waitSignal(opened.part_changed, timeout=MOST_MS):
        pass
    assert opened.plan.vents == ()


def test_names_found_while_a_plan_is_saved_do_not_make_it_unsaved(
    opened: Session, tmp_path: Path, qtbot: QtBot
) -> None:
    opened.accept_all()
    opened.set_pose(ON_SIDE)
    old = opened._work_key(opened.state)  # type: ignore[arg-type]
    settle(qtbot, opened)  # the plan has been looked up meanwhile
    assert opened._work_key(opened.state) != old  # type: ignore[arg-type]
    opened._saved(str(tmp_path / "work.ventplan"), old)
    assert not opened.is_unsaved
    opened.remove(opened.plan.vents[0].id)
    assert opened.is_unsaved


def test_an_export_of_the_part_before_is_a_line_and_no_card(opened: Session, part: str, qtbot: QtBot) -> None:
    old = opened._work_key(opened.state)  # type: ignore[arg-type]
    with qtbot.waitSignal(opened.part_changed, timeout=MOST_MS):
        opened.open(part)
    settle(qtbot, opened)
    cards, lines, failures = counted(opened.exported), counted(opened.said), counted(opened.failed)
    opened._exported(EXPORTING, old, Exported("/parts/seal.stl", (), 2))
    assert (cards, opened.last_export, failures) == ([], None, [])
    assert lines == [("seal.stl, of the part that was open before, is verified and written.",)]
    opened._exported(EXPORTING, old, Exported("/parts/seal.stl", ("one cup is sealed",), 2))
    assert isinstance(failures[0][0], NotVerifiedError)
    assert len(lines) == 1
    assert opened.last_export is None


def test_a_cut_that_failed_is_tried_again_with_the_next_part(opened: Session) -> None:
    opened._analyst.cutting._refused.add("a cut")
    opened.close_part()
    assert not opened._analyst.cutting._refused


def test_a_block_that_cannot_be_made_at_all_is_the_same_error(monkeypatch: pytest.MonkeyPatch) -> None:
    def none(*_: object, **__: object) -> None:
        raise OSError(24, "Too many open files")

    monkeypatch.setattr(memory.shared_memory, "SharedMemory", none)
    with pytest.raises(WorkError, match="Too many open files"):
        memory.Shared((("points", "<f8", (1000, 1000), 0),))


@pytest.mark.slow
def test_a_worker_whose_answer_finds_no_room_takes_the_next_order(
    opened: Session, monkeypatch: pytest.MonkeyPatch, qtbot: QtBot
) -> None:
    made, room, solid = Worker(lambda: None), [0], two_bells()
    plan = Plan(opened.proposals)
    reserve = memory._reserve

    def full(block: object) -> None:
        room[0] += 1
        if room[0] == 2:  # the first is the order's, the second the answer's
            raise OSError(28, "No space left on device")
        reserve(block)  # type: ignore[arg-type]

    def order(part: Part) -> DrillOrder:
        return DrillOrder(part, plan)

    try:
        qtbot.waitUntil(lambda: made.state == "ready", timeout=3 * MOST_MS)
        monkeypatch.setattr(memory, "_reserve", full)
        with pytest.raises(WorkError, match="no room"):
            made.carry_out(solid, order, lambda _phase, _share: None)
        assert made.state == "ready"
        mesh = made.carry_out(solid, order, lambda _phase, _share: None)
        assert isinstance(mesh, dict)
        assert len(mesh["faces"]) > len(solid.faces)
    finally:
        made.close()
