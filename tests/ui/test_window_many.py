"""Many parts one after the other in one window: nothing of those before is kept."""

from __future__ import annotations

import gc
import os
import threading
import weakref
from collections.abc import Callable
from pathlib import Path

import bodies as b
import trimesh
from PySide6.QtCore import QObject
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot
from ui.conftest import LONG_MS, looked_at
from vtkmodules.vtkCommonCore import vtkObjectBase

from ventplanner.ui.window import MainWindow
from ventplanner.ui.work.lanes import Lane

PARTS, SETTLED_AFTER = 16, 5


def part_file(folder: Path, number: int) -> Path:
    """A hollow ball of its own size, some 40 000 triangles."""
    skins = (b.ball(15.0 + 0.1 * number, fine=5), b.inward(b.ball(12.0, (0, 0, 0.05 * number), fine=5)))
    path = folder / f"float-{number}.stl"
    trimesh.util.concatenate(skins).export(path)
    return path


def resident() -> int:
    """Bytes of this process in memory (Linux)."""
    return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE")


def threads() -> int:
    """Threads that this program has made and that are still there."""
    return sum(thread.name.startswith(("ventplanner", "graphics")) for thread in threading.enumerate())


def graphics() -> int:
    """Objects of the graphics library that Python still holds."""
    return sum(isinstance(each, vtkObjectBase) for each in gc.get_objects())


def is_idle(window: MainWindow) -> bool:
    """Whether no thread of the session works, not even on what nobody waits for any more."""
    return all(lane._running is None for lane in window.session.findChildren(Lane))


def widgets(window: MainWindow) -> int:
    """Qt's objects: those in the window, and windows beside it."""
    return len(window.findChildren(QObject)) + len(QApplication.topLevelWidgets())


def test_many_parts_in_one_window_do_not_make_it_grow(
    opened: Callable[[Path | str], MainWindow], tmp_path: Path, qtbot: QtBot
) -> None:
    held: list[int] = []
    counted: list[tuple[int, int, int]] = []
    gone: list[weakref.ref[object]] = []
    for number in range(PARTS):
        window = opened(part_file(tmp_path, number))
        assert window.session.findings is not None
        gone.append(weakref.ref(window.session.findings))
        window.session.accept_all()
        window.session.undo()  # what was accepted by now is no unsaved work that would have to be asked about
        qtbot.waitUntil(lambda window=window: looked_at(window), timeout=LONG_MS)  # type: ignore[misc]
        # Python lists objects below, also such as another thread is just making, which that does not survive.
        qtbot.waitUntil(lambda window=window: is_idle(window), timeout=LONG_MS)  # type: ignore[misc]
        qtbot.wait(1)  # what is deleted later is deleted
        gc.collect()
        held.append(resident())
        counted.append((threads(), graphics(), widgets(window)))

    def kept() -> int:
        gc.collect()
        return sum(found() is not None for found in gone)

    # A thread that still works on a part that was closed ends at its next step.
    qtbot.waitUntil(lambda: kept() <= 2, timeout=LONG_MS)
    for kind, numbers in zip(("threads", "graphics", "widgets"), zip(*counted, strict=True), strict=True):
        # One that is kept for each part would make eight more at least; what is just at work may differ by a few.
        # A card may show more at one moment than at another, so of the last ones the fewest counts.
        assert min(numbers[-4:]) <= max(numbers[:SETTLED_AFTER]) + 6, (kind, numbers)
    # A part of this size takes about 40 MB with its findings: one that is kept each time would show.
    assert held[-1] - held[SETTLED_AFTER] < 120e6
