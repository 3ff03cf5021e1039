"""A session looks inside by itself, and minds supports from a second file: loaded, undone, removed, saved, refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from bodies import ball, block, box, inward, rod, solid
from pytestqt.qtbot import QtBot
from ui.session_kit import MOST_MS, counted, opened_, part_, session_, settle  # noqa: F401  fixtures

from ventplanner.geometry.solid import Solid
from ventplanner.io.meshes import write
from ventplanner.io.supports import read_supports
from ventplanner.options import InsideLimits
from ventplanner.ui.session import Session


def under_the_block() -> Solid:
    """A raft and struts under the block of the two bells, 3 mm apart."""
    struts = [rod((x, y, -15.0), (x, y, -10.0), 0.4) for x in range(-18, 19, 3) for y in range(-9, 10, 3)]
    return solid(block((-21, -11, -15.2), (21, 11, -14.8)), *struts)


@pytest.fixture
def supports(tmp_path: Path) -> str:
    path = tmp_path / "supports.stl"
    write(under_the_block(), path)
    return str(path)


def looked(qtbot: QtBot, session: Session) -> None:
    settle(qtbot, session)
    qtbot.waitUntil(lambda: session.inside is not None and not session._analyst.looking.lane.is_busy, timeout=MOST_MS)


def floor_proposals(session: Session) -> int:
    return sum(abs(v.entry_mm[2] + 10.0) < 1e-3 for v in session.proposals)


def test_the_inside_is_looked_at_without_being_asked(opened: Session, qtbot: QtBot) -> None:
    looked(qtbot, opened)
    assert opened.inside is not None
    assert [(c.cavity, round(c.area)) for c in opened.inside.ceilings] == [("A", 144), ("B", 144)]
    assert opened.remarks == ()  # a flat ceiling is usual


def test_other_limits_renew_the_look_inside_and_nothing_else(opened: Session, qtbot: QtBot) -> None:
    looked(qtbot, opened)
    findings = opened.findings
    opened.set_limits(InsideLimits(thin_mm=2.5, overhang_deg=0.0))
    assert opened.undo_name == "Change the limits of the look inside"
    assert opened.is_unsaved
    looked(qtbot, opened)
    assert opened.inside is not None
    assert opened.inside.ceilings == ()
    assert {round(t.thickness, 6) for t in opened.inside.thin} == {2.0}  # all walls of the two bells
    assert opened.findings is findings
    opened.undo()
    looked(qtbot, opened)
    assert opened.inside is not None
    assert len(opened.inside.ceilings) == 2


def test_a_loose_piece_is_remarked_and_hinders_nothing(session: Session, tmp_path: Path, qtbot: QtBot) -> None:
    write(solid(box(30.0), inward(box(24.0)), ball(4.0, (0, 0, 2))), tmp_path / "rattle.stl")
    session.open(str(tmp_path / "rattle.stl"))
    looked(qtbot, session)
    assert [r.text for r in session.remarks if r.target == "part"] == ["Look inside: 1 piece is held by nothing."]
    assert all("held by nothing" not in left.text for left in session.left)


def test_supports_are_minded_by_proposals_shown_and_undone(opened: Session, supports: str, qtbot: QtBot) -> None:
    assert floor_proposals(opened) > 0
    opened.load_supports(supports)
    qtbot.waitUntil(lambda: opened.undo_name == "Load supports supports.stl", timeout=MOST_MS)
    looked(qtbot, opened)
    assert opened.proposals
    assert floor_proposals(opened) == 0
    assert opened.picture is not None
    assert opened.picture.supports is not None
    assert opened.picture.supports.vertices[:, 2].min() == pytest.approx(-5.2)
    assert opened.is_unsaved
    opened.undo()
    looked(qtbot, opened)
    assert opened.picture.supports is None
    assert floor_proposals(opened) > 0
    opened.redo()
    looked(qtbot, opened)
    opened.remove_supports()
    looked(qtbot, opened)
    assert opened.undo_name == "Remove the supports"
    assert opened.state is not None
    assert opened.state.supports is None


def test_a_vent_that_supports_came_to_stand_on_is_left_to_do(opened: Session, supports: str, qtbot: QtBot) -> None:
    opened.accept_all()
    settle(qtbot, opened)
    assert opened.left == ()
    opened.load_supports(supports)
    qtbot.waitUntil(lambda: opened.undo_name.startswith("Load"), timeout=MOST_MS)  # type: ignore[union-attr]
    looked(qtbot, opened)
    blocked = [left for left in opened.left if "support" in left.text]
    assert blocked
    assert blocked[0].target.startswith("vent ")


def test_another_unit_reads_the_supports_again_in_it(opened: Session, supports: str, qtbot: QtBot) -> None:
    opened.load_supports(supports)
    qtbot.waitUntil(lambda: opened.undo_name == "Load supports supports.stl", timeout=MOST_MS)
    with qtbot.waitSignal(opened.part_changed, timeout=MOST_MS):
        opened.set_unit("cm")
    assert opened.state is not None
    known = opened.state.supports
    assert known is not None
    assert known.problem == ""
    assert known == read_supports(supports, opened.state.solid)  # to the last bit as read afresh
    assert known.solid is not None
    assert np.ptp(known.solid.bounds, axis=0)[0] == pytest.approx(420.0)
    Path(supports).unlink()
    with qtbot.waitSignal(opened.part_changed, timeout=MOST_MS):
        opened.set_unit("mm")
    assert opened.state.supports is not None
    assert "cannot be read in the new unit" in opened.state.supports.problem
    opened.undo()
    assert opened.state.supports == known


def test_the_part_itself_is_refused_as_supports(opened: Session, part: str, qtbot: QtBot) -> None:
    failures = counted(opened.failed)
    opened.load_supports(part)
    qtbot.waitUntil(lambda: bool(failures), timeout=MOST_MS)
    assert "is the part itself" in str(failures[0][0])
    assert opened.state is not None
    assert opened.state.supports is None


def test_a_plan_opens_with_its_supports_or_says_that_they_are_gone(
    opened: Session, supports: str, tmp_path: Path, qtbot: QtBot
) -> None:
    opened.load_supports(supports)
    qtbot.waitUntil(lambda: bool(opened.undo_name), timeout=MOST_MS)
    looked(qtbot, opened)
    plan = str(tmp_path / "work.ventplan")
    with qtbot.waitSignal(opened.saved, timeout=MOST_MS):
        opened.save(plan)
    opened.open(plan)
    qtbot.waitUntil(lambda: opened.path == plan, timeout=MOST_MS)
    looked(qtbot, opened)
    assert opened.state is not None
    assert opened.state.supports is not None
    assert opened.state.supports.solid is not None
    assert not opened.is_unsaved
    Path(supports).unlink()
    opened.open(plan)
    qtbot.waitUntil(lambda: opened.state is not None and bool(opened.state.supports.problem), timeout=MOST_MS)  # type: ignore[union-attr]
    looked(qtbot, opened)
    assert opened.findings is not None
    assert any("cannot be read" in note for note in opened.findings.notes)
    assert floor_proposals(opened) > 0
    assert not opened.is_unsaved
