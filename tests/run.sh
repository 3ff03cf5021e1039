#!/usr/bin/env bash
# The whole check: style, types, layers, tests. Sets up what is missing first. Arguments go to pytest.
set -euo pipefail
source "$(dirname "${BASH_SOURCE[0]}")/../resources/machine.sh"
cd "$root"

prepare test
need_window xvfb xauth

step() {
    say "== $*"
    "$@" || failed+=("${*:1:4};")
}
tests() { PATH=$venv/bin:$PATH xvfb-run -a -s "-screen 0 1600x1000x24" python -m pytest "$@"; }
failed=()
step "$venv/bin/ruff" check .
step "$venv/bin/ruff" format --check .
step "$venv/bin/mypy"
step "$venv/bin/lint-imports"
if [ $# -gt 0 ]; then
    step tests "$@"
else
    step tests -n 2 --ignore=tests/ui
    # The graphics libraries want one window for each process, so each file of tests gets a process of its own.
    for file in tests/ui/test_*.py; do step tests "$file"; done
fi

if [ ${#failed[@]} -gt 0 ]; then
    say "Failed: ${failed[*]}"
    exit 1
fi
