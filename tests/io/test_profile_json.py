"""Profiles are checked, complete, and come back from their files unchanged."""

from __future__ import annotations

import json
from dataclasses import asdict, fields, replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventplanner.errors import FileReadError, FileWriteError, ParameterError
from ventplanner.io.profile_json import decode_profile, encode_profile, read_profile, write_profile
from ventplanner.profile import PRESETS, Profile
from ventplanner.profile_parameters import GROUPS, PROFILE_PARAMETERS, ProfileParameter

EVERY = list(PROFILE_PARAMETERS.values())


def test_every_field_has_its_parameter_and_takes_the_default_from_it() -> None:
    numbers = {f.name: f.default for f in fields(Profile) if f.name != "name"}
    assert numbers == {p.name: p.default for p in EVERY}
    assert {p.group for p in EVERY} == set(GROUPS)
    assert all(p.source and p.text and p.label for p in EVERY)


def values(parameter: ProfileParameter) -> st.SearchStrategy[float]:
    assert parameter.lowest is not None
    assert parameter.highest is not None
    if parameter.kind == "int":
        return st.integers(int(parameter.lowest), int(parameter.highest))
    return st.floats(parameter.lowest, parameter.highest)


@given(st.fixed_dictionaries({p.name: values(p) for p in EVERY}), st.text(min_size=1, max_size=60))
def test_a_profile_comes_back_from_its_file_unchanged(numbers: dict[str, float], name: str) -> None:
    try:
        profile = Profile(name, **numbers)  # type: ignore[arg-type]
    except ParameterError:
        assert not name.strip() or not " ".join(name.split()).isprintable()
        return
    assert decode_profile(encode_profile(profile), "a file") == profile


@pytest.mark.parametrize("preset", PRESETS, ids=lambda p: p.name)
def test_presets_are_valid_and_come_back(preset: Profile, tmp_path: Path) -> None:
    write_profile(tmp_path / "a.json", preset)
    assert read_profile(tmp_path / "a.json") == preset
    with pytest.raises(FileWriteError, match="exists"):
        write_profile(tmp_path / "a.json", preset)
    write_profile(tmp_path / "a.json", replace(preset, pixel_mm=0.04), overwrite=True)
    assert read_profile(tmp_path / "a.json").pixel_mm == 0.04


@pytest.mark.parametrize("parameter", EVERY, ids=lambda p: p.name)
def test_values_outside_the_range_are_refused_with_the_range(parameter: ProfileParameter) -> None:
    assert parameter.highest is not None
    with pytest.raises(ParameterError, match=f"The {parameter.label} cannot be"):
        Profile(**{parameter.name: parameter.highest + 1})


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "not JSON"),
        ("[]", "does not begin with"),
        ('{"schema": "ventplanner-profile/9"}', "does not begin with"),
        ('{"schema": "ventplanner-profile/1", "brand": 1}', "brand"),
        ('{"schema": "ventplanner-profile/1", "pixel_mm": "fine"}', "pixel cannot be 'fine'"),
        ('{"schema": "ventplanner-profile/1", "pixel_mm": NaN}', "pixel cannot be"),
        ('{"schema": "ventplanner-profile/1", "name": ""}', "cannot be called"),
        ('{"schema": "ventplanner-profile/1", "base_layers": 2.5}', "base layers cannot be 2.5"),
    ],
)
def test_what_is_no_profile_is_refused_with_the_cause(tmp_path: Path, text: str, said: str) -> None:
    path = tmp_path / "bench.json"
    path.write_text(text)
    with pytest.raises(FileReadError, match=said) as refused:
        read_profile(path)
    assert "bench.json" in refused.value.cause
    assert refused.value.way_out


def test_missing_fields_have_their_defaults(tmp_path: Path) -> None:
    (tmp_path / "a.json").write_text('{"schema": "ventplanner-profile/1", "name": "Bench 2", "blur_mm": 0.03}')
    assert asdict(read_profile(tmp_path / "a.json")) == asdict(replace(Profile("Bench 2"), blur_mm=0.03))
    assert set(json.loads(encode_profile(Profile()))) == {"schema"} | {f.name for f in fields(Profile)}


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", b" " * 200_000])
def test_what_is_no_text_or_too_long_is_refused(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "a.json").write_bytes(content)
    with pytest.raises(FileReadError, match="is no profile"):
        read_profile(tmp_path / "a.json")
    with pytest.raises(FileReadError, match="cannot be read"):
        read_profile(tmp_path / "b.json")


def test_warm_resin_and_doubt_widen_the_viscosity() -> None:
    # Andrade: 300 mPa s at 25 degC and 45 kJ/mol is 125.75 at 40 degC.
    warm = Profile(temperature_c=40.0)
    assert warm.viscosity_pas == pytest.approx(0.12575, rel=1e-4)
    low, high = warm.viscosity_span_pas
    assert (low / warm.viscosity_pas, high / warm.viscosity_pas) == pytest.approx((0.7, 1.3))
    assert [Profile().exposure_of(k) for k in (0, 4, 5)] == [40.0, 40.0, 4.0]


def test_the_document_lists_every_number_as_it_is_declared() -> None:
    document = (Path(__file__).parents[2] / "resources" / "profile-format.md").read_text(encoding="utf-8")
    for p in EVERY:
        row = f"| `{p.name}` | {p.unit} | {p.default:g} | {p.lowest:g} to {p.highest:g} | {p.text} | {p.source} |"
        assert row in document
    assert document.count("\n| `") == len(EVERY)


def test_the_example_of_the_document_is_a_profile() -> None:
    document = (Path(__file__).parents[2] / "resources" / "profile-format.md").read_text(encoding="utf-8")
    example = decode_profile(document.split("```json\n")[1].split("```")[0], "example")
    assert example.viscosity_mpas == 220
