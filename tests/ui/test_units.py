"""Lengths, areas and volumes, written and read in millimetres and in inches."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventplanner import parameters as p
from ventplanner.errors import ParameterError
from ventplanner.ui import units
from ventplanner.ui.numbers import complaint, parse

sizes = st.floats(-1e5, 1e5)
hundredths = st.integers(-1_000_000, 1_000_000).map(lambda n: n / 100)
systems = st.sampled_from(units.SYSTEMS)


@pytest.fixture(autouse=True)
def _millimetres() -> Iterator[None]:
    yield
    units.use("mm")


@given(sizes, systems)
def test_a_length_written_exactly_and_read_again_is_the_same_to_its_last_decimal(
    mm: float, system: units.System
) -> None:
    units.use(system)
    again = units.number(units.exact_length(mm), "mm")
    assert again is not None
    assert abs(again - mm) <= (0.5e-3 if system == "mm" else 0.5e-5 * 25.4 * 2) * (1 + 1e-9)


@given(hundredths, systems)
def test_hundredths_of_a_mm_come_back_to_the_last_bit(mm: float, system: units.System) -> None:
    units.use(system)
    assert units.number(units.exact_length(mm), "mm") == pytest.approx(mm, abs=1e-12)
    assert units.number(units.exact(mm), "mm") == pytest.approx(mm, abs=1e-12)


@given(sizes, systems)
def test_what_is_written_is_written_again_alike(mm: float, system: units.System) -> None:
    units.use(system)
    first = units.exact_length(mm)
    again = units.number(first, "mm")
    assert again is not None
    assert units.exact_length(again) == first


@given(st.floats(1e-3, 1e9), systems)
def test_areas_and_volumes_read_again_are_right_to_three_digits(value: float, system: units.System) -> None:
    units.use(system)
    for text, unit, least in ((units.area(value), "mm2", 0.5), (units.volume(value), "mm3", 0.5)):
        again = units.number(text, unit)
        assert again is not None
        if system == "inch":
            assert again == pytest.approx(value, rel=5.1e-3)
        else:
            assert again == pytest.approx(value, rel=5.1e-2, abs=least)


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("2.5", 2.5), ("2,5", 2.5), (" 2.5 mm ", 2.5), ("2,5mm", 2.5), ("0.1 in", 2.54), ("0,1 IN", 2.54),
        ('1/8"', 3.175),
        ("1 1/2 in", 38.1), ("1/16 inch", 1.5875), ("0.25 cm", 2.5), ("250 µm", 0.25), ("-3", -3.0), ("−3 mm", -3.0),
        (".5", 0.5), ("5.", 5.0), ("2 inches", 50.8),
    ],
)  # fmt: skip
def test_lengths_are_read_as_people_type_them(text: str, mm: float) -> None:
    assert units.number(text, "mm") == pytest.approx(mm, abs=1e-12)


@pytest.mark.parametrize(
    "text", ["", "mm", "two", "1.2.3", "1,234.5", "2.5 kg", "5°", "1/0 in", "1 2 in", "3 mm 4", "1e3"]
)
def test_what_is_no_length_is_none(text: str) -> None:
    assert units.number(text, "mm") is None


def test_a_bare_figure_is_in_the_shown_unit_and_a_unit_always_counts() -> None:
    units.use("inch")
    assert units.number("0,1", "mm") == pytest.approx(2.54)
    assert units.number("2.5 mm", "mm") == 2.5
    assert units.number("1", "mm3") == pytest.approx(25.4**3)
    assert units.number("5 mm3", "mm3") == 5.0
    assert units.number("2 mL", "mm3") == 2000.0
    assert units.number("45°", "°") == 45.0
    assert units.number("45", "°") == 45.0
    assert units.number("3", "") == 3.0
    units.use("mm")
    assert units.number("1", "mm3") == 1.0


def test_figures_in_inches() -> None:
    units.use("inch")
    assert units.length(2.5) == "0.098 in"
    assert units.length(-1e-9) == "0.000 in"
    assert units.exact_length(2.54) == "0.1 in"
    assert units.exact_length(2.5) == "0.09843 in"
    assert units.area(645.16) == "1.00 in²"
    assert units.volume(5.0) == "0.000305 in³"
    assert units.volume(17100.0) == "1.04 in³"
    assert units.as_typed(0.2, "mm") == "0.00787"
    assert units.shown_unit("mm2") == "in²"
    assert units.shown_unit("°") == "°"


def test_the_same_length_is_the_same_in_a_figure_and_in_a_sentence() -> None:
    units.use("inch")
    for hundredths in range(0, 6000):
        mm = hundredths / 100
        assert units.length(mm) == units.sentence(f"{mm:.1f} mm")
    assert (units.length(1.5875), units.diameter(1.5875)) == ("0.063 in", "0.063 in")
    assert units.length(2.19) == units.length(2.2) == units.sentence("2.2 mm") == "0.087 in"
    assert units.diameter(3.175) == "0.125 in"


def test_no_figure_has_more_decimals_than_it_is_worth() -> None:
    assert [units.typed(v, "mm") for v in (1.819, 29.078, 2.5, 3.0, -0.001)] == ["1.82", "29.08", "2.5", "3.0", "0.0"]
    assert [units.typed(v, "°") for v in (96.08, 90.0, -0.04)] == ["96.1", "90", "0"]
    assert [units.diameter(v) for v in (2.125, 2.5, 3.175)] == ["2.13 mm", "2.5 mm", "3.18 mm"]
    units.use("inch")
    assert units.resin(23400.0) == "23.4 mL"


def test_sentences_from_below_are_told_in_inches() -> None:
    text = "Opens 0.3 mm above the start of the cup, through 2.5 mm of wall; 12.3 mL, 5 mm3. Give 0.3 to 20 mm."
    assert units.sentence(text).count("mm³") == 1
    units.use("inch")
    told = units.sentence(text)
    assert told.startswith(
        "Opens 0.012 in above the start of the cup, through 0.098 in of wall; 0.751 in³, 0.000305 in³."
    )
    assert told.endswith("Give 0.01181 to 0.7874 in.")
    assert not re.search(r"mm|mL", told)
    assert units.sentence("B is sealed from 47.2 mm: accept vent 3.") == "B is sealed from 1.858 in: accept vent 3."
    assert units.sentence("sealed from 2.2, 19.3 and 53.6 mm") == "sealed from 0.087, 0.760 and 2.110 in"
    assert units.sentence("deepest at (2.5, -12.7, 0) mm.") == "deepest at (0.098, -0.500, 0.000) in."
    assert units.sentence("vents 1, 2 and 3.5 mm") == "vents 1, 2 and 0.138 in"
    assert units.sentence("Set diameter of vent 1 to 2.54 mm") == "Set diameter of vent 1 to 0.100 in"
    assert units.edit_name("Set diameter of vent 1 to 3.18 mm") == "Set diameter of vent 1 to 0.125 in"
    assert units.edit_name("Set diameter of vent 1 to 1.59 mm") == "Set diameter of vent 1 to 0.063 in"
    assert units.edit_name("Set pitch to 0.025 mm") == "Set pitch to 0.00098 in"
    assert units.edit_name("Set smallest sealed volume to 5.0 mm3") == units.sentence(
        "Set smallest sealed volume to 5.0 mm3"
    )
    assert units.sentence("Give 0 mm3 or more.") == "Give 0 in³ or more."
    assert units.sentence("rope-25 mm5 comma") == "rope-25 mm5 comma"


def test_limits_are_accepted_as_they_are_told() -> None:
    units.use("inch")
    limits = p.DIAMETER_MM.lowest, p.DIAMETER_MM.highest
    assert None not in limits
    for limit in limits:
        assert parse(p.DIAMETER_MM, units.as_typed(float(limit or 0), "mm")) == limit
    with pytest.raises(ParameterError) as caught:
        parse(p.DIAMETER_MM, "9")
    assert "mm" not in complaint(p.DIAMETER_MM, caught.value).replace("mm wide", "")


def test_speeds_stay_in_mm_per_minute() -> None:
    units.use("inch")
    assert units.sentence("Lift at 25 mm/min through 2.5 mm.") == "Lift at 25 mm/min through 0.098 in."


def test_a_density_is_typed_with_its_unit_raised_or_not() -> None:
    assert units.number("1100 kg/m3", "kg/m3") == units.number("1100 kg/m³", "kg/m3") == 1100.0
