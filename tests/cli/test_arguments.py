"""What may be asked for, and what is said when it cannot be done: one line, and one of four exit codes."""

from __future__ import annotations

import re
from pathlib import Path

import bodies
import pytest
from command_line import Runner, run_here
from hypothesis import example, given, settings
from hypothesis import strategies as st

from ventplanner import parameters as p
from ventplanner.options import VentRules

BAD: dict[str, tuple[str, str]] = {
    "no out": ("vent box.stl", "--out"),
    "no file": ("inspect", "FILE"),
    "two files": ("inspect box.stl box.stl", "One part at a time: box.stl"),
    "zero direction": ("inspect box.stl --to-plate 0,0,0", "--to-plate"),
    "nearly zero direction": ("inspect box.stl --to-plate 0,0,1e-12", "--to-plate"),
    "endless direction": ("inspect box.stl --to-plate 0,0,inf", "--to-plate"),
    "two numbers": ("inspect box.stl --to-plate -1,0", "--to-plate"),
    "not a direction": ("inspect box.stl --to-plate up", "'up'"),
    "direction without value": ("inspect box.stl --to-plate", "--to-plate"),
    "option for a direction": ("inspect box.stl --to-plate --json", "--json"),
    "bad choice": ("inspect box.stl --on table", "plate or supports"),
    "bad unit": ("inspect box.stl --unit mile", "mm, cm, inch or m"),
    "no pitch": ("inspect box.stl --pitch 0", "0.02 to 5 mm"),
    "negative gap": ("inspect box.stl --gap -1", "0 mm or more"),
    "not a number": ("inspect box.stl --gap nan", "cannot be nan"),
    "endless": ("inspect box.stl --ignore-below inf", "--ignore-below"),
    "half a vent": ("vent box.stl --out o.stl --vents-per-cavity 1.5", "--vents-per-cavity"),
    "unknown option": ("inspect box.stl --colour red", "--colour"),
    "shortened option": ("inspect box.stl --pit 1", "--pit"),
    "option of the other job": ("inspect box.stl --out o.stl", "--out"),
    "unknown option first": ("--colour inspect box.stl", "--colour"),
    "a pitch too fine": ("inspect wide.stl --pitch 0.02", "Give 0.07 mm or more (--pitch)"),
}  # fmt: skip


@pytest.mark.parametrize("case", BAD)
def test_a_mistake_gets_one_line_with_the_way_out_and_code_2(
    run: Runner, box: Path, monkeypatch: pytest.MonkeyPatch, case: str
) -> None:
    bodies.box([200, 200, 2]).export(box.parent / "wide.stl")
    monkeypatch.chdir(box.parent)
    before = sorted(box.parent.iterdir())
    arguments, named = BAD[case]
    done = run(*arguments.split())
    assert (done.code, done.out) == (2, "")
    assert named in done.err
    assert re.fullmatch(r"[A-Z].*\. ?(See|Give|Choose|Use)\b.*\n", done.err), done.err
    assert sorted(box.parent.iterdir()) == before


@pytest.mark.parametrize("value", ["-1,0,0", "-1.0,-0,0", "-5e-1,0,0"])
@pytest.mark.parametrize("joined", [True, False])
def test_a_direction_may_begin_with_a_minus(run: Runner, box: Path, value: str, joined: bool) -> None:
    words = [f"--to-plate={value}"] if joined else ["--to-plate", value]
    assert run("inspect", *words, box, "--json", "--pitch", 1).json["pose"]["to_plate"] == [-1.0, 0.0, 0.0]


SCREEN = ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")


def test_without_a_screen_the_window_says_what_to_use_instead(
    run: Runner, box: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in SCREEN:
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr("sys.platform", "linux")
    for words in ((), (box,)):
        done = run(*words)
        assert (done.code, done.out) == (2, "")
        assert re.fullmatch(r"There is no screen to show the window on\. .*: ventplanner vent .*\n", done.err)


def test_a_file_that_is_not_there_opens_no_window(run: Runner) -> None:
    done = run("nowhere.stl")
    assert (done.code, done.out) == (2, "")
    assert done.err.startswith("There is no file nowhere.stl.")


def test_the_window_opens_one_file_only(run: Runner, box: Path) -> None:
    done = run(box, box)
    assert (done.code, done.out) == (2, "")
    assert "The window opens one file, not 2." in done.err


def help_of(*words: str, capsys: pytest.CaptureFixture[str]) -> str:
    from ventplanner.cli import main

    with pytest.raises(SystemExit) as left:
        main([*words, "--help"])
    assert left.value.code == 0
    return re.sub(r"\s+", " ", capsys.readouterr().out)


@pytest.mark.parametrize("job", ["inspect", "vent"])
def test_the_help_lists_every_parameter_with_range_and_default(capsys: pytest.CaptureFixture[str], job: str) -> None:
    text = help_of(job, capsys=capsys)
    for parameter in p.PARAMETERS.values():
        if job == "inspect" and parameter.name in VentRules.__dataclass_fields__:
            assert f"{parameter.flag} " not in text
            continue
        assert f"{parameter.flag} " in text
        assert f"({parameter.range_text}; default: {parameter.default_text})" in text


def test_the_help_tells_the_exit_codes_and_uses_no_words_of_the_inside(capsys: pytest.CaptureFixture[str]) -> None:
    for words in ((), ("inspect",), ("vent",)):
        text = help_of(*words, capsys=capsys)
        assert re.search(r"0 done.* 3 done.* 2 bad input.* 1 failed", text)
        for jargon in ("boolean", "mesh", "manifold", "voxel", "tree", "topology", "kernel", "float", "None"):
            assert jargon not in text
    assert "--help list" in help_of(capsys=capsys)


# A terminal cannot hand over a zero byte, and the fuzz must not write anywhere but into its own folder.
TEXT = st.text(st.characters(exclude_characters="\0/\\", exclude_categories=()), max_size=12).filter(
    lambda text: not text.startswith("-h")
)
NUMBERS = st.one_of(st.floats().map(str), st.integers().map(str), st.just("1e999"))
OPTIONS = st.sampled_from(
    [*(q.flag for q in p.PARAMETERS.values()), "--out", "--save", "--plan", "--json", "--overwrite", "--", "-", "-h-"]
)
WORDS = st.one_of(
    OPTIONS,
    st.tuples(OPTIONS, st.one_of(TEXT, NUMBERS)).map("=".join),
    st.sampled_from(["inspect", "vent", "block.stl", "empty.stl", "o.stl", "work.ventplan", "plate", "0,0,1"]),
    NUMBERS,
    TEXT,
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("fuzz")
    (folder / "empty.stl").touch()
    (folder / "work.ventplan").write_bytes(b"PK\x05\x06" + bytes(18))
    return folder


@settings(max_examples=300)
@given(st.sampled_from(["inspect", "vent", ""]), st.lists(WORDS, max_size=7))
@example("vent", ["empty.stl", "--out", "x" * 300 + ".stl"])
@example("inspect", ["x" * 300 + ".stl"])
@example("vent", ["empty.stl", "--out", "o.stl", "--plan", "work.ventplan"])
@example("inspect", ["empty.stl", "--to-plate", "1e308,1e308,1e308"])
@example("inspect", ["empty.stl", "--vents-per-cavity", "9" * 5000])
def test_no_words_bring_it_down(folder: Path, job: str, words: list[str]) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        for name in SCREEN:
            patch.delenv(name, raising=False)
        done = run_here(*([job] if job else []), *words)
    assert done.code in (1, 2)
    assert done.out == ""
    assert len(done.err.splitlines()) == 1
    assert done.err.strip()
    assert len(list(folder.iterdir())) == 2
