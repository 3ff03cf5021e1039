"""Units: what the file means in mm, and that writing gives back what was read."""

from __future__ import annotations

import re
from pathlib import Path
from typing import get_args

import mesh_files as hand
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from numpy.typing import NDArray

from ventplanner.errors import FileReadError, ParameterError
from ventplanner.geometry.solid import Unit
from ventplanner.io.meshes import read
from ventplanner.io.units import MM_PER_UNIT, from_mm, to_mm, unit_hint
from ventplanner.parameters import UNIT

units = st.sampled_from(get_args(Unit))


def test_every_unit_has_its_length() -> None:
    """The inch is 25.4 mm and the foot 12 inches exactly (international yard and pound agreement, 1959)."""
    assert MM_PER_UNIT == {"mm": 1, "cm": 10, "inch": 25.4, "m": 1000, "micron": 0.001, "foot": 304.8}
    assert set(MM_PER_UNIT) == set(get_args(Unit))


@given(units, arrays.arrays(np.float32, 30, elements=st.floats(width=32, allow_nan=False, allow_infinity=False)))
def test_single_precision_coordinates_come_back_to_the_last_bit(unit: Unit, values: NDArray[np.float32]) -> None:
    back = from_mm(to_mm(values, MM_PER_UNIT[unit]), MM_PER_UNIT[unit], single=True)
    np.testing.assert_array_equal(back.astype(np.float32), values)


@given(units, st.lists(st.integers(-(10**15) + 1, 10**15 - 1), min_size=1, max_size=30), st.integers(-20, 5))
def test_decimals_of_up_to_15_digits_come_back_to_the_last_bit(unit: Unit, digits: list[int], exponent: int) -> None:
    values = np.array([float(f"{number}e{exponent}") for number in digits])
    back = from_mm(to_mm(values, MM_PER_UNIT[unit]), MM_PER_UNIT[unit])
    assert back.tolist() == values.tolist()


@given(
    units,
    st.booleans(),
    arrays.arrays(np.float64, 30, elements=st.floats(1e-200, 1e200) | st.floats(-1e200, -1e-200) | st.just(0.0)),
)
def test_any_double_that_was_read_is_read_again_as_the_same_mm(
    unit: Unit, single: bool, values: NDArray[np.float64]
) -> None:
    """Also with the `single` flag on values that were never float32 (vertices that a drill made, for example)."""
    in_mm = to_mm(values, MM_PER_UNIT[unit])
    again = to_mm(from_mm(in_mm, MM_PER_UNIT[unit], single=single), MM_PER_UNIT[unit])
    np.testing.assert_array_equal(again, in_mm)


@pytest.mark.parametrize("unit", get_args(Unit))
def test_stl_is_read_in_the_unit_that_is_asked_for(tmp_path: Path, unit: Unit) -> None:
    path = tmp_path / "box.stl"
    path.write_bytes(hand.binary_stl(hand.box_soup()))
    solid = read(path, unit=unit)
    assert (solid.source.unit_given, solid.source.unit_assumed) == (unit, unit)
    assert solid.source.mm_per_unit == MM_PER_UNIT[unit]
    assert solid.source.unit_hint == ""
    assert solid.bounds[1].tolist() == [side * MM_PER_UNIT[unit] for side in (2.0, 3.0, 5.0)]


def test_without_a_unit_mm_is_assumed_and_not_given(tmp_path: Path) -> None:
    path = tmp_path / "box.stl"
    path.write_bytes(hand.binary_stl(4 * hand.box_soup()))
    source = read(path).source
    assert (source.unit_given, source.unit_assumed, source.unit_hint) == (None, "mm", "")


@pytest.mark.parametrize(
    ("factor", "hint"),
    [
        (1.0, r"5 mm across; if that is too small, the file is in cm \(50 mm\) or inch \(127 mm\)"),
        (2.4, r"12 mm across; if that is too small, the file is in cm \(120 mm\) or inch \(304\.8 mm\)"),
        (0.2, r"1 mm across; the file may be in cm \(10 mm\) or inch \(25\.4 mm\)\.$"),
        (0.02, r"0\.1 mm across; .* m \(100 mm\)"),
        (10000.0, r"5e\+04 mm across; check the unit"),
        (1e9, "check the unit"),
    ],
)
def test_an_unlikely_size_is_said_and_nothing_is_changed(tmp_path: Path, factor: float, hint: str) -> None:
    path = tmp_path / "box.stl"
    path.write_bytes(hand.binary_stl(hand.box_soup() * np.float32(factor)))
    solid = read(path)
    assert solid.bounds[1, 2] == np.float32(5) * np.float32(factor)
    assert solid.source.unit_assumed == "mm"
    assert re.search(hint, solid.source.unit_hint)


@pytest.mark.parametrize("extent", [12.1, 50.0, 1000.0])
def test_a_likely_size_gives_no_hint(extent: float) -> None:
    assert unit_hint(extent) == ""


@pytest.mark.parametrize("extent", [0.01, 0.3, 1.0, 2.0, 7.0, 12.0, 5e3, 5e4, 1e6])
def test_no_unit_is_named_that_the_command_line_refuses(extent: float) -> None:
    named = set(re.findall(r"\b(\w+) \(", unit_hint(extent)))
    assert named <= set(UNIT.choices)
    assert unit_hint(extent)


def test_an_unknown_unit_lists_the_known_ones(tmp_path: Path) -> None:
    with pytest.raises(ParameterError, match=r"'league'.*mm, cm, inch, m, micron, foot"):
        read(tmp_path / "any.stl", unit="league")


def test_a_unit_that_makes_the_part_too_large_for_numbers_is_said(tmp_path: Path) -> None:
    path = tmp_path / "huge.obj"
    path.write_text("v 0 0 0\nv 1e307 0 0\nv 0 1 0\nf 1 2 3\n")
    assert read(path).bounds[1, 0] == 1e307
    with pytest.raises(FileReadError, match="too large to hold in mm"):
        read(path, unit="m")
