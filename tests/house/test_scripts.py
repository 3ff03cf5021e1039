"""The two scripts on machines that lack something: what they say, and that they touch nothing they may not."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
Answer = subprocess.CompletedProcess[str]
Machine = Callable[..., Answer]

ORDINARY = ("bash", "dirname", "basename", "cat", "mktemp", "rm", "env", "sha256sum", "mkdir", "ls", "wc")


@pytest.fixture
def machine(tmp_path: Path) -> Machine:
    """A machine with ordinary commands only, plus the given ones (name=script), and a copy of the scripts."""
    checkout, commands = tmp_path / "a checkout", tmp_path / "commands"
    commands.mkdir()
    for folder in ("resources", "tests"):
        (checkout / folder).mkdir(parents=True)
        for script in (ROOT / folder).glob("*.*"):
            shutil.copy(script, checkout / folder)
    shutil.copy(ROOT / "pyproject.toml", checkout)
    for name in ORDINARY:
        (commands / name).symlink_to(shutil.which(name) or name)

    def run(*command: str, **extra: str) -> Answer:
        for name, script in extra.items():
            path = commands / name.replace("_", "-")
            path.write_text(f"#!/usr/bin/env bash\n{script}\n")
            path.chmod(0o755)
        environment = {"PATH": str(commands), "HOME": str(tmp_path), "LOG": str(tmp_path / "log"), "LC_ALL": "C"}
        return subprocess.run(command, cwd=checkout, env=environment, capture_output=True, text=True, check=False)

    return run


BASH = shutil.which("bash") or "bash"
LOGGED = 'echo "$0 $*" | cat >>"$LOG"'


def test_without_a_file_the_usage_is_shown(machine: Machine) -> None:
    answer = machine(BASH, "resources/start.sh")
    assert answer.returncode == 2
    assert "Usage: bash resources/start.sh FILE" in answer.stderr


def test_a_missing_file_is_named_before_anything_is_installed(machine: Machine) -> None:
    answer = machine(BASH, "resources/start.sh", "no such part.stl")
    assert answer.returncode == 2
    assert answer.stderr.startswith("There is no file no such part.stl.")


@pytest.mark.parametrize("command", [("resources/start.sh", "pyproject.toml"), ("tests/run.sh",)])
def test_who_may_not_install_is_told_the_exact_line(machine: Machine, command: tuple[str, ...], tmp_path: Path) -> None:
    answer = machine(BASH, *command, id="echo 1000", apt_get=LOGGED)
    assert answer.returncode == 2
    assert (
        "sudo apt-get update && sudo apt-get install -y --no-install-recommends python3 python3-venv" in answer.stderr
    )
    assert not (tmp_path / "log").exists()


def test_sudo_is_used_only_if_it_asks_for_no_password(machine: Machine, tmp_path: Path) -> None:
    answer = machine(BASH, "tests/run.sh", id="echo 1000", apt_get=LOGGED, sudo="exit 1")
    assert answer.returncode == 2
    assert not (tmp_path / "log").exists()


def test_with_sudo_the_packages_are_installed_by_apt(machine: Machine, tmp_path: Path) -> None:
    apt_cache = "exit 1"
    answer = machine(BASH, "tests/run.sh", id="echo 1000", apt_get=LOGGED, apt_cache=apt_cache, sudo='shift; "$@"')
    calls = (tmp_path / "log").read_text().splitlines()
    assert [call.split("/")[-1] for call in calls] == [
        "apt-get update -q",
        "apt-get install -y -q --no-install-recommends python3 python3-venv",
    ]
    assert (answer.returncode, answer.stderr.splitlines()[-1][:11]) == (2, "Python 3.11")


def test_packages_that_are_there_are_not_asked_for_again(machine: Machine, tmp_path: Path) -> None:
    ask = "source resources/machine.sh; system_packages xauth xvfb; system_packages xauth"
    query = 'case "$*" in *xauth*) printf installed;; *) exit 1;; esac'
    assert machine(BASH, "-c", ask, id="echo 0", apt_get=LOGGED, dpkg_query=query).returncode == 0
    installs = [line for line in (tmp_path / "log").read_text().splitlines() if " install " in line]
    assert [line.split("recommends ")[1] for line in installs] == ["xvfb"]


def test_a_machine_without_apt_is_told_what_is_missing(machine: Machine) -> None:
    answer = machine(BASH, "tests/run.sh")
    assert answer.returncode == 2
    assert "no apt" in answer.stderr
    assert "python3-venv" in answer.stderr


def test_a_python_that_cannot_make_environments_gets_its_own_package(machine: Machine, tmp_path: Path) -> None:
    python = 'case "$2" in *ensurepip*) exit 1;; *print*) echo python3.12-venv;; esac'
    machine(BASH, "tests/run.sh", id="echo 0", apt_get=LOGGED, python3=python)
    assert (tmp_path / "log").read_text().rstrip().endswith("--no-install-recommends python3.12-venv")


def test_what_is_installed_is_not_installed_again(machine: Machine, tmp_path: Path) -> None:
    stamp = "source resources/machine.sh; mkdir -p .venv/bin; stamp_now > .venv/stamp-test"
    assert machine(BASH, "-c", stamp).returncode == 0
    python = tmp_path / "a checkout" / ".venv" / "bin" / "python"
    python.write_text("#!/usr/bin/env bash\nexit 1\n")
    python.chmod(0o755)
    ask = "source resources/machine.sh; for e in run test; do installed $e && echo $e; done; installed test"
    assert machine(BASH, "-c", ask).stdout.split() == ["run", "test"]
    (tmp_path / "a checkout" / "resources" / "constraints.txt").write_text("numpy==2.0\n")
    assert machine(BASH, "-c", ask).stdout.split() == []


def test_root_needs_no_sudo(machine: Machine, tmp_path: Path) -> None:
    machine(BASH, "tests/run.sh", id="echo 0", apt_get=LOGGED, apt_cache="exit 1", sudo="exit 1")
    assert "install -y -q --no-install-recommends python3 python3-venv" in (tmp_path / "log").read_text()
