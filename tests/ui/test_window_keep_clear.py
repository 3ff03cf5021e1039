"""Marking the surface to be kept clear with the real mouse: strokes, erasing, flood, by view, and what follows."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hollow_parts import two_bells
from painted_files import painted
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QPushButton, QToolButton
from pytestqt.qtbot import QtBot
from ui.conftest import LONG_MS, looked_at
from ui.fake_session import press
from ui.view_bench import pixel

from ventplanner.geometry.face_mask import FaceMask
from ventplanner.io.meshes import write
from ventplanner.io.project import load_plan
from ventplanner.ui.dialogs.colours import OFFER, ColoursDialog
from ventplanner.ui.panels.marking import Marking
from ventplanner.ui.panels.part_card import PartCard
from ventplanner.ui.view.view import View
from ventplanner.ui.window import MainWindow

LEFT, SHIFT, NONE = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.ShiftModifier, Qt.KeyboardModifier.NoModifier
Key = Qt.Key
Open = Callable[[Path | str], MainWindow]


@pytest.fixture(name="window")
def window_(opened: Open, tmp_path: Path, qtbot: QtBot) -> MainWindow:
    part = two_bells()
    for _ in range(2):  # triangles of 0.75 to 2.5 mm
        part = subdivided(part)
    write(part, tmp_path / "two bells.stl")
    window = opened(tmp_path / "two bells.stl")
    view_of(window).look("front")
    if marking_of(window).is_on:
        press(window, Key.Key_K)
    qtbot.waitUntil(lambda: looked_at(window), timeout=LONG_MS)
    return window


def subdivided(part):  # type: ignore[no-untyped-def]
    import trimesh

    vertices, faces = trimesh.remesh.subdivide(part.vertices, part.faces)
    return part.with_mesh(vertices, faces.astype(np.int32))


def view_of(window: MainWindow) -> View:
    assert window.stage.view is not None
    return window.stage.view


def marking_of(window: MainWindow) -> Marking:
    assert window.stage.marking is not None
    return window.stage.marking


def begin(window: MainWindow, qtbot: QtBot) -> None:
    press(window, Key.Key_K)
    assert marking_of(window).is_on
    qtbot.waitUntil(lambda: marking_of(window).is_ready, timeout=LONG_MS)


def at(window: MainWindow, x: float, z: float, y: float = -10.0) -> QPoint:
    """A pixel of the front side of the part, by its place in the file."""
    findings = window.session.findings
    assert findings is not None
    return pixel(view_of(window), tuple(findings.scene.frame.to_build(np.array([x, y, z]))))


def stroke(window: MainWindow, *places: QPoint, keys: Qt.KeyboardModifier = NONE) -> None:
    sheet = view_of(window)._sheet
    QTest.mousePress(sheet, LEFT, keys, places[0])
    for place in places[1:]:
        QTest.mouseMove(sheet, place)
        move(sheet, place, keys)
    QTest.mouseRelease(sheet, LEFT, keys, places[-1])


def move(sheet, place: QPoint, keys: Qt.KeyboardModifier, held: Qt.MouseButton = LEFT) -> None:  # type: ignore[no-untyped-def]
    """A move with the button held, which QTest.mouseMove does not tell."""
    from PySide6.QtCore import QEvent, QPointF
    from PySide6.QtGui import QMouseEvent

    where = QPointF(place)
    event = QMouseEvent(QEvent.Type.MouseMove, where, sheet.mapToGlobal(where), Qt.MouseButton.NoButton, held, keys)
    QApplication.sendEvent(sheet, event)


def marked(window: MainWindow) -> np.ndarray:
    """(k, 3) middles of the marked faces, in the file's axes."""
    state = window.session.state
    assert state is not None
    mask = state.keep_clear or FaceMask.none_of(len(state.solid.faces))
    return state.solid.vertices[state.solid.faces[mask.chosen]].mean(axis=1)


def proposed(window: MainWindow, qtbot: QtBot) -> None:
    qtbot.waitUntil(lambda: looked_at(window) and bool(window.session.proposals), timeout=LONG_MS)


def test_a_stroke_marks_what_the_brush_comes_over_and_is_one_edit(window: MainWindow, qtbot: QtBot) -> None:
    begin(window, qtbot)
    marking_of(window).set_radius(2.0)
    steps = len(window.session.names)
    eye = view_of(window).eye
    stroke(window, at(window, -12, 0), at(window, -4, 0), at(window, 6, 0))
    found = marked(window)
    assert len(found) > 20
    assert np.allclose(found[:, 1], -10.0)  # the front alone, not through the wall
    assert np.abs(found[:, 2]).max() < 2.2
    assert found[:, 0].min() == pytest.approx(-13.3, abs=1.3)
    assert found[:, 0].max() == pytest.approx(7.3, abs=1.3)
    gaps = np.diff(np.unique(np.round(found[np.abs(found[:, 2]) < 1.3][:, 0], 2)))
    assert gaps.max() < 1.7  # a quick stroke has no holes
    assert len(window.session.names) == steps + 1
    assert window.session.undo_name == "Keep clear"
    assert view_of(window).eye == eye  # nothing was turned
    press(window, Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert len(marked(window)) == 0
    press(window, Key.Key_Z, Qt.KeyboardModifier.ControlModifier | SHIFT)
    assert len(marked(window)) == len(found)


def test_shift_erases_and_so_does_the_switch(window: MainWindow, qtbot: QtBot) -> None:
    begin(window, qtbot)
    marking_of(window).set_radius(3.0)
    stroke(window, at(window, -10, 2), at(window, 10, 2))
    before = len(marked(window))
    stroke(window, at(window, 0, 2), at(window, 12, 2), keys=SHIFT)
    assert 0 < len(marked(window)) < before
    assert marked(window)[:, 0].max() < 0.0
    assert window.session.undo_name == "Erase what is kept clear"
    press(window, Key.Key_E)
    assert window.actions_by_name["mark_erase"].isChecked()
    stroke(window, at(window, -14, 2), at(window, 0, 2))
    assert len(marked(window)) == 0
    press(window, Key.Key_E)


def test_a_flood_goes_up_to_the_creases_and_a_view_marks_what_is_seen(window: MainWindow, qtbot: QtBot) -> None:
    begin(window, qtbot)
    press(window, Key.Key_G)
    assert not window.stage.mark_bar.field.isEnabled()
    QTest.mouseClick(view_of(window)._sheet, LEFT, pos=at(window, 3, 3))
    assert window.session.kept_area == pytest.approx(40.0 * 20.0)
    assert np.allclose(marked(window)[:, 1], -10.0)
    press(window, Key.Key_I)
    QTest.mouseClick(view_of(window)._sheet, LEFT, SHIFT, at(window, 3, 3))
    assert window.session.keep_clear is not None
    assert len(marked(window)) == window.session.keep_clear.count
    view_of(window).look("top")
    press(window, Key.Key_K, SHIFT)
    qtbot.waitUntil(lambda: window.session.undo_name == "Keep clear what is seen", timeout=LONG_MS)
    assert (marked(window)[:, 2] > 9.99).sum() * 2 > 0
    assert window.session.kept_area == pytest.approx(2 * 40.0 * 20.0, rel=0.01)
    press(window, Key.Key_B)


def test_the_brush_is_sized_by_keys_and_by_a_number(window: MainWindow, qtbot: QtBot) -> None:
    begin(window, qtbot)
    bar, marking = window.stage.mark_bar, marking_of(window)
    marking.set_radius(2.0)
    press(window, Key.Key_BracketRight)
    assert marking.radius == pytest.approx(2.5)
    press(window, Key.Key_BracketLeft)
    assert marking.radius == pytest.approx(2.0)
    assert bar.field.text() == "2.0 mm"
    bar.field.setFocus()
    bar.field.selectAll()
    QTest.keyClicks(bar.field, "4,5")
    QTest.keyClick(bar.field, Key.Key_Return)
    assert marking.radius == pytest.approx(4.5)
    bar.field.selectAll()
    QTest.keyClicks(bar.field, "4000")
    QTest.keyClick(bar.field, Key.Key_Return)
    assert bar.field.property("wrong")
    assert marking.radius == pytest.approx(4.5)
    window.setFocus()


def test_proposals_go_elsewhere_and_a_vent_in_the_way_is_left_to_do(window: MainWindow, qtbot: QtBot) -> None:
    session = window.session
    low = next(v for v in session.proposals if v.entry_mm[2] < -9.9)
    session.accept(low.id)
    name = session.plan.vents[0].id
    view_of(window).look("bottom")
    begin(window, qtbot)
    press(window, Key.Key_K, SHIFT)
    qtbot.waitUntil(lambda: session.keep_clear is not None, timeout=LONG_MS)
    proposed(window, qtbot)
    assert [v.id for v in session.plan.vents] == [name]  # not removed
    told = [one for one in session.left if "cuts the surface to be kept clear" in one.text]
    assert [one.target for one in told] == [f"vent {name}"]
    assert all(v.entry_mm[2] > -9.0 for v in session.proposals)
    before = session.plan.vents[0].diameter_mm
    session.set_diameter(name, before + 0.5)
    qtbot.waitUntil(lambda: "kept clear" in session.drag_refusal, timeout=LONG_MS)
    assert session.plan.vents[0].diameter_mm == before


def test_a_drag_into_what_is_marked_is_refused_where_it_is(window: MainWindow, qtbot: QtBot) -> None:
    session, view = window.session, view_of(window)
    begin(window, qtbot)
    press(window, Key.Key_G)
    QTest.mouseClick(view._sheet, LEFT, pos=at(window, 0, 0))  # the whole front
    press(window, Key.Key_B)
    press(window, Key.Key_K)
    proposed(window, qtbot)
    vent = session.proposals[0]
    findings = session.findings
    assert findings is not None
    place = findings.scene.frame.to_build(np.array([-9.0, -10.0, -3.0]))
    session.drag_to(f"proposal {vent.id}", place, findings.scene.frame.direction_to_build(np.array([0.0, -1.0, 0.0])))
    qtbot.waitUntil(lambda: "kept clear, at (" in session.drag_refusal, timeout=LONG_MS)
    session.drag_cancel()


def test_escape_gives_a_stroke_up_then_ends_marking(window: MainWindow, qtbot: QtBot) -> None:
    begin(window, qtbot)
    sheet = view_of(window)._sheet
    QTest.mousePress(sheet, LEFT, NONE, at(window, 0, 0))
    move(sheet, at(window, 5, 0), NONE)
    press(window, Key.Key_Escape)
    QTest.mouseRelease(sheet, LEFT, NONE, at(window, 5, 0))
    assert len(marked(window)) == 0
    assert marking_of(window).is_on
    press(window, Key.Key_Escape)
    assert not marking_of(window).is_on
    assert window.stage.mark_bar.isHidden()


def test_the_right_button_turns_the_part_and_beside_it_the_left_one_moves_it(window: MainWindow, qtbot: QtBot) -> None:
    begin(window, qtbot)
    view = view_of(window)
    eye = view.eye
    beside = QPoint(view.width() - 12, 40)
    stroke(window, beside, beside + QPoint(-60, 0), beside + QPoint(-90, 0))
    assert view.eye.azimuth == eye.azimuth
    assert view.eye.focus != eye.focus
    middle = QPoint(view.width() // 2, view.height() // 2)
    QTest.mousePress(view._sheet, Qt.MouseButton.RightButton, NONE, middle)
    move(view._sheet, middle + QPoint(80, 0), NONE, Qt.MouseButton.RightButton)
    QTest.mouseRelease(view._sheet, Qt.MouseButton.RightButton, NONE, middle + QPoint(80, 0))
    assert view.eye.azimuth != eye.azimuth
    assert len(marked(window)) == 0
    press(window, Key.Key_K)
    eye = view.eye
    stroke(window, beside, beside + QPoint(-60, 0))
    assert view.eye.azimuth != eye.azimuth  # as before


def test_what_is_marked_is_hatched_in_the_picture(window: MainWindow, qtbot: QtBot) -> None:
    plain = image_of(window, qtbot)
    begin(window, qtbot)
    press(window, Key.Key_G)
    QTest.mouseClick(view_of(window)._sheet, LEFT, pos=at(window, 15, 5))
    press(window, Key.Key_B)
    press(window, Key.Key_K)  # the row above the view goes: it has the size that it had
    hatched = image_of(window, qtbot)
    place = at(window, -9, 0)
    crop = np.s_[place.y() - 20 : place.y() + 20, place.x() - 40 : place.x() - 5]
    differs = np.abs(hatched.astype(int) - plain)[crop]
    lines = differs > 40
    assert 0.15 < lines.mean() < 0.55  # lines, and space between them
    rows = lines[10]
    assert 4 <= np.count_nonzero(np.diff(rows.astype(int))) <= 10  # every 10 pixels one
    press(window, Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert np.abs(image_of(window, qtbot).astype(int) - plain).mean() < 2.0


def image_of(window: MainWindow, qtbot: QtBot) -> np.ndarray:
    """(h, w) grey levels of the view, with nothing in the making."""
    view = view_of(window)
    qtbot.waitUntil(lambda: looked_at(window) and not view.is_busy, timeout=LONG_MS)
    qtbot.wait(300)
    qtbot.waitUntil(lambda: not view.is_busy, timeout=LONG_MS)
    image = view.grab_image().convertToFormat(image_format())
    rows = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), image.bytesPerLine())
    return rows[:, : image.width()].copy()


def image_format():  # type: ignore[no-untyped-def]
    from PySide6.QtGui import QImage

    return QImage.Format.Format_Grayscale8


def test_the_card_says_how_much_is_marked_and_takes_it_off(window: MainWindow, qtbot: QtBot, tmp_path: Path) -> None:
    begin(window, qtbot)
    press(window, Key.Key_G)
    QTest.mouseClick(view_of(window)._sheet, LEFT, pos=at(window, 0, 0))
    press(window, Key.Key_B)
    press(window, Key.Key_K)
    window.session.select("")
    qtbot.waitUntil(lambda: isinstance(window.card.card, PartCard))
    texts = " ".join(label.text() for label in window.card.card.findChildren(type(window.stage.mark_bar._much)))
    assert "Kept clear" in texts
    assert "800" in texts.replace("\u2009", "")
    window.session.save(str(tmp_path / "kept.ventplan"))
    qtbot.waitUntil((tmp_path / "kept.ventplan").exists, timeout=LONG_MS)
    qtbot.waitUntil(lambda: not window.session.is_unsaved, timeout=LONG_MS)
    assert load_plan(tmp_path / "kept.ventplan").keep_clear == window.session.keep_clear
    button = next(b for b in window.card.card.findChildren(QPushButton) if b.text() == "Keep nothing clear")
    QTest.mouseClick(button, LEFT)
    assert window.session.keep_clear is None
    assert window.session.is_unsaved
    assert button.isHidden()


def test_the_tool_has_a_symbol_a_key_and_a_name(window: MainWindow) -> None:
    action = window.actions_by_name["keep_clear"]
    tool = next(t for t in window.stage.tools.findChildren(QToolButton) if t.defaultAction() is action)
    assert not tool.icon().isNull()
    assert action.shortcut().toString() == "K"
    assert window.stage.mark_bar.accessibleName() == "Keep clear"


def test_a_painted_part_offers_to_keep_its_colours_clear(opened: Open, tmp_path: Path, qtbot: QtBot) -> None:
    part = two_bells()
    low = part.vertices[part.faces][:, :, 2].max(axis=1) < part.vertices[:, 2].min() + 1e-9
    window = opened(painted(tmp_path / "painted.ply", part, low))
    qtbot.waitUntil(lambda: OFFER in window.notices.texts, timeout=LONG_MS)
    command = window.actions_by_name["mark_coloured"]
    assert command.isEnabled()
    command.trigger()
    assert OFFER not in window.notices.texts
    (dialog,) = window.findChildren(ColoursDialog)
    assert [box.text() for box in dialog.boxes] == ["#ffffff", "#c81e1e"]
    assert not dialog.keep.isEnabled()
    list(dialog.boxes)[1].click()
    dialog.keep.click()
    state = window.session.state
    assert state is not None
    assert state.keep_clear == FaceMask.of(low)
    assert window.session.undo_name == "Keep clear what is #c81e1e"
    window.session.undo()
    assert len(marked(window)) == 0


def test_the_part_stays_where_it_is_while_the_row_of_brushes_comes_and_goes(window: MainWindow, qtbot: QtBot) -> None:
    proposed(window, qtbot)
    view = view_of(window)

    def seen() -> tuple[int, float]:
        return view.mapTo(window, at(window, 0, 0)).y(), view.eye.mm_per_px

    row, scale = seen()
    assert view.is_fitted
    for there in (True, False):
        press(window, Key.Key_K)
        qtbot.waitUntil(lambda there=there: window.stage.mark_bar.isVisible() == there, timeout=LONG_MS)
        assert seen() == (pytest.approx(row, abs=1), scale)
        assert view.is_fitted
