"""Pictures made of rays, held against areas that are known from the shapes' measures."""

from __future__ import annotations

import bodies as b
import numpy as np
import pytest

from ventplanner.geometry.rays import Target
from ventplanner.geometry.sight import Sight
from ventplanner.sheet.pictures import MATERIAL, VOID, Eye, cut, shaded

UP = np.array([0.0, 0.0, 1.0])


def target(mesh: b.Mesh) -> Target:
    return Target.of(np.asarray(mesh.vertices, dtype=np.float64), np.asarray(mesh.faces, dtype=np.int32))


@pytest.mark.parametrize("look", [(0.0, 1.0, 0.0), (0.3, -0.8, 0.2), (0.0, 0.0, 1.0), (0.0, 0.0, -1.0)])
def test_a_ball_is_a_disc_from_every_side(look: tuple[float, float, float]) -> None:
    ball = target(b.ball(10.0, (3.0, -2.0, 5.0)))
    eye = Eye.at(ball.vertices, np.asarray(look), 200, 160, UP)
    seen = (shaded(Sight.of(ball), eye) < 255).sum() / eye.scale**2
    outline = 0.5 / eye.scale  # it is drawn on both sides of the edge, and pixels count whole
    assert seen == pytest.approx(np.pi * (10.0 + outline) ** 2, rel=0.01)
    assert eye.pixel(np.array([[3.0, -2.0, 5.0]]))[0] == pytest.approx((100.0, 80.0), abs=0.1)


def test_what_is_up_is_up_and_what_is_right_is_right() -> None:
    eye = Eye.at(np.array([[-1.0, -1.0, -1.0], [1.0, 1.0, 1.0]]), np.array([0.0, 1.0, 0.0]), 100, 100, UP)
    up, right = eye.pixel(np.array([[0.0, 0.0, 1.0], [1.0, 0.0, 0.0]]))  # looking along +y, x is to the right
    assert (up[1] < 50, up[0]) == (True, pytest.approx(50.0))
    assert (right[0] > 50, right[1]) == (True, pytest.approx(50.0))


def test_a_section_has_the_area_of_its_material() -> None:
    hollow = b.cut(b.ball(10.0), b.ball(7.0), b.rod((0, 0, 0), (12, 0, 0), 1.5))
    eye = Eye.at(hollow.vertices, np.array([0.0, 1.0, 0.0]), 240, 240, UP)
    grey = cut(target(hollow), eye).astype(float)
    area = ((VOID - grey) / (VOID - MATERIAL)).sum() / eye.scale**2
    hole = 3.0 * (np.sqrt(10.0**2 - 1.5**2) + 10.0) / 2 - 3.0 * (np.sqrt(7.0**2 - 1.5**2) + 7.0) / 2  # about a strip
    assert area == pytest.approx(np.pi * (10.0**2 - 7.0**2) - hole, rel=0.01)
    row = grey[:, round(eye.pixel(np.array([[8.5, 0.0, 0.0]]))[0][0])]
    assert (row[100:140] > 0.5 * (MATERIAL + VOID)).sum() / eye.scale == pytest.approx(3.0, abs=0.2)  # the hole's width


def test_the_rim_of_a_hole_is_drawn() -> None:
    plate = b.cut(b.box((20, 4, 20)), b.rod((0, -3, 0), (0, 0, 0), 2.0))
    eye = Eye.at(plate.vertices, np.array([0.0, 1.0, 0.0]), 200, 200, UP)
    grey = shaded(Sight.of(target(plate)), eye)
    x, y = eye.pixel(np.array([[2.0, -2.0, 0.0]]))[0]
    assert grey[round(y), round(x) - 2 : round(x) + 3].min() < 120 < grey[round(y), round(x) + 20]
