#!/usr/bin/env bash
# Sets up what is missing, then does the main job on a part:  bash resources/start.sh FILE
set -euo pipefail
source "$(dirname "${BASH_SOURCE[0]}")/machine.sh"

if [ $# -ne 1 ]; then
    say "Usage: bash resources/start.sh FILE, for example one of:"
    (cd "$root" && ls samples/*.stl samples/*.3mf 2>/dev/null || true) >&2
    exit 2
fi
if [ ! -f "$1" ]; then
    say "There is no file $1. Give the path of an STL, 3MF, OBJ, PLY or OFF file."
    exit 2
fi
file=$(cd "$(dirname "$1")" && pwd)/$(basename "$1")

prepare run

# There is no window yet: the main job runs without one.
name=$(basename "$file")
out=$root/out/${name%.*}-vented.stl
mkdir -p "$root/out"
say "Without a window: finding the cavities of $file, venting them, writing $out"
exec "$venv/bin/ventplanner" vent "$file" --out "$out" --overwrite
