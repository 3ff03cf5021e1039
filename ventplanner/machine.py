"""How much memory this program may reckon with."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

USUAL_BYTES = 8_000_000_000
"""Taken where the system does not tell."""


def memory_bytes() -> int:
    """Bytes of the machine's memory, or of the part of it that a container or a limit leaves to this program."""
    found = [size for size in (_installed(), *_allowed(), _permitted()) if size > 0]
    return min(found, default=USUAL_BYTES)


def _installed() -> int:
    if sys.platform == "win32":
        return _installed_on_windows()
    with suppress(ValueError, OSError):  # names that this system does not know
        return os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    return 0


def _installed_on_windows() -> int:
    import ctypes

    class Status(ctypes.Structure):
        """MEMORYSTATUSEX of the Windows API."""

        _fields_ = (
            ("length", ctypes.c_ulong),
            ("load", ctypes.c_ulong),
            *((name, ctypes.c_ulonglong) for name in ("total", "free", "page", "page_free", "own", "own_free", "more")),
        )

    status = Status()
    status.length = ctypes.sizeof(status)
    kernel = getattr(ctypes, "windll").kernel32  # noqa: B009 - known on Windows alone
    return int(status.total) if kernel.GlobalMemoryStatusEx(ctypes.byref(status)) else 0


def _permitted() -> int:
    """The limit on this process's own memory (`ulimit -v`); 0 for none."""
    if sys.platform == "win32":
        return 0
    import resource

    limit, _ = resource.getrlimit(resource.RLIMIT_AS)
    return 0 if limit == resource.RLIM_INFINITY else limit


def _allowed(control: Path = Path("/sys/fs/cgroup"), own: Path = Path("/proc/self/cgroup")) -> Iterator[int]:
    """Limits of the control groups that this process is in, from its own up to the outermost (Linux)."""
    try:
        lines = own.read_text().splitlines()
    except (OSError, UnicodeDecodeError):
        return
    for line in lines:
        _, kinds, path = line.split(":", 2) if line.count(":") >= 2 else ("", "-", "")
        if kinds and "memory" not in kinds.split(","):
            continue
        base, name = (control / "memory", "memory.limit_in_bytes") if kinds else (control, "memory.max")
        inner = Path(path.lstrip("/"))
        for group in (inner, *inner.parents):
            with suppress(OSError, ValueError):  # "max" is no limit
                yield int((base / group / name).read_text())
