#!/usr/bin/env bash
# The whole check: style, types, layers, tests. Sets up what is missing first. Arguments go to pytest.
set -euo pipefail
source "$(dirname "${BASH_SOURCE[0]}")/../resources/machine.sh"
cd "$root"

prepare test

step() {
    say "== $*"
    "$venv/bin/$@" || failed+=("${*:1:3};")
}
failed=()
step ruff check .
step ruff format --check .
step mypy
step lint-imports
step python -m pytest -n 2 "$@"

if [ ${#failed[@]} -gt 0 ]; then
    say "Failed: ${failed[*]}"
    exit 1
fi
