"""An opening of the model is closed or moved in the worker: one edit, undone as one; the last way out stays."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import trimesh
from bodies import box, cut, rod
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot
from ui.session_kit import LONG_MS, counted, settle

from ventplanner.ui.journal import Journal
from ventplanner.ui.session import Session


@pytest.fixture(scope="module")
def one_session(qapp: QApplication, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Session]:
    """With a worker, one for all tests, since its start takes longer than they do: the cut is made there."""
    made = Session(workers=1, journal=Journal(tmp_path_factory.mktemp("state") / "journal"))
    yield made
    made.shutdown()


@pytest.fixture
def session(one_session: Session, qtbot: QtBot) -> Iterator[Session]:
    """Without a part at the beginning and at the end."""
    yield one_session
    one_session.close_part()
    qtbot.waitUntil(lambda: one_session.job is None, timeout=LONG_MS)


TOP, SIDE = rod((0.4, 0.3, 20.0), (0.4, 0.3, 30.0), 1.0), rod((5.0, 2.0, 9.0), (20.0, 2.0, 9.0), 1.2)


def opened(session: Session, qtbot: QtBot, file: Path, *holes: trimesh.Trimesh) -> trimesh.Trimesh:
    """A hollow box with these holes, written to a file and analysed."""
    hollow = cut(box(26.0, (0.0, 0.0, 13.0)), box(20.0, (0.0, 0.0, 13.0)), *holes)
    assert isinstance(hollow, trimesh.Trimesh)
    hollow.export(file)
    session.open(str(file))
    settle(qtbot, session)
    return hollow


def test_an_opening_is_closed_told_and_brought_back_and_the_last_one_stays(
    session: Session, qtbot: QtBot, tmp_path: Path
) -> None:
    hollow = opened(session, qtbot, tmp_path / "float.stl", TOP, SIDE)
    assert session.findings is not None
    before = session.state
    openings = session.findings.cavities[0].openings
    assert len(openings) == 2
    low = min(openings, key=lambda o: float(o.at[2]))
    failures = counted(session.failed)
    session.close_opening(low)
    qtbot.waitUntil(lambda: session.undo_name == "Close the opening of 2.4 mm", timeout=LONG_MS)
    settle(qtbot, session)
    (left,) = session.findings.cavities[0].openings
    assert float(left.at[2]) > 20.0
    assert session.state is not None
    assert "was closed" in session.state.solid.source.notes[-1]
    session.close_opening(left)
    qtbot.waitUntil(lambda: len(failures) == 1, timeout=LONG_MS)
    assert "would be sealed" in str(failures[0][0])
    session.undo()
    settle(qtbot, session)
    assert session.state is before
    assert np.isclose(session.state.solid.volume, hollow.volume, atol=0.01)


def test_the_only_opening_is_moved_as_one_edit_and_stays_where_no_vent_fits(
    session: Session, qtbot: QtBot, tmp_path: Path
) -> None:
    opened(session, qtbot, tmp_path / "float.stl", SIDE)
    assert session.findings is not None
    before, frame = session.state, session.findings.scene.frame
    (opening,) = session.findings.cavities[0].openings
    said = counted(session.said)
    edge = frame.to_build(np.array([-12.9, 12.9, 0.0])), np.array([0.0, 0.0, -1.0])
    session.move_opening(opening, *edge)
    qtbot.waitUntil(lambda: len(said) == 1, timeout=LONG_MS)
    assert "No vent fits there" in said[0][0]
    assert "The opening stays as it is" in said[0][0]
    assert session.state is before
    session.move_opening(opening, frame.to_build(np.array([3.0, -4.0, 0.0])), np.array([0.0, 0.0, -1.0]))
    qtbot.waitUntil(lambda: session.undo_name == "Move the opening of 2.4 mm", timeout=LONG_MS)
    settle(qtbot, session)
    (vent,) = session.plan.vents
    assert vent.diameter_mm == 2.4
    assert vent.entry_mm == pytest.approx((3.0, -4.0, 0.0), abs=0.01)
    assert session.selected == f"vent {vent.id}"
    assert session.findings.cavities[0].kind == "sealed"  # by itself; the vent opens it
    assert session.verdict is not None
    assert session.verdict.mark != "sealed"
    session.undo()
    settle(qtbot, session)
    assert session.state is before


def test_it_is_moved_by_less_than_its_width_as_one_edit(session: Session, qtbot: QtBot, tmp_path: Path) -> None:
    opened(session, qtbot, tmp_path / "float.stl", SIDE)
    assert session.findings is not None
    before, frame = session.state, session.findings.scene.frame
    (opening,) = session.findings.cavities[0].openings
    session.move_opening(opening, frame.to_build(np.array([13.0, 2.0, 7.0])), np.array([1.0, 0.0, 0.0]))
    qtbot.waitUntil(lambda: session.undo_name == "Move the opening of 2.4 mm", timeout=LONG_MS)
    settle(qtbot, session)
    (vent,) = session.plan.vents
    assert vent.entry_mm == pytest.approx((13.0, 2.0, 7.0), abs=0.01)
    assert session.findings.cavities[0].kind == "sealed"  # by itself; the vent opens it
    assert session.verdict is not None
    assert session.verdict.mark != "sealed"
    session.undo()
    settle(qtbot, session)
    assert session.state is before
