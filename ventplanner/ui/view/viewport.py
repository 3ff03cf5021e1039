"""The widget that owns the render window. It renders when it was told that something changed, and never else.

Qt repaints a widget for many reasons (a label drawn above it, another window that was before it); then the last frame
is shown again, which costs next to nothing however large the part is.
"""

from __future__ import annotations

import time
from typing import Any

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QWidget
from pyvistaqt.rwi import QVTKRenderWindowInteractor

from ventplanner.ui.view.stage import Stage

REST_MS = 200
"""After this long without a change the picture is drawn in full."""

FAST_MS = 20.0
"""Where a full frame takes less than this, the stand-ins are not needed."""


_Base: Any = QVTKRenderWindowInteractor  # it has no types


class Viewport(_Base):  # type: ignore[misc]
    """A QOpenGLWidget with one renderer. `frame_drawn` tells the milliseconds of each frame that was rendered."""

    frame_drawn = Signal(float, bool)
    """Milliseconds, and whether it was in full."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.stage = Stage()
        self._window: Any = self.GetRenderWindow()
        self._window.SetMultiSamples(0)
        self._window.AddRenderer(self.stage.renderer)
        # No interactor style: the view handles all input itself.
        interactor: Any = self._Iren
        interactor.SetInteractorStyle(None)
        interactor.Enable()
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setAcceptDrops(False)
        self._stale = True
        self._is_coarse = False
        self._full_ms = 0.0
        self._can_be_coarse = False
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.setInterval(REST_MS)
        self._rest.timeout.connect(self._in_full)

    @property
    def is_resting(self) -> bool:
        """True when the picture is, or will next be, drawn in full."""
        return not self._is_coarse and not self._rest.isActive()

    def set_can_be_coarse(self, can: bool) -> None:
        """Whether the part has stand-ins. Forgets how long a full frame took."""
        self._can_be_coarse = can
        self._full_ms = 0.0
        self._in_full()

    def refresh(self) -> None:
        """Render at the next repaint, in the detail that is shown now."""
        self._stale = True
        self.update()

    def moving(self) -> None:
        """Render at the next repaint, coarse where that is faster, until nothing has moved for a while."""
        coarse = self._can_be_coarse and self._full_ms > FAST_MS
        if coarse or self._full_ms > FAST_MS:
            self._set_detail(coarse, smooth=False)
            self._rest.start()
        self.refresh()

    def _in_full(self) -> None:
        self._rest.stop()
        self._set_detail(False, smooth=True)
        self.refresh()

    def _set_detail(self, coarse: bool, smooth: bool) -> None:
        self._is_coarse = coarse
        self.stage.use_coarse(coarse)
        self.stage.set_smooth_edges(smooth)

    def paintGL(self) -> None:  # noqa: N802 - Qt's name
        """Render if anything changed, then show the frame."""
        in_full = self.is_resting
        rendering = self._stale
        self._Iren.SetEnableRender(rendering)
        self._stale = False
        began = time.perf_counter()
        super().paintGL()
        if rendering:
            took = 1e3 * (time.perf_counter() - began)
            if in_full:
                self._full_ms = took
            self.frame_drawn.emit(took, in_full)

    def resizeGL(self, width: int, height: int) -> None:  # noqa: N802 - Qt's name
        """The frame has another size."""
        super().resizeGL(width, height)
        self._stale = True

    def contextMenuEvent(self, event: Any) -> None:  # noqa: N802 - Qt's name
        """Leave it to whoever holds the view."""
        event.ignore()

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:  # noqa: N802 - Qt's name
        """Leave files to the window."""
        event.ignore()

    def dropEvent(self, event: QDropEvent) -> None:  # noqa: N802 - Qt's name
        """Leave files to the window."""
        event.ignore()

    def closeEvent(self, event: QCloseEvent) -> None:  # noqa: N802 - Qt's name
        """Give back what the graphics library holds."""
        self._rest.stop()
        super().closeEvent(event)
