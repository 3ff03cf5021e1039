"""Parameters are declared once, and refuse what they do not allow with the cause and the way out."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventplanner import parameters as p
from ventplanner.errors import ParameterError
from ventplanner.geometry.pose import Pose
from ventplanner.hollow_parameters import HOLLOW_PARAMETERS
from ventplanner.mend_parameters import MEND_PARAMETERS
from ventplanner.options import AnalysisOptions, InsideLimits, VentRules, Weights
from ventplanner.orient_parameters import ORIENT_PARAMETERS
from ventplanner.weight_parameters import WEIGHTS

EVERY = [
    *p.PARAMETERS.values(),
    *HOLLOW_PARAMETERS.values(),
    *MEND_PARAMETERS.values(),
    *ORIENT_PARAMETERS.values(),
]
NUMBERS = [parameter for parameter in EVERY if parameter.kind in ("float", "int")]


def named(parameter: p.Parameter[object]) -> str:
    return parameter.name


def str_of(value: object) -> str:
    return f"{value!s:.20}"


@pytest.mark.parametrize("parameter", EVERY, ids=named)
def test_the_default_is_allowed_and_unchanged(parameter: p.Parameter[object]) -> None:
    assert parameter.check(parameter.default) == parameter.default
    assert type(parameter.check(parameter.default)) is type(parameter.default)


@pytest.mark.parametrize("parameter", EVERY, ids=named)
def test_the_help_tells_range_and_default(parameter: p.Parameter[object]) -> None:
    assert parameter.help.endswith(f"({parameter.range_text}; default: {parameter.default_text})")
    assert "None" not in parameter.help
    assert "%" not in parameter.help


def test_flags_and_labels_are_all_different() -> None:
    assert len({x.flag for x in EVERY}) == len({x.label for x in EVERY}) == len({x.name for x in EVERY}) == len(EVERY)


@pytest.mark.parametrize("kind", [AnalysisOptions, VentRules, InsideLimits])
def test_every_field_has_its_parameter_and_takes_the_default_from_it(kind: type) -> None:
    own = [f for f in fields(kind) if f.name != "weights"]
    assert {f.name: f.default for f in own} == {f.name: p.PARAMETERS[f.name].default for f in own}


def test_every_weight_has_its_parameter_and_none_is_below_nothing() -> None:
    assert {f.name: f.default for f in fields(Weights)} == {name: one.default for name, one in WEIGHTS.items()}
    assert VentRules().weights == Weights()
    with pytest.raises(ParameterError, match="being seen"):
        Weights(seen=-1.0)


def test_the_default_pose_is_that_of_the_parameters() -> None:
    assert Pose() == Pose(p.TO_PLATE.default, p.ON.default, p.GAP_MM.default)


@pytest.mark.parametrize("parameter", NUMBERS, ids=named)
@given(value=st.floats() | st.integers())
def test_a_number_is_taken_exactly_when_it_is_in_the_range(parameter: p.Parameter[object], value: float) -> None:
    low = -np.inf if parameter.lowest is None else parameter.lowest
    high = sys.float_info.max if parameter.highest is None else parameter.highest
    allowed = low <= value <= high and (parameter.kind == "float" or value == value // 1)
    if allowed:
        checked = parameter.check(value)
        assert checked == (float(value) if parameter.kind == "float" else value)
        assert type(checked) is (int if parameter.kind == "int" else float)
    else:
        with pytest.raises(ParameterError, match=parameter.flag):
            parameter.check(value)


@pytest.mark.parametrize("parameter", NUMBERS, ids=named)
@pytest.mark.parametrize("value", [True, "2", float("nan"), float("inf"), 10**400, 2j, [1.0]], ids=str_of)
def test_what_is_no_number_is_refused(parameter: p.Parameter[object], value: object) -> None:
    with pytest.raises(ParameterError):
        parameter.check(value)


def test_only_a_parameter_that_may_be_automatic_takes_none() -> None:
    taken = []
    for parameter in EVERY:
        try:
            parameter.check(None)
        except ParameterError:
            continue
        taken.append(parameter.name)
    assert taken == ["unit", "pitch_mm", "seen_from", "grid_mm", "largest_mm"]


@pytest.mark.parametrize("value", [(0, 0, 0), (1, 2), (1, 2, float("nan")), "up", 3, (10**400, 0, 0)], ids=str_of)
def test_what_is_no_direction_is_refused(value: object) -> None:
    with pytest.raises(ParameterError, match="direction to the plate cannot be"):
        p.TO_PLATE.check(value)


def test_numbers_of_numpy_are_numbers() -> None:
    assert p.VENTS_PER_CAVITY.check(np.int64(3)) == 3
    assert p.GAP_MM.check(np.float32(2.5)) == 2.5
    assert p.TO_PLATE.check(np.array([0.0, 1.0, 0.0])) == (0.0, 1.0, 0.0)


@pytest.mark.parametrize(
    ("name", "text", "value"),
    [
        ("gap_mm", "2.5", 2.5),
        ("vents_per_cavity", "3", 3),
        ("to_plate", "0,-1,0.5", (0.0, -1.0, 0.5)),
        ("nested", "auto", "auto"),
        ("on", "plate", "plate"),
        ("pitch_mm", "automatic", None),
        ("unit", "inch", "inch"),
    ],
)
def test_text_is_read_as_the_value_it_writes(name: str, text: str, value: object) -> None:
    assert p.PARAMETERS[name].parse(text) == value


@pytest.mark.parametrize(
    ("name", "text", "message"),
    [
        ("gap_mm", "-1", "The gap between plate and part cannot be -1 mm. Give 0 mm or more (--gap)."),
        ("gap_mm", "wide", "The gap between plate and part cannot be 'wide'. Give 0 mm or more (--gap)."),
        ("diameter_mm", "0,5", "The diameter of proposed vents cannot be '0,5'. Give 0.3 to 20 mm (--diameter)."),
        ("on", "air", "The way to hold the part cannot be 'air'. Give plate or supports (--on)."),
        (
            "vents_per_cavity",
            "2.5",
            "The number of openings per cavity cannot be '2.5'. Give 1 to 8 (--vents-per-cavity).",
        ),
        (
            "to_plate",
            "0,0,0",
            "The direction to the plate cannot be '0,0,0'. "
            "Give three numbers X,Y,Z that are not all zero (--to-plate).",
        ),
    ],
)
def test_a_refusal_says_what_is_wrong_and_what_to_give(name: str, text: str, message: str) -> None:
    with pytest.raises(ParameterError) as caught:
        p.PARAMETERS[name].parse(text)
    assert str(caught.value) == message


def test_options_cannot_be_made_of_values_that_are_not_allowed() -> None:
    with pytest.raises(ParameterError, match="--pitch"):
        AnalysisOptions(pitch_mm=0.0)
    with pytest.raises(ParameterError, match="--vents-per-cavity"):
        VentRules(vents_per_cavity=0)


def test_parameters_need_nothing_but_the_standard_library() -> None:
    code = "import sys, ventplanner.options; print(sorted(sys.modules.keys() & {'numpy', 'msgspec', 'scipy', 'numba'}))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
