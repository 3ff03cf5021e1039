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
window_tests() {
    local said code=0
    said=$(PATH=$venv/bin:$PATH xvfb-run -a -s "-screen 0 1600x1000x24" python -m pytest "$1" 2>&1) || code=$?
    printf '== %s\n%s\n' "$1" "$said"
    return "$code"
}
# Files of tests/ui that show nothing share two processes: each start takes four seconds of processor time.
windowless=() windows=()
for file in tests/ui/test_*.py; do
    case ${file#tests/ui/test_} in
        along_view.* | chart* | hand.* | journal* | layer_* | orient_map.* | pace.* | printed_piece.* | profiles.* | session* | settings.* | units.* | \
            view_eye.* | view_section.* | worker.*) windowless+=("$file") ;;
        *) windows+=("$file") ;;
    esac
done
failed=()
step "$venv/bin/ruff" check .
step "$venv/bin/ruff" format --check .
step "$venv/bin/mypy"
step "$venv/bin/lint-imports"
if [ $# -gt 0 ]; then
    step tests "$@"
else
    step tests -n 2 --ignore=tests/ui
    QT_QPA_PLATFORM=offscreen step "$venv/bin/python" -m pytest -n 2 --dist loadfile "${windowless[@]}"
    # The graphics libraries want one window for each process: each file of tests gets a process and a screen of its own,
    # two at a time; what a file printed is shown when it is through.
    export -f window_tests
    export venv
    say "== tests of the window"
    printf '%s\0' "${windows[@]}" | xargs -0 -n 1 -P 2 bash -c 'window_tests "$1"' file || failed+=("tests/ui;")
fi

if [ ${#failed[@]} -gt 0 ]; then
    say "Failed: ${failed[*]}"
    exit 1
fi
