"""What the labels and the ruler of the view say, and that they can be read."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtGui import QFontMetricsF
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot
from ui.pictures import block
from ui.view_bench import Bench, pixel, settle

from ventplanner.ui.picture import CavityState, Picture
from ventplanner.ui.units import diameter
from ventplanner.ui.view.colours import LIGHT, contrast
from ventplanner.ui.view.draw_room import note_boxes, reaches_ruler
from ventplanner.ui.view.labels import placed
from ventplanner.ui.view.shown import LOOKING, WORKING, Shown, box_of_picture, description
from ventplanner.ui.words import STATE_WORDS


def texts(shown: Shown, qapp: QApplication) -> list[str]:
    return sorted(label.text for label in placed(shown, QFontMetricsF(qapp.font())))


def with_state(state: CavityState) -> Picture:
    picture = block()
    return replace(picture, cavities=(replace(picture.cavities[0], state=state),))


@pytest.mark.parametrize(
    ("mm", "text"), [(3.25, "3.25 mm"), (2.5, "2.5 mm"), (3.0, "3.0 mm"), (1.999, "2.0 mm"), (0.35, "0.35 mm")]
)
def test_a_diameter_keeps_its_hundredths(mm: float, text: str) -> None:
    assert diameter(mm) == text


@pytest.mark.parametrize("state", ["sealed", "late", "breathing"])
def test_labels_and_description_have_the_words_of_the_list(state: CavityState, qapp: QApplication) -> None:
    shown = Shown(picture=with_state(state), hovered="cavity A")
    assert f"A · {STATE_WORDS[state]}" in texts(shown, qapp)
    assert description(shown.picture) == f"1 cavity: A {STATE_WORDS[state]}."


def test_accepted_and_proposed_vents_say_their_diameter_by_the_same_rule(qapp: QApplication) -> None:
    picture = block()
    proposal = picture.vents[0]
    accepted = replace(proposal, id="2", status="accepted", diameter=3.25, start=(9, -11, 5), end=(9, -5, 5))
    few = Shown(picture=replace(picture, vents=(accepted, proposal)))
    assert texts(few, qapp) == ["1 · 3.0 mm", "2 · 3.25 mm", "A"]
    many = tuple(
        replace(v, id=str(10 + k), start=(20 * k, -11, 40), end=(20 * k, -5, 40))
        for k, v in enumerate([accepted, proposal] * 5)
    )
    crowded = Shown(picture=replace(picture, vents=many, selected="vent 12"))
    assert [t for t in texts(crowded, qapp) if "mm" in t] == ["12 · 3.25 mm"]
    narrow = replace(few, eye=few.eye.resized(90, 300))
    assert not any("mm" in text for text in texts(narrow, qapp))


@pytest.mark.parametrize("hanging", [False, True])
def test_labels_keep_off_the_words_of_plate_and_film_and_inside_the_view(hanging: bool, qapp: QApplication) -> None:
    picture = block()
    metrics = QFontMetricsF(qapp.font())
    eye = replace(Shown(picture=picture).eye.resized(480, 360), hanging=hanging)
    low, high = (corner.copy() for corner in box_of_picture(picture))
    low[2] = picture.plate_at
    eye = eye.fitted(low, high, (40, 40, 40, 40))
    bare = Shown(picture=picture, eye=eye)
    boxes = note_boxes(bare, metrics)
    assert len(boxes) == 2
    for box in boxes:  # a vent whose label would stand right upon the words, and one in the corner
        for x, y in ((box.center().x(), box.center().y()), (eye.width - 1.0, box.center().y())):
            at = eye.under(x, y)
            vent = replace(picture.vents[0], start=tuple(at), end=tuple(at + 5.0 * eye.axes[2]))
            shown = replace(bare, picture=replace(picture, vents=(vent,)))
            found = [label for label in placed(shown, metrics) if label.word == vent.word]
            for label in found:
                assert not any(label.rect.intersects(taken) for taken in boxes)
                assert (label.rect.left() >= 0, label.rect.right() <= eye.width) == (True, True)
            assert found


def test_a_proposal_is_seen_while_the_vent_of_the_same_number_is_dragged(qapp: QApplication) -> None:
    picture = block()
    proposal = picture.vents[0]
    vent = replace(proposal, status="accepted", start=(9, -11, 5), end=(9, -5, 5))
    shown = Shown(picture=replace(picture, vents=(vent, proposal)), dragged=vent)
    assert list(shown.vents()) == [proposal]


def test_the_ruler_can_be_read_over_an_enlarged_part(bench: Bench, qtbot: QtBot) -> None:
    view = bench.view
    assert not reaches_ruler(view.shown)
    place = pixel(view, (0.0, 0.0, 10.0))
    view.look_from(view.eye.zoomed(6.0, place.x(), place.y()))
    assert reaches_ruler(view.shown)
    settle(bench, qtbot)
    image = view.grab_image()
    # The blue cavity is beside the strip, and shines through it a little.
    column = image.pixelColor(200, 300)
    strip = image.pixelColor(50, 300)
    assert column.blue() - column.red() > 40
    assert contrast(LIGHT.muted, strip.name()) >= 4.5


def test_level_and_sides_show_the_whole_part_whatever_was_enlarged_before(bench: Bench) -> None:
    view = bench.view
    picture = view.shown.picture
    assert picture is not None
    low, high = box_of_picture(picture)
    corners = np.array([[x, y, z] for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])])

    def is_whole() -> bool:
        seen = view.eye.to_screen(corners)
        inside = (seen[:, :2] >= 0) & (seen[:, :2] <= [view.width(), view.height()])
        return bool(inside.all())

    for change in (view.level, lambda: view.look("right")):
        view.look("top")
        view.look_from(view.eye.zoomed(5.0, 100.0, 100.0))
        assert not is_whole()
        change()
        assert is_whole()
        assert view.eye.is_level


def test_only_what_was_worked_out_before_is_worked_out_anew(bench: Bench) -> None:
    picture = block()
    for cavities, notice in (((), LOOKING), (picture.cavities, WORKING)):
        bench.show_picture(replace(picture, cavities=cavities, stale=True))
        assert bench.view.shown.notice == notice
