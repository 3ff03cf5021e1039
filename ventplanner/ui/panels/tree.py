"""The cavities, their cups and vents, as a tree."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFocusEvent, QFont, QFontMetrics, QPainter, QPen, QStandardItem, QStandardItemModel
from PySide6.QtWidgets import (
    QAbstractItemView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTreeView,
    QVBoxLayout,
    QWidget,
)

from ventplanner.ui.marks import draw_state, state_colours
from ventplanner.ui.panels.fields import label
from ventplanner.ui.panels.rows import Row, left_out, rows
from ventplanner.ui.theme import cavity_colour, colours, ink_on, scaled_font

if TYPE_CHECKING:
    from ventplanner.ui.session import Session

ROW = Qt.ItemDataRole.UserRole + 1
Index = QModelIndex | QPersistentModelIndex
HEIGHTS = {"cavity": 50, "cup": 30, "vent": 30}
BADGE = 24.0
ROOM_FOR_WORDS = 230
"""In a narrower tree a vent's state is told by its symbol alone: a tick, or a dashed ring."""


class CavityTree(QWidget):
    """The left panel."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._shown: tuple[Row, ...] = ()
        self._model = QStandardItemModel(self)
        self.tree = _Tree(self)
        self.tree.setModel(self._model)
        self._heading = label("Cavities", "heading")
        self._foot = label("", "muted", wrap=True)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(10, 12, 6, 10)
        layout.setSpacing(6)
        self._heading.setContentsMargins(6, 0, 0, 2)
        self._foot.setContentsMargins(6, 0, 6, 0)
        layout.addWidget(self._heading)
        layout.addWidget(self.tree, 1)
        layout.addWidget(self._foot)
        self._heading.setBuddy(self.tree)
        self.tree.selectionModel().currentChanged.connect(self._select)
        session.changed.connect(self.show_session)
        session.selection_changed.connect(self.show_selection)
        self.show_session()

    def show_session(self) -> None:
        """Show the tree as it is now; what did not change keeps its place."""
        wanted = rows(self._session)
        if wanted != self._shown:
            if _words(wanted) == _words(self._shown):
                _update(self._model.invisibleRootItem(), wanted)
            else:
                self.tree.selectionModel().blockSignals(True)
                self._model.clear()
                _fill(self._model.invisibleRootItem(), wanted)
                self.tree.expandAll()
                self.tree.selectionModel().blockSignals(False)
            self._shown = wanted
        foot = left_out(self._session)
        self._foot.setText(foot)
        self._foot.setVisible(bool(foot))
        self.show_selection()

    def show_selection(self) -> None:
        """Make the selected thing the current row."""
        index = self._find(self._model.invisibleRootItem(), self._session.selected)
        selection = self.tree.selectionModel()
        selection.blockSignals(True)
        if index is None:
            selection.clear()
        elif index != self.tree.currentIndex() or not selection.isSelected(index):
            self.tree.setCurrentIndex(index)
            self.tree.scrollTo(index)
        selection.blockSignals(False)
        self.tree.viewport().update()

    def _find(self, item: QStandardItem, word: str) -> QModelIndex | None:
        for at in range(item.rowCount()):
            child = item.child(at)
            row: Row = child.data(ROW)
            cups_alone = row.kind == "cavity" and word == f"cup {row.badge}1" and not _has_cups(row)
            if row.word == word or cups_alone:
                return child.index()
            below = self._find(child, word)
            if below is not None:
                return below
        return None

    def _select(self, current: QModelIndex, _before: QModelIndex) -> None:
        if current.isValid():
            self._session.select(current.data(ROW).word)


class _Tree(QTreeView):
    """A tree without lines and arrows: it is short, and always open."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setAccessibleName("Cavities and vents")
        self.setHeaderHidden(True)
        self.setIndentation(0)
        self.setRootIsDecorated(False)
        self.setItemsExpandable(False)
        self.setUniformRowHeights(False)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setItemDelegate(_Painter(self))
        self.setMouseTracking(True)

    def focusInEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """Qt makes the first row the current one, which selects it; here only the user selects."""
        begun = self.currentIndex().isValid()
        selection = self.selectionModel()
        selection.blockSignals(True)
        super().focusInEvent(event)
        if not begun:
            selection.clear()
        selection.blockSignals(False)

    def drawBranches(self, *_: object) -> None:  # noqa: N802 - Qt's name
        """None."""


class _Painter(QStyledItemDelegate):
    """Draws a row: badge or number, title and detail, and the state by symbol and word."""

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:  # noqa: N802 - Qt's name
        """Rows grow with the font."""
        row: Row = index.data(ROW)
        least = option.fontMetrics.height() * (2 if row.kind == "cavity" else 1) + 12
        return QSize(120, max(HEIGHTS[row.kind], least))

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """One row."""
        row: Row = index.data(ROW)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box = QRectF(option.rect).adjusted(1.5, 1.5, -3.5, -1.5)
        _background(painter, box, option)
        inner = box.adjusted(9, 0, -8, 0)
        inner.setRight(_state(painter, inner, row, option.font) - 6)
        if row.kind == "cavity":
            _cavity(painter, inner, row, option.font)
        else:
            _leaf(painter, inner, row, option.font)
        painter.restore()


def _background(painter: QPainter, box: QRectF, option: QStyleOptionViewItem) -> None:
    c = colours()
    state = option.state
    if state & QStyle.StateFlag.State_Selected:
        focus = bool(option.widget is not None and option.widget.hasFocus())
        painter.setPen(QPen(QColor(c.ink if focus else c.edge), 2.0 if focus else 1.0))
        painter.setBrush(QColor(c.raised))
        painter.drawRoundedRect(box, 6, 6)
    elif state & QStyle.StateFlag.State_MouseOver:
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(c.hover))
        painter.drawRoundedRect(box, 6, 6)


def _state(painter: QPainter, box: QRectF, row: Row, font: QFont) -> float:
    """The state at the right; returns where it begins."""
    mark, word = state_colours(row.mark, colours())
    small = scaled_font(0.88)
    painter.setFont(small)
    width = painter.fontMetrics().horizontalAdvance(row.state)
    middle = box.top() + (0.36 * box.height() if row.kind == "cavity" and row.detail else 0.5 * box.height())
    if row.kind == "vent" and box.width() < ROOM_FOR_WORDS:
        draw_state(painter, QRectF(box.right() - 12, middle - 5, 10, 10), row.mark, QColor(mark))
        painter.setFont(font)
        return box.right() - 14
    painter.setPen(QColor(word))
    text = QRectF(box.right() - width - 1, middle - 10, width + 2, 20)
    painter.drawText(text, int(Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight), row.state)
    draw_state(painter, QRectF(text.left() - 16, middle - 5, 10, 10), row.mark, QColor(mark))
    painter.setFont(font)
    return text.left() - 18


def _cavity(painter: QPainter, box: QRectF, row: Row, font: QFont) -> None:
    colour = cavity_colour(row.colour)
    circle = QRectF(box.left(), box.center().y() - BADGE / 2, BADGE, BADGE)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(colour)
    painter.drawEllipse(circle)
    painter.setFont(scaled_font(0.95 if len(row.badge) == 1 else 0.75, QFont.Weight.Bold))
    painter.setPen(ink_on(colour))
    painter.drawText(circle, int(Qt.AlignmentFlag.AlignCenter), row.badge)
    left = circle.right() + 10
    text = QRectF(left, box.top(), box.right() - left, box.height())
    half = painter.fontMetrics().height()
    bold = QFont(font)
    bold.setWeight(QFont.Weight.DemiBold)
    painter.setFont(bold)
    painter.setPen(QColor(colours().ink))
    middle = text.center().y()
    _draw(painter, QRectF(left, middle - half - 2, text.width(), half + 2), row.title)
    painter.setFont(scaled_font(0.92))
    painter.setPen(QColor(colours().muted))
    _draw(painter, QRectF(left, middle + 1, text.width() + 70, half + 2), row.detail)


def _leaf(painter: QPainter, box: QRectF, row: Row, font: QFont) -> None:
    bold = QFont(font)
    bold.setWeight(QFont.Weight.DemiBold)
    painter.setFont(bold)
    painter.setPen(QColor(colours().ink))
    tight = box.width() < ROOM_FOR_WORDS - 60
    left = box.left() + (8 if row.kind == "cup" or tight else 20)
    width = max(painter.fontMetrics().horizontalAdvance(row.badge), 14 if row.kind == "vent" else 0)
    _draw(painter, QRectF(left, box.top(), width + 2, box.height()), row.badge)
    painter.setFont(font)
    start = left + width + 6
    room = box.right() - start
    _draw(painter, QRectF(start, box.top(), room, box.height()), fitting_title(row, painter.fontMetrics(), room))


def fitting_title(row: Row, metrics: QFontMetrics, room: float) -> str:
    """A row's title, or its short form where there is no room for it."""
    return row.title if metrics.horizontalAdvance(row.title) <= room or not row.short else row.short


def _draw(painter: QPainter, box: QRectF, text: str) -> None:
    fitted = painter.fontMetrics().elidedText(text, Qt.TextElideMode.ElideRight, int(box.width()))
    painter.drawText(box, int(Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft), fitted)


def _words(tree: tuple[Row, ...]) -> list[object]:
    return [(row.word, _words(row.children)) for row in tree]


def _has_cups(row: Row) -> bool:
    return any(child.kind == "cup" for child in row.children)


def _fill(parent: QStandardItem, tree: tuple[Row, ...]) -> None:
    for row in tree:
        item = QStandardItem()
        _set(item, row)
        parent.appendRow(item)
        _fill(item, row.children)


def _update(parent: QStandardItem, tree: tuple[Row, ...]) -> None:
    for at, row in enumerate(tree):
        item = parent.child(at)
        if item.data(ROW) != row:
            _set(item, row)
        _update(item, row.children)


def _set(item: QStandardItem, row: Row) -> None:
    item.setData(row, ROW)
    item.setData(row.spoken, Qt.ItemDataRole.AccessibleTextRole)
    item.setData(row.spoken, Qt.ItemDataRole.ToolTipRole)
