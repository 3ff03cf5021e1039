"""The view on a screen: real mouse and keys, real pixels. One window for the whole file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QColor, QImage, QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QHBoxLayout, QWidget
from pytestqt.qtbot import QtBot
from ui.pictures import block, picture_of_sample

from ventplanner.ui.chart import Chart
from ventplanner.ui.picture import Picture, ShownVent
from ventplanner.ui.view.colours import DARK, LIGHT
from ventplanner.ui.view.eye import Eye
from ventplanner.ui.view.section import Section
from ventplanner.ui.view.sheet import Sheet
from ventplanner.ui.view.view import View

LEFT, MIDDLE = Qt.MouseButton.LeftButton, Qt.MouseButton.MiddleButton


class Bench(QWidget):
    """A view and its chart side by side, as in the window."""

    def __init__(self) -> None:
        super().__init__()
        self.view, self.chart = View(), Chart()
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addWidget(self.view, 1)
        row.addWidget(self.chart)
        self.view.mapping_changed.connect(self.chart.set_mapping)
        self.chart.printed_dragged.connect(self.view.set_printed)
        self.chart.zoomed.connect(self.view.zoom_at_row)
        self.chart.panned.connect(self.view.pan_rows)

    def show_picture(self, picture: Picture | None) -> None:
        self.view.show_picture(picture)
        self.chart.show_picture(picture)

    @property
    def sheet(self) -> Sheet:
        return self.view.findChild(Sheet)


@pytest.fixture(scope="module")
def _bench(qapp: QApplication) -> Iterator[Bench]:
    bench = Bench()
    bench.resize(800, 600)
    bench.show()
    QTest.qWaitForWindowExposed(bench)
    yield bench
    bench.view.close()
    bench.close()
    bench.deleteLater()
    qapp.processEvents()


@pytest.fixture
def bench(_bench: Bench, qtbot: QtBot) -> Bench:
    """The bench with a fresh cube in it, level, standing, from the front."""
    _bench.view.set_printed(None)
    _bench.chart.set_printed(None)
    _bench.view.set_section(None)
    _bench.view.set_tool("look")
    _bench.view.set_hanging(False)
    _bench.chart.set_hanging(False)
    _bench.view.set_colours(LIGHT)
    _bench.show_picture(None)
    _bench.show_picture(block())
    _bench.view.look("front")
    _bench.view.fit()
    settle(_bench, qtbot)
    return _bench


def settle(bench: Bench, qtbot: QtBot) -> None:
    """Until the picture is drawn in full."""
    qtbot.wait(1)
    qtbot.waitUntil(lambda: not bench.view.is_busy, timeout=10000)


def pixel(view: View, point: tuple[float, float, float]) -> QPoint:
    x, y, _ = view.eye.to_screen(np.array(point))
    return QPoint(round(x), round(y))


def red(image: QImage, place: QPoint) -> tuple[int, int, int]:
    colour = QColor(image.pixel(place))
    return colour.red(), colour.green(), colour.blue()


def frame_of(bench: Bench) -> np.ndarray:
    """(h, w, 3) pixels of the frame alone, without what is painted over it."""
    image = bench.sheet.frame.image.convertToFormat(QImage.Format.Format_RGB888)
    rows = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), image.bytesPerLine())
    return rows[:, : 3 * image.width()].reshape(image.height(), image.width(), 3).astype(int)


def test_the_cavity_is_where_the_mapping_says_to_the_pixel(bench: Bench) -> None:
    view = bench.view
    frame = frame_of(bench)
    middle = pixel(view, (0.0, 0.0, 10.0))
    column = frame[:, middle.x()]
    blue = np.flatnonzero(column[:, 2] - column[:, 0] > 40)
    mapping = view.eye.mapping
    # The cavity reaches from 3 mm to 17 mm: both ends within half a pixel, a pixel being blue or not.
    assert abs(blue.min() - mapping.row(17.0)) <= 1.0
    assert abs(blue.max() + 1 - mapping.row(3.0)) <= 1.0
    assert mapping.linked


def test_the_chart_has_exactly_the_view_s_scale_after_zoom_and_pan_by_mouse(bench: Bench, qtbot: QtBot) -> None:
    view, chart = bench.view, bench.chart
    for _ in range(3):
        wheel(bench.sheet, QPointF(300, 200), 120)
        drag(bench.sheet, QPoint(100, 300), QPoint(140, 250), MIDDLE, qtbot)
        for height in (0.0, 7.3, 20.0):
            row = view.eye.to_screen(np.array([1.0, 2.0, height]))[1]
            assert chart.mapping.row(height) == pytest.approx(row, abs=1e-9)
            assert chart.mapFromGlobal(view.mapToGlobal(QPointF(0.0, row))).y() == pytest.approx(row)
    assert view.eye.mm_per_px == chart.mapping.mm_per_px


def test_zooming_and_panning_the_chart_moves_the_view(bench: Bench, qtbot: QtBot) -> None:
    before = bench.view.eye.mapping
    wheel(bench.chart, QPointF(60, 300), 240)
    zoomed = bench.view.eye.mapping
    assert zoomed.mm_per_px < before.mm_per_px
    assert zoomed.height(300) == pytest.approx(before.height(300))
    drag(bench.chart, QPoint(60, 250), QPoint(60, 310), MIDDLE, qtbot)
    assert bench.view.eye.mapping.row(5.0) == pytest.approx(zoomed.row(5.0) + 60.0)
    assert bench.chart.mapping == bench.view.eye.mapping


def test_turning_keeps_the_link_tilting_undoes_it_and_level_restores_it(bench: Bench, qtbot: QtBot) -> None:
    view = bench.view
    drag(bench.sheet, QPoint(120, 80), QPoint(260, 84), LEFT, qtbot)
    assert view.eye.azimuth != 0.0
    assert bench.chart.mapping.linked
    drag(bench.sheet, QPoint(120, 80), QPoint(120, 200), LEFT, qtbot)
    assert view.eye.elevation > 20.0
    assert not view.eye.mapping.linked
    whole = bench.chart.mapping
    assert not whole.linked
    assert 0 < whole.row(20.0) < whole.row(-5.0) < bench.chart.height()
    view.level()
    assert bench.chart.mapping == view.eye.mapping
    assert bench.chart.mapping.linked


def test_hanging_turns_view_and_chart_over(bench: Bench, qtbot: QtBot) -> None:
    standing = frame_of(bench)
    bench.view.set_hanging(True)
    bench.chart.set_hanging(True)
    settle(bench, qtbot)
    mapping = bench.chart.mapping
    assert mapping == bench.view.eye.mapping
    assert mapping.row(-5.0) < mapping.row(0.0) < mapping.row(20.0)
    assert mapping.height_at_top_px < mapping.height_at_bottom_px
    hanging = frame_of(bench)
    # The cavity is the same height from its plate side, now from the top.
    for frame in (standing, hanging):
        column = frame[:, pixel(bench.view, (0.0, 0.0, 0.0)).x()]
        blue = np.flatnonzero(column[:, 2] - column[:, 0] > 40)
        assert len(blue) == pytest.approx(14.0 / bench.view.eye.mm_per_px, abs=2)
    bench.view.look_from(bench.view.eye.orbited(0.0, 30.0))
    tilted = bench.chart.mapping
    assert not tilted.linked
    assert tilted.row(-5.0) < tilted.row(20.0)


def test_a_click_on_a_proposal_gives_its_word(bench: Bench, qtbot: QtBot) -> None:
    vent = bench.view.shown.picture.vents[0]  # type: ignore[union-attr]
    bench.view.look("left")
    with qtbot.waitSignal(bench.view.clicked) as said:
        QTest.mouseClick(bench.sheet, LEFT, pos=pixel(bench.view, middle_of(vent)))
    assert said.args == ["proposal 1"]


def test_a_click_on_a_label_gives_its_word(bench: Bench, qtbot: QtBot) -> None:
    cavity = bench.view.shown.picture.cavities[0]  # type: ignore[union-attr]
    with qtbot.waitSignal(bench.view.clicked) as said:
        QTest.mouseClick(bench.sheet, LEFT, pos=pixel(bench.view, tuple(cavity.label_at)))
    assert said.args == ["cavity A"]


@pytest.mark.parametrize(
    ("point", "word"), [((4.0, 0.0, 5.0), "cavity A"), ((9.0, 0.0, 10.0), ""), ((40.0, 0.0, 10.0), "")]
)
def test_a_click_goes_through_the_skin_to_the_cavity_and_elsewhere_means_nothing(
    bench: Bench, qtbot: QtBot, point: tuple[float, float, float], word: str
) -> None:
    with qtbot.waitSignal(bench.view.clicked) as said:
        QTest.mouseClick(bench.sheet, LEFT, pos=pixel(bench.view, point))
    assert said.args == [word]


def test_a_double_click_and_return_activate(bench: Bench, qtbot: QtBot) -> None:
    with qtbot.waitSignal(bench.view.activated) as said:
        QTest.mouseDClick(bench.sheet, LEFT, pos=pixel(bench.view, (4.0, 0.0, 5.0)))
    assert said.args == ["cavity A"]
    bench.show_picture(replace(bench.view.shown.picture, selected="proposal 1"))  # type: ignore[type-var]
    with qtbot.waitSignal(bench.view.activated) as said:
        QTest.keyClick(bench.view, Qt.Key.Key_Return)
    assert said.args == ["proposal 1"]


def test_dragging_a_vent_gives_places_on_the_skin_and_renders_nothing(bench: Bench, qtbot: QtBot) -> None:
    view = bench.view
    vent = view.shown.picture.vents[0]  # type: ignore[union-attr]
    view.look("left")
    view.look_from(view.eye.orbited(60.0, 0.0))
    settle(bench, qtbot)
    said: list[tuple[str, object]] = []
    view.drag_started.connect(lambda name: said.append(("started", name)))
    view.drag_ended.connect(lambda name: said.append(("ended", name)))
    places: list[tuple[np.ndarray, np.ndarray]] = []
    view.dragged.connect(lambda _name, point, normal: places.append((point, normal)))
    frames: list[float] = []
    view.frame_drawn.connect(frames.append)
    begin = pixel(view, vent.start)
    eye = view.eye
    drag(bench.sheet, begin, begin + QPoint(30, -60), LEFT, qtbot, steps=8)
    assert said == [("started", "1"), ("ended", "1")]
    assert view.eye == eye
    assert frames == []
    assert len(places) >= 6
    for point, normal in places:
        assert np.allclose(normal, [0, -1, 0]) or np.allclose(normal, [-1, 0, 0])
        assert max(abs(point[0]), abs(point[1])) == pytest.approx(10.0, abs=1e-6)
    # The last place is under the pointer.
    assert np.allclose(view.eye.to_screen(places[-1][0])[:2], [begin.x() + 30, begin.y() - 60], atol=0.5)
    assert view.shown.dragged is None


def test_while_dragging_the_fitted_drill_is_shown_and_escape_gives_up(bench: Bench, qtbot: QtBot) -> None:
    view = bench.view
    view.look("left")
    view.look_from(view.eye.orbited(60.0, 0.0))
    vent = view.shown.picture.vents[0]  # type: ignore[union-attr]
    fitted = replace(vent, diameter=1.7)
    answer = view.dragged.connect(lambda *_: view.show_overlay(fitted))
    begin = pixel(view, vent.start)
    QTest.mousePress(bench.sheet, LEFT, pos=begin)
    move(bench.sheet, begin + QPoint(10, -20), LEFT)
    move(bench.sheet, begin + QPoint(12, -30), LEFT)
    assert view.shown.dragged == fitted
    with qtbot.waitSignal(view.drag_cancelled) as said:
        QTest.keyClick(view, Qt.Key.Key_Escape)
    assert said.args == ["1"]
    assert view.shown.dragged is None
    QTest.mouseRelease(bench.sheet, LEFT, pos=begin)
    view.dragged.disconnect(answer)


def test_the_printed_handle_cuts_the_part_there_and_names_the_live_cavity(bench: Bench, qtbot: QtBot) -> None:
    view, chart = bench.view, bench.chart
    top = QPoint(chart.width() - 30, round(chart.mapping.row(20.0)))
    goal = round(chart.mapping.row(10.0))
    with qtbot.waitSignal(chart.printed_dragged):
        drag(chart, top, QPoint(top.x(), goal), LEFT, qtbot)
    assert chart.printed == pytest.approx(10.0, abs=chart.mapping.mm_per_px)
    assert view.shown.printed == chart.printed
    assert [name for name, _ in view.shown.live] == ["A"]
    settle(bench, qtbot)
    column = frame_of(bench)[:, pixel(view, (0.0, 0.0, 0.0)).x()]
    blue = np.flatnonzero(column[:, 2] - column[:, 0] > 40)
    assert abs(blue.min() - chart.mapping.row(chart.printed)) <= 1.5
    assert "sealed: A" in chart.accessibleDescription()
    # Dragged beyond the top it is the whole part again.
    drag(chart, QPoint(top.x(), goal), QPoint(top.x(), 5), LEFT, qtbot)
    assert chart.printed is None
    assert view.shown.printed is None


def test_what_is_cut_away_cannot_be_clicked(bench: Bench, qtbot: QtBot) -> None:
    view = bench.view
    view.set_printed(8.0)
    for point, word in (((4.0, 0.0, 6.0), "cavity A"), ((4.0, 0.0, 12.0), "")):
        with qtbot.waitSignal(view.clicked) as said:
            QTest.mouseClick(bench.sheet, LEFT, pos=pixel(view, point))
        assert said.args == [word]


def test_a_free_section_shows_the_wall_cut_and_moves(bench: Bench, qtbot: QtBot) -> None:
    view = bench.view
    view.set_section(Section((0.0, 0.0, 10.0), (0.0, -1.0, 0.0)))
    settle(bench, qtbot)
    image = view.grab_image()
    wall = red(image, pixel(view, (8.5, 0.0, 12.0)))
    assert max(abs(a - b) for a, b in zip(wall, rgb_bytes(LIGHT.cut), strict=True)) < 40
    inside = red(image, pixel(view, (4.0, 0.0, 12.0)))
    assert inside[2] - inside[0] > 40
    with qtbot.waitSignal(view.section_changed):
        wheel(bench.sheet, QPointF(300, 200), 120, Qt.KeyboardModifier.ShiftModifier)
    assert view.shown.section is not None
    assert view.shown.section.point[1] < 0.0


def test_picking_a_face_gives_its_outward_normal_once(bench: Bench, qtbot: QtBot) -> None:
    view = bench.view
    view.look("right")
    view.set_tool("face")
    with qtbot.waitSignal(view.face_picked) as said:
        QTest.mouseClick(bench.sheet, LEFT, pos=pixel(view, (0.0, 4.0, 5.0)))
    assert np.allclose(said.args[0], [1.0, 0.0, 0.0])
    assert view.tool == "look"


def test_keys_orbit_zoom_pan_and_choose_sides(bench: Bench) -> None:
    view = bench.view
    start = view.eye
    QTest.keyClick(view, Qt.Key.Key_Right)
    assert view.eye.azimuth == pytest.approx(15.0)
    QTest.keyClick(view, Qt.Key.Key_Up)
    assert view.eye.elevation == pytest.approx(15.0)
    QTest.keyClick(view, Qt.Key.Key_Home)
    assert view.eye.is_level
    QTest.keyClick(view, Qt.Key.Key_Plus)
    assert view.eye.mm_per_px < start.mm_per_px
    QTest.keyClick(view, Qt.Key.Key_Minus)
    assert view.eye.mm_per_px == pytest.approx(start.mm_per_px)
    sides = [
        (Qt.Key.Key_2, 180.0, 0.0),
        (Qt.Key.Key_3, -90.0, 0.0),
        (Qt.Key.Key_5, 0.0, 90.0),
        (Qt.Key.Key_1, 0.0, 0.0),
    ]
    for key, azimuth, elevation in sides:
        QTest.keyClick(view, key)
        assert (view.eye.azimuth, view.eye.elevation) == (azimuth, elevation)
    QTest.keyClick(view, Qt.Key.Key_Up, Qt.KeyboardModifier.ShiftModifier)
    assert view.eye.focus[2] > start.focus[2]
    QTest.keyClick(view, Qt.Key.Key_0)
    assert view.eye.focus == pytest.approx(start.focus, abs=1e-6)


def test_hovering_names_the_cavity_and_leaving_forgets_it(bench: Bench) -> None:
    move(bench.sheet, pixel(bench.view, (4.0, 0.0, 5.0)))
    assert bench.view.shown.hovered == "cavity A"
    move(bench.sheet, pixel(bench.view, (40.0, 0.0, 5.0)))
    assert bench.view.shown.hovered == ""


def test_an_accepted_vent_is_dark_before_and_after_it_is_cut(bench: Bench, qtbot: QtBot) -> None:
    picture = picture_of_sample("lighthouse.stl", accept=1, drilled=True)
    for drilled in (None, picture.drilled):
        bench.show_picture(replace(picture, drilled=drilled))
        settle(bench, qtbot)
        vent = picture.vents[0]
        middle = pixel(bench.view, middle_of(vent))
        frame = frame_of(bench)
        skin = frame[middle.y(), pixel(bench.view, (12.0, 0.0, middle_of(vent)[2])).x()]
        assert frame[middle.y(), middle.x()].max() < 0.65 * skin.min()


def test_a_new_selection_or_theme_makes_no_surfaces_anew(bench: Bench, qtbot: QtBot) -> None:
    taken: list[int] = []
    bench.view.shapes_shown.connect(lambda: taken.append(1))
    picture = bench.view.shown.picture
    assert picture is not None
    bench.show_picture(replace(picture, selected="cavity A"))
    bench.view.set_colours(DARK)
    bench.chart.set_colours(DARK)
    bench.show_picture(replace(picture, stale=True))
    settle(bench, qtbot)
    assert taken == []
    dark = red(bench.view.grab_image(), QPoint(200, 30))
    assert max(dark) < 80


def test_no_picture_shows_an_empty_room(bench: Bench, qtbot: QtBot) -> None:
    bench.show_picture(None)
    settle(bench, qtbot)
    frame = frame_of(bench)
    assert np.ptp(frame[:, 300], axis=0).max() < 25
    with qtbot.waitSignal(bench.view.clicked) as said:
        QTest.mouseClick(bench.sheet, LEFT, pos=QPoint(300, 300))
    assert said.args == [""]


def test_an_overlay_repaint_renders_no_frame(bench: Bench, qtbot: QtBot) -> None:
    frames: list[float] = []
    bench.view.frame_drawn.connect(frames.append)
    for k in range(5):
        move(bench.sheet, pixel(bench.view, (4.0, 0.0, 5.0)) if k % 2 else QPoint(5, 5))
        qtbot.wait(10)
    assert frames == []


def test_the_view_says_what_it_shows_in_words(bench: Bench) -> None:
    assert bench.view.accessibleName() == "Part"
    assert bench.view.accessibleDescription() == "1 cavity: A sealed."


def test_a_window_resized_keeps_a_fitted_part_fitted_and_a_moved_one_at_its_scale(bench: Bench, qtbot: QtBot) -> None:
    view = bench.view
    before = view.eye.mm_per_px
    bench.resize(700, 420)
    qtbot.waitUntil(lambda: view.height() == 420)
    assert view.eye.mm_per_px > before
    wheel(bench.sheet, QPointF(200, 200), 120)
    kept = view.eye.mm_per_px
    bench.resize(800, 600)
    qtbot.waitUntil(lambda: view.height() == 600)
    assert view.eye.mm_per_px == kept
    assert isinstance(view.eye, Eye)


def middle_of(vent: ShownVent) -> tuple[float, float, float]:
    x, y, z = (0.5 * (a + b) for a, b in zip(vent.start, vent.end, strict=True))
    return x, y, z


def rgb_bytes(colour: str) -> tuple[int, ...]:
    return tuple(int(colour[k : k + 2], 16) for k in (1, 3, 5))


def move(widget: QWidget, place: QPoint, button: Qt.MouseButton = Qt.MouseButton.NoButton) -> None:
    """A move of the pointer with a button held: QTest.mouseMove cannot hold one."""
    from PySide6.QtCore import QEvent
    from PySide6.QtGui import QMouseEvent

    at = QPointF(place)
    event = QMouseEvent(
        QEvent.Type.MouseMove, at, QPointF(widget.mapToGlobal(place)), Qt.MouseButton.NoButton, button,
        Qt.KeyboardModifier.NoModifier,
    )  # fmt: skip
    QApplication.sendEvent(widget, event)


def drag(widget: QWidget, begin: QPoint, end: QPoint, button: Qt.MouseButton, qtbot: QtBot, steps: int = 5) -> None:
    QTest.mousePress(widget, button, pos=begin)
    for k in range(1, steps + 1):
        share = k / steps
        away = end - begin
        move(widget, begin + QPoint(round(away.x() * share), round(away.y() * share)), button)
        qtbot.wait(5)
    QTest.mouseRelease(widget, button, pos=end)


def wheel(
    widget: QWidget, place: QPointF, turned: int, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier
) -> None:
    event = QWheelEvent(
        place, QPointF(widget.mapToGlobal(place.toPoint())), QPoint(), QPoint(0, turned),
        Qt.MouseButton.NoButton, modifier, Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(widget, event)
