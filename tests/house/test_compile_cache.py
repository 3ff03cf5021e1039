"""Where compiled kernels are kept: seen from fresh processes, as a first start sees it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from ventplanner import compile_cache

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "ventplanner"

THREE_KERNELS = """
import json, sys
from ventplanner import compile_cache
cold = compile_cache.is_cold()
from ventplanner.geometry.jit import F8, kernel, numba

@kernel(F8(F8))
def double(x):
    return 2.0 * x

@kernel(F8(F8))
def square(x):
    return x * x

@kernel(F8(F8, F8))
def both(x, y):
    return double(x) + square(y)

kernels = (double, square, both)
print(json.dumps({
    "cold": cold,
    "value": both(1.0, 3.0),
    "hits": sum(sum(k.stats.cache_hits.values()) for k in kernels),
    "misses": sum(sum(k.stats.cache_misses.values()) for k in kernels),
    "folder": double.stats.cache_path,
    "setting": numba.config.CACHE_DIR,
}))
"""

ALL_KERNELS = """
import importlib, json
from pathlib import Path
from ventplanner import compile_cache
root = Path(compile_cache.__file__).parents[1]
found = {}
for file in compile_cache.kernel_sources():
    module = importlib.import_module(".".join(file.relative_to(root).with_suffix("").parts))
    found |= {id(v): v for v in vars(module).values() if hasattr(v, "py_func")}
print(json.dumps({
    "kernels": len(found),
    "signatures": sum(len(k.signatures) for k in found.values()),
    "hits": sum(sum(k.stats.cache_hits.values()) for k in found.values()),
    "misses": sum(sum(k.stats.cache_misses.values()) for k in found.values()),
}))
"""


def start(code: str, tmp_path: Path, **environment: str) -> subprocess.Popen[str]:
    script = tmp_path / "script.py"
    script.write_text(code)
    clean = {name: value for name, value in os.environ.items() if not name.startswith("NUMBA_")}
    home = {"HOME": str(tmp_path / "home"), "XDG_CACHE_HOME": str(tmp_path / "cache"), "TMPDIR": str(tmp_path)}
    return subprocess.Popen(
        [sys.executable, str(script)],
        env=clean | home | environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def result(process: subprocess.Popen[str]) -> dict[str, Any]:
    out, err = process.communicate(timeout=240)
    assert process.returncode == 0, err
    answer: dict[str, Any] = json.loads(out)
    return answer


@pytest.mark.long
def test_the_second_start_compiles_nothing(tmp_path: Path) -> None:
    first = result(start(ALL_KERNELS, tmp_path))
    second = result(start(ALL_KERNELS, tmp_path))
    assert first["misses"] == first["signatures"] > 0
    assert second == first | {"misses": 0, "hits": first["signatures"]}


def test_two_first_starts_at_once_compile_each_kernel_once_in_all(tmp_path: Path) -> None:
    one, two = [result(process) for process in [start(THREE_KERNELS, tmp_path) for _ in range(2)]]
    assert one["value"] == two["value"] == 11.0
    assert one["misses"] + two["misses"] == 3
    assert one["hits"] + two["hits"] == 3


def test_the_folder_is_the_users_cache_folder_and_no_setting_of_the_compiler_stays_changed(tmp_path: Path) -> None:
    answer = result(start(THREE_KERNELS, tmp_path))
    assert Path(answer["folder"]).is_relative_to(tmp_path / "cache" / "ventplanner" / "kernels")
    assert answer["setting"] == ""
    assert answer["cold"]
    assert not result(start(THREE_KERNELS, tmp_path))["cold"]


def test_a_folder_that_the_user_chose_is_used(tmp_path: Path) -> None:
    answer = result(start(THREE_KERNELS, tmp_path, NUMBA_CACHE_DIR=str(tmp_path / "mine")))
    assert Path(answer["folder"]).is_relative_to(tmp_path / "mine")
    assert not (tmp_path / "cache").exists()


def test_without_a_writable_cache_folder_a_private_temporary_one_is_used(tmp_path: Path) -> None:
    (tmp_path / "file").touch()  # a folder below a file cannot be made, not even by root
    nowhere = str(tmp_path / "file" / "cache")
    first = result(start(THREE_KERNELS, tmp_path, XDG_CACHE_HOME=nowhere))
    second = result(start(THREE_KERNELS, tmp_path, XDG_CACHE_HOME=nowhere))
    temporary = next(tmp_path.glob("ventplanner-*"))
    assert Path(first["folder"]).is_relative_to(temporary)
    assert temporary.stat().st_mode & 0o077 == 0
    assert (first["misses"], second["misses"]) == (3, 0)


def test_a_temporary_folder_that_others_may_write_is_not_trusted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(compile_cache.tempfile, "gettempdir", lambda: str(tmp_path))
    path = compile_cache._private_temporary()
    assert path is not None
    path.chmod(0o777)
    assert compile_cache._private_temporary() is None
    path.rmdir()
    path.symlink_to(tmp_path)
    assert compile_cache._private_temporary() is None


def test_kernels_work_where_nothing_can_be_written(tmp_path: Path) -> None:
    forbid = "from ventplanner import compile_cache\ncompile_cache._bases = lambda: iter(())\n"
    answer = result(start(forbid + THREE_KERNELS, tmp_path))
    assert (answer["value"], answer["folder"]) == (11.0, None)


def test_nothing_is_written_beside_the_package(tmp_path: Path) -> None:
    result(start(THREE_KERNELS, tmp_path))
    assert [*PACKAGE.rglob("*.nbi"), *PACKAGE.rglob("*.nbc")] == []


def test_in_a_frozen_bundle_the_folder_is_the_same(tmp_path: Path) -> None:
    """A bundle has compiled modules only, whose code names a source file that is nowhere on the machine."""
    (tmp_path / "bundled.pyc").touch()
    frozen = f"""
import sys
sys.frozen = True
code = compile({THREE_KERNELS!r}, "bundled.py", "exec")
__file__ = {str(tmp_path / "bundled.pyc")!r}
exec(code)
"""
    first, second = result(start(frozen, tmp_path)), result(start(frozen, tmp_path))
    assert Path(first["folder"]).is_relative_to(tmp_path / "cache" / "ventplanner" / "kernels")
    assert (first["misses"], second["misses"]) == (3, 0)


def test_a_change_in_any_kernel_source_leads_to_another_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    digests = set()
    for text in ("one", "two"):
        (tmp_path / "a.py").write_text(text)
        monkeypatch.setattr(compile_cache, "kernel_sources", lambda: (tmp_path / "a.py",))
        compile_cache.source_digest.cache_clear()
        digests.add(compile_cache.source_digest())
    compile_cache.source_digest.cache_clear()
    assert len(digests) == 2


def test_of_old_folders_the_last_used_and_those_still_in_use_are_kept(tmp_path: Path) -> None:
    days_ago = {"current": 0.0, "used-today": 0.5, "yesterday": 1.5, "last-week": 7.0, "last-year": 300.0}
    for name, days in days_ago.items():
        folder = tmp_path / f"{name}-numba1-py3-0"
        folder.mkdir()
        (folder / compile_cache.LOCK).touch()
        then = time.time() - days * 24 * 3600
        os.utime(folder / compile_cache.LOCK, (then, then))
    (tmp_path / "something of the user's").mkdir()
    compile_cache._prune(tmp_path, keep=tmp_path / "current-numba1-py3-0")
    kept = {path.name.removesuffix("-numba1-py3-0") for path in tmp_path.iterdir()}
    assert kept == {"current", "used-today", "something of the user's"}


def test_the_lock_keeps_others_out_and_is_free_again_when_its_holder_dies(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    holder = f"""
import sys, time
from pathlib import Path
from ventplanner import compile_cache
with compile_cache.locked(Path({str(tmp_path)!r})) as got:
    print(got, flush=True)
    time.sleep(60)
"""
    process = start(holder, tmp_path)
    assert process.stdout is not None
    assert process.stdout.readline() == "True\n"
    monkeypatch.setattr(compile_cache, "PATIENCE_S", 0.1)
    with compile_cache.locked(tmp_path) as got:
        assert not got
    process.kill()
    process.communicate()
    with compile_cache.locked(tmp_path) as got:
        assert got
