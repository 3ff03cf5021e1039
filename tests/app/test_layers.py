"""One layer as a picture, from the columns of the analysis: areas, cavities at places, letters."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from bodies import box, inward, solid
from hollow_parts import found, proposed

from ventplanner.analysis.findings import analyse
from ventplanner.app.layers import BREATHING, MATERIAL, SEALED, Layer, layer_as_printed, layer_of_columns
from ventplanner.plan.fitting import tool_of_vent
from ventplanner.printed import engine
from ventplanner.printed.engine import as_printed
from ventplanner.profile import Profile
from ventplanner.ui.layer import states

COARSE = Profile("Coarse", pixel_mm=0.25, layer_height_mm=0.1)


def through_both() -> Layer:
    """Through the middle of both bells (A 2 to 14 mm high, B 5 to 17 mm), without vents."""
    return layer_of_columns(found(), found().cups, 10.0)


def test_the_numbers_of_the_states_are_those_of_the_engine() -> None:
    names = ("MATERIAL", "OUTSIDE", "BREATHING", "SEALED", "CURED")
    assert [getattr(states, n) for n in names] == [getattr(engine, n) for n in names]
    assert list(states.WORDS) == [getattr(engine, n) for n in names]


def test_areas_are_those_of_the_part() -> None:
    layer = through_both()
    assert layer.source == "columns"
    assert layer.area(SEALED) == pytest.approx(2 * 144.0, rel=0.03)
    assert layer.area(MATERIAL) == pytest.approx(800.0 - 2 * 144.0, rel=0.03)
    assert layer.area(BREATHING) == 0.0


def test_a_place_tells_its_cavity() -> None:
    layer, ids = through_both(), [c.id for c in found().cavities]
    assert ids[layer.cavity_at(-9.0, 0.0)] == "A"
    assert ids[layer.cavity_at(9.0, 0.0)] == "B"
    assert ids[layer.cavity_at(3.5, 5.6)] == "B"  # near a corner
    for x, y in ((0.0, 0.0), (-19.0, 0.0), (30.0, 0.0), (500.0, 500.0)):
        assert layer.cavity_at(x, y) == -1


def test_letters_stand_well_inside() -> None:
    letters = {found().cavities[at].id: (x, y) for at, x, y in through_both().letters}
    assert set(letters) == {"A", "B"}
    assert letters["A"] == pytest.approx((-9.0, 0.0), abs=1.0)
    assert letters["B"] == pytest.approx((9.0, 0.0), abs=1.0)


def test_the_box_of_a_cavity_holds_it() -> None:
    box = through_both().box_of([c.id for c in found().cavities].index("A"))
    assert box is not None
    assert box[0] == pytest.approx([-15.0, -6.0], abs=0.5)
    assert box[1] == pytest.approx([-3.0, 6.0], abs=0.5)
    assert layer_of_columns(found(), found().cups, 16.0).box_of(0) is None  # above A


def test_with_its_vents_a_bell_breathes() -> None:
    findings = found()
    tools = tuple(tool_of_vent(findings, v) for v in proposed().vents)
    layer = layer_of_columns(findings, findings.scene.cups(tools), 10.0)
    assert layer.area(SEALED) == 0.0
    assert layer.area(BREATHING) == pytest.approx(2 * 144.0, rel=0.05)
    assert layer.cavity_at(-9.0, 0.0) >= 0


def test_below_an_overhang_is_outside_and_belongs_to_no_cavity() -> None:
    """A mushroom: a stem, and above it a cap with a hollow of its own."""
    stem, cap = box((6.0, 6.0, 10.0), (0.0, 0.0, 5.0)), box((24.0, 24.0, 8.0), (0.0, 0.0, 13.9))
    part = solid(trimesh.boolean.union([stem, cap]), inward(box((4.0, 4.0, 6.0), (0.0, 0.0, 5.0))))
    findings = analyse(part)
    layer = layer_of_columns(findings, findings.cups, 5.0)
    assert layer.area(BREATHING) == 0.0
    assert layer.area(SEALED) == pytest.approx(16.0, rel=0.1)
    assert layer.cavity_at(8.0, 0.0) == -1
    assert layer.cavity_at(0.0, 0.0) == 0


def test_a_part_without_a_void_at_a_height_has_no_letter() -> None:
    layer = layer_of_columns(found(), found().cups, 1.0)
    assert layer.letters == ()
    assert (layer.cavity == -1).all()


def test_pixels_of_the_model_and_of_the_print_stand_side_by_side() -> None:
    findings = found()
    result = as_printed(findings, (), COARSE)
    model, printed = (layer_as_printed(findings, result, 100, printed=p) for p in (False, True))
    assert (model.source, printed.source) == ("pixels", "printed")
    assert model.z == printed.z == pytest.approx(10.05)
    assert model.area(SEALED) == pytest.approx(2 * 144.0, rel=0.05)
    assert printed.area(SEALED) <= model.area(SEALED)
    assert model.grid == printed.grid
    assert np.unique(printed.states).max() <= engine.CURED
    assert findings.cavities[printed.cavity_at(-9.0, 0.0)].id == "A"
