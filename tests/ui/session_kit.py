"""What tests of a session have in common: a session without workers, with a part of two hollows."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from hollow_parts import two_bells
from pytestqt.qtbot import QtBot

from ventplanner.io.meshes import write
from ventplanner.ui.journal import Journal
from ventplanner.ui.session import Session

MOST_MS = 20_000


@pytest.fixture(name="part")
def part_(tmp_path: Path) -> str:
    path = tmp_path / "two bells.stl"
    write(two_bells(), path)
    return str(path)


@pytest.fixture(name="session")
def session_(tmp_path: Path) -> Iterator[Session]:
    made = Session(workers=0, journal=Journal(tmp_path / "journal"))
    yield made
    made.shutdown()


@pytest.fixture(name="opened")
def opened_(session: Session, part: str, qtbot: QtBot) -> Session:
    session.open(part)
    settle(qtbot, session)
    return session


def settle(qtbot: QtBot, session: Session) -> None:
    qtbot.waitUntil(lambda: session.findings is not None and not session.stale and session.is_settled, timeout=MOST_MS)


def counted(signal: object) -> list[tuple[object, ...]]:
    calls: list[tuple[object, ...]] = []
    signal.connect(lambda *values: calls.append(values))  # type: ignore[attr-defined]
    return calls


def drag(session: Session, word: str, x: float, z: float) -> None:
    """Drag to a place on the front side, in the file's axes."""
    frame = session.findings.scene.frame  # type: ignore[union-attr]
    session.drag_to(word, frame.to_build(np.array([x, -10.0, z])), np.array([0.0, -1.0, 0.0]))


def shaped(qtbot: QtBot, session: Session) -> None:
    qtbot.waitUntil(lambda: not session._shaper.lane.is_busy, timeout=MOST_MS)
