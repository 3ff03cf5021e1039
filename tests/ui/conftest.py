"""Windows on a real screen. One window with a 3-D view for each process, so each file of tests runs in its own."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot
from ui.fake_session import FakeSession

from ventplanner.ui import main
from ventplanner.ui.dialogs.questions import Question
from ventplanner.ui.settings import Settings
from ventplanner.ui.theme import Theme
from ventplanner.ui.window import MainWindow

if TYPE_CHECKING:
    from ui.view_bench import Bench

LONG_MS = 150_000
SIZE = (1280, 800)


@pytest.fixture(scope="session", autouse=True)
def own_folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Settings, journal and log of the tests are nobody else's."""
    folder = tmp_path_factory.mktemp("state")
    before = os.environ.get("VENTPLANNER_STATE_DIR")
    os.environ["VENTPLANNER_STATE_DIR"] = str(folder)
    yield folder
    if before is None:
        del os.environ["VENTPLANNER_STATE_DIR"]
    else:
        os.environ["VENTPLANNER_STATE_DIR"] = before


@pytest.fixture(scope="session")
def qapp() -> QApplication:
    """The application object as the program makes it."""
    return main.application()


@pytest.fixture(scope="session")
def theme(qapp: QApplication) -> Theme:
    """The look, light."""
    return Theme(qapp, "light")


@pytest.fixture
def window(qtbot: QtBot, theme: Theme, tmp_path: Path) -> Iterator[MainWindow]:
    """With a session that answers at once, and without a view."""
    made = MainWindow(FakeSession(), Settings(tmp_path / "settings.json"), theme)  # type: ignore[arg-type]
    made.resize(1280, 800)
    made.show()
    qtbot.waitExposed(made)
    yield made
    made.leave_at_once()
    made.deleteLater()


@pytest.fixture
def session(window: MainWindow, qtbot: QtBot) -> FakeSession:
    """Of a window in which a part is open."""
    fake = window.session
    assert isinstance(fake, FakeSession)
    fake.open("/parts/bell-buoy.stl")
    window.activateWindow()
    window.setFocus()
    qtbot.waitUntil(window.isActiveWindow)  # shortcuts reach no other
    return fake


@pytest.fixture(scope="session")
def one_window(qapp: QApplication, own_folder: Path) -> Iterator[MainWindow]:
    """The window with its view and a real session, for all tests of a process."""
    settings = Settings()
    settings.set("hint_read", True)
    window = main.make_window(qapp, settings)
    window.resize(*SIZE)
    window.show()
    main.bring_view(window)
    yield window
    window.leave_at_once()
    window.deleteLater()
    qapp.processEvents()


@pytest.fixture
def real(one_window: MainWindow, qtbot: QtBot) -> Iterator[MainWindow]:
    """The same, without a part at the beginning and at the end."""
    one_window.session.close_part()
    one_window.activateWindow()
    one_window.setFocus()
    qtbot.waitUntil(one_window.isActiveWindow)
    yield one_window
    one_window.session.cancel()
    one_window.session.close_part()
    qtbot.waitUntil(lambda: one_window.session.job is None, timeout=LONG_MS)


@pytest.fixture
def bells(tmp_path: Path) -> Path:
    """A file with a small part of two sealed cavities, for what does not ask for a larger one: it is soon looked at."""
    from hollow_parts import two_bells

    from ventplanner.io.meshes import write

    write(two_bells(), tmp_path / "bells.stl")
    return tmp_path / "bells.stl"


@pytest.fixture
def opened(real: MainWindow, qtbot: QtBot) -> Callable[[Path | str], MainWindow]:
    """Open a part and wait until it is looked at, and vents are proposed."""

    def open_it(path: Path | str) -> MainWindow:
        real.files.open(str(path))
        qtbot.waitUntil(lambda: looked_at(real), timeout=LONG_MS)
        return real

    return open_it


def looked_at(window: MainWindow) -> bool:
    """Nothing runs, and what was found is shown."""
    session, view = window.session, window.stage.view
    shown = view is not None and not view.is_busy
    return session.findings is not None and session.job is None and session.is_settled and shown


class Answers:
    """Presses buttons of the questions that appear, as a user would; keeps what was asked."""

    def __init__(self, *answers: str) -> None:
        self.asked: list[str] = []
        self._answers = list(answers)
        self._timer = QTimer()
        self._timer.timeout.connect(self._look)
        self._timer.start(30)

    def _look(self) -> None:
        for question in [w for w in QApplication.topLevelWidgets() if isinstance(w, Question) and w.isVisible()]:
            if self._answers:
                self.asked.append(question.accessibleName() + "\n" + question.accessibleDescription())
                question.buttons[self._answers.pop(0)].click()

    def stop(self) -> None:
        """Look no longer."""
        self._timer.stop()


@pytest.fixture
def answers() -> Iterator[Callable[..., Answers]]:
    """Answer the questions that will be asked, in this order."""
    made: list[Answers] = []

    def answer(*texts: str) -> Answers:
        made.append(Answers(*texts))
        return made[-1]

    yield answer
    for each in made:
        each.stop()


@pytest.fixture(scope="session")
def _bench(qapp: QApplication) -> Iterator[Bench]:
    from ui.view_bench import a_bench

    yield from a_bench(qapp)


@pytest.fixture
def bench(_bench: Bench, qtbot: QtBot) -> Bench:
    """A view and its chart with a fresh cube in it, level, standing, from the front."""
    from ui.view_bench import fresh

    return fresh(_bench, qtbot)
