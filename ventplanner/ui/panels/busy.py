"""The running job: its name, the share that is done, the time that is left, and Cancel."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QHBoxLayout, QProgressBar, QWidget

from ventplanner.ui.panels.fields import button, label
from ventplanner.ui.work.pace import in_words

if TYPE_CHECKING:
    from ventplanner.ui.session import Session

TICK_MS = 1000
"""The time that is left is told anew so often."""

PATIENCE_MS = 150
"""A job that takes no longer is not worth a flicker."""


class Busy(QWidget):
    """Lives in the status bar, and on the page that is shown while a part is opened."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._name = label("", "muted")
        self._name.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self._bar = QProgressBar()
        self._bar.setTextVisible(False)
        self._bar.setFixedSize(140, 6)
        self._share = label("", "muted")
        self._share.setFixedWidth(self._share.fontMetrics().horizontalAdvance("100 %"))
        self._share.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self._left = label("", "muted")
        self.cancel = button("Cancel", session.cancel, "quiet")
        layout = QHBoxLayout(self)
        layout.setContentsMargins(8, 1, 8, 1)
        layout.setSpacing(10)
        for widget in (self._name, self._bar, self._share, self._left, self.cancel):
            layout.addWidget(widget, 0, Qt.AlignmentFlag.AlignVCenter)
        self._wait = QTimer(self)
        self._wait.setSingleShot(True)
        self._wait.setInterval(PATIENCE_MS)
        self._wait.timeout.connect(self._appear)
        self._tick = QTimer(self)
        self._tick.setInterval(TICK_MS)
        self._tick.timeout.connect(self.show_job)
        session.job_changed.connect(self.show_job)
        self._inside(False)
        self.show_job()

    def show_job(self) -> None:
        """Show the job as it is now, or nothing."""
        job = self._session.job
        if job is None:
            self._wait.stop()
            self._tick.stop()
            self._inside(False)
            return
        step = f": {job.step[:1].lower()}{job.step[1:]}" if job.step and job.step.lower() != job.name.lower() else ""
        known = 0.0 <= job.share <= 1.0
        self._name.setText(f"{job.name}{step}{'' if known else '…'}")
        self._name.setMinimumWidth(self._name.sizeHint().width())
        self._bar.setValue(round(100 * job.share) if known else 0)
        self._bar.setVisible(known and not self._name.isHidden())
        self._share.setText(f"{round(100 * job.share)} %" if known else "")
        self._show_left(job.left_s)
        spoken = (self._name.text(), self._share.text() or "share not known", self._left.text())
        self._bar.setAccessibleName(", ".join(text for text in spoken if text))
        if not job.cancellable and self.cancel.hasFocus():
            self.window().setFocus()
        self.cancel.setVisible(job.cancellable and not self._name.isHidden())
        self.cancel.setAccessibleName(f"Cancel {job.name[:1].lower()}{job.name[1:]}")
        if self._name.isHidden() and not self._wait.isActive():
            self._wait.start()

    def _show_left(self, seconds: float | None) -> None:
        """The time that is left: told once a second, and not anew with each step, so that it can be read."""
        if seconds is None or not self._tick.isActive() or self.sender() is self._tick:
            self._left.setText("" if seconds is None else in_words(seconds))
        self._left.setVisible(bool(self._left.text()) and not self._name.isHidden())
        if not self._tick.isActive():
            self._tick.start()

    def _appear(self) -> None:
        self._inside(self._session.job is not None)

    def _inside(self, shown: bool) -> None:
        """Hidden pieces keep no room, but the line keeps its height."""
        if not shown and self.cancel.hasFocus():
            self.window().setFocus()  # else it would go to the next button, which Return would press
        for widget in (self._name, self._bar, self._share, self._left, self.cancel):
            widget.setVisible(shown)
        job = self._session.job
        self._bar.setVisible(shown and job is not None and 0.0 <= job.share <= 1.0)
        self._left.setVisible(shown and bool(self._left.text()))
        self.cancel.setVisible(shown and job is not None and job.cancellable)
