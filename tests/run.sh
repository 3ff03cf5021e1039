#!/usr/bin/env bash
# The whole check: style, types, layers, tests. Sets up what is missing first. Arguments go to pytest.
set -euo pipefail
source "$(dirname "${BASH_SOURCE[0]}")/../resources/machine.sh"
cd "$root"

unset PYTHONDONTWRITEBYTECODE # hundreds of processes start: none of them is to compile everything again
prepare test
need_window xvfb xauth

step() {
    say "== $*"
    "$@" || failed+=("${*:1:4};")
}
tests() { PATH=$venv/bin:$PATH xvfb-run -a -s "-screen 0 1600x1000x24" python -m pytest "$@"; }
offscreen() { QT_QPA_PLATFORM=offscreen "$venv/bin/python" -m pytest "$@"; }
# check COMMAND...: one of several at a time; what it printed is shown when it is through.
check() {
    local said code=0
    said=$("$@" 2>&1) || code=$?
    printf '== %s\n%s\n' "$*" "$said"
    return "$code"
}

# Each start of a process takes four seconds of processor time, and a window with its workers ten. So files of tests/ui
# that show nothing share two processes without a screen, and files that leave the window as they found it share one.
# The graphics libraries want one window for each process: each group gets a process and a screen of its own. All of
# these, and the types and layers, run two at a time without a pause between.
shared=(
    "main_job verdict failures"
    "many suction"
    "focus refused new_vent places keep_clear"
    "passages section layers inside drain orient recovery"
    "cancelled cards commands desktop hollow mend plan_profile profile test_piece"
)
odd=() even=() views=() alone=() files=" ${shared[*]} "
for file in tests/ui/test_*.py; do
    name=${file#tests/ui/test_} && name=${name%.py}
    case $name in
        along_view | chart* | hand | journal* | layer_* | orient_map | pace | printed_piece | profiles | session* | \
            settings | units | view_eye | view_section | worker)
            if ((${#odd[@]} > ${#even[@]})); then even+=("$file"); else odd+=("$file"); fi
            ;;
        view*) views+=("$file") ;;
        *) [[ $files == *" ${name#window_} "* ]] || alone+=("$file") ;;
    esac
done
groups=("offscreen ${odd[*]}" "offscreen ${even[*]}" "$venv/bin/mypy" "$venv/bin/lint-imports") # the longest first
for names in "${shared[@]}"; do
    printf -v group ' tests/ui/test_window_%s.py' $names
    groups+=("tests$group")
done
groups+=("${alone[@]/#/tests }" "tests ${views[*]}")

failed=()
step "$venv/bin/ruff" check .
step "$venv/bin/ruff" format --check .
export -f tests offscreen check
export venv
if [ $# -gt 0 ]; then
    step "$venv/bin/mypy"
    step "$venv/bin/lint-imports"
    step tests "$@"
else
    step tests -n 2 --dist worksteal --ignore=tests/ui
    say "== types, layers, and tests of the window"
    printf '%s\n' "${groups[@]}" |
        xargs -L 1 -P 2 bash -c 'check "$@"' check || failed+=("types, layers or tests/ui;")
fi

if [ ${#failed[@]} -gt 0 ]; then
    say "Failed: ${failed[*]}"
    exit 1
fi
