"""The layer view: which layer, of the model or as printed, the sheet, and what its patterns mean."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QAction, QColor, QHideEvent, QPainter, QPaintEvent, QPen, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QBoxLayout, QHBoxLayout, QSlider, QVBoxLayout, QWidget

from ventplanner.errors import ParameterError
from ventplanner.ui.layer.legend import Legend
from ventplanner.ui.layer.making import Making, Wish
from ventplanner.ui.layer.plane import layer_of, layers_of
from ventplanner.ui.layer.sheet import LayerSheet
from ventplanner.ui.panels.fields import NumberField, button, label
from ventplanner.ui.panels.tools import in_one_frame, tool_of
from ventplanner.ui.theme import colours
from ventplanner.ui.units import exact, shown_unit
from ventplanner.ui.view.colours import DARK, LIGHT

if TYPE_CHECKING:
    from ventplanner.app.layers import Layer, Source
    from ventplanner.printed.engine import AsPrinted
    from ventplanner.ui.session import Session

WATCHER = "layers"
WIDE_AND_LOW = 1.45
"""Where it is so much wider than high, the legend stands beside the sheet."""

SIDE_WIDTH, LEAST_BESIDE = 236, 400


ROOMY, TIGHT = 600, 524
"""Below these widths the head leaves out what has a key, then the words before the number."""


class LayerField(NumberField):
    """The number of a layer: whole."""

    def show_value(self, value: float) -> None:
        """Without a decimal."""
        super().show_value(value)
        if not self.isModified():
            self.setText(f"{value:.0f}")
            self.setModified(False)


class LayerSlider(QSlider):
    """A slider whose focus is seen."""

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """The slider, and a frame round the one that the keys move."""
        super().paintEvent(event)
        if self.hasFocus():
            painter = QPainter(self)
            pen = QPen(QColor(colours().ink), 1.0)
            pen.setDashPattern([2.0, 2.0])
            painter.setPen(pen)
            painter.drawRect(self.rect().adjusted(0, 0, -1, -1))
            painter.end()


class LayerPanel(QWidget):
    """Follows the handle of the chart and moves it: `height_asked` brings a build height in mm."""

    height_asked = Signal(float)
    printed_chosen = Signal(bool)
    """As printed is wanted from now on, or the model: the chart shows the same."""

    def __init__(self, session: Session, actions: dict[str, QAction], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.printed_wanted = False
        self._height: float | None = None
        self._shown: tuple[object, ...] = ()
        self._source: Source | None = None
        self.sheet = LayerSheet()
        self.legend = Legend()
        self.making = Making(self)
        self.title = label("Layer")
        self.number = LayerField("Layer", "", 1.0, self._allowed, self)
        self.slider = LayerSlider(Qt.Orientation.Vertical)
        self.note = label("", "muted", wrap=True)
        self.check = button("Check as printed", session.check_printed, tip="Works out how each opening prints")
        self.model, self.printed = tool_of(actions["layers_model"]), tool_of(actions["layers_printed"])
        self.fit = tool_of(actions["layers_fit"])
        self.shut = button("Close", actions["layers"].trigger, "quiet", "Close the layers", "Y")
        self._build()
        self._connect()

    def _build(self) -> None:
        head = QHBoxLayout()
        head.setContentsMargins(12, 8, 12, 8)
        head.setSpacing(8)
        font = self.title.font()
        font.setWeight(font.Weight.DemiBold)
        self.title.setFont(font)
        self.count_label, self.of = label("", "muted"), label("", "muted")
        self.number.setFixedWidth(self.fontMetrics().horizontalAdvance("00000") + 20)
        for widget in (self.title, self.number, self.count_label, self.of):
            head.addWidget(widget)
        head.addStretch(1)
        self.choice = in_one_frame(self.model, self.printed)
        head.addWidget(self.choice)
        head.addWidget(self.fit)
        head.addWidget(self.shut)
        self.slider.setAccessibleName("Layer")
        self.slider.setPageStep(10)
        picture = QHBoxLayout()
        picture.setSpacing(0)
        picture.addWidget(self.sheet, 1)
        picture.addSpacing(4)
        picture.addWidget(self.slider)
        picture.addSpacing(4)
        self._side = QWidget()
        side = QVBoxLayout(self._side)
        side.setContentsMargins(12, 8, 12, 10)
        side.setSpacing(6)
        side.addWidget(self.legend)
        side.addWidget(self.note)
        side.addWidget(self.check, 0, Qt.AlignmentFlag.AlignLeft)
        side.addStretch(1)
        self._body = QBoxLayout(QBoxLayout.Direction.TopToBottom)
        self._body.setSpacing(0)
        self._body.addLayout(picture, 1)
        self._body.addWidget(self._side)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addLayout(head)
        column.addLayout(self._body, 1)
        self.setAccessibleName("Layers")

    def _connect(self) -> None:
        session = self._session
        self.sheet.clicked.connect(session.select)
        self.sheet.stepped.connect(self.step)
        self.sheet.ends.connect(lambda end: self.go_to(0 if end < 0 else self.count - 1))
        self.slider.valueChanged.connect(self._slid)
        self.number.entered.connect(lambda number: self.go_to(round(number) - 1))
        self.number.refused.connect(self.number.setToolTip)
        self.making.made.connect(self._have)
        self.making.failed.connect(session.failed)
        session.changed.connect(self.show_session)
        session.printed_changed.connect(self.show_session)

    # Which layer

    @property
    def layer_mm(self) -> float:
        """Height of a layer of the profile."""
        return self._session.profile.layer_height_mm

    @property
    def top(self) -> float:
        """Build height of the part's highest point, 0 without a part."""
        picture = self._session.picture
        return 0.0 if picture is None else picture.height

    @property
    def count(self) -> int:
        """Number of layers."""
        return layers_of(self.top, self.layer_mm)

    @property
    def at(self) -> int:
        """The layer that is shown or on the way, from 0."""
        return layer_of(self._height, self.top, self.layer_mm)

    def set_height(self, height: float | None) -> None:
        """The print has come so far; None for its end."""
        if height != self._height:
            self._height = height
            self.show_session()

    def go_to(self, number: int) -> None:
        """Show this layer, counted from 0, and move the handle of the chart to its upper side."""
        number = min(max(number, 0), self.count - 1)
        if number != self.at:
            self.height_asked.emit(min((number + 1) * self.layer_mm, self.top))

    def step(self, layers: int) -> None:
        """Go up by layers, or down."""
        self.go_to(self.at + layers)

    def _slid(self, value: int) -> None:
        self.go_to(value)

    def _allowed(self, value: float) -> float:
        if not 1 <= value <= self.count or value != round(value):
            raise ParameterError(f"There is no layer {value:g}.", f"Give 1 to {self.count}.")
        return value

    # What is shown

    @property
    def is_current(self) -> bool:
        """Whether the sheet shows the layer, and of what, that is asked for."""
        return not self.making.is_busy

    def set_printed(self, printed: bool) -> None:
        """As printed, or the model."""
        self.printed_wanted = printed
        self._session.watch_printed(WATCHER, printed and self.isVisible())
        self.printed_chosen.emit(printed)
        self.show_session()

    def set_dark(self, dark: bool) -> None:
        """Light or dark."""
        self.sheet.set_colours(DARK if dark else LIGHT)
        self.legend.set_colours(DARK if dark else LIGHT)

    def set_hanging(self, hanging: bool) -> None:
        """The slider goes the way of the chart beside it."""
        self.slider.setInvertedAppearance(hanging)

    def show_session(self) -> None:
        """Show the layer of the height and plan of now."""
        if not self.isVisible():
            return
        session, at, count = self._session, self.at, self.count
        self.sheet.show_picture(session.picture)
        self.slider.blockSignals(True)
        self.slider.setRange(0, count - 1)
        self.slider.setValue(at)
        self.slider.blockSignals(False)
        self.number.show_value(at + 1)
        self.count_label.setText(f"of {count}")
        self.of.setText(f"{exact(round((at + 0.5) * self.layer_mm, 3))} {shown_unit('mm')}")
        self.check.setVisible(session.printed is None and not session.is_printed_awaited and not session.stale)
        wish = self._wish()
        if wish is None:
            self.making.forget()
            self._shown = ()
            self.sheet.show_layer(None)
        elif (wish.of, wish[:3]) != self._shown:
            self._shown = (wish.of, wish[:3])
            self.making.ask(wish)
        self._tell()

    def _wish(self) -> Wish | None:
        session, findings = self._session, self._session.findings
        if findings is None or session.stale or session.picture is None:
            return None
        at = (self.at, self.layer_mm, findings)
        printed = session.printed
        if printed is not None and printed.found.part.light.layer == self.layer_mm:
            return Wish("printed" if self.printed_wanted else "pixels", *at, None, printed.found)
        return None if session.preview is None else Wish("columns", *at, session.preview, None)

    def _have(self, wish: Wish, layer: Layer) -> None:
        if (wish.of, wish[:3]) != self._shown:
            return
        self._source = layer.source
        self.sheet.show_layer(layer)
        self.legend.show_layer(layer)
        self._tell()

    def _tell(self) -> None:
        session, source = self._session, self._source
        name = session.profile.name
        self.sheet.notice = "What is in the part is being looked at…" if session.stale else ""
        if source != "columns" and session.printed is not None and not session.printed.found.is_whole:
            text = _too_many(session.printed.found, source == "printed")
        elif source == "printed" and session.printed is not None:
            text = f"As printed: an estimate that rests on the profile “{name}”."
        elif source == "pixels" and session.printed is not None:
            text = f"The model at the printer's pixels of {exact(session.profile.pixel_mm)} {shown_unit('mm')}."
        else:
            pitch = session.findings.scene.resolution.pitch_mm if session.findings is not None else 0.0
            text = f"The model by the columns of the analysis, every {exact(pitch)} {shown_unit('mm')}."
            if session.is_printed_awaited:
                text += " How it prints is being worked out…"
        self.note.setText(text)
        described = (
            f"Layer {self.at + 1} of {self.count}, at {self.of.text()}. {text} {self.legend.accessibleDescription()}"
        )
        self.sheet.setAccessibleDescription(described)

    # How it stands

    def close_down(self) -> None:
        """Show nothing any more."""
        self.making.close()

    def showEvent(self, event: QShowEvent) -> None:  # noqa: N802 - Qt's name
        """Somebody looks."""
        super().showEvent(event)
        self._session.watch_printed(WATCHER, self.printed_wanted)
        QTimer.singleShot(0, self, self.show_session)

    def hideEvent(self, event: QHideEvent) -> None:  # noqa: N802 - Qt's name
        """Nobody looks any more."""
        super().hideEvent(event)
        self._session.watch_printed(WATCHER, False)
        self.making.forget()
        self._shown = ()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """The legend stands below the sheet, or beside it where the panel is low."""
        super().resizeEvent(event)
        beside = self.width() > WIDE_AND_LOW * self.height() and self.width() > LEAST_BESIDE
        across = QBoxLayout.Direction.LeftToRight if beside else QBoxLayout.Direction.TopToBottom
        self._body.setDirection(across)
        self.fit.setVisible(self.width() >= ROOMY)
        self.shut.setText("Close" if self.width() >= ROOMY else "×")
        self.title.setVisible(self.width() >= TIGHT)
        self.count_label.setVisible(self.width() >= TIGHT)
        self._side.setMinimumWidth(SIDE_WIDTH if beside else 0)
        self._side.setMaximumWidth(SIDE_WIDTH if beside else 16_777_215)


def _too_many(found: AsPrinted, printed: bool) -> str:
    """Why a part with too many pixels is shown at coarser ones."""
    pixels, pitch = found.part.grid.n_columns / 1e6, f"{exact(round(found.grid.pitch, 4))} {shown_unit('mm')}"
    what = "As printed (an estimate)" if printed else "The model"
    return (
        f"{what}, at pixels of {pitch}: the {pixels:.0f} million pixels of the printer under this part do not fit in"
        " memory. Openings and vents are told at the printer's own."
    )
