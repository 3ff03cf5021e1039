"""The start and the end of the program with a window."""

from __future__ import annotations

import os
import signal
import sys
import threading
from importlib import import_module
from types import FrameType, TracebackType
from typing import TYPE_CHECKING

from PySide6.QtCore import QLocale, QObject, Qt, QTimer, Signal, qVersion
from PySide6.QtGui import QSurfaceFormat
from PySide6.QtWidgets import QApplication

from ventplanner import __version__
from ventplanner.ui.collecting import put_aside
from ventplanner.ui.log import log, start_log, stop_log
from ventplanner.ui.marks import program_icon
from ventplanner.ui.settings import Settings
from ventplanner.ui.theme import CHOICES, Theme

if TYPE_CHECKING:
    from ventplanner.ui.window import MainWindow

SIGNALS = (signal.SIGINT, signal.SIGTERM)
LISTEN_MS = 200
"""Python hears a signal only when it gets to run: it does so at least this often."""


def run(paths: list[str]) -> int:
    """Open the window, and in it the first of the files; returns the exit code."""
    start_log()
    log.info("ventplanner %s, Qt %s, Python %s", __version__, qVersion(), sys.version.split()[0])
    app = application()
    settings = Settings()
    window = make_window(app, settings)
    end = _Ending(app, window)
    window.show()
    app.processEvents()
    log.info("The window is shown")
    start = Start(window)
    QTimer.singleShot(0, lambda: start.begin(paths))
    try:
        code = app.exec()
    finally:
        end.over()
    log.info("Ended with %d", code)
    stop_log()
    return code


def application() -> QApplication:
    """The application object, as the view needs it."""
    known = QApplication.instance()
    if isinstance(known, QApplication):
        return known
    _set_surface()
    app = QApplication([sys.argv[0] if sys.argv else "ventplanner"])
    app.setApplicationName("ventplanner")
    app.setApplicationDisplayName("ventplanner")
    app.setDesktopFileName("ventplanner")
    app.setApplicationVersion(__version__)
    app.setWindowIcon(program_icon())
    QLocale.setDefault(QLocale.system())
    return app


def _set_surface() -> None:
    """Before any window: a window that gets a 3-D view later is the right kind from the start, and does not flash."""
    surface = QSurfaceFormat()
    surface.setRenderableType(QSurfaceFormat.RenderableType.OpenGL)
    surface.setProfile(QSurfaceFormat.OpenGLContextProfile.CoreProfile)
    surface.setVersion(3, 2)
    surface.setDepthBufferSize(24)
    surface.setSamples(0)
    QSurfaceFormat.setDefaultFormat(surface)
    QApplication.setAttribute(Qt.ApplicationAttribute.AA_ShareOpenGLContexts)


def make_window(app: QApplication, settings: Settings) -> MainWindow:
    """The window with a session of its own."""
    from ventplanner.ui.session import Session
    from ventplanner.ui.window import MainWindow

    choice = settings.get("theme", "system")
    theme = Theme(app, next((c for c in CHOICES if c == choice), "system"))
    return MainWindow(Session(), settings, theme)


def bring_view(window: MainWindow) -> None:
    """Make what draws the part, and put it in its place."""
    from ventplanner.ui.chart import Chart
    from ventplanner.ui.view.view import View

    window.stage.install(View(), Chart())


class Start(QObject):
    """What follows once the window is shown, in this order: the file is read, the view comes, the workers get ready.

    Loading the graphics library takes longer than the window may stand still, so a thread does it.
    """

    ready = Signal()
    _loaded = Signal(object)

    def __init__(self, window: MainWindow) -> None:
        super().__init__(window)
        self._window = window
        self._loaded.connect(self._have_graphics)
        self._thread = threading.Thread(target=self._load, name="graphics", daemon=True)

    def begin(self, paths: list[str]) -> None:
        """Begin; at most one file is opened."""
        if paths:
            self._window.files.open(paths[0])
        else:
            self._window.offer_recovery()
        self._thread.start()

    def _load(self) -> None:
        try:
            import_module("ventplanner.ui.view.view")
        except ImportError as error:
            self._loaded.emit(error)
        else:
            self._loaded.emit(None)

    def _have_graphics(self, error: ImportError | None) -> None:
        if error is not None:
            log.error("The view cannot be loaded: %s", error)
            self._window.show_failure(error, "The 3-D view cannot be loaded")
            return
        if self._window.is_leaving:
            return
        bring_view(self._window)
        log.info("The view is there")
        put_aside()
        self.ready.emit()
        self._window.session.warm_up()


class _Ending:
    """A clean end on SIGTERM and Ctrl-C, and a word to the user about errors that nobody expected."""

    def __init__(self, app: QApplication, window: MainWindow) -> None:
        self._app = app
        self._window = window
        self._asked = 0
        self._hook = sys.excepthook
        sys.excepthook = self._unforeseen
        self._before = {number: signal.signal(number, self._stop) for number in SIGNALS}
        self._timer = QTimer()
        self._timer.timeout.connect(self._listen)
        self._timer.start(LISTEN_MS)

    def over(self) -> None:
        """Back to how it was."""
        self._timer.stop()
        sys.excepthook = self._hook
        for number, handler in self._before.items():
            signal.signal(number, handler)

    def _stop(self, number: int, _frame: FrameType | None) -> None:
        """Asked to stop from outside. Python calls this between any two steps of its own, perhaps while a lock is held
        that ending needs: so it is only noted here. Asked twice, whatever does not end is left behind."""
        if self._asked:
            os._exit(128 + number)
        self._asked = number

    def _listen(self) -> None:
        """Nobody may be there to answer questions: the journal keeps unsaved work."""
        if self._asked and not self._window.is_leaving:
            log.info("Stopped by signal %d", self._asked)
            self._window.leave_at_once()
            self._app.exit(128 + self._asked)

    def _unforeseen(self, kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        log.error("Unforeseen", exc_info=(kind, error, trace))
        if os.environ.get("VENTPLANNER_RAISE"):
            self._hook(kind, error, trace)
        self._window.show_unforeseen(error)
