"""The test piece: written as a file to be printed, then asked which of its holes are open, and a profile fitted."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QDialog, QFileDialog, QGridLayout, QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from ventplanner.errors import VentplannerError
from ventplanner.printed.sizes import SIZES_MM
from ventplanner.profile import Profile
from ventplanner.ui.dialogs.file_dialogs import dress_soon
from ventplanner.ui.dialogs.naming import Naming
from ventplanner.ui.dialogs.questions import tell
from ventplanner.ui.panels.fields import Choice, button, label, row
from ventplanner.ui.theme import colours
from ventplanner.ui.units import exact, sentence, shown_unit
from ventplanner.ui.words import file_name
from ventplanner.ui.work.lanes import Lane

if TYPE_CHECKING:
    from ventplanner.printed.model import Fitted
    from ventplanner.progress import Progress
    from ventplanner.ui.bench import Bench

NOT_LOOKED, NONE_OPEN = "not looked at", "none is open"
FILE = "test-piece.stl"
ROWS = (
    ("roof", "R", "Upright holes in the roof", "Look down through the roof against the light."),
    ("back", "B", "Sideways holes in the back wall", "Look in through the open front."),
    ("floor", "F", "Upright holes in the floor", "They go through the base layers."),
)
"""Rows of holes of the test piece: name, letter in the picture, what it is, how to look."""

HOW = (
    "Print it flat on the plate as it lies in the file, wash it, and hold it against the light; where you are in doubt"
    " try a fine wire. A hole is open if light or the wire comes through. Each column has one size: the number of pits"
    " behind a hole of the roof is the number of its column."
)


class PiecePicture(QWidget):
    """The test piece from its open front: three rows of holes, a letter at each, a number below each column.

    Holes from the smallest open one on are rings, smaller ones are filled.
    """

    def __init__(self, sizes: tuple[float, ...]) -> None:
        super().__init__()
        self._sizes = sizes
        self._open: dict[str, float | None] = {name: None for name, *_ in ROWS}
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName("The test piece from its open front; rings are open holes, filled ones are closed")

    def show_open(self, smallest: dict[str, float | None]) -> None:
        """The smallest open size of each row; None where it is not known."""
        self._open = dict(smallest)
        self.update()

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Wide and low, as the piece."""
        return QSize(520, 150)

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Roof, back and floor as three strips, one above the other."""
        c, painter = colours(), QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        left, strip, foot = 26.0, (self.height() - 26.0) / 3.0, 26.0
        wide = (self.width() - left - 8.0) / len(self._sizes)
        body = QRectF(left, 1.0, wide * len(self._sizes), self.height() - foot)
        painter.setPen(QPen(QColor(c.edge), 1.2))
        painter.setBrush(QColor(c.hover))
        painter.drawRoundedRect(body, 5, 5)
        painter.setPen(QPen(QColor(c.line), 1.0))
        for k in (1, 2):
            painter.drawLine(round(left), round(1 + k * strip), round(body.right()), round(1 + k * strip))
        for at, (name, letter, *_) in enumerate(ROWS):
            middle = 1.0 + (at + 0.5) * strip
            painter.setPen(QColor(c.ink))
            painter.drawText(QRectF(0, middle - 12, left - 6, 24), int(Qt.AlignmentFlag.AlignCenter), letter)
            for k, size in enumerate(self._sizes):
                self._hole(painter, name, left + (k + 0.5) * wide, middle, size)
        painter.setPen(QColor(c.muted))
        for k, size in enumerate(self._sizes):
            box = QRectF(left + k * wide - 6, self.height() - foot + 2, wide + 12, foot - 2)
            painter.drawText(box, int(Qt.AlignmentFlag.AlignCenter), exact(size))
        painter.end()

    def _hole(self, painter: QPainter, name: str, x: float, y: float, size: float) -> None:
        c, least = colours(), self._open[name]
        radius = 3.0 + 6.0 * size
        box = QRectF(x - radius, y - radius, 2 * radius, 2 * radius)
        if least is None:
            painter.setPen(QPen(QColor(c.edge), 1.4, Qt.PenStyle.DotLine))
            painter.setBrush(Qt.BrushStyle.NoBrush)
        elif size >= least - 1e-9:
            painter.setPen(QPen(QColor(c.good), 2.0))
            painter.setBrush(QColor(c.paper))
        else:
            painter.setPen(QPen(QColor(c.bad), 1.6))
            painter.setBrush(QColor(c.bad))
        painter.drawEllipse(box)


class TestPieceDialog(QDialog):
    """Write the piece, say which holes are open, read what was fitted, and keep it as a profile."""

    __test__ = False  # no test, in spite of its name

    def __init__(self, bench: Bench, folder: Callable[[], str], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Test piece")
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self._bench, self._folder, self._sizes = bench, folder, SIZES_MM
        self._profile: Profile | None = None
        self.picture = PiecePicture(SIZES_MM)
        self.choices = {name: self._choice(title) for name, _, title, _ in ROWS}
        self.write = button("Write the test piece…", self._write, "primary")
        self.written = label("", "muted", wrap=True)
        self.notes = label("", wrap=True, select=True)
        self.keep = button("Save as a profile…", self._keep, "primary")
        self.close_ = button("Close", self.reject)
        self._fitting, self._writing = Lane("fit", self), Lane("test piece", self)
        self._fitting.done.connect(lambda _, fitted: self._show(fitted))
        self._fitting.failed.connect(lambda _, error: tell(self, error, "The profile could not be fitted"))
        self._writing.done.connect(lambda path, _: self.written.setText(f"{file_name(path)} is written, in mm."))
        self._writing.failed.connect(lambda _, error: self._not_written(error))
        self._build()
        self._fit()
        self.resize(620, 670)

    def _build(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(22, 18, 22, 16)
        column.setSpacing(9)
        column.addWidget(label("1. Print it", "heading"))
        column.addWidget(label(HOW, wrap=True))
        line = row(self.write, stretch=False)
        line.addWidget(self.written, 1)
        column.addLayout(line)
        column.addSpacing(6)
        column.addWidget(
            label(f"2. Which holes are open? Smallest open size of each row, {shown_unit('mm')}", "heading")
        )
        column.addWidget(self.picture)
        grid = QGridLayout()
        grid.setHorizontalSpacing(12)
        grid.setVerticalSpacing(6)
        for at, (name, letter, title, how) in enumerate(ROWS):
            said = label(f"{letter}   {title}")
            said.setBuddy(self.choices[name])
            grid.addWidget(said, at, 0)
            grid.addWidget(label(how, "muted", wrap=True), at, 1)
            grid.addWidget(self.choices[name], at, 2)
        grid.setColumnStretch(1, 1)
        column.addLayout(grid)
        column.addSpacing(6)
        column.addWidget(label(f"3. What follows, beginning with “{self._bench.in_use.name}”", "heading"))
        column.addWidget(self.notes)
        column.addStretch(1)
        end = QHBoxLayout()
        end.addWidget(label("Fitted numbers are estimates.", "muted"))
        end.addStretch(1)
        end.addWidget(self.close_)
        end.addWidget(self.keep)
        column.addLayout(end)

    def _choice(self, title: str) -> Choice:
        choice = Choice()
        choice.addItem(NOT_LOOKED, None)
        for size in self._sizes:
            choice.addItem(f"{exact(size)} {shown_unit('mm')}", size)
        choice.addItem(NONE_OPEN, None)
        choice.setAccessibleName(f"Smallest open size: {title}")
        choice.setMinimumWidth(136)
        choice.currentIndexChanged.connect(lambda _: self._fit())
        return choice

    def smallest(self) -> dict[str, float | None]:
        """The smallest open size of each row; None where it was not looked at, or none is open."""
        return {name: choice.currentData() for name, choice in self.choices.items()}

    # What is done

    def _write(self) -> None:
        dress_soon(self)
        name = str(Path(self._folder()) / FILE)
        path, _ = QFileDialog.getSaveFileName(self, "Write the test piece", name, "STL (*.stl)")
        if path:
            self.write_to(path if path.lower().endswith(".stl") else f"{path}.stl", asked=path.lower().endswith(".stl"))

    def write_to(self, path: str, asked: bool = False) -> None:
        """Write the piece; an existing file is replaced only if that was asked before."""

        def work(_progress: Progress) -> None:
            from ventplanner.io.meshes import write
            from ventplanner.printed.calibration import test_piece

            write(test_piece(), path, overwrite=asked)

        self.written.setText("The test piece is being made…")
        self._writing.ask(path, work)

    def _not_written(self, error: Exception) -> None:
        self.written.setText("")
        tell(self, error, "The test piece was not written")

    def _fit(self) -> None:
        """Fit to what was said so far."""
        found, profile = self.smallest(), self._bench.in_use
        self.picture.show_open(found)
        self._profile = None
        self.keep.setEnabled(False)
        if all(size is None for size in found.values()):
            self._fitting.stop()
            self._tell(("Say of at least one row which is its smallest open hole.",))
            return

        def work(_progress: Progress) -> Fitted:
            from ventplanner.printed.calibration import fit

            return fit(profile, found["roof"], found["back"], found["floor"])

        self._fitting.ask(f"{found}", work)

    def _show(self, fitted: Fitted) -> None:
        """Tell what came of it."""
        self._profile = fitted.profile
        self._tell(fitted.notes)
        self.keep.setEnabled(fitted.profile != self._bench.in_use)

    def _tell(self, notes: Sequence[str]) -> None:
        shut = [title for name, _, title, _ in ROWS if self.choices[name].currentText() == NONE_OPEN]
        more = [f"{title}: none is open, so all that is known is that the limit lies above." for title in shut]
        self.notes.setText("\n".join(sentence(text) for text in (*notes, *more)))

    def done(self, result: int) -> None:
        """Nothing is awaited any more."""
        self._fitting.close()
        self._writing.close()
        super().done(result)

    def _keep(self) -> None:
        profile, profiles = self._profile, self._bench.profiles
        if profile is None:
            return
        given = profiles.free_name(f"{profile.name[:50]} fitted")
        Naming(self, "Save and use", given, profiles.check_name, lambda name: self._save(profile.named(name))).open()

    def _save(self, profile: Profile) -> None:
        try:
            self._bench.profiles.save(profile)
        except VentplannerError as error:
            tell(self, error, "Not saved")
            return
        self._bench.use(profile)
        self.accept()
