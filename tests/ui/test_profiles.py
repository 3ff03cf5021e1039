"""The user's own profiles are files: whole or not there, tolerant of what others did to them."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from ventplanner.errors import FileWriteError, ParameterError
from ventplanner.io.profile_json import encode_profile, write_profile
from ventplanner.profile import PRESETS, Profile
from ventplanner.ui.profiles import Profiles

MINE = replace(Profile("Harbour grey"), viscosity_mpas=420.0)


def _files(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_a_saved_profile_is_there_at_the_next_start(tmp_path: Path) -> None:
    Profiles(tmp_path / "profiles").save(MINE)
    again = Profiles(tmp_path / "profiles")
    assert again.own == (MINE,)
    assert again.get("harbour  GREY") == MINE
    assert again.every[1:] == PRESETS
    assert not again.problem


def test_saving_again_replaces_the_same_file(tmp_path: Path) -> None:
    profiles = Profiles(tmp_path)
    profiles.save(MINE)
    profiles.save(replace(MINE, viscosity_mpas=500.0))
    assert len(_files(tmp_path)) == 1
    assert [p.viscosity_mpas for p in profiles.own] == [500.0]


@pytest.mark.parametrize("name", ["Möwe / 3", "..", "a" * 60, "海", "CON", "x.json"])
def test_any_name_makes_a_file_in_the_folder(tmp_path: Path, name: str) -> None:
    profiles = Profiles(tmp_path / "profiles")
    profiles.save(MINE.named(name))
    assert [p.name for p in profiles.own] == [name]
    assert _files(tmp_path) == ["profiles"]


def test_names_of_ready_made_profiles_stay_theirs(tmp_path: Path) -> None:
    profiles = Profiles(tmp_path)
    with pytest.raises(ParameterError, match="ready-made"):
        profiles.save(MINE.named(PRESETS[0].name))
    with pytest.raises(ParameterError, match="already"):
        profiles.check_name(PRESETS[1].name.upper())
    write_profile(tmp_path / "by hand.json", MINE.named(PRESETS[0].name))
    profiles.reload()
    assert [p.name for p in profiles.own] == [f"{PRESETS[0].name} (own)"]
    assert profiles.get(PRESETS[0].name) == PRESETS[0]


def test_a_profile_gets_another_name(tmp_path: Path) -> None:
    profiles = Profiles(tmp_path)
    profiles.save(MINE)
    profiles.rename("Harbour grey", "Harbour black")
    assert [p.name for p in Profiles(tmp_path).own] == ["Harbour black"]
    profiles.rename("Harbour black", "HARBOUR black")
    assert [p.name for p in Profiles(tmp_path).own] == ["HARBOUR black"]
    assert len(_files(tmp_path)) == 1
    profiles.save(MINE)
    with pytest.raises(ParameterError, match="already"):
        profiles.rename("Harbour grey", "harbour BLACK")
    assert len(profiles.own) == 2


def test_renaming_what_another_window_deleted_says_so(tmp_path: Path) -> None:
    profiles = Profiles(tmp_path)
    profiles.save(MINE)
    Profiles(tmp_path).delete(MINE.name)
    with pytest.raises(ParameterError, match="not there any more"):
        profiles.rename(MINE.name, "Other")


def test_what_is_no_profile_is_kept_aside_and_told_once(tmp_path: Path) -> None:
    Profiles(tmp_path).save(MINE)
    (tmp_path / "half.json").write_text(encode_profile(MINE)[:50])
    strange = json.loads(encode_profile(MINE.named("Thin"))) | {"viscosity_mpas": -3}
    (tmp_path / "wrong.json").write_text(json.dumps(strange))
    profiles = Profiles(tmp_path)
    assert profiles.own == (MINE,)
    assert "half.json.broken" in profiles.problem
    assert "wrong.json.broken" in profiles.problem
    assert (tmp_path / "half.json.broken").read_text() == encode_profile(MINE)[:50]
    assert not Profiles(tmp_path).problem
    (tmp_path / "half.json").write_text("[]")
    assert "half.json.broken2" in Profiles(tmp_path).problem


def test_two_windows_see_each_others_profiles(tmp_path: Path) -> None:
    one, other = Profiles(tmp_path), Profiles(tmp_path)
    one.save(MINE)
    other.save(MINE.named("Second"))
    assert {p.name for p in other.own} == {"Harbour grey", "Second"}
    one.delete("Second")
    other.delete("Second")
    assert [p.name for p in other.own] == ["Harbour grey"]


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "profiles").write_text("a file in the way")
    with pytest.raises(FileWriteError):
        Profiles(tmp_path / "profiles").save(MINE)


def test_a_free_name_counts_on(tmp_path: Path) -> None:
    profiles = Profiles(tmp_path)
    assert profiles.free_name("New") == "New"
    assert profiles.free_name(PRESETS[0].name) == f"{PRESETS[0].name} 2"
    profiles.save(MINE.named("x" * 60))
    assert profiles.free_name("x" * 60) == f"{'x' * 56} 2"
