"""What a card says about suction: of a cavity or cup, without vents and with those that are accepted."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QGridLayout, QLabel, QSizePolicy, QVBoxLayout, QWidget

from ventplanner.ui.marks import draw_state, state_colours
from ventplanner.ui.panels.fields import clear, label, restyle, rule
from ventplanner.ui.theme import colours
from ventplanner.ui.units import sentence, system
from ventplanner.ui.words import mm

if TYPE_CHECKING:
    from ventplanner.app.breathing import Breathing
    from ventplanner.app.suction import Pull
    from ventplanner.profile import Profile
    from ventplanner.ui.session import Session

BEFORE_LAST_CHANGE = "From before the last change; being worked out anew."
COMING = "Being worked out…"
ABOUT_ROWS = "Before and after the vents you accepted. Start-up is until a vent is complete."
AS_PRINTED = "As printed"
TOLD_AS = {AS_PRINTED: "At the lift as printed"}
NOT_KNOWN = "Not known: it could not be worked out."


def figure(name: str, text: str, told: str = "") -> QLabel:
    """A figure at the right. told: how a screen reader names it, if that is more than its name."""
    shown = label(text, select=True)
    shown.setAccessibleName(f"{told or name}: {text}")
    shown.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop)
    return shown


class Sign(QWidget):
    """A tick or a cross, and its word beside it."""

    def __init__(self) -> None:
        super().__init__()
        self._good = True
        self._word = ""
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)

    def say(self, good: bool, word: str) -> None:
        """Whether it is good, and in words."""
        self._good, self._word = good, word
        self.setAccessibleName(word)
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """As wide as its word."""
        metrics = self.fontMetrics()
        return QSize(metrics.horizontalAdvance(self._word) + 24, metrics.height() + 4)

    def minimumSizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Its word may be shortened."""
        return QSize(60, self.sizeHint().height())

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """The mark, then the word."""
        mark, word = state_colours("accepted" if self._good else "short", colours())
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        middle = self.rect().center().y() + 1
        draw_state(painter, QRectF(1, middle - 5, 10, 10), "accepted" if self._good else "short", QColor(mark))
        painter.setPen(QColor(word))
        text = self.fontMetrics().elidedText(self._word, Qt.TextElideMode.ElideRight, self.width() - 20)
        painter.drawText(self.rect().adjusted(20, 0, 0, 0), int(Qt.AlignmentFlag.AlignVCenter), text)


class Block(QWidget):
    """A part of a card that follows the flow. `_fill` is called when what it shows differs; its labels are in `column`.

    heir: gets the focus of a button that has done its work.

    While the flow of the present plan is not known, the figures of before stay, grey, and are said to be from before.
    """

    def __init__(self, session: Session, title: str) -> None:
        super().__init__()
        self.session = session
        self.heir: QWidget | None = None
        self._shown: tuple[object, ...] = ()
        self._state = label("", "muted", wrap=True)
        self.column = QVBoxLayout()
        self.column.setSpacing(5)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 6, 0, 0)
        whole.setSpacing(5)
        whole.addWidget(label(title, "heading"))
        whole.addWidget(self._state)
        whole.addLayout(self.column)

    def refresh(self, *what: object) -> None:
        """Show what is known now. what: that it depends on beside the flow, compared by identity or value."""
        found, known = self.session.breathing, self.session.is_flow_known
        coming = self.session.is_flow_coming or self.session.is_dragging
        state = "" if known else NOT_KNOWN if not coming else COMING if found is None else BEFORE_LAST_CHANGE
        self._state.setText(state)
        self._state.setVisible(bool(state))
        if self._shown and self.session.is_dragging:
            return  # the flow is asked for when the vent has come to rest
        key = (found, known, system(), *what)
        if len(key) == len(self._shown) and all(a is b or a == b for a, b in zip(key, self._shown, strict=True)):
            return
        self._shown = key
        self._keep_focus()
        clear(self.column)
        if found is not None:
            self._fill(found)
        if not known:
            for each in self.findChildren(QLabel):
                if each is not self._state and each.property("role") != "heading":
                    restyle(each, "role", "old")

    def _keep_focus(self) -> None:
        """What goes does not throw the focus to whatever comes next in the window."""
        inside = self.focusWidget()
        if inside is not None and inside.hasFocus():
            (self.heir or self.window()).setFocus()

    def _fill(self, found: Breathing) -> None:
        raise NotImplementedError

    def add_sentences(self, texts: Sequence[str]) -> None:
        """Quiet sentences, one below the other."""
        for text in texts:
            self.column.addWidget(label(sentence(text), "muted", wrap=True, select=True))


class Suction(Block):
    """Of a "cavity" or a "cup": a table of pressures and forces, whether they are within the limit, and flags."""

    def __init__(self, session: Session, kind: str, name: str) -> None:
        super().__init__(session, "Suction, an estimate")
        self._kind, self._name = kind, name

    def show_now(self) -> None:
        """Show how things are now."""
        self.refresh(self.session.breathing_printed)

    def _fill(self, found: Breathing) -> None:
        from ventplanner.app.suction import flags, pull, rows_of

        profile = found.after.profile
        rows = rows_of(found.after, self._kind, self._name)
        after, before = pull(rows, profile), pull(rows_of(found.before, self._kind, self._name), profile)
        if after is None:
            self.add_sentences(["It does not suck: it is open wherever it is wide."])
            return
        sign, limit = Sign(), f"{profile.suction_limit_kpa:g} kPa"
        sign.say(not after.over, f"above the limit of {limit}" if after.over else f"within the limit of {limit}")
        self.column.addWidget(sign)
        both = before is not None and found.after is not found.before
        columns = [("before", before), ("after", after)] if both else [("", after)]
        known = self.session.breathing_printed
        printed = None if known is None else pull(rows_of(known.flow.after, self._kind, self._name), profile)
        self.column.addWidget(_table([(head, p) for head, p in columns if p is not None], printed))
        worse = (
            []
            if printed is None or after.over or not printed.over
            else [f"As printed it is above the limit of {limit}."]
        )
        self.add_sentences([*worse, ABOUT_ROWS, _about_band(after, profile), *flags(rows, found)])


def _table(columns: Sequence[tuple[str, Pull]], printed: Pull | None) -> QWidget:
    """Rows of figures under one or two heads; with one more row, below the last, where it is known as printed."""
    inside = QWidget()
    grid = QGridLayout(inside)
    grid.setContentsMargins(0, 2, 0, 0)
    grid.setHorizontalSpacing(10)
    grid.setVerticalSpacing(4)
    grid.setColumnStretch(0, 1)
    for at, (head, _) in enumerate(columns, 1):
        if head:
            shown = label(head, "muted")
            shown.setAlignment(Qt.AlignmentFlag.AlignRight)
            grid.addWidget(shown, 0, at)
    told = [(head, _figures_of(found)) for head, found in columns]
    told[-1] = told[-1][0], _figures_of(columns[-1][1], printed)
    for line, name in enumerate(told[-1][1]):
        grid.addWidget(label(name, "muted"), 1 + 2 * line, 0)
        for at, (head, figures) in enumerate(told, 1):
            if name in figures:
                grid.addWidget(
                    figure(name, figures[name], f"{TOLD_AS.get(name, name)}, {head}".rstrip(", ")), 1 + 2 * line, at
                )
        grid.addWidget(rule(), 2 + 2 * line, 0, 1, 1 + len(columns))
    return inside


def _figures_of(found: Pull, printed: Pull | None = None) -> dict[str, str]:
    from ventplanner.app.suction import kpa, newton

    lift = "closed" if found.closed else kpa(found.suction)
    as_printed = {} if printed is None else {AS_PRINTED: "closed" if printed.closed else kpa(printed.suction)}
    return {
        "At the lift": lift,
        **as_printed,
        "Start-up": "closed" if found.closed or found.closed_first else kpa(found.startup),
        "Way down": "closed" if found.closed else kpa(found.overpressure),
        "Force": newton(found.force),
        "Worst at": mm(found.height),
    }


def _about_band(found: Pull, profile: Profile) -> str:
    from ventplanner.app.suction import kpa

    if found.closed:
        return f"Closed: it sucks up to the pressure of the air, {kpa(profile.air_pressure_pa)}."
    low, high = (kpa(p) for p in found.span)
    return f"At the lift it may be {low.removesuffix(' kPa')} to {high}: so far is the viscosity in doubt."
