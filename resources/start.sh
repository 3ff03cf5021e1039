#!/usr/bin/env bash
# Sets up what is missing, then opens the window:  bash resources/start.sh [FILE]
# Without a screen it does the main job on FILE and puts the drilled part into out/.
set -euo pipefail
source "$(dirname "${BASH_SOURCE[0]}")/machine.sh"

if [ $# -gt 1 ] || { [ $# = 0 ] && ! has_screen; }; then
    say "Usage: bash resources/start.sh FILE, for example one of:"
    (cd "$root" && ls samples/*.stl samples/*.3mf 2>/dev/null || true) >&2
    exit 2
fi
if [ $# = 1 ] && [ ! -f "$1" ]; then
    say "There is no file $1. Give the path of an STL, 3MF, OBJ, PLY or OFF file."
    exit 2
fi
file=
[ $# = 0 ] || file=$(cd "$(dirname "$1")" && pwd)/$(basename "$1")

prepare run

if has_screen; then
    need_window
    exec "$venv/bin/ventplanner" ${file:+"$file"}
fi
name=$(basename "$file")
out=$root/out/${name%.*}-vented.stl
mkdir -p "$root/out"
say "There is no screen, so no window: finding the cavities of $file, venting them, writing $out"
exec "$venv/bin/ventplanner" vent "$file" --out "$out" --overwrite
