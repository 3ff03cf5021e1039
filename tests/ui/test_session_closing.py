"""An opening of the model is closed in the worker: one edit, undone as one; the last way out stays."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import trimesh
from bodies import box, cut, rod
from pytestqt.qtbot import QtBot
from ui.session_kit import LONG_MS, counted, settle

from ventplanner.ui.journal import Journal
from ventplanner.ui.session import Session


@pytest.fixture
def session(tmp_path: Path) -> Iterator[Session]:
    """With a worker: the cut is made there."""
    made = Session(workers=1, journal=Journal(tmp_path / "journal"))
    yield made
    made.shutdown()


def test_an_opening_is_closed_told_and_brought_back_and_the_last_one_stays(
    session: Session, qtbot: QtBot, tmp_path: Path
) -> None:
    top, side = rod((0.4, 0.3, 20.0), (0.4, 0.3, 30.0), 1.0), rod((5.0, 2.0, 9.0), (20.0, 2.0, 9.0), 1.2)
    file = tmp_path / "float.stl"
    hollow = cut(box(26.0, (0.0, 0.0, 13.0)), box(20.0, (0.0, 0.0, 13.0)), top, side)
    assert isinstance(hollow, trimesh.Trimesh)
    hollow.export(file)
    session.open(str(file))
    settle(qtbot, session)
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
