"""The card of what is selected: its figures, and what can be done with it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QCoreApplication, QEvent, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import (
    QAbstractScrollArea,
    QComboBox,
    QFrame,
    QLineEdit,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from ventplanner.ui.marks import draw_state, state_colours
from ventplanner.ui.panels.fields import label, restyle
from ventplanner.ui.selection import split
from ventplanner.ui.theme import colours, scaled_font

if TYPE_CHECKING:
    from ventplanner.ui.session import Session


LEAST_WIDTH = 236


class Card(QWidget):
    """A card; `refresh` shows how things are now. False: what it was about is gone."""

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.session = session
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(16, 12, 16, 16)
        self.column.setSpacing(8)

    def refresh(self) -> bool:
        """Show how things are now."""
        raise NotImplementedError


class Pill(QWidget):
    """A state by symbol and word."""

    def __init__(self) -> None:
        super().__init__()
        self._mark = self._word = ""
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)

    def show_state(self, mark: str, word: str) -> None:
        """Show a state; an empty word shows nothing."""
        self._mark, self._word = mark, word
        self.setAccessibleName(word)
        self.setVisible(bool(word))
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """As wide as its word."""
        metrics = self.fontMetrics()
        return QSize(metrics.horizontalAdvance(self._word) + 38, metrics.height() + 8)

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Symbol, word, and a thin border in the state's colour."""
        mark, word = state_colours(self._mark, colours())
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box = QRectF(self.rect()).adjusted(0.75, 0.75, -0.75, -0.75)
        painter.setPen(QPen(QColor(mark), 1.2))
        painter.setBrush(QColor(colours().raised))
        painter.drawRoundedRect(box, 6, 6)
        draw_state(painter, QRectF(10, box.center().y() - 5, 10, 10), self._mark, QColor(mark))
        painter.setPen(QColor(word))
        painter.drawText(box.adjusted(26, 0, -4, 0), int(Qt.AlignmentFlag.AlignVCenter), self._word)


class Heading(QWidget):
    """What the card is about: a small line, a title, and the state."""

    def __init__(self, above: str, title: str) -> None:
        super().__init__()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 4)
        column.setSpacing(6)
        self.above = label(above, "heading", wrap=True)
        self.title = label(title, wrap=True)
        self.title.setFont(scaled_font(1.35, self.title.font().Weight.DemiBold))
        self.pill = Pill()
        column.addWidget(self.above)
        column.addWidget(self.title)
        column.addWidget(self.pill)
        self.pill.hide()


class CardPanel(QScrollArea):
    """The right panel: one card at a time. A card that was put in by `show_card` stays until something is selected."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._of = ""
        self._pinned = False
        self.card: Card | None = None
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        # Its room is kept free: fields that are typed into do not move when a sentence makes the card longer.
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOn)
        bar = self.verticalScrollBar()
        bar.rangeChanged.connect(lambda low, high: restyle(bar, "idle", high <= low))
        restyle(bar, "idle", True)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setAccessibleName("Details")
        session.changed.connect(self.show_session)
        session.selection_changed.connect(self._selected)
        self.show_session()

    def show_card(self, card: Card) -> None:
        """Show a card of another kind, such as the result of an export, until something else is selected."""
        self._pinned = True
        self._put(card, "pinned")

    def unpin(self) -> None:
        """Show the card of what is selected instead."""
        self._pinned, self.card, self._of = False, None, ""
        self.show_session()

    def show_session(self) -> None:
        """Show the card of what is selected, as it is now."""
        if self._pinned and self._session.state is not None and self.card is not None and self.card.refresh():
            self._fit()
            return
        self._pinned = False
        wanted = self._session.selected if self._session.findings is not None else ""
        if self._session.state is None:
            self._put(None, "")
        elif self.card is None or wanted != self._of or not self.card.refresh():
            self._put(_card_of(self._session, wanted), wanted)
        else:
            self._fit()  # what it shows now may be wider

    def _fit(self) -> None:
        """There is no sideways scrolling: the panel is never narrower than what stands in it."""
        if self.card is not None:
            beside = 2 * self.frameWidth() + self.verticalScrollBar().sizeHint().width()
            self.setMinimumWidth(max(LEAST_WIDTH, self.card.minimumSizeHint().width() + beside))
            _settle(self.card)

    def _selected(self) -> None:
        self._pinned = False
        self.show_session()

    def _put(self, card: Card | None, of: str) -> None:
        # A proposal that a typed figure makes a vent gets another card: typing goes on where it was.
        inside = self.focusWidget()
        field = (
            inside.accessibleName() if inside is not None and inside.hasFocus() and self._of[:8] == "proposal" else ""
        )
        if inside is not None and inside.hasFocus():
            # Else it would go to whatever comes next in the window, which may select something else.
            self.window().setFocus()
        self._of = of
        self.card = card
        old = self.takeWidget()
        if old is not None:
            old.hide()
            old.deleteLater()
        if card is not None:
            card.refresh()
            self.setWidget(card)
            self._fit()
            for line in card.findChildren(QLineEdit) if field and of[:4] == "vent" else ():
                if line.accessibleName() == field:
                    line.setFocus()


def _settle(card: Card) -> None:
    """Lay out what is new before anything is painted: else it is seen squeezed, or without its sentences, first."""
    own = (QComboBox, QLineEdit, QAbstractScrollArea)  # these show their pieces themselves
    window = card.window()
    for child in card.findChildren(QWidget):
        new = child.isHidden() and not child.testAttribute(Qt.WidgetAttribute.WA_WState_ExplicitShowHide)
        if new and child.window() is window and not isinstance(child.parentWidget(), own):
            child.show()  # as its layout would, a moment later
    QCoreApplication.sendPostedEvents(None, QEvent.Type.LayoutRequest.value)


def _card_of(session: Session, selected: str) -> Card:
    """The card for a selection; the part's own if what was selected is not there any more."""
    from ventplanner.ui.panels.cavity_card import CavityCard, CupCard
    from ventplanner.ui.panels.part_card import PartCard
    from ventplanner.ui.panels.passage_card import JoiningCard, PassageCard
    from ventplanner.ui.panels.vent_card import ProposalCard, VentCard

    kind, name = split(selected)
    kinds = {"cavity": CavityCard, "cup": CupCard, "vent": VentCard, "proposal": ProposalCard}
    kinds |= {"passage": PassageCard, "joining": JoiningCard}
    if kind in kinds:
        card: Card = kinds[kind](session, name)
        if card.refresh():
            return card
        card.deleteLater()
    return PartCard(session)
