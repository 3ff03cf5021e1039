"""How layers look: states apart without colour, names for screen readers, a focus that is seen."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QRect, Qt
from PySide6.QtGui import QColor, QImage
from PySide6.QtWidgets import QAbstractButton, QWidget
from pytestqt.qtbot import QtBot
from ui.fake_session import press
from ui.pictures import SAMPLES
from ui.test_window_access import _dialog, _nameless

from ventplanner.app.layers import Layer
from ventplanner.geometry.columns import Grid
from ventplanner.ui.layer.painting import image_of, swatch
from ventplanner.ui.layer.plane import Plane
from ventplanner.ui.layer.states import BREATHING, CURED, MATERIAL, OUTSIDE, SEALED, WORDS
from ventplanner.ui.view.colours import DARK, LIGHT, Colours
from ventplanner.ui.window import MainWindow

Open = Callable[[Path | str], MainWindow]
LOOKS = pytest.mark.parametrize("colours", [LIGHT, DARK], ids=["light", "dark"])


def grey(image: QImage) -> np.ndarray:
    """Brightness of each pixel: what is left without any colour."""
    made = image.convertToFormat(QImage.Format.Format_Grayscale8)
    rows = np.frombuffer(made.constBits(), np.uint8).reshape(made.height(), made.bytesPerLine())
    return rows[:, : made.width()].astype(float)


def strips(ratio: float = 1.0, selected: int = -1, colours: Colours = LIGHT) -> QImage:
    """Five strips of 10 mm, one for each state, each mm 10 px."""
    states = np.repeat(np.arange(5, dtype=np.uint8), 10)[None, :].repeat(20, axis=0)
    layer = Layer("printed", 1.0, Grid(0.0, 0.0, 1.0, 50, 20), states, np.zeros((20, 50), np.int16), 1, ())
    return image_of(layer, Plane(25.0, 10.0, 0.1, 500, 200), colours, selected, ratio)


@LOOKS
def test_states_can_be_told_apart_without_colour(colours: Colours) -> None:
    found = {state: grey(swatch(state, colours, 63, 63, 1.0)) for state in WORDS}
    for state in (MATERIAL, OUTSIDE):
        assert np.ptp(found[state]) == 0.0
    for state in (BREATHING, SEALED, CURED):
        assert np.ptp(found[state]) > 30.0, WORDS[state]
    assert abs(found[MATERIAL].mean() - found[OUTSIDE].mean()) > 40.0
    for one, other in combinations((BREATHING, SEALED, CURED), 2):
        a, b = (np.abs(np.fft.rfft2(found[k] - found[k].mean())) for k in (one, other))
        alike = float((a * b).sum() / np.sqrt((a * a).sum() * (b * b).sum()))
        assert alike < 0.8, (WORDS[one], WORDS[other])


@LOOKS
def test_a_pixel_has_the_colour_of_its_state(colours: Colours) -> None:
    image = strips(colours=colours)
    assert image.pixelColor(50, 100) == QColor(colours.cut)
    assert image.pixelColor(150, 100) == QColor(colours.paper)
    inside = {image.pixelColor(x, y).name() for x in range(310, 390) for y in range(50, 90)}
    assert colours.sealed.lower() in inside
    assert len(inside) == 2
    assert strips(2.0).width() == 1000


def test_what_lies_beyond_the_picture_is_outside() -> None:
    states = np.full((4, 4), OUTSIDE, dtype=np.uint8)
    states[1:3, 1:3] = MATERIAL
    layer = Layer("columns", 1.0, Grid(-2.0, -2.0, 1.0, 4, 4), states, np.full((4, 4), -1, np.int16), 1, ())
    image = image_of(layer, Plane(0.0, 0.0, 0.1, 200, 100), LIGHT)
    assert image.pixelColor(100, 50) == QColor(LIGHT.cut)
    for x, y in ((2, 2), (197, 97), (70, 50)):
        assert image.pixelColor(x, y) == QColor(LIGHT.paper)


def test_the_selected_cavity_has_a_rim() -> None:
    plain, chosen = strips(), strips(selected=0)
    for x in (201, 398):  # the void goes from the left of the dots to the right of the stripes
        assert chosen.pixelColor(x, 100) == QColor(LIGHT.ink)
        assert plain.pixelColor(x, 100) != QColor(LIGHT.ink)
    assert chosen.pixelColor(350, 100) == plain.pixelColor(350, 100)
    assert chosen.pixelColor(1, 100) == plain.pixelColor(1, 100)  # material has none


def test_everything_about_layers_has_a_name(opened: Open, qtbot: QtBot) -> None:
    window = opened(SAMPLES / "seal-pup.stl")
    press(window, Qt.Key.Key_Y)
    panel = window.stage.layers
    qtbot.waitUntil(lambda: panel.sheet.layer is not None)
    assert _nameless(window) == []
    assert panel.sheet.accessibleName() == "Layer from above"
    assert "breathing void" in panel.sheet.accessibleDescription()
    assert "sealed void" in panel.legend.accessibleDescription()
    for show in (window.dialogs.show_test_piece, window.dialogs.show_how_it_prints):
        show()
        dialog = _dialog(window)
        assert _nameless(dialog) == []
        dialog.reject()
    press(window, Qt.Key.Key_Y)


def on_its_ground(window: MainWindow, widget: QWidget) -> np.ndarray:
    """A widget as it stands in the window: alone, one without a ground would be grabbed on black."""
    image = window.grab(QRect(widget.mapTo(window, QPoint()), widget.size())).toImage()
    return grey(image)


def test_the_focus_in_the_layers_is_seen(opened: Open, qtbot: QtBot) -> None:
    window = opened(SAMPLES / "seal-pup.stl")
    press(window, Qt.Key.Key_Y)
    panel = window.stage.layers
    qtbot.waitUntil(lambda: panel.sheet.layer is not None and panel.is_current)
    widgets: list[QWidget] = [w for w in panel.findChildren(QAbstractButton) if w.isVisible() and w.isEnabled()]
    for widget in (*widgets, panel.sheet, panel.slider, panel.number):
        window.setFocus()
        before = on_its_ground(window, widget)
        widget.setFocus(Qt.FocusReason.TabFocusReason)
        qtbot.waitUntil(widget.hasFocus)
        assert np.abs(on_its_ground(window, widget) - before).max() > 60, widget.accessibleName()
    assert len(widgets) >= 4
    press(window, Qt.Key.Key_Y)
