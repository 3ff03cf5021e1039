"""Where the compiled kernels are kept between two runs, and how two runs at once share that folder.

A compiler's own cache key knows the kernel's file, not the kernels and constants it uses from other files. So the
folder's name holds a digest of all kernel sources: after any change the folder is a new one, and nothing stale is met.
Standard library and platformdirs only: this must be cheap, and must work before anything heavy is imported.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import platformdirs

from ventplanner import __version__

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

KERNEL_MARK = b"ventplanner.geometry.jit"
"""A source file that names this module holds kernels."""

LOCK = "lock"
KEEP = 2
KEEP_FOR_S = 24 * 3600.0
PATIENCE_S = 120.0


def kernel_sources() -> tuple[Path, ...]:
    """All files of this package that hold kernels, sorted: sources, or compiled modules where no sources ship."""
    package = Path(__file__).parent
    files = sorted(package.rglob("*.py")) or sorted(package.rglob("*.pyc"))
    return tuple(file for file in files if file.name.startswith("jit.") or KERNEL_MARK in file.read_bytes())


@cache
def source_digest() -> str:
    """Digest of the kernel sources, 12 hexadecimal digits."""
    digest = hashlib.sha256()
    for file in kernel_sources():
        digest.update(file.name.encode() + b"\0" + file.read_bytes() + b"\0")
    return digest.hexdigest()[:12]


@cache
def folder(compiler_version: str) -> Path | None:
    """The folder for kernels compiled by this version of the compiler, made if need be; None if none can be written.

    NUMBA_CACHE_DIR, if set, says where; else the user's cache folder; else a private temporary folder.
    """
    python = f"py{sys.version_info.major}.{sys.version_info.minor}"
    name = f"{__version__}-numba{compiler_version}-{python}-{source_digest()}"
    for base in _bases():
        path = base / name
        try:
            path.mkdir(parents=True, exist_ok=True)
            (path / LOCK).touch()  # its time says when the folder was last used
            tempfile.TemporaryFile(dir=path).close()
        except OSError:
            continue
        _prune(base, keep=path)
        return path
    return None


def is_cold() -> bool:
    """Whether the kernels would have to be compiled now, which takes some seconds: for a word to the user before."""
    pattern = f"*-{source_digest()}/*/*.nbi"
    return not any(any(base.glob(pattern)) for base in _bases())


@contextlib.contextmanager
def locked(path: Path) -> Iterator[bool]:
    """Hold the folder's lock among all processes; yields False if it was not to be had within PATIENCE_S."""
    try:
        handle = (path / LOCK).open("ab")
    except OSError:
        yield False
        return
    with handle:
        yield _wait_for(handle.fileno())
        # Closing the file gives the lock back, also when the process dies.


def _bases() -> Iterator[Path]:
    wished = os.environ.get("NUMBA_CACHE_DIR")
    if wished:
        yield Path(wished) / "ventplanner"
    else:
        yield platformdirs.user_cache_path("ventplanner", appauthor=False) / "kernels"
    temporary = _private_temporary()
    if temporary is not None:
        yield temporary


def _private_temporary() -> Path | None:
    """A folder below the system's temporary one that nobody else may write: what lies in it will be executed."""
    try:
        path = Path(tempfile.gettempdir()) / f"ventplanner-{os.getuid() if sys.platform != 'win32' else 'kernels'}"
        path.mkdir(mode=0o700, exist_ok=True)
        state = path.lstat()
    except OSError:
        return None
    if sys.platform != "win32" and (path.is_symlink() or state.st_uid != os.getuid() or state.st_mode & 0o022):
        return None
    return path


def _prune(base: Path, keep: Path) -> None:
    """Remove folders of earlier versions, except the last KEEP and those that another process may be using."""
    marks = [mark for mark in base.glob(f"*-numba*-py*/{LOCK}") if mark.parent != keep]
    used = sorted(((_last_use(mark), mark.parent) for mark in marks), reverse=True)
    for last_use, path in used[KEEP - 1 :]:
        if last_use < time.time() - KEEP_FOR_S:
            shutil.rmtree(path, ignore_errors=True)


def _last_use(mark: Path) -> float:
    try:
        return mark.stat().st_mtime
    except OSError:  # another process has just removed it
        return time.time()


def _wait_for(descriptor: int) -> bool:
    end = time.monotonic() + PATIENCE_S
    while not _try_lock(descriptor):
        if time.monotonic() > end:
            return False
        time.sleep(0.05)
    return True


def _try_lock(descriptor: int) -> bool:
    try:
        if sys.platform == "win32":
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        else:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
