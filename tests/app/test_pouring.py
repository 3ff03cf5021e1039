"""Liquid as it is drawn, and how the part is held: against volumes that are plain to see."""

from __future__ import annotations

import numpy as np
import pytest
from hollow_parts import found

from ventplanner.app.draining import not_alone, told
from ventplanner.app.liquid import Liquid, Skin, liquid_at
from ventplanner.app.pouring import HANGING, pour, turned
from ventplanner.draining.bath import Rest
from ventplanner.draining.cells import cells_of
from ventplanner.draining.planning import drain
from ventplanner.draining.tilt import Tilt
from ventplanner.plan.model import Plan
from ventplanner.profile import Profile


def enclosed(liquid: Liquid) -> float:
    """mm3 within a surface that faces outwards, by the divergence theorem."""
    a, b, c = (liquid.vertices[liquid.faces[:, k]] for k in range(3))
    return float(np.einsum("ij,ij->i", np.cross(a, b), c).sum() / 6.0)


@pytest.mark.parametrize("up", [(0.0, 0.0, 1.0), (0.0, 0.0, -1.0), (1.0, 0.0, 0.0), (0.36, 0.48, 0.8)])
def test_half_full_cubes_are_drawn_half_full_with_flat_levels(up: tuple[float, float, float]) -> None:
    findings, way = found(), np.array(up)
    cells = cells_of(findings)
    settled = Tilt.of(cells, way).settle(0.5 * cells.volume)
    drawn = liquid_at(Skin.of(findings, cells), Rest(way, settled, {}))
    # Two cubes of 12 mm, each half full.
    assert enclosed(drawn) == pytest.approx(12.0**3, rel=0.04)
    heights = drawn.vertices @ way
    centres = (np.array([-9.0, 0.0, -2.0]), np.array([9.0, 0.0, 1.0]))
    built = findings.scene.frame.to_build(np.array(centres))
    for centre in built:
        own = np.abs(drawn.vertices - centre).max(axis=1) < 6.5
        # By symmetry the level of a half full cube goes through its middle.
        assert float(heights[own].max()) == pytest.approx(float(centre @ way), abs=0.15)


def test_a_hollow_without_a_way_out_is_drawn_full_in_each_step() -> None:
    poured = pour(found(), Plan(), Profile())
    assert [scene.on_plate for scene in poured.scenes][:2] == [True, False]
    for scene in poured.scenes:
        assert enclosed(scene.liquid) == pytest.approx(2 * 12.0**3, rel=0.03)
        assert scene.streams == ()


def test_the_part_is_turned_until_up_is_up_and_nothing_is_mirrored() -> None:
    stance = HANGING
    for up in ((0.0, 0.0, -1.0), (0.0, 0.0, 1.0), (0.6, 0.0, 0.8), (-0.6, 0.0, -0.8), (0.0, 1.0, 0.0)):
        stance = turned(stance, np.array(up))
        held = np.array(stance)
        assert held @ np.array(up) == pytest.approx((0.0, 0.0, 1.0), abs=1e-12)
        assert held @ held.T == pytest.approx(np.eye(3), abs=1e-12)
        assert float(np.linalg.det(held)) == pytest.approx(1.0)


def test_what_is_left_in_on_purpose_is_told_and_not_reproached() -> None:
    findings, kept = found(), (("A", "ballast"), ("B", ""))
    done = drain(findings, Plan(), Profile())
    assert told(findings, Plan(left_alone=kept[:1]), done).is_left
    part = told(findings, Plan(left_alone=kept), done)
    assert not part.is_left
    assert not_alone(done, part.plan).left_where == ()
    of_cavity = {left.cavity: text for left, text in zip(done.left_where, part.reasons, strict=True)}
    assert of_cavity["A"] == "It has no way out. It is left as it is: ballast."
    assert of_cavity["B"] == "It has no way out. It is left as it is."
