"""Pitch, filters and vents in one dialog; its form is made from the declared parameters."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QFrame,
    QHBoxLayout,
    QLineEdit,
    QScrollArea,
    QSlider,
    QVBoxLayout,
    QWidget,
)

from ventplanner import parameters as p
from ventplanner.app.state import BY_NEED
from ventplanner.errors import ParameterError
from ventplanner.options import AnalysisOptions, InsideLimits, VentRules, Weights
from ventplanner.ui.numbers import complaint, parse
from ventplanner.ui.panels.fields import Choice, button, label, restyle
from ventplanner.ui.units import as_typed, sentence, shown_unit
from ventplanner.weight_parameters import WEIGHTS

if TYPE_CHECKING:
    from ventplanner.ui.session import Session

GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Measuring", ("pitch_mm", "layer_mm", "nested")),
    ("What counts as a cup", ("ignore_below_mm3", "ignore_under_mm")),
    ("What counts as late", ("late_mm", "late_mm3")),
    ("Proposed vents", ("size", "diameter_mm", "least_mm", "vents_per_cavity", "longest_wall_mm")),
    ("Where proposed vents go", ("prefer", "seen_from")),
    ("Passages inside", ("passages", "passage_wall_mm")),
    ("Look inside", ("thin_mm", "overhang_deg")),
)


class Entry(QWidget):
    """One parameter: its label, its field with the unit, what it means, and what is wrong with it.

    about: what it means, if it is not what all parameters say of themselves. widest: the widest unit of the form.
    `edited` when the user changed what stands in the field.
    """

    edited = Signal()

    def __init__(self, parameter: p.Parameter[object], about: str = "", widest: str = "mm³") -> None:
        super().__init__()
        self.parameter = parameter
        self._meaning = about or _about(parameter)
        self._given: tuple[str, object] = ("", None)
        self.field: QLineEdit | QComboBox = self._field()
        self._about = label(self._meaning, "muted", wrap=True)
        line = QHBoxLayout()
        line.setSpacing(8)
        name = label(parameter.label[:1].upper() + parameter.label[1:])
        name.setBuddy(self.field)
        line.addWidget(name, 1)
        line.addWidget(self.field)
        unit = label(shown_unit(parameter.unit), "muted")
        unit.setFixedWidth(unit.fontMetrics().horizontalAdvance(widest) + 2)
        line.addWidget(unit)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 4, 0, 6)
        column.setSpacing(3)
        column.addLayout(line)
        column.addWidget(self._about)

    def _field(self) -> QLineEdit | QComboBox:
        parameter = self.parameter
        field: QLineEdit | QComboBox
        if parameter.kind == "choice":
            field = Choice()
            field.addItems(list(parameter.choices))
            field.currentIndexChanged.connect(lambda _: self.problem())
        else:
            field = QLineEdit()
            field.setAlignment(Qt.AlignmentFlag.AlignRight)
            field.textEdited.connect(lambda _: self._edited())
            if parameter.default is None:
                field.setPlaceholderText(parameter.automatic)
        field.setFixedWidth(130)
        field.setAccessibleName(f"{parameter.label}, {shown_unit(parameter.unit)}".rstrip(", "))
        field.setAccessibleDescription(self._meaning)
        return field

    def _edited(self) -> None:
        self.problem()
        self.edited.emit()

    def show_value(self, value: object) -> None:
        """Show a value."""
        if isinstance(self.field, QComboBox):
            self.field.setCurrentText(str(value))
        else:
            self.field.setText(_typed(value, self.parameter.unit))
        self._given = self.text, value
        self.problem()

    @property
    def text(self) -> str:
        """What was typed or chosen."""
        return self.field.currentText() if isinstance(self.field, QComboBox) else self.field.text()

    def value(self) -> object:
        """What was entered; raises ParameterError in the parameter's own words."""
        text, given = self._given
        # What nobody touched is not rounded by being shown in inches.
        return given if self.text == text and given is not None else parse(self.parameter, self.text)

    def problem(self) -> str:
        """What is wrong with what was entered, shown below it; "" if nothing is."""
        try:
            self.value()
        except ParameterError as error:
            problem = complaint(self.parameter, error)
        else:
            problem = ""
        self._about.setText(problem or self._meaning)
        restyle(self._about, "role", "wrong" if problem else "muted")
        restyle(self.field, "wrong", bool(problem))
        return problem


class SliderEntry(Entry):
    """A share from 0 to 1, typed or set by a slider between the words for both ends."""

    ENDS = ("breathes best", "hidden best")
    STEPS = 20

    def __init__(self, parameter: p.Parameter[object]) -> None:
        super().__init__(parameter)
        self.slider = QSlider(Qt.Orientation.Horizontal)
        self.slider.setRange(0, self.STEPS)
        self.slider.setPageStep(self.STEPS // 4)
        self.slider.setAccessibleName(f"{parameter.label}, {' to '.join(self.ENDS)}")
        line = QHBoxLayout()
        line.setSpacing(8)
        line.addWidget(label(self.ENDS[0], "muted"))
        line.addWidget(self.slider, 1)
        line.addWidget(label(self.ENDS[1], "muted"))
        layout = self.layout()
        assert isinstance(layout, QVBoxLayout)
        layout.insertLayout(1, line)
        self.slider.valueChanged.connect(self._slid)
        self.edited.connect(self._follow)

    def show_value(self, value: object) -> None:
        """Show a value."""
        super().show_value(value)
        self._follow()

    def _follow(self) -> None:
        """The slider goes to what stands in the field, if that is a share."""
        if not self.problem():
            self.slider.blockSignals(True)
            self.slider.setValue(round(self.STEPS * float(self.value())))  # type: ignore[arg-type]
            self.slider.blockSignals(False)

    def _slid(self, step: int) -> None:
        if isinstance(self.field, QLineEdit):
            self.field.setText(as_typed(step / self.STEPS, ""))
            self.problem()


class Folded(QWidget):
    """The weights, folded away until they are asked for, or one of them is not the usual one."""

    SHOW, HIDE = "What counts how much…", "Hide what counts how much"

    def __init__(self) -> None:
        super().__init__()
        self.entries = {name: Entry(weight, widest="in all views") for name, weight in _weights()}
        self.head = button(self.SHOW, self._turn, "quiet")
        self.inner = QWidget()
        rows = QVBoxLayout(self.inner)
        rows.setContentsMargins(0, 0, 0, 0)
        rows.setSpacing(2)
        told = (
            "Each weight says how many mm of wall are as bad as one unit. The slider weighs being seen against the four"
            " above it. Weights count for other places (J), and for proposals where the slider is off its left end."
        )
        rows.addWidget(label(told, "muted", wrap=True))
        for entry in self.entries.values():
            rows.addWidget(entry)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.head, 0, Qt.AlignmentFlag.AlignLeft)
        column.addWidget(self.inner)
        self.unfold(False)

    def unfold(self, on: bool) -> None:
        """Show or hide them."""
        self.inner.setVisible(on)
        self.head.setText(self.HIDE if on else self.SHOW)

    def _turn(self) -> None:
        self.unfold(self.inner.isHidden())

    def show_weights(self, weights: Weights) -> None:
        """Show these."""
        for name, entry in self.entries.items():
            entry.show_value(getattr(weights, name))
        if weights != Weights():
            self.unfold(True)

    def weights(self) -> Weights:
        """What was entered."""
        return Weights(**{name: entry.value() for name, entry in self.entries.items()})  # type: ignore[arg-type]


class SettingsDialog(QDialog):
    """Everything about the analysis and the proposals. What is entered takes effect with Apply, as one edit each."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Pitch, filters and vents")
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self._session = session
        self.entries: dict[str, Entry] = {}
        form = QWidget()
        rows = QVBoxLayout(form)
        rows.setContentsMargins(0, 0, 12, 0)
        rows.setSpacing(2)
        for title, names in GROUPS:
            rows.addWidget(label(title, "heading"))
            for name in names:
                self.entries[name] = (SliderEntry if name == "prefer" else Entry)(p.PARAMETERS[name])
                rows.addWidget(self.entries[name])
            if "prefer" in names:
                self.folded = Folded()
                rows.addWidget(self.folded)
            rows.addSpacing(10)
        rows.addStretch(1)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setAccessibleName("Options")
        area.setFrameShape(QFrame.Shape.NoFrame)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setWidget(form)
        column = QVBoxLayout(self)
        column.setContentsMargins(22, 18, 10, 16)
        column.addWidget(area, 1)
        column.addLayout(self._answers())
        self.resize(560, 640)
        state = session.state
        if state is not None:
            self._show(state.options, state.rules, state.limits)

    def _answers(self) -> QHBoxLayout:
        line = QHBoxLayout()
        line.setContentsMargins(0, 8, 12, 0)
        self.usual = button("The usual values", lambda: self._show(AnalysisOptions(), BY_NEED, InsideLimits()), "quiet")
        self.cancel = button("Cancel", self.reject)
        self.apply = button("Apply", self.accept, "primary")
        self.apply.setDefault(True)
        line.addWidget(self.usual)
        line.addStretch(1)
        line.addWidget(self.cancel)
        line.addWidget(self.apply)
        return line

    def _show(self, options: AnalysisOptions, rules: VentRules, limits: InsideLimits) -> None:
        for name, entry in self.entries.items():
            entry.show_value(next(getattr(one, name) for one in (options, rules, limits) if hasattr(one, name)))
        self.folded.show_weights(rules.weights)

    def accept(self) -> None:
        """Take over what was entered, if all of it is allowed; else go to the first that is not."""
        for entry in (*self.entries.values(), *self.folded.entries.values()):
            if entry.problem():
                self.folded.unfold(not self.folded.inner.isHidden() or entry in self.folded.entries.values())
                entry.field.setFocus()
                return
        state = self._session.state
        if state is not None:
            options = AnalysisOptions(**self._values(AnalysisOptions))  # type: ignore[arg-type]  # checked by themselves
            rules = replace(state.rules, weights=self.folded.weights(), **self._values(VentRules))  # type: ignore[arg-type]
            if options != state.options:
                self._session.set_options(options)
            if rules != state.rules:
                self._session.set_rules(rules)
            limits = InsideLimits(**self._values(InsideLimits))  # type: ignore[arg-type]  # as above
            if limits != state.limits:
                self._session.set_limits(limits)
        super().accept()

    def _values(self, kind: type[AnalysisOptions | VentRules | InsideLimits]) -> dict[str, object]:
        return {name: entry.value() for name, entry in self.entries.items() if name in kind.__dataclass_fields__}


def _weights() -> Iterator[tuple[str, p.Parameter[object]]]:
    yield from WEIGHTS.items()  # type: ignore[misc]  # the form does not ask for the type of their values


def _typed(value: object, unit: str) -> str:
    """A value as it is typed; "" for none."""
    if isinstance(value, tuple):
        return ",".join(f"{x:g}" for x in value)
    return "" if value is None else as_typed(float(value), unit)  # type: ignore[arg-type]


def _about(parameter: p.Parameter[object]) -> str:
    """What it means, what may be given, and what is usual."""
    text = parameter.text.replace("--late-mm3", "the volume below").replace("--late-mm", "the height above")
    allowed = "" if parameter.kind == "choice" else f" {parameter.range_text.capitalize()}."
    default = f" Usual: {parameter.default_text}."
    return sentence(f"{text[:1].upper()}{text[1:]}.{allowed}{default}")
