"""A damaged part is looked at and mended in the worker: what was told is what is taken, as one edit that is undone."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from bodies import box, solid
from pytestqt.qtbot import QtBot
from ui.session_kit import LONG_MS, counted

from ventplanner.app.mend_edit import MendFacts
from ventplanner.errors import MeshError
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.topology import topology
from ventplanner.io.meshes import write
from ventplanner.mending.rules import MendRules
from ventplanner.ui.journal import Journal
from ventplanner.ui.session import Session


@pytest.fixture
def session(tmp_path: Path) -> Iterator[Session]:
    made = Session(workers=1, journal=Journal(tmp_path / "journal"))
    yield made
    made.shutdown()


def settle(qtbot: QtBot, session: Session) -> None:
    qtbot.waitUntil(lambda: session.findings is not None and not session.stale and session.is_settled, timeout=LONG_MS)


def looked_at(session: Session, qtbot: QtBot, rules: MendRules) -> object:
    """What mending would change, or why it cannot."""
    told = counted(session.mend_found)
    session.look_for_damage(rules)
    qtbot.waitUntil(lambda: len(told) == 1, timeout=LONG_MS)
    return told[0][0]


def test_a_torn_part_is_looked_at_then_mended_and_undone(session: Session, qtbot: QtBot, tmp_path: Path) -> None:
    whole = solid(box(20.0).subdivide().subdivide())
    torn = np.delete(whole.faces, [7, 100], axis=0)
    torn[3] = torn[3, ::-1]
    file = tmp_path / "torn.stl"
    write(Solid(whole.vertices, np.ascontiguousarray(torn)), file)
    session.open(str(file))
    settle(qtbot, session)
    assert session.state is not None
    before = session.state.solid
    session.mark(FaceMask.of(np.arange(len(before.faces)) == 20), "Keep a face clear")
    error = looked_at(session, qtbot, MendRules(largest_mm=0.1))
    assert isinstance(error, MeshError)
    assert error.at_mm is not None
    session.mend()  # nothing was told that could be done
    facts = looked_at(session, qtbot, MendRules(without=frozenset({"holes"})))
    assert isinstance(facts, MendFacts)
    assert [one.step for one in facts.steps] == ["orient"]
    assert facts.left[0][:2] == ("open edges", 6)
    facts = looked_at(session, qtbot, MendRules())
    assert isinstance(facts, MendFacts)
    assert {one.step: one.count for one in facts.steps} == {"orient": 1, "holes": 2}
    assert session.state.solid is before  # looking changes nothing
    done = counted(session.mended)
    session.mend()
    qtbot.waitUntil(lambda: len(done) == 1, timeout=LONG_MS)
    settle(qtbot, session)
    assert done == [(facts,)]
    assert session.undo_name == "Mend the part"
    assert session.findings is not None
    assert session.findings.health == ()
    assert topology(session.state.solid).is_closed
    assert session.state.solid.volume == pytest.approx(20.0**3, rel=1e-6)
    assert session.state.keep_clear is not None
    assert session.state.keep_clear.count == 1
    session.undo()
    settle(qtbot, session)
    assert session.state.solid is before
