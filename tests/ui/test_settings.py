"""Settings: whatever is wrong with their file, the window starts; and nothing that was well is lost."""

from __future__ import annotations

import json
import logging
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ventplanner.ui.log import MOST_BYTES, MOST_BYTES_A_RUN, NAME, log, start_log, stop_log
from ventplanner.ui.settings import MOST_RECENT, Settings


def test_without_a_file_all_is_as_usual(tmp_path: Path) -> None:
    fresh = Settings(tmp_path / "settings.json")
    assert (fresh.problem, fresh.get("theme", "system"), fresh.recent) == ("", "system", ())


def test_what_was_saved_is_there_again(tmp_path: Path) -> None:
    first = Settings(tmp_path / "deep" / "settings.json")
    first.set("theme", "dark")
    first.set("scale", 2)
    first.set("hint seen", True)
    assert first.save()
    again = Settings(first.path)
    assert again.get("theme", "system") == "dark"
    assert again.get("scale", 1.0) == 2.0
    assert again.get("hint seen", False)


@pytest.mark.parametrize("value", ["3", None, [], {}, True])
def test_a_value_of_another_kind_is_the_default(tmp_path: Path, value: object) -> None:
    path = tmp_path / "settings.json"
    path.write_text(json.dumps({"pitch": value, "theme": "dark"}))
    found = Settings(path)
    assert found.get("pitch", 0.2) == 0.2
    assert found.get("theme", "system") == "dark"


def test_names_of_another_version_are_kept(tmp_path: Path) -> None:
    path = tmp_path / "settings.json"
    path.write_text(json.dumps({"of the future": [1, {"a": 2}]}))
    found = Settings(path)
    found.set("theme", "light")
    found.save()
    assert json.loads(path.read_text()) == {"of the future": [1, {"a": 2}], "theme": "light"}


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)
@given(st.binary(max_size=200) | st.just(b"[" * 200_000) | st.just(b"\xff" * 10) | st.just(b"NaN"))
def test_any_bytes_will_do(tmp_path: Path, text: bytes) -> None:
    for file in tmp_path.iterdir():
        file.unlink()
    path = tmp_path / "settings.json"
    path.write_bytes(text)
    found = Settings(path)
    assert found.get("theme", "system") == "system"
    if found.problem:
        assert not path.exists()
        assert [file.read_bytes() for file in tmp_path.glob("*-broken-*.json")] == [text]
    assert found.save()


def test_a_folder_in_the_place_of_the_file_is_set_aside(tmp_path: Path) -> None:
    (tmp_path / "settings.json").mkdir()
    found = Settings(tmp_path / "settings.json")
    assert found.problem
    assert found.save()


def test_settings_that_cannot_be_saved_are_no_reason_to_stop(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    found = Settings(tmp_path / "file" / "settings.json")
    assert found.get("theme", "system") == "system"
    assert not found.save()


def test_recent_files_are_the_latest_ones_each_once(tmp_path: Path) -> None:
    found = Settings(tmp_path / "settings.json")
    for k in range(MOST_RECENT + 3):
        found.add_recent(f"/harbour/{k}.stl")
    found.add_recent("/harbour/7.stl")
    assert len(found.recent) == MOST_RECENT
    assert found.recent[:2] == ("/harbour/7.stl", f"/harbour/{MOST_RECENT + 2}.stl")
    found.forget_recent("/harbour/7.stl")
    assert "/harbour/7.stl" not in found.recent
    found.forget_recent()
    assert found.recent == ()


def test_recent_files_that_are_no_paths_are_skipped(tmp_path: Path) -> None:
    path = tmp_path / "settings.json"
    path.write_text(json.dumps({"recent": [1, "/a.stl", None]}))
    assert Settings(path).recent == ("/a.stl",)


def test_the_log_is_written_and_closed(tmp_path: Path) -> None:
    before = list(log.handlers)
    path = start_log(tmp_path / "logs")
    log.info("the seal is drilled")
    stop_log()
    assert path is not None
    assert "the seal is drilled" in path.read_text()
    assert log.handlers == before


def test_a_log_that_cannot_be_written_is_no_reason_to_stop(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    assert start_log(tmp_path / "file" / "logs") is None
    assert logging.getLogger("ventplanner") is log


@pytest.mark.parametrize("text", ["NaN", "Infinity", "-Infinity", "1e999", "-1e999", "1" * 400, str(2**40)])
def test_numbers_that_are_none_are_as_good_as_missing(tmp_path: Path, text: str) -> None:
    path = tmp_path / "settings.json"
    path.write_text(f'{{"scale": {text}, "size": {text}, "theme": "dark", "unknown": [{text}]}}')
    found = Settings(path)
    assert (found.get("scale", 1.5), found.get("size", 3), found.get("theme", "system")) == (1.5, 3, "dark")
    assert found.problem == ""
    found.set("theme", "light")
    assert found.save()
    assert Settings(path).get("theme", "system") == "light"
    with pytest.raises(ValueError, match="scale cannot be nan"):
        found.set("scale", float("nan"))


def test_two_windows_keep_each_others_settings(tmp_path: Path) -> None:
    path = tmp_path / "settings.json"
    Settings(path).save()
    one, other = Settings(path), Settings(path)
    one.set("theme", "dark")
    one.add_recent("/harbour/one.stl")
    other.set("hanging", True)
    other.add_recent("/harbour/other.stl")
    assert one.save()
    assert other.save()
    now = Settings(path)
    assert (now.get("theme", ""), now.get("hanging", False)) == ("dark", True)
    assert now.recent == ("/harbour/other.stl", "/harbour/one.stl")
    one.set("theme", "light")  # what is known by now of the other stays, too
    one.forget_recent("/harbour/one.stl")
    assert one.save()
    now = Settings(path)
    assert (now.get("theme", ""), now.get("hanging", False), now.recent) == ("light", True, ("/harbour/other.stl",))
    assert [file.name for file in tmp_path.iterdir()] == ["settings.json"]


MANY = """
    import sys
    from pathlib import Path
    from ventplanner.ui.settings import Settings

    for number in range(40):
        found = Settings(Path(sys.argv[1]))
        assert not found.problem, found.problem
        found.set(f"{sys.argv[2]} {number}", number)
        assert found.save()
"""


def test_many_windows_that_save_at_once_lose_nothing(tmp_path: Path) -> None:
    path = tmp_path / "settings.json"
    names = "abc"
    command = [sys.executable, "-c", textwrap.dedent(MANY), str(path)]
    several = [subprocess.Popen([*command, name]) for name in names]
    assert [each.wait(120) for each in several] == [0, 0, 0]
    assert set(json.loads(path.read_text())) == {f"{name} {number}" for name in names for number in range(40)}
    assert [file.name for file in tmp_path.iterdir()] == ["settings.json"]


def test_settings_that_were_removed_or_broken_meanwhile_are_written_again(tmp_path: Path) -> None:
    path = tmp_path / "settings.json"
    found = Settings(path)
    found.set("theme", "dark")
    found.save()
    path.unlink()
    found.set("hanging", True)
    assert found.save()
    path.write_text("{")
    found.set("scale", 2)
    assert found.save()
    assert json.loads(path.read_text()) == {"theme": "dark", "hanging": True, "scale": 2}
    assert [file.read_text() for file in tmp_path.glob("*-broken-*.json")] == ["{"]


def test_a_long_log_is_put_aside_at_the_start_and_two_windows_write_into_one(tmp_path: Path) -> None:
    path = tmp_path / NAME
    path.write_text("x" * MOST_BYTES)
    assert start_log(tmp_path) == path
    log.info("one")
    with path.open("a") as another:
        another.write("other\n")
    log.info("one again")
    log.info("%s", "y" * MOST_BYTES_A_RUN)
    log.info("too much")
    stop_log()
    text = path.read_text()
    assert [word in text for word in ("one\n", "other", "one again", "The log is full", "too much")] == [True] * 4 + [
        False
    ]
    assert (tmp_path / f"{NAME}.1").stat().st_size == MOST_BYTES
    assert not log.handlers


def test_a_crash_is_written_into_the_log_that_is_open(tmp_path: Path) -> None:
    code = (
        "import faulthandler, sys; from pathlib import Path; from ventplanner.ui.log import log, start_log;"
        "start_log(Path(sys.argv[1])); [log.info('x' * 1000) for _ in range(1000)]; faulthandler._sigabrt()"
    )
    ran = subprocess.run([sys.executable, "-c", code, str(tmp_path)], timeout=60, check=False, capture_output=True)
    assert ran.returncode < 0
    assert "Fatal Python error" in (tmp_path / NAME).read_text()
