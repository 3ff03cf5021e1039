"""The line at the bottom: what is left to do and what else is worth a look, and the one primary button."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, NamedTuple

from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QMenu, QPushButton, QSizePolicy, QWidget

from ventplanner.ui.panels.fields import button, label, restyle
from ventplanner.ui.units import sentence
from ventplanner.ui.words import count

if TYPE_CHECKING:
    from collections.abc import Callable

    from ventplanner.ui.session import Session

GAP = 18
CREVICES = 0.001
"""Cups below the filter of less than this share of the part are no hollow that somebody made (own judgement)."""

SOLID = "This part is solid: hollow it…"


class Line(NamedTuple):
    """A sentence, and what it selects."""

    text: str
    target: str


class ToDo(QFrame):
    """As many sentences as fit; the others behind a button."""

    def __init__(
        self,
        session: Session,
        export: Callable[[], object],
        hollow: Callable[[], object],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setObjectName("todo")
        self._session = session
        self._left: tuple[Line, ...] = ()
        self._lines: tuple[Line, ...] = ()
        self._title = label("Left to do")
        font = self._title.font()
        font.setWeight(font.Weight.DemiBold)
        self._title.setFont(font)
        self._rest = label("")
        self._when_none = ""
        self._rest.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self._buttons: list[QPushButton] = []
        self._place = QHBoxLayout()
        self._place.setSpacing(GAP)
        self.more = button("", self._show_more, "quiet")
        self.again = button("", session.analyse_again, "primary")
        self.again.hide()
        self.export = button("Drill and export…", export, "primary", tip="Ctrl+E")
        self.hollow = button(SOLID, hollow, "primary", tip="Ctrl+Shift+H")
        self.hollow.hide()
        layout = QHBoxLayout(self)
        layout.setContentsMargins(16, 9, 12, 9)
        layout.setSpacing(GAP)
        layout.addWidget(self._title)
        layout.addLayout(self._place)
        layout.addWidget(self._rest, 1)
        layout.addWidget(self.more)
        layout.addWidget(self.again)
        layout.addWidget(self.hollow)
        layout.addWidget(self.export)
        session.changed.connect(self.show_session)
        session.job_changed.connect(self.show_session)
        self.show_session()

    @property
    def sentences(self) -> tuple[str, ...]:
        """What it says is left to do."""
        return tuple(line.text for line in self._left)

    @property
    def remarks(self) -> tuple[str, ...]:
        """What it says is worth a look, and hinders nothing."""
        return tuple(line.text for line in self._lines[len(self._left) :])

    def show_session(self) -> None:
        """Show what is left now."""
        session = self._session
        known = session.findings is not None and not session.stale and session.is_known
        self._left = tuple(Line(sentence(x.text), x.target) for x in session.left) if known else ()
        told = {line.target for line in self._left}  # about these something graver is said
        remarks = session.remarks if known else ()
        self._lines = (*self._left, *(Line(sentence(x.text), x.target) for x in remarks if x.target not in told))
        self._title.setText("Left to do" if self._left else "Nothing is left to do, but")
        self._title.setVisible(bool(self._lines))
        self._when_none = "" if self._lines else self._when_nothing(known)
        restyle(self, "left", bool(self._left))
        self.export.setEnabled(known and (session.job is None or session.job.name != "Exporting"))
        self._offer_again()
        self.hollow.setVisible(known and _is_solid(session))
        self.hollow.setEnabled(session.job is None or session.job.name != "Hollowing")
        first = self.again.isHidden() and self.hollow.isHidden() and self._is_worth_an_export()
        restyle(self.export, "kind", "primary" if first else "")
        self._fit()

    def _offer_again(self) -> None:
        """What was cancelled or failed can be begun again."""
        halted = self._session.interrupted
        text = {"analysis": "Analyse again", "proposals": "Look for vents"}[halted.what] if halted is not None else ""
        self.again.setText(text)
        self.again.setAccessibleName(text)
        self.again.setVisible(bool(text))

    def _is_worth_an_export(self) -> bool:
        """Without a vent, and with nothing left to do, the file would be the same part once more."""
        return bool(self._session.plan.vents or self._lines)

    def _when_nothing(self, known: bool) -> str:
        session = self._session
        if session.interrupted is not None and session.interrupted.what == "analysis":
            undo = ", or undo the last change" if session.findings is not None and session.undo_name else ""
            return f"What is in the part is not known: analyse it again{undo}."
        if not known:
            if session.state is None or not session.is_settled:
                return "Looking at the part…" if session.state is not None else ""
            return "What the vents do is not known: it could not be worked out. F5 tries again."
        if session.findings is not None and not session.findings.cavities:
            return _without_cavity(session)
        vents, alone = len(session.plan.vents), [cavity for cavity, _ in session.plan.left_alone]
        with_vents = f" with {count(vents, 'vent')}" if vents else ""
        at_first = f"; {self._session.at_first}" if self._session.at_first else ""
        if alone:
            names = f"{', '.join(alone[:-1])} and {alone[-1]}" if len(alone) > 1 else alone[0]
            left = f"{names} {'is' if len(alone) == 1 else 'are'} left as {'it is' if len(alone) == 1 else 'they are'}"
            others = session.findings is not None and len(session.findings.cavities) > len(alone)
            return f"Nothing is left to do: {left}{f', all others breathe{with_vents}' if others else ''}{at_first}."
        return f"Nothing is left to do: every cavity breathes{with_vents}{at_first}."

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Fit anew."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        """Show as many sentences as there is room for; the first always, shortened if need be."""
        while len(self._buttons) < len(self._lines) and len(self._buttons) < 4:
            made = button("", partial(self._go, len(self._buttons)), "sentence")
            made.setCursor(Qt.CursorShape.PointingHandCursor)
            self._buttons.append(made)
            self._place.addWidget(made)
        again = sum(b.sizeHint().width() + GAP for b in (self.again, self.hollow) if not b.isHidden())
        room = self.width() - self.export.sizeHint().width() - self._title.sizeHint().width() - again - 100 - 4 * GAP
        shown = 0
        for at, made in enumerate(self._buttons):
            fits = at < len(self._lines)
            if fits:
                text = self._lines[at].text
                metrics = made.fontMetrics()
                if at == 0:
                    text = metrics.elidedText(text, Qt.TextElideMode.ElideRight, max(room - 30, 120))
                width = metrics.horizontalAdvance(text) + 10 + GAP
                fits = at == 0 or (shown == at and width <= room)
                room -= width
                made.setText(text)
                made.setAccessibleName(self._lines[at].text)
                made.setToolTip(self._lines[at].text if text != self._lines[at].text else "")
            made.setVisible(fits)
            shown += fits
        self._fit_rest(self.width() - self.export.sizeHint().width() - again - 28 - 2 * GAP)
        hidden = len(self._lines) - shown
        self.more.setText(f"{hidden} more…")
        self.more.setVisible(hidden > 0)

    def _fit_rest(self, room: int) -> None:
        text = self._rest.fontMetrics().elidedText(self._when_none, Qt.TextElideMode.ElideRight, max(room, 120))
        self._rest.setText(text)
        self._rest.setAccessibleName(self._when_none)
        self._rest.setToolTip(self._when_none if self._when_none != text else "")

    def _go(self, at: int) -> None:
        if at < len(self._lines):
            self._session.select(self._lines[at].target)

    def _show_more(self) -> None:
        menu = QMenu(self)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        for line in self._lines:
            menu.addAction(line.text.replace("&", "&&"), partial(self._session.select, line.target))
        corner = self.more.mapToGlobal(QPoint(0, 0))
        menu.popup(corner - QPoint(0, menu.sizeHint().height()))


def _is_solid(session: Session) -> bool:
    """No cavity, and next to no volume in the cups that are left out because they are small, such as crevices of the
    skin: solid, as far as columns tell."""
    findings = session.findings
    if findings is None or findings.cavities:
        return False
    return not findings.cups.filtered_count or findings.cups.filtered_volume < CREVICES * findings.volume


def _without_cavity(session: Session) -> str:
    """A part in which nothing was found."""
    filtered = session.findings is not None and session.findings.cups.filtered_count
    if filtered:
        return "No cavity and no cup above the filter: there is nothing to vent. A smaller filter (Ctrl+,) shows more."
    return "No cavity and no cup was found: there is nothing to vent."
