"""Widths as printed: against the formulas of curing, published channels, and what must never happen."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from bodies import block, box, cut, inward, rod, solid
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.errors import Cancelled
from ventplanner.geometry.bore import Bore
from ventplanner.geometry.columns import Tool
from ventplanner.geometry.outline import Outline
from ventplanner.geometry.pose import Pose
from ventplanner.physics import curing
from ventplanner.printed import widths
from ventplanner.printed.engine import as_printed
from ventplanner.printed.part import PixelPart
from ventplanner.printed.widths import opening_as_printed, size_that_prints, vent_as_printed
from ventplanner.profile import Profile

SIDEWAYS = Tool((-5.1, 0.0, 5.0), (-2.9, 0.0, 5.0), 0.4)
FLOOR = Tool((0.0, 0.0, -0.1), (0.0, 0.0, 2.1), 0.4)


@cache
def bell(on: str = "supports") -> Findings:
    """A box 10 mm wide with walls of 2 mm, closed."""
    pose = Pose(on="plate") if on == "plate" else Pose()
    return analyse(solid(box(10.0), inward(box(6.0))), pose)


def sized(tool: Tool, diameter: float) -> Tool:
    return Tool(tool.start, tool.end, 0.5 * diameter)


def steady(profile: Profile) -> float:
    """Dose in a wall under very many layers, over what just cures."""
    q = np.exp(-profile.layer_height_mm / profile.penetration_mm)
    return float(profile.exposure_ratio * np.sqrt(q) / (1.0 - q))


@pytest.mark.parametrize(("diameter", "stairs"), [(0.5, 1.5), (1.0, 1.5), (1.8, 2.5)])
@pytest.mark.parametrize("blur", [0.03, 0.06])
def test_a_hole_through_the_layers_prints_as_the_formula_says(diameter: float, stairs: float, blur: float) -> None:
    profile = Profile(pixel_mm=0.02, blur_mm=blur)
    found = vent_as_printed(PixelPart.of(bell(), profile), sized(FLOOR, diameter))
    expected = curing.printed_diameter(diameter, blur, steady(profile))
    # A ball between the stairs of the raster, which take some pixels; where many cells are looked at, one more.
    assert -stairs * profile.pixel_mm <= found.printed_mm - expected <= 0.5 * profile.pixel_mm
    assert sum(found.taken.values()) == pytest.approx(found.nominal_mm - found.printed_mm, abs=1e-12)


def test_a_hole_narrower_than_the_light_spreads_prints_closed() -> None:
    profile = Profile(pixel_mm=0.02, layer_height_mm=0.02, blur_mm=0.08)
    least = curing.closes_below(profile.blur_mm, steady(profile))
    part = PixelPart.of(bell(), profile)
    assert not vent_as_printed(part, sized(FLOOR, least - 0.04)).open
    assert vent_as_printed(part, sized(FLOOR, least + 0.06)).open


@pytest.mark.parametrize(("penetration", "ratio"), [(0.1, 4.0), (0.2, 8.0), (0.05, 3.0), (0.1, 10.0)])
def test_the_ceiling_of_a_sideways_slot_comes_down_by_the_layers_that_the_formula_cures(
    penetration: float, ratio: float
) -> None:
    # A slot 4 mm wide and 1 mm high under 4.5 mm of material: nothing but print-through counts in its middle.
    part = solid(cut(block((0, 0, 0), (6, 3, 8)), block((1, -1, 2.5), (5, 4, 3.5))))
    profile = Profile(penetration_mm=penetration, exposure_ratio=ratio, base_layers=0)
    tool = Tool((3.0, -0.1, 3.0), (3.0, 3.1, 3.0), 0.5)
    found = vent_as_printed(PixelPart.of(analyse(part), profile), tool)
    down = curing.print_through(penetration, ratio, 0.05)
    cured = int(np.floor(down / 0.05 + 0.5))
    assert found.printed_mm == pytest.approx(1.0 - 0.05 * cured, abs=1e-9)
    assert found.cause == "print-through"


def test_published_channels() -> None:
    # Gong et al. 2015, RSC Adv. 5, 106621: channels print from some 3.5 to 5.5 penetration depths of height and 4
    # pixels of width on, with layers of 0.3 to 1 penetration depth; blur of half a pixel: own assumption.
    for layer_share in (0.3, 0.5, 1.0):
        for ratio in (4.0, 8.0):
            layer = 0.02
            depth = layer / layer_share
            profile = Profile(
                pixel_mm=0.03, layer_height_mm=layer, penetration_mm=depth, exposure_ratio=ratio, blur_mm=0.015
            )
            at = 2.0
            down = curing.print_through(depth, ratio, layer)
            for height, prints in ((5.5 * depth, True), (max(layer, layer * np.floor(down / layer)), False)):
                top = at + np.ceil(height / layer - 1e-9) * layer
                hole = block((0.9, -1, at), (0.9 + 4 * 0.03, 4, top))
                part = solid(cut(block((0, 0, 0), (1.98, 0.6, 4)), hole))
                tool = Tool((0.96, -0.1, 0.5 * (at + top)), (0.96, 0.7, 0.5 * (at + top)), 0.5 * height + 0.06)
                assert vent_free(part, tool, profile).open == prints


def vent_free(part: object, tool: Tool, profile: Profile) -> object:
    """An opening that is in the part already, measured along a tool that drills nothing."""
    from ventplanner.analysis.openings import Opening

    found = analyse(part, Pose())  # type: ignore[arg-type]
    along = np.subtract(tool.end, tool.start)
    middle = 0.5 * np.add(tool.start, tool.end)
    opening = Opening(middle, 0.12, along / np.linalg.norm(along))
    return opening_as_printed(PixelPart.of(found, profile), opening)


def test_a_vent_through_base_layers_closes_and_the_size_that_prints_is_proposed() -> None:
    profile = Profile(base_layers=8, base_exposure=20.0, base_spread_mm=0.4)
    part = PixelPart.of(bell("plate"), profile)
    found = vent_as_printed(part, FLOOR)
    assert (found.open, found.cause) == (False, "base layers")
    diameter = size_that_prints(part, FLOOR, 0.8)
    assert diameter is not None
    assert vent_as_printed(part, sized(FLOOR, diameter)).printed_mm >= 0.8
    assert vent_as_printed(part, sized(FLOOR, diameter - 0.1)).printed_mm < 0.8
    # On supports the base layers are below the part.
    assert vent_as_printed(PixelPart.of(bell(), profile), FLOOR).open


def test_a_low_sideways_vent_closes_where_an_upright_one_of_its_size_prints() -> None:
    profile = Profile(penetration_mm=0.25, exposure_ratio=6.0, blur_mm=0.03)
    part = PixelPart.of(bell(), profile)
    lying, standing = vent_as_printed(part, SIDEWAYS), vent_as_printed(part, FLOOR)
    assert (lying.open, lying.cause) == (False, "print-through")
    assert standing.open
    diameter = size_that_prints(part, SIDEWAYS, 0.5)
    assert diameter is not None
    assert vent_as_printed(part, sized(SIDEWAYS, diameter)).printed_mm >= 0.5
    assert vent_as_printed(part, sized(SIDEWAYS, diameter - 0.1)).printed_mm < 0.5


def test_no_size_is_proposed_where_none_prints() -> None:
    # Light that hardly fades fills the whole wall's hole, however large.
    profile = Profile(penetration_mm=1.0, exposure_ratio=100.0, base_layers=0)
    assert size_that_prints(PixelPart.of(bell(), profile), SIDEWAYS, 4.0) is None


def test_the_search_for_a_size_is_cancelled_between_two_sizes(monkeypatch: pytest.MonkeyPatch) -> None:
    profile = Profile(base_layers=8, base_exposure=20.0, base_spread_mm=0.4)
    part, tried, shares = PixelPart.of(bell("plate"), profile), [], []
    measured = widths.width_of

    def counted(*args: Any) -> float:
        tried.append(args)
        return measured(*args)

    def cancel(phase: str, share: float) -> None:
        shares.append(share)
        if len(shares) == 3:
            raise Cancelled

    monkeypatch.setattr(widths, "width_of", counted)
    with pytest.raises(Cancelled):
        size_that_prints(part, FLOOR, 0.8, (), cancel)
    assert len(tried) == 2
    assert shares == sorted(shares)
    assert 0.0 <= shares[0] <= shares[-1] < 1.0
    # Nothing is left behind: asked again, the same size is found as by a search that was never cancelled.
    fresh = size_that_prints(PixelPart.of(bell("plate"), profile), FLOOR, 0.8)
    assert size_that_prints(part, FLOOR, 0.8) == fresh


@pytest.mark.parametrize(("diameter", "tilt"), [(1.0, 45.0), (2.0, 20.0), (3.5, 20.0), (4.0, 0.0)])
def test_a_slanted_hole_through_a_floor_prints_as_wide_as_its_diameter_less_what_bleeds(
    diameter: float, tilt: float
) -> None:
    # A wall 2 mm thick and a lot wider than the hole; the raster and the spread of light take at most a pixel and the
    # formula's share each, print-through at most the depth of the formula.
    part = PixelPart.of(analyse(solid(box(24.0), inward(box(20.0)))), profile := Profile())
    slope = np.radians(tilt)
    u = np.array([0.8 * np.sin(slope), 0.6 * np.sin(slope), np.cos(slope)])
    middle = np.array([0.13, 0.07, 1.0])
    along = (1.3 / np.cos(slope) + 0.5 * diameter * np.tan(slope)) * u
    found = vent_as_printed(part, Tool(tuple(middle - along), tuple(middle + along), 0.5 * diameter))
    straight = curing.printed_diameter(diameter, profile.blur_mm, steady(profile))
    down = curing.print_through(profile.penetration_mm, profile.exposure_ratio, profile.layer_height_mm)
    most = straight + profile.pixel_mm
    assert straight - 2.0 * profile.pixel_mm - down * np.sin(slope) <= found.printed_mm <= most
    assert found.open


def test_the_verdict_follows_the_vent() -> None:
    narrow, wide = sized(SIDEWAYS, 0.2), sized(SIDEWAYS, 1.0)
    closed = as_printed(bell(), (Bore(narrow.start, narrow.end, narrow.radius),))
    assert [(c.cavity, c.cup, c.nominal == "sealed", c.printed) for c in closed.cups] == [("A", "A1", False, "sealed")]
    assert [v.open for v in closed.vents] == [False]
    low = Tool((-5.1, 0.0, 2.7), (-2.9, 0.0, 2.7), 0.5)
    opened = as_printed(bell(), (low,))
    assert [(c.cavity, c.cup, c.nominal, c.printed) for c in opened.cups] == [("A", "A1", "breathing", "breathing")]
    assert [v.open for v in opened.vents] == [True]
    assert [v.open for v in as_printed(bell(), (wide,)).vents] == [True]


@pytest.mark.parametrize("diameter", [0.4, 0.6, 1.0])
def test_existing_openings_are_measured_like_vents(diameter: float) -> None:
    body = cut(box(10.0), box(6.0), rod((-6.0, 0.3, -1.0), (0.0, 0.3, -1.0), 0.5 * diameter))
    found = analyse(solid(body))
    (result,) = as_printed(found).openings
    assert result.nominal_mm == pytest.approx(diameter, abs=0.02)
    vent = vent_as_printed(PixelPart.of(bell(), Profile()), Tool((-5.1, 0.3, 4.0), (-2.9, 0.3, 4.0), 0.5 * diameter))
    assert result.of == "A"
    assert result.open == vent.open
    assert result.printed_mm == pytest.approx(vent.printed_mm, abs=0.02)


def test_the_far_side_of_a_narrow_room_does_not_make_a_vent_narrower() -> None:
    part = PixelPart.of(analyse(solid(box((10.0, 12.0, 12.0)), inward(box((0.8, 8.0, 8.0))))), Profile())
    into_it = Tool((-5.1, 0.0, 6.0), (-0.1, 0.0, 6.0), 1.0)
    through_it = Tool((-5.1, 0.0, 6.0), (0.1, 0.0, 6.0), 1.0)
    assert vent_as_printed(part, into_it).printed_mm > 1.6
    assert vent_as_printed(part, through_it).printed_mm > 1.6


@pytest.mark.parametrize("steep", [0.0, 0.6, 1.2])
def test_slanted_openings_are_followed(steep: float) -> None:
    along = 6.0 * np.array([np.cos(steep), 0.1, np.sin(steep)])
    middle = np.array([-4.0, 0.0, 0.0])
    hole = rod(tuple(middle - along), tuple(middle + 0.6 * along), 0.5)
    (found,) = as_printed(analyse(solid(cut(box(10.0), box(6.0), hole)))).openings
    assert found.nominal_mm == pytest.approx(1.0, abs=0.03)
    assert 0.6 < found.printed_mm < 0.95


def test_a_wide_opening_is_told_by_formula_as_a_lower_bound() -> None:
    body = cut(box(20.0), box(16.0), rod((0.0, 0.0, -12.0), (0.0, 0.0, 0.0), 3.5))
    found = as_printed(analyse(solid(body)))
    wide = [o for o in found.openings if o.nominal_mm > 6.0]
    assert wide
    assert not wide[0].exact
    assert 6.0 < wide[0].printed_mm < wide[0].nominal_mm


def test_the_lower_bound_of_the_formula_holds_where_light_spreads_far_under_many_layers(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Against the same hole measured cell by cell."""
    profile = Profile(layer_height_mm=0.02, penetration_mm=0.05, blur_mm=0.2, base_layers=0)
    part, vent = PixelPart.of(bell(), profile), Tool((0.3, 0.2, 11.0), (0.3, 0.2, 7.0), 1.5)
    measured = vent_as_printed(part, vent)
    monkeypatch.setattr("ventplanner.printed.widths.MOST_CELLS", 0)
    told = vent_as_printed(part, vent)
    assert (measured.exact, told.exact) == (True, False)
    assert measured.printed_mm - 0.3 < told.printed_mm <= measured.printed_mm


@settings(max_examples=6, deadline=None)
@given(
    diameter=st.floats(0.15, 1.2),
    more=st.floats(0.01, 0.5),
    tilt=st.floats(-1.0, 1.0),
    profile=st.builds(
        Profile,
        blur_mm=st.floats(0.0, 0.12),
        penetration_mm=st.floats(0.04, 0.3),
        exposure_ratio=st.floats(1.3, 12.0),
        base_layers=st.integers(0, 60),
        base_spread_mm=st.floats(0.0, 0.3),
    ),
)
def test_what_never_happens(diameter: float, more: float, tilt: float, profile: Profile) -> None:
    from dataclasses import replace

    tool = Tool((-5.2, 0.1, 3.0 + tilt), (-2.8, 0.1, 3.0 - tilt), 0.5 * diameter)
    part = PixelPart.of(bell("plate"), profile)
    found = vent_as_printed(part, tool)
    # A larger hole never prints narrower.
    assert vent_as_printed(part, sized(tool, diameter + more)).printed_mm >= found.printed_mm - 1e-9
    # More exposure never opens anything.
    brighter = PixelPart.of(bell("plate"), replace(profile, exposure_ratio=1.5 * profile.exposure_ratio))
    assert vent_as_printed(brighter, tool).printed_mm <= found.printed_mm + 1e-9
    # Nothing but the raster ever gives.
    assert all(mm >= -1e-9 for cause, mm in found.taken.items() if cause != "raster")


@pytest.mark.parametrize("tool", [SIDEWAYS, FLOOR, Tool((-5.3, 0.0, 6.0), (-2.7, 0.0, 4.0), 0.5)])
def test_half_the_pixel_changes_a_width_by_less_than_a_pixel(tool: Tool) -> None:
    coarse, fine = (vent_as_printed(PixelPart.of(bell(), Profile(pixel_mm=p)), tool).printed_mm for p in (0.05, 0.025))
    assert abs(coarse - fine) < 0.05


def test_a_slot_prints_as_wide_as_straight_edges_leave_it_and_a_countersink_is_taken_as_it_is() -> None:
    profile = Profile(pixel_mm=0.02, blur_mm=0.04)
    part = PixelPart.of(bell(), profile)
    slot = replace(sized(FLOOR, 0.8), outline=Outline("slot", 2.4, (0.8, 0.6, 0.0)))
    found = vent_as_printed(part, slot)
    expected = 0.8 - 2.0 * curing.edge_shift(profile.blur_mm, steady(profile))
    assert -2.5 * profile.pixel_mm <= found.printed_mm - expected <= 0.5 * profile.pixel_mm
    flare = replace(FLOOR, end=(0.0, 0.0, 1.0), spread=0.5)
    assert vent_as_printed(part, flare, [slot]).printed_mm == pytest.approx(0.8)
