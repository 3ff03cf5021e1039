"""The picture of a layer, and cups in the model beside cups as printed."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from bodies import block, box, cut, inward, rod, solid
from hollow_parts import found as two_bells

from ventplanner.analysis.findings import analyse
from ventplanner.errors import ParameterError
from ventplanner.geometry.columns import Tool
from ventplanner.geometry.pose import Pose
from ventplanner.printed import engine
from ventplanner.printed.engine import BREATHING, CURED, MATERIAL, OUTSIDE, SEALED, AsPrinted, as_printed
from ventplanner.profile import Profile

MM2 = 0.05**2


@cache
def bell(*vents: Tool) -> AsPrinted:
    """A closed box 10 mm wide, hollow from 2 to 8 mm, as printed."""
    return as_printed(analyse(solid(box(10.0), inward(box(6.0)))), vents)


def areas(picture: np.ndarray) -> dict[int, float]:
    """mm2 of each state."""
    return {int(k): float(n) * MM2 for k, n in zip(*np.unique(picture, return_counts=True), strict=True)}


def test_a_layer_through_a_sealed_hollow() -> None:
    result = bell()
    for printed, width in ((True, 5.9), (False, 6.0)):
        found = areas(result.layer(100, printed=printed))
        assert found[SEALED] == pytest.approx(width**2, abs=4 * MM2)  # the light spreads by a pixel from every wall
        assert found[MATERIAL] == pytest.approx(64.0)
        assert BREATHING not in found
    assert set(areas(result.layer(20))) <= {MATERIAL, OUTSIDE, CURED}


def test_the_ceiling_that_came_down_is_told() -> None:
    result = bell()
    under_the_ceiling = int(7.9 / 0.05)
    assert areas(result.layer(under_the_ceiling))[CURED] >= 36.0
    assert areas(result.layer(under_the_ceiling, printed=False))[SEALED] == pytest.approx(36.0)


def test_a_hollow_breathes_from_the_height_where_its_vent_is() -> None:
    result = bell(Tool((-5.1, 0.0, 5.0), (-2.9, 0.0, 5.0), 0.75))
    assert SEALED in areas(result.layer(70))
    assert BREATHING not in areas(result.layer(70))
    at_the_vent, above = areas(result.layer(100)), areas(result.layer(130))
    assert SEALED not in at_the_vent
    assert at_the_vent[BREATHING] > 36.0
    assert 30.0 < above[BREATHING] <= 36.0


def test_an_upright_vent_breathes_and_is_not_outside() -> None:
    picture = bell(Tool((0.0, 0.0, -0.1), (0.0, 0.0, 2.1), 0.75)).layer(20, printed=False)
    assert areas(picture)[BREATHING] == pytest.approx(np.pi * 0.75**2, abs=0.05)


def test_layers_off_the_part_are_its_first_and_last() -> None:
    result = bell()
    assert np.array_equal(result.layer(-5), result.layer(0))
    assert np.array_equal(result.layer(10_000), result.layer(result.layers - 1))
    assert result.layer(0).shape == (result.grid.ny, result.grid.nx)
    assert result.layer(0).dtype == np.uint8


def test_the_plate_seals_what_stands_on_it() -> None:
    part = solid(cut(box(10.0), block((-3, -3, -6), (3, 3, 3))))
    held, flat = (as_printed(analyse(part, Pose(on=on))) for on in ("supports", "plate"))
    assert SEALED not in areas(held.layer(50))
    assert areas(flat.layer(50))[SEALED] == pytest.approx(36.0, abs=1.5)


def test_each_cup_keeps_the_name_of_its_place() -> None:
    findings = two_bells()
    low = Tool((-20.1, 0.0, 2.3), (-14.9, 0.0, 2.3), 0.1)
    high = Tool((20.1, 0.0, 6.1), (14.9, 0.0, 6.1), 1.0)
    result = as_printed(findings, (low, high))
    rows = {(c.cavity, c.cup): (c.nominal, c.printed) for c in result.cups}
    assert rows == {("A", "A1"): ("breathing", "sealed"), ("B", "B1"): ("breathing", "breathing")}
    sealed = next(c for c in result.cups if c.cavity == "A")
    assert sealed.to_mm is None
    assert sealed.volume_mm3 == pytest.approx(12.0**3, rel=0.05)
    assert result.found.sealed_area.volume >= sealed.volume_mm3


def test_an_opening_that_prints_closed_makes_a_cup_that_the_model_does_not_have() -> None:
    # A hole of 0.3 mm in the floor: open in the model from the start, closed as printed under strong light.
    part = solid(cut(box(10.0), box(6.0), rod((0.0, 0.0, -6.0), (0.0, 0.0, 0.0), 0.15)))
    findings = analyse(part)
    assert all(c.state == "breathing" for cavity in findings.cavities for c in cavity.cups)
    result = as_printed(findings, (), Profile(blur_mm=0.12, exposure_ratio=8.0))
    bad = [c for c in result.cups if c.printed == "sealed"]
    assert [(c.cavity, c.nominal) for c in bad] == [("A", "breathing")]


def test_a_wall_that_the_pixel_may_miss_is_told() -> None:
    findings = bell().part.findings
    assert not any("missed" in note for note in as_printed(findings).notes)
    thin = analyse(solid(box(3.0), inward(box(2.8))))
    assert any("missed by this pixel" in note for note in as_printed(thin, (), Profile(pixel_mm=0.1)).notes)


def test_cups_at_the_pixel_of_more_pixels_than_memory_are_not_known_and_the_way_out_is_told() -> None:
    findings = analyse(solid(box((250.0, 250.0, 10.0)), inward(box((246.0, 246.0, 6.0)))))
    part = engine.PixelPart.of(findings, Profile())
    assert not part.is_whole
    with pytest.raises(ParameterError, match=r"25 million pixels .* at least 0\.089 mm"):
        _ = part.runs


def test_the_same_part_at_the_same_pixel_is_cast_once(monkeypatch: pytest.MonkeyPatch) -> None:
    first = bell()
    monkeypatch.setattr(engine.PixelPart, "of", None)
    again = as_printed(first.part.findings, (), first.profile, part=first.part)
    assert [c.printed for c in again.cups] == [c.printed for c in first.cups]
