"""The chart of suction and force: scale, limit, cut curves, and what is not known; painted on a real screen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QImage
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot
from ui.conftest import LONG_MS, looked_at
from ui.fake_session import press
from ui.pictures import block

from ventplanner import resources
from ventplanner.profile import Profile
from ventplanner.ui.chart import Chart
from ventplanner.ui.chart_scale import series
from ventplanner.ui.picture import Band, Picture, ShownFlow, ShownKept
from ventplanner.ui.view.colours import LIGHT
from ventplanner.ui.window import MainWindow

LEFT = Qt.MouseButton.LeftButton
AIR = 101.325
Opened = Callable[[Path | str], MainWindow]


def flowing(*, closed_after: bool = False, current: bool = True, reach: float = 2.0) -> Picture:
    """The cube: its cavity A is closed from 3 to 17 mm; with vents it sucks 2 kPa there, or is closed still."""
    picture = block()
    heights = np.linspace(0.0, 20.0, 201)
    inside = (heights > 3.0) & (heights < 17.0)
    before = np.where(inside, AIR, 0.0)
    after = before if closed_after else np.where(inside, reach, 0.0)
    flow = ShownFlow(
        heights,
        (Band("A", 0, before, after),),
        (Band("A", 0, 0.2 * before, 0.2 * after),),
        limit=5.0,
        air=AIR,
        reach=0.0 if closed_after else reach,
        current=current,
    )
    return replace(picture, flow=flow)


@pytest.fixture
def chart(qtbot: QtBot) -> Chart:
    made = Chart()
    qtbot.addWidget(made)
    made.resize(200, 500)
    made.show()
    made.show_picture(flowing())
    made.set_quantity("suction")
    return made


def _image(chart: Chart) -> QImage:
    return chart.grab().toImage()


def _is_paper(image: QImage, x: float, y: float) -> bool:
    return image.pixelColor(round(x), round(y)).name() == LIGHT.paper


def _is_dark(image: QImage, x: float, y: float) -> bool:
    return any(image.pixelColor(round(x) + k, round(y) + j).lightness() < 120 for k in (-1, 0, 1) for j in range(4))


def test_the_scale_shows_the_limit_and_what_breathes_and_cuts_what_is_closed() -> None:
    suction = series(flowing(), "suction")
    assert suction is not None
    assert suction.largest == pytest.approx(8.0)
    assert suction.limit == 5.0
    far = series(flowing(reach=30.0), "suction")
    assert far is not None
    assert 30.0 < far.largest <= AIR
    sealed = series(flowing(closed_after=True), "suction")
    assert sealed is not None
    assert sealed.largest == pytest.approx(8.0)


def test_suctions_lie_over_each_other_and_forces_upon_each_other() -> None:
    picture = flowing()
    assert picture.flow is not None
    one = picture.flow.suction[0]
    two = replace(picture.flow, suction=(one, replace(one, cavity="B")), force=(one, replace(one, cavity="B")))
    suction, force = (series(replace(picture, flow=two), q) for q in ("suction", "force"))  # type: ignore[arg-type]
    assert suction is not None
    assert force is not None
    assert suction.bands[1].high.max() == pytest.approx(2.0)
    assert force.bands[1].high.max() == pytest.approx(4.0)
    assert force.largest == pytest.approx(2 * AIR)


def test_suction_is_filled_after_and_dashed_and_torn_before(chart: Chart) -> None:
    image, drawn = _image(chart), chart._drawn()
    row = chart.mapping.row(10.3)
    assert not _is_paper(image, drawn.column(1.0), row)
    assert _is_paper(image, drawn.column(3.2), row)
    end = drawn.column(drawn.ticks[-1])
    rows = range(round(chart.mapping.row(16.0)), round(chart.mapping.row(4.0)))
    torn = [any(not _is_paper(image, end + k, y) for k in range(-4, 5)) for y in rows]
    assert np.mean(torn) > 0.95
    assert not any(not _is_paper(image, end + k, chart.mapping.row(19.0)) for k in (2, 3, 4))


def test_the_limit_is_a_line(chart: Chart) -> None:
    image, drawn = _image(chart), chart._drawn()
    rows = range(round(chart.mapping.row(2.5)), round(chart.mapping.row(0.5)))
    assert any(_is_dark(image, drawn.column(5.0), y) for y in rows)
    assert not any(_is_dark(image, drawn.column(4.0), y) for y in rows)


def test_what_is_closed_after_all_says_so(chart: Chart) -> None:
    vented = _image(chart)
    chart.show_picture(flowing(closed_after=True))
    closed, drawn = _image(chart), chart._drawn()
    middle = round(chart.mapping.row(10.0))
    box = [
        (x, y) for x in range(round(drawn.column(5.5)), round(drawn.column(8.5))) for y in range(middle - 8, middle + 8)
    ]
    dark = [sum(image.pixelColor(*at).lightness() < 60 for at in box) for image in (vented, closed)]
    assert dark[1] > dark[0] + 20  # the word


def test_curves_of_a_plan_before_are_pale(chart: Chart) -> None:
    drawn = chart._drawn()
    at = round(drawn.column(1.0)), round(chart.mapping.row(10.3))
    now = _image(chart).pixelColor(*at)
    chart.show_picture(flowing(current=False))
    assert _image(chart).pixelColor(*at).lightness() > now.lightness() + 20
    chart.set_printed(10.0)
    assert "suction (before the last change): A 2 kPa" in chart.accessibleDescription()


def test_what_is_not_known_is_said(chart: Chart) -> None:
    chart.show_picture(replace(block(), flow_coming=True))
    image = _image(chart)
    ink = [(x, y) for x in range(60, 190) for y in range(160, 260) if image.pixelColor(x, y).lightness() < 140]
    assert len(ink) > 50
    chart.set_printed(10.0)
    assert "suction is not known yet" in chart.accessibleDescription()
    assert chart._word_at(QPoint(80, 250).toPointF()) == ""


def test_a_click_on_a_curve_selects_its_cavity(chart: Chart) -> None:
    told: list[str] = []
    chart.clicked.connect(told.append)
    drawn = chart._drawn()
    for value, height in ((1.0, 10.0), (3.0, 10.0), (1.0, 18.5)):
        QTest.mouseClick(chart, LEFT, pos=QPoint(round(drawn.column(value)), round(chart.mapping.row(height))))
    assert told == ["cavity A", "cavity A", ""]


def test_what_the_chart_shows_is_chosen_by_keys_menu_and_title(opened: Opened, qtbot: QtBot) -> None:
    window = opened(resources.sample("whelk"))
    window.session.set_profile(Profile())
    chart = window.stage.chart
    assert chart is not None
    height = chart.mapping.row(10.0)
    press(window, Qt.Key.Key_2, Qt.KeyboardModifier.ControlModifier)
    assert chart.quantity == "suction"
    assert chart.chooser.text() == "Suction, kPa"
    assert chart.chooser.accessibleName() == "The chart shows: Suction, kPa, an estimate"
    assert window.actions_by_name["chart_suction"].isChecked()
    assert chart.mapping.row(10.0) == height  # it keeps the part's own scale
    qtbot.waitUntil(lambda: window.session.is_flow_known and looked_at(window), timeout=LONG_MS)
    flow = window.session.picture.flow  # type: ignore[union-attr]
    assert flow is not None
    assert flow.current
    found = window.session.breathing
    assert found is not None
    assert flow.suction[0].with_vents.max() == pytest.approx(1e-3 * found.after.curves.worst_suction.max())
    assert sum(b.with_vents for b in flow.force).max() == pytest.approx(found.after.curves.force.max())
    press(window, Qt.Key.Key_3, Qt.KeyboardModifier.ControlModifier)
    assert chart.chooser.text() == "Force, N"
    QTest.mouseClick(chart.chooser, LEFT)
    assert chart.chooser.choices.isVisible()
    QTest.keyClick(chart.chooser.choices, Qt.Key.Key_Down)
    QTest.keyClick(chart.chooser.choices, Qt.Key.Key_Return)
    assert chart.quantity == "area"
    assert chart.chooser.geometry().right() < chart.width()
    assert window.actions_by_name["chart_area"].isChecked()
    before = window.session.picture
    window.session.select("cavity A")
    after = window.session.picture
    assert before is not None
    assert after is not None
    assert after.flow is before.flow  # pieces that did not change are the same


def test_a_kept_place_is_a_line_of_its_own_that_the_scale_reaches_and_words_tell(chart: Chart) -> None:
    picture = flowing(reach=1.0)
    flow = flowing(reach=12.0).flow
    chart.show_picture(picture)
    before = chart._drawn()
    kept = ShownKept("Place 2, kept", "Place 3, now", "A", picture.heights, np.zeros(len(picture.heights)), flow)
    chart.show_picture(replace(picture, kept=kept))
    drawn = chart._drawn()
    assert before.ticks[-1] < 12.0 <= drawn.ticks[-1]
    image, column = _image(chart), drawn.column(12.0)
    rows = [drawn.mapping.row(h) for h in np.linspace(8.0, 14.0, 120)]
    dark = [_is_dark(image, column, row) for row in rows]
    assert 0.5 < np.mean(dark) < 0.95  # dashes
    chart.set_printed(10.0)
    assert "Place 2, kept: 12 kPa" in chart.accessibleDescription()
    chart.set_printed(None)
    chart.set_as_printed(True)
    image = _image(chart)
    assert np.mean([_is_dark(image, column, row) for row in rows]) < 0.1
