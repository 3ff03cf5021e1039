"""The map of directions: its projection, its colours, and what a click and the arrow keys choose."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from ventplanner.orienting.model import Map
from ventplanner.ui.orient.projection import BOTTOM, TOP, Discs, cells, directions_of, stepped
from ventplanner.ui.orient.ramp import ANCHORS, colours_of
from ventplanner.ui.orient.sphere import Mark, SphereMap
from ventplanner.ui.view.colours import contrast

DISCS = Discs(100.0, (100.0, 100.0), (320.0, 100.0))


@settings(max_examples=60, deadline=None)
@given(st.floats(-1.0, 1.0), st.floats(0.0, 2.0 * math.pi))
def test_a_direction_is_found_again_where_it_is_drawn(z: float, around: float) -> None:
    level = math.sqrt(1.0 - z * z)
    direction = (level * math.cos(around), level * math.sin(around), z)
    disc, (x, y) = DISCS.to_paper(direction)
    assert disc == (TOP if z > 0.0 else BOTTOM)
    back = DISCS.to_direction(100.0 + (x - 100.0) * (1 - 1e-9), y) if disc == BOTTOM else DISCS.to_direction(x, y)
    if back is not None:  # on the rim itself a bit of rounding may be outside
        assert back == pytest.approx(direction, abs=1e-4)


def test_equal_patches_of_paper_are_equal_patches_of_the_sphere() -> None:
    # A cap of polar angle t has the share (1 - cos t) / 2 of the sphere (Archimedes); on paper a disc of its own share.
    for degrees in (20.0, 50.0, 80.0):
        t = math.radians(degrees)
        _, (x, y) = DISCS.to_paper((math.sin(t), 0.0, -math.cos(t)))
        share = math.hypot(x - 100.0, y - 100.0) ** 2 / (2.0 * 100.0**2)
        assert share == pytest.approx(0.5 * (1.0 - math.cos(t)))


def test_each_pixel_has_the_nearest_direction() -> None:
    rng = np.random.default_rng(3)
    among = rng.normal(size=(40, 3))
    among /= np.linalg.norm(among, axis=1)[:, None]
    found = cells(among, 24, TOP)
    right, up = (5 + 0.5) / 12.0 - 1.0, 1.0 - (9 + 0.5) / 12.0
    direction = directions_of(np.array([right]), np.array([up]), TOP)[0]
    assert found[9, 5] == np.argmin(np.linalg.norm(among - direction, axis=1))
    assert np.linalg.norm(direction) == pytest.approx(1.0)


def test_the_colours_go_darker_with_every_step_and_unknown_is_none_of_them() -> None:
    assert [contrast(a, "#000000") for a in ANCHORS] == sorted((contrast(a, "#000000") for a in ANCHORS), reverse=True)
    assert contrast(ANCHORS[0], ANCHORS[-1]) > 7.0
    shown = colours_of(np.array([2.0, np.nan, 8.0, 2.0]))
    assert "#{:02x}{:02x}{:02x}".format(*shown[0]) == ANCHORS[0]
    assert "#{:02x}{:02x}{:02x}".format(*shown[2]) == ANCHORS[-1]
    assert (shown[0] == shown[3]).all()
    assert len({tuple(row) for row in shown[:3].tolist()}) == 3
    assert (colours_of(np.array([4.0, 4.0])) == shown[0]).all()  # all the same: all little
    assert np.abs(colours_of(np.array([4.0, 4.01])).astype(int) - shown[0]).max() < 25  # next to no difference


def test_a_step_goes_to_the_neighbour_on_that_side() -> None:
    among = np.array([(0.0, 0.0, -1.0), (0.3, 0.0, -0.954), (0.6, 0.0, -0.8), (0.0, 0.5, -0.866)])
    assert stepped(among, 0, 1.0, 0.0, DISCS) == 1
    assert stepped(among, 1, 1.0, 0.0, DISCS) == 2
    assert stepped(among, 0, 0.0, 1.0, DISCS) == 3
    assert stepped(among, 0, -1.0, 0.0, DISCS) == 0


def test_a_click_chooses_a_mark_or_the_nearest_patch_and_arrow_keys_step(qtbot: QtBot) -> None:
    among = np.array([(0.0, 0.0, -1.0), (0.5, 0.0, -0.866), (0.0, 0.0, 1.0)])
    found = Map(among, {"vents": np.array([3.0, 1.0, 2.0])}, np.zeros(3, dtype=bool))
    shown = SphereMap(lambda _: "tip")
    qtbot.addWidget(shown)
    shown.resize(300, shown.heightForWidth(300))
    shown.show()
    chosen: list[tuple[float, float, float]] = []
    shown.chosen.connect(chosen.append)
    QTest.mouseClick(shown, Qt.MouseButton.LeftButton, pos=shown.place_of((0.0, 0.0, 1.0)).toPoint())
    assert chosen == []  # nothing is known yet
    shown.show_map(found, "vents", ("1", "3"))
    mark = (0.0, 0.2, 0.98)
    marked: list[int] = []
    shown.marked.connect(marked.append)
    shown.show_marks((Mark(1, mark), Mark(0, mark)), (0.0, 0.0, -1.0), "Bottom. 3 vents.")
    assert shown.accessibleDescription() == "Bottom. 3 vents."
    QTest.mouseClick(shown, Qt.MouseButton.LeftButton, pos=shown.place_of((0.45, 0.1, -0.89)).toPoint())
    for each in (Mark(1, mark), Mark(0, mark)):  # both in one place are beside each other
        QTest.mouseClick(shown, Qt.MouseButton.LeftButton, pos=shown.place_of_mark(each).toPoint())
    QTest.mouseClick(shown, Qt.MouseButton.LeftButton, pos=QPoint(1, 1))
    assert (chosen, marked) == ([(0.5, 0.0, -0.866)], [1, 0])
    shown.setFocus()
    QTest.keyClick(shown, Qt.Key.Key_Right)
    assert chosen[-1] == (0.5, 0.0, -0.866)
    image = shown.grab().toImage()
    place = (shown.place_of((0.7, 0.0, -0.714)) * shown.devicePixelRatioF()).toPoint()
    assert image.pixelColor(place).name() == ANCHORS[0]  # the least
