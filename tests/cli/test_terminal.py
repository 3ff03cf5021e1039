"""The command as a process: terminals, pipes, signals and encodings."""

from __future__ import annotations

import json
import os
import pty
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from ventplanner import cli

ROOT = Path(__file__).parents[2]


def start(*words: str | Path, cwd: Path, **more: object) -> subprocess.Popen[bytes]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT), **more.pop("env", {})}  # type: ignore[dict-item]
    command = [sys.executable, "-m", "ventplanner", *map(str, words)]
    return subprocess.Popen(command, cwd=cwd, env=environment, **more)  # type: ignore[call-overload,no-any-return]


def test_a_terminal_without_umlauts_gets_text_and_json(box: Path, tmp_path: Path) -> None:
    part = box.rename(tmp_path / "Möwe.stl")
    ascii_only = {"PYTHONIOENCODING": "ascii"}
    for more, read in ((("--json",), json.loads), ((), str)):
        process = start("inspect", part.name, *more, cwd=tmp_path, env=ascii_only, stdout=-1, stderr=-1)
        out, err = process.communicate()
        assert (process.returncode, err) == (3, b"")
        text = out.decode("ascii")
        assert read(text)
        assert json.loads(text)["file"] == part.name if more else r"M\xf6we.stl" in text


def test_a_reader_that_stops_is_no_failure(box: Path, tmp_path: Path) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    process = start("inspect", box, cwd=tmp_path, stdout=writing, stderr=-1)
    os.close(writing)
    _, err = process.communicate()
    assert (process.returncode, err) == (3, b"")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="the system has no full device")
def test_a_full_disk_behind_the_output_is_said(box: Path, tmp_path: Path) -> None:
    with Path("/dev/full").open("wb") as full:
        process = start("inspect", box, cwd=tmp_path, stdout=full, stderr=-1)
        _, err = process.communicate()
    assert process.returncode == 1
    assert err.decode().splitlines() == [
        "The result cannot be written to the standard output (No space left on device). Send it elsewhere."
    ]


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_signal_leaves_no_file_behind(tmp_path: Path, number: signal.Signals) -> None:
    out = tmp_path / "out.stl"
    out.write_bytes(b"precious")
    words = ("vent", ROOT / "samples" / "lighthouse.stl", "--out", out, "--overwrite")
    process = start(*words, cwd=tmp_path, stdout=-1, stderr=-1)
    # Into the work, not into the start of the interpreter, which is not ours.
    time.sleep(1.5)
    process.send_signal(number)
    answer = process.communicate()
    assert (process.returncode, *answer) == (1, b"", b"Cancelled. Nothing was changed.\n")
    assert out.read_bytes() == b"precious"
    assert list(tmp_path.iterdir()) == [out]


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_signal_during_generated_code_ends_like_any_other(tmp_path: Path, number: signal.Signals) -> None:
    # Data classes and compiled functions run `exec`; Python treats an interrupt in there in a way of its own.
    work = f"""
import os, sys, time
from ventplanner import cli
cli._parser = lambda: exec("os.kill(os.getpid(), {int(number)}); time.sleep(5)", {{"os": os, "time": time}})
sys.argv = ["ventplanner", "inspect", "part.stl"]
sys.exit(cli.main())
"""
    (tmp_path / "started.py").write_text(work)
    environment = {**os.environ, "PYTHONPATH": f"{ROOT}{os.pathsep}{tmp_path}"}
    command = [sys.executable, "-m", "started"]
    done = subprocess.run(command, cwd=tmp_path, env=environment, capture_output=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (1, b"", b"Cancelled. Nothing was changed.\n")


def test_progress_is_shown_on_a_terminal_only(box: Path, tmp_path: Path) -> None:
    master, slave = pty.openpty()
    process = start("inspect", box, "--json", cwd=tmp_path, stdout=-1, stderr=slave)
    os.close(slave)
    out, _ = process.communicate()
    shown = b""
    while chunk := _read(master):
        shown += chunk
    os.close(master)
    assert process.returncode == 3
    assert json.loads(out)["schema"] == "ventplanner/1"
    assert b"Casting columns: 20 %" in shown
    assert shown.endswith(b"\r\x1b[K")


def _read(terminal: int) -> bytes:
    try:
        return os.read(terminal, 4096)
    except OSError:  # the other side is closed
        return b""


@pytest.mark.parametrize("stream", ["stdout", "stderr"])
def test_a_closed_stream_is_no_failure(box: Path, monkeypatch: pytest.MonkeyPatch, stream: str) -> None:
    monkeypatch.setattr(sys, stream, None)
    assert cli.main(["inspect", str(box)]) == 3
    assert cli.main(["inspect", "nowhere.stl"]) == 2
