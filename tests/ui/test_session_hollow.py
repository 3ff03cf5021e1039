"""A solid part is hollowed in the worker: one edit, undone as one, and not lost when the program is killed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from bodies import box, solid
from pytestqt.qtbot import QtBot
from ui.session_kit import LONG_MS, counted

from ventplanner.app.hollow_edit import HollowFacts
from ventplanner.errors import ParameterError
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.solid import Solid
from ventplanner.hollowing.rules import HollowRules
from ventplanner.io.meshes import write
from ventplanner.io.project import load_plan
from ventplanner.ui.journal import Journal, abandoned
from ventplanner.ui.session import Session

RULES = HollowRules(wall_mm=2.0, radius_mm=0.0, fineness="coarse")
INSIDE_MM3 = 16.0**3


@pytest.fixture
def session(tmp_path: Path) -> Iterator[Session]:
    made = Session(workers=1, journal=Journal(tmp_path / "journal"))
    yield made
    made.shutdown()


def settle(qtbot: QtBot, session: Session) -> None:
    """The worker gets ready meanwhile, so it may take a while."""
    qtbot.waitUntil(lambda: session.findings is not None and not session.stale and session.is_settled, timeout=LONG_MS)


def opened(session: Session, qtbot: QtBot, tmp_path: Path) -> Solid:
    file = tmp_path / "bollard.stl"
    write(solid(box(20.0)), file)
    session.open(str(file))
    settle(qtbot, session)
    assert session.state is not None
    return session.state.solid


def hollowed(session: Session, qtbot: QtBot, rules: HollowRules = RULES) -> HollowFacts:
    told = counted(session.hollowed)
    session.hollow(rules)
    qtbot.waitUntil(lambda: len(told) == 1, timeout=LONG_MS)
    settle(qtbot, session)
    (facts,) = told[0]
    assert isinstance(facts, HollowFacts)
    return facts


def test_a_solid_part_is_hollowed_saved_and_made_solid_again_and_too_thick_a_wall_is_told(
    session: Session, qtbot: QtBot, tmp_path: Path
) -> None:
    before = opened(session, qtbot, tmp_path)
    session.mark(FaceMask.of(np.arange(len(before.faces)) == 3), "Keep a face clear")
    settle(qtbot, session)
    failures = counted(session.failed)
    session.hollow(replace(RULES, wall_mm=12.0))
    qtbot.waitUntil(lambda: len(failures) == 1, timeout=LONG_MS)
    assert isinstance(failures[0][0], ParameterError)
    assert failures[0][1] == "The part was not hollowed"
    assert session.hollow_rules.wall_mm == 12.0  # to go on from
    facts = hollowed(session, qtbot)
    assert session.state is not None
    assert session.findings is not None
    # A cube of 20 mm with a wall of 2 mm: the hollow is the cube of 16 mm.
    assert facts.saved_mm3 == pytest.approx(INSIDE_MM3, rel=2e-3)
    assert facts.least_mm >= 1.98
    assert (facts.largest_before_mm2, facts.largest_after_mm2) == pytest.approx((400.0, 400.0), rel=1e-2)
    assert facts.weight_g(1100.0) == pytest.approx(1.1e-3 * INSIDE_MM3, rel=2e-3)
    assert session.picture is not None
    shown = session.picture.sections
    assert shown is not None
    # 20 mm square, and at half the height with a hollow of 16 mm square in it.
    (band,) = shown.bands
    assert float(np.interp(10.0, shown.heights, band.without)) == pytest.approx(400.0, rel=1e-2)
    assert float(np.interp(10.0, shown.heights, band.with_vents)) == pytest.approx(400.0 - 256.0, rel=2e-2)
    (cavity,) = session.findings.cavities
    assert cavity.volume == pytest.approx(INSIDE_MM3, rel=2e-2)
    assert session.proposals
    assert session.undo_name == "Hollow the part, wall 2 mm"
    assert "was hollowed" in session.state.solid.source.notes[-1]
    kept = session.state.keep_clear
    assert kept is not None
    assert kept.count == 1
    session.save(str(tmp_path / "bollard.ventplan"))
    qtbot.waitUntil(lambda: not session.is_unsaved, timeout=LONG_MS)
    assert load_plan(tmp_path / "bollard.ventplan").part.digest == session.state.solid.digest
    session.undo()
    settle(qtbot, session)
    assert session.state.solid is before
    assert session.picture.sections is None
    assert not session.findings.cavities
    session.redo()
    settle(qtbot, session)
    assert len(session.findings.cavities) == 1


def test_bodies_that_overlap_are_made_one_before_they_are_hollowed(
    session: Session, qtbot: QtBot, tmp_path: Path
) -> None:
    file = tmp_path / "twins.stl"
    write(solid(box(20.0), box(20.0, (10.0, 3.0, 1.0))), file)
    session.open(str(file))
    settle(qtbot, session)
    facts = hollowed(session, qtbot)
    # Cubes of 16 mm, of which 6 x 13 x 15 mm are in both, and what the two edges where they meet let be hollow.
    assert facts.saved_mm3 == pytest.approx(2 * INSIDE_MM3 - 6.0 * 13.0 * 15.0, rel=0.01)
    assert len(facts.hollows_mm3) == 1
    assert facts.notes[0] == "Before it was hollowed: skins that crossed others made one with them: 2."


def test_a_killed_program_leaves_the_hollowed_part_to_be_recovered(
    session: Session, qtbot: QtBot, tmp_path: Path
) -> None:
    opened(session, qtbot, tmp_path)
    hollowed(session, qtbot)
    assert session.state is not None
    digest, notes = session.state.solid.digest, session.state.solid.source.notes
    session.accept(session.proposals[0].id)
    session.shutdown(keep_unsaved=True)
    (left,) = abandoned(tmp_path / "journal")
    again = Session(workers=0, journal=Journal(tmp_path / "journal"))
    try:
        again.recover(left)
        settle(qtbot, again)
        assert again.state is not None
        assert again.findings is not None
        assert (again.state.solid.digest, again.state.solid.source.notes) == (digest, notes)
        assert len(again.plan.vents) == len(again.findings.cavities) == 1
        assert again.path.endswith("bollard.stl")
        assert not left.file.exists()
        parts = list((tmp_path / "journal").glob("*.ventplan"))
        assert len(parts) == 1  # the one that this program keeps now
        again.close_part()
        assert list((tmp_path / "journal").glob("*.ventplan")) == []
    finally:
        again.shutdown()
