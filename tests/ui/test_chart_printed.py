"""The chart in the model and as printed: which of both is said, and what is shown until as printed is known."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hollow_parts import two_bells
from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QFontMetricsF, QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel
from pytestqt.qtbot import QtBot
from ui.conftest import LONG_MS, looked_at
from ui.fake_session import press
from ui.pictures import block

from ventplanner.io.meshes import write
from ventplanner.profile import Profile
from ventplanner.ui.chart import Chart
from ventplanner.ui.chart_marks import SOURCES
from ventplanner.ui.panels.stage import CHART_WIDTH
from ventplanner.ui.picture import Band, Picture, ShownFlow, ShownPrinted
from ventplanner.ui.view import fonts
from ventplanner.ui.view.colours import LIGHT
from ventplanner.ui.window import MainWindow

COARSE = Profile("Coarse", pixel_mm=0.25, layer_height_mm=0.1)
CLOSING = replace(COARSE, name="Closing", blur_mm=0.5, exposure_ratio=60.0)
HEIGHTS = np.linspace(0.0, 20.0, 201)
INSIDE = (HEIGHTS > 3.0) & (HEIGHTS < 17.0)
Opened = Callable[[Path | str], MainWindow]


def flowing(suction: float) -> ShownFlow:
    before, after = np.where(INSIDE, 101.0, 0.0), np.where(INSIDE, suction, 0.0)
    band = Band("A", 0, before, after)
    return ShownFlow(HEIGHTS, (band,), (band,), limit=5.0, air=101.325, reach=suction)


def both(*, known: bool = True, coming: bool = False) -> Picture:
    """The cube, vented: in the model nothing is sealed and 1 kPa is pulled, as printed 100 mm2 and 4 kPa."""
    picture = block()
    band = picture.bands[0]
    without = np.interp(HEIGHTS, picture.heights, band.without)
    printed = ShownPrinted(HEIGHTS, (Band("A", 0, without, np.where(INSIDE, 100.0, 0.0)),), flowing(4.0))
    model = (Band("A", 0, band.without, np.zeros(len(band.without))),)
    return replace(picture, bands=model, flow=flowing(1.0), printed=printed if known else None, printed_coming=coming)


@pytest.fixture
def chart(qtbot: QtBot) -> Chart:
    made = Chart()
    qtbot.addWidget(made)
    made.resize(CHART_WIDTH, 500)
    made.show()
    made.show_picture(both())
    made.set_printed(10.0)
    return made


def filled(chart: Chart, value: float) -> bool:
    """Whether something is painted where the curve is at least so large."""
    image: QImage = chart.grab().toImage()
    at = round(chart._drawn().column(value)), round(chart.mapping.row(7.3))
    return image.pixelColor(*at).name() != LIGHT.paper


def test_as_printed_the_sealed_area_is_that_of_the_print_on_the_same_scale(chart: Chart) -> None:
    assert chart.source == "model"
    assert not filled(chart, 50.0)
    assert chart.accessibleDescription() == "printed to 10.0 mm; nothing is sealed here"
    end = chart._drawn().ticks[-1]
    chart.set_as_printed(True)
    assert chart.source == "printed"
    assert filled(chart, 50.0)
    assert chart._drawn().ticks[-1] == end
    assert chart.accessibleDescription() == "printed to 10.0 mm; as printed, sealed: A 100 mm²"
    assert chart.chooser.accessibleName() == "The chart shows: Sealed area, mm², as printed, an estimate"
    chart.set_as_printed(False)
    assert not filled(chart, 50.0)
    assert "as printed" not in chart.chooser.accessibleName()


@pytest.mark.parametrize("quantity", ["suction", "force"])
def test_as_printed_suction_and_force_are_those_of_the_print(chart: Chart, quantity: str) -> None:
    chart.set_quantity(quantity)  # type: ignore[arg-type]
    assert "A 1 " in chart.accessibleDescription()
    chart.set_as_printed(True)
    assert f"as printed, {quantity}: A 4 " in chart.accessibleDescription()
    assert filled(chart, 2.5)


def test_until_it_is_known_the_curves_of_the_model_are_pale_and_that_is_said(chart: Chart) -> None:
    chart.set_quantity("suction")

    def lightness() -> int:
        at = round(chart._drawn().column(0.6)), round(chart.mapping.row(7.3))
        return chart.grab().toImage().pixelColor(*at).lightness()

    usual = lightness()
    chart.set_as_printed(True)
    for coming, source, told in (
        (True, "awaited", "as printed is being worked out; in the model, suction: A 1 kPa"),
        (False, "unknown", "as printed is not known; in the model, suction: A 1 kPa"),
    ):
        chart.show_picture(both(known=False, coming=coming))
        assert chart.source == source
        assert lightness() > usual + 20
        assert chart.accessibleDescription().endswith(told)
    assert "Shift+A" in chart.chooser.toolTip()
    chart.show_picture(both())
    assert chart.source == "printed"


def test_what_is_said_differs_to_the_eye_and_has_room(chart: Chart) -> None:
    pictures = []
    for wanted, picture in ((False, both()), (True, both()), (True, both(known=False, coming=True))):
        chart.show_picture(picture)
        chart.set_as_printed(wanted)
        image = chart.grab().toImage()
        line = [image.pixelColor(x, y).lightness() < 160 for y in range(33, 46) for x in range(10, CHART_WIDTH)]
        assert sum(line) > 30
        pictures.append(line)
    assert pictures[0] != pictures[1] != pictures[2]
    metrics = QFontMetricsF(fonts.small(chart.font()))
    assert max(metrics.horizontalAdvance(text) for text in SOURCES.values()) < CHART_WIDTH - 12


def test_its_menu_chooses_the_model_or_as_printed(chart: Chart) -> None:
    told: list[bool] = []
    chart.source_wanted.connect(told.append)
    entries = chart.chooser.sources
    assert entries[False].isChecked()
    entries[True].trigger()
    chart.set_as_printed(True)
    assert entries[True].isChecked()
    assert not entries[False].isChecked()
    entries[False].trigger()
    assert told == [True, False]


@pytest.fixture(name="window")
def window_(opened: Opened, tmp_path: Path) -> Iterator[MainWindow]:
    path = tmp_path / "two bells.stl"
    write(two_bells(), path)
    window = opened(path)
    window.session.set_profile(COARSE)
    yield window
    window.stage.show_layers(False)
    window.stage.layers.set_printed(False)
    window.stage.set_quantity("area")


def _action(window: MainWindow, name: str) -> QAction:
    return window.actions_by_name[name]


def test_key_menu_title_and_layers_switch_one_and_the_same(window: MainWindow, qtbot: QtBot) -> None:
    session, chart, layers = window.session, window.stage.chart, window.stage.layers
    assert chart is not None
    session.accept(session.proposals[0].id)
    qtbot.waitUntil(lambda: session.is_flow_known and looked_at(window), timeout=LONG_MS)
    assert chart.source == "model"
    press(window, Qt.Key.Key_2, Qt.KeyboardModifier.ControlModifier)
    press(window, Qt.Key.Key_A)
    assert chart.source == "awaited"
    assert session.is_printed_awaited
    assert _action(window, "layers_printed").isChecked()
    assert layers.printed_wanted
    qtbot.waitUntil(lambda: chart.source == "printed", timeout=LONG_MS)
    found = session.breathing_printed
    assert found is not None
    bands = chart._drawn().picture.flow.suction  # type: ignore[union-attr]
    assert max(b.with_vents.max() for b in bands) == pytest.approx(1e-3 * found.flow.after.curves.worst_suction.max())
    QTest.mouseClick(chart.chooser, Qt.MouseButton.LeftButton)
    menu = chart.chooser.choices
    assert menu.isVisible()
    QTest.mouseClick(menu, Qt.MouseButton.LeftButton, pos=menu.actionGeometry(chart.chooser.sources[False]).center())
    assert chart.source == "model"
    assert not layers.printed_wanted
    assert _action(window, "layers_model").isChecked()
    press(window, Qt.Key.Key_Y)
    QTest.mouseClick(layers.printed, Qt.MouseButton.LeftButton)
    assert chart.source == "printed"  # it is known still
    _action(window, "layers_model").trigger()
    assert chart.source == "model"


def test_each_plan_is_printed_while_the_chart_shows_it(window: MainWindow, qtbot: QtBot) -> None:
    session, chart = window.session, window.stage.chart
    assert chart is not None
    press(window, Qt.Key.Key_A)
    qtbot.waitUntil(lambda: chart.source == "printed", timeout=LONG_MS)
    session.accept(session.proposals[0].id)
    assert chart.source in ("awaited", "unknown")
    qtbot.waitUntil(lambda: chart.source == "printed", timeout=LONG_MS)
    press(window, Qt.Key.Key_A)
    session.undo()
    session.redo()
    session.accept_all()
    qtbot.wait(900)
    assert not session.is_printed_awaited  # nobody looks


def test_the_card_of_a_cavity_tells_the_suction_as_printed(window: MainWindow, qtbot: QtBot) -> None:
    session = window.session
    session.set_profile(CLOSING)
    session.accept(session.proposals[0].id)
    vent = session.plan.vents[0]
    qtbot.waitUntil(lambda: session.is_flow_known and looked_at(window), timeout=LONG_MS)

    def told(word: str) -> list[str]:
        session.select(word)
        qtbot.wait(20)
        card = window.card.card
        assert card is not None
        return [
            x.text()
            for x in card.findChildren(QLabel)
            if x.accessibleName().startswith("At the lift as printed, after")
        ]

    assert told(f"cavity {vent.cavity}") == []
    session.check_printed()
    qtbot.waitUntil(lambda: session.breathing_printed is not None, timeout=LONG_MS)
    for word in (f"cavity {vent.cavity}", f"cup {vent.cup}"):
        assert told(word) == ["closed"]
        card = window.card.card
        assert card is not None
        assert card.minimumSizeHint().width() <= window.card.viewport().width()  # nothing is cut at the right
