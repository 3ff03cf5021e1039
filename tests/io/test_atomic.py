"""The old file is replaced whole or stays as it was."""

from __future__ import annotations

import errno
import os
import signal
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from ventplanner.errors import FileWriteError
from ventplanner.io.atomic import replacing


def half_written(target: Path, error: BaseException) -> None:
    with replacing(target, overwrite=True) as draft:
        draft.path.write_text("half")
        raise error


def too_late(target: Path) -> None:
    """Somebody else makes the target while we write ours."""
    with replacing(target) as draft:
        draft.path.write_text("mine")
        target.write_text("theirs")
        draft.commit()


def never_begun(target: Path, overwrite: bool = False) -> None:
    with replacing(target, overwrite=overwrite):
        pytest.fail("the block must not run")


def too_full(target: Path) -> None:
    with replacing(target), Path("/dev/full").open("wb", buffering=0) as full:
        full.write(b"x")


posix_only = pytest.mark.skipif(os.name != "posix", reason="links, permissions and signals as POSIX has them")


def test_a_committed_draft_takes_the_place_and_leaves_nothing_beside_it(tmp_path: Path) -> None:
    target = tmp_path / "out.stl"
    with replacing(target) as draft:
        assert draft.path.parent == tmp_path
        assert draft.path.suffix == ".stl"
        draft.path.write_text("new")
        assert not target.exists()
        draft.commit()
        assert target.read_text() == "new"
    assert list(tmp_path.iterdir()) == [target]


def test_a_draft_that_is_not_committed_is_removed(tmp_path: Path) -> None:
    with replacing(tmp_path / "out.stl") as draft:
        draft.path.write_text("not verified")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("interruption", [ValueError, KeyboardInterrupt, SystemExit])
def test_an_interruption_leaves_the_old_file(tmp_path: Path, interruption: type[BaseException]) -> None:
    target = tmp_path / "out.stl"
    target.write_text("old")
    with pytest.raises(interruption):
        half_written(target, interruption())
    assert target.read_text() == "old"
    assert list(tmp_path.iterdir()) == [target]


@posix_only
def test_a_process_killed_while_it_writes_leaves_the_old_file(tmp_path: Path) -> None:
    target = tmp_path / "out.stl"
    target.write_text("old")
    script = (
        "import os, signal, sys\nfrom ventplanner.io.atomic import replacing\n"
        "with replacing(sys.argv[1], overwrite=True) as draft:\n"
        "    draft.path.write_text('half')\n    os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    ended = subprocess.run([sys.executable, "-c", script, str(target)], cwd=Path(__file__).parents[2], check=False)
    assert ended.returncode == -signal.SIGKILL
    assert target.read_text() == "old"


def test_an_existing_file_needs_leave(tmp_path: Path) -> None:
    target = tmp_path / "out.stl"
    target.write_text("old")
    with pytest.raises(FileWriteError, match=r"exists already\. Choose another name or allow overwriting"):
        never_begun(target)
    with replacing(target, overwrite=True) as draft:
        draft.path.write_text("new")
        draft.commit()
    assert target.read_text() == "new"


def test_a_file_that_appears_meanwhile_is_not_overwritten(tmp_path: Path) -> None:
    target = tmp_path / "out.stl"
    with pytest.raises(FileWriteError, match="exists already"):
        too_late(target)
    assert target.read_text() == "theirs"
    assert list(tmp_path.iterdir()) == [target]


@pytest.mark.parametrize("meanwhile", [False, True])
def test_file_systems_without_hard_links_serve_as_well(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, meanwhile: bool
) -> None:
    def no_links(*_: object) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", no_links)
    target = tmp_path / "out.stl"
    if meanwhile:
        with pytest.raises(FileWriteError, match="exists already"):
            too_late(target)
    else:
        with replacing(target) as draft:
            draft.path.write_text("mine")
            draft.commit()
    assert target.read_text() == ("theirs" if meanwhile else "mine")
    assert list(tmp_path.iterdir()) == [target]


@posix_only
def test_a_link_stays_a_link_and_permissions_stay(tmp_path: Path) -> None:
    target, link = tmp_path / "real.stl", tmp_path / "link.stl"
    target.write_text("old")
    target.chmod(0o640)
    link.symlink_to(target)
    with replacing(link, overwrite=True) as draft:
        draft.path.write_text("new")
        draft.commit()
    assert link.is_symlink()
    assert target.read_text() == "new"
    assert stat.S_IMODE(target.stat().st_mode) == 0o640


@pytest.mark.parametrize(
    ("place", "message"),
    [("nowhere/out.stl", "the folder .*nowhere does not exist"), (".", "this is a folder")],
)
def test_places_that_cannot_be_written_to_say_why(tmp_path: Path, place: str, message: str) -> None:
    with pytest.raises(FileWriteError, match=message) as caught:
        never_begun(tmp_path / place, overwrite=True)
    assert caught.value.way_out


@pytest.mark.parametrize(
    ("number", "message"),
    [
        (errno.ENOSPC, "the disk is full"),
        (errno.EROFS, "can only be read"),
        (errno.EACCES, "no permission to write"),
        (errno.EIO, "cannot be written"),
    ],
)
def test_what_the_system_refuses_is_said_and_the_old_file_is_intact(tmp_path: Path, number: int, message: str) -> None:
    target = tmp_path / "out.stl"
    target.write_text("old")
    with pytest.raises(FileWriteError, match=message):
        half_written(target, OSError(number, os.strerror(number)))
    assert target.read_text() == "old"
    assert list(tmp_path.iterdir()) == [target]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs the device that is always full")
def test_a_disk_that_is_really_full(tmp_path: Path) -> None:
    target = tmp_path / "out.stl"
    with pytest.raises(FileWriteError, match="the disk is full"):
        too_full(target)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_can_only_be_read(tmp_path: Path) -> None:
    tmp_path.chmod(0o555)
    try:
        with pytest.raises(FileWriteError, match="no permission to write"):
            never_begun(tmp_path / "out.stl")
    finally:
        tmp_path.chmod(0o755)
