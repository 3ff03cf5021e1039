"""What tests of a session have in common: a session without workers, with a part of two hollows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hollow_parts import two_bells
from pytestqt.qtbot import QtBot

from ventplanner.io.meshes import write
from ventplanner.profile import Profile
from ventplanner.ui.journal import Journal
from ventplanner.ui.session import Session

MOST_MS = 60_000
LONG_MS = 120_000
COARSE = Profile("Coarse", pixel_mm=0.25, layer_height_mm=0.1)
CLOSING = replace(COARSE, name="Closing", blur_mm=0.5, exposure_ratio=60.0)
"""So much light spreads that a hole of 2.5 mm prints closed, and one of some 4 mm does not."""


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


@pytest.fixture(name="coarse")
def coarse_(opened: Session) -> Session:
    opened.set_profile(COARSE)
    opened.accept(opened.proposals[0].id)
    return opened


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
