# Shared by resources/start.sh and tests/run.sh: system packages and the virtual environment. To be sourced.
# Outside the checkout nothing is touched but system packages, and those only through apt.

root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
venv=$root/.venv

say() { printf '%s\n' "$*" >&2; }

has_package() { [ "$(dpkg-query -W -f '${db:Status-Status}' "$1" 2>/dev/null)" = installed ]; }

# system_packages NAME...: install those that are missing with apt, as root or with sudo; if that is not allowed, print
# the line to type and exit with 2.
system_packages() {
    local name missing=()
    for name in "$@"; do has_package "$name" || missing+=("$name"); done
    [ ${#missing[@]} -gt 0 ] || return 0
    set -- "${missing[@]}"
    local line="apt-get install -y --no-install-recommends $*"
    if ! command -v apt-get >/dev/null; then
        say "This machine has no apt. Install what corresponds to: $*. Then run this again."
        exit 2
    elif [ "$(id -u)" = 0 ]; then
        run_apt env "$@"
    elif command -v sudo >/dev/null && sudo -n true 2>/dev/null; then
        run_apt sudo -n env "$@"
    else
        say "System packages are missing, and this user may not install them. Type this, then run this again:"
        say "    sudo apt-get update && sudo $line"
        exit 2
    fi
}

# run_apt PREFIX... : the first words (env, or sudo -n env) run apt, the others are packages.
run_apt() {
    local as=()
    while [ "$1" != env ]; do as+=("$1"); shift; done
    shift
    say "Installing system packages: $*"
    local log
    log=$(mktemp)
    if ! { "${as[@]}" env apt-get update -q && "${as[@]}" env DEBIAN_FRONTEND=noninteractive \
        apt-get install -y -q --no-install-recommends "$@"; } >"$log" 2>&1 </dev/null; then
        cat "$log" >&2
        rm -f "$log"
        say "apt could not install: $*"
        exit 1
    fi
    rm -f "$log"
}

# What the window and its 3-D view need from a Debian or Ubuntu that has next to nothing (tried on Debian 12 and 13).
window_packages=(
    libgl1 libegl1 libgl1-mesa-dri libxkbcommon-x11-0 libdbus-1-3 libfontconfig1 libxcb-cursor0 libxcb-shape0 libxcb-xkb1
    libxcb-image0 libxcb-render-util0 libxcb-icccm4 libxcb-keysyms1 libxcb-randr0 fonts-dejavu-core
    libxcursor1 libwayland-client0 libwayland-cursor0 libwayland-egl1
)

# need_window [NAME...]: the system's libraries that the window needs, and further packages; to be called after prepare.
# Where everything loads already, nothing is asked of apt: another distribution calls its packages otherwise.
need_window() {
    local wanted=()
    if ! window_loads; then
        wanted=("${window_packages[@]}")
        # Newer releases call it libglib2.0-0t64 and take the old name for it.
        has_package libglib2.0-0t64 || wanted+=(libglib2.0-0)
    fi
    system_packages "${wanted[@]}" "$@"
}

window_loads() {
    "$venv/bin/python" - 2>/dev/null <<'PYTHON'
import ctypes
import os
import pathlib

import PySide6.QtOpenGLWidgets

plugins = pathlib.Path(PySide6.__file__).parent / "Qt" / "plugins"
wanted = ["platforms/libqxcb.so", "xcbglintegrations/libqxcb-glx-integration.so"]
if os.environ.get("WAYLAND_DISPLAY"):
    wanted += ["platforms/libqwayland.so", "wayland-graphics-integration-client/libqt-plugin-wayland-egl.so"]
for name in wanted:
    ctypes.CDLL(str(plugins / name))
for name in ("libGL.so.1", "libEGL.so.1", "libXcursor.so.1"):
    ctypes.CDLL(name)
PYTHON
}

# has_screen: whether there is a screen to show a window on.
has_screen() { [ -n "${DISPLAY:-}${WAYLAND_DISPLAY:-}" ]; }

fits() { "$1" -c 'import sys; sys.exit(not (3, 11) <= sys.version_info[:2] <= (3, 14))' 2>/dev/null; }

# find_python: put the first Python that will do into $python; fails if there is none.
find_python() {
    local name
    for name in python3 python3.13 python3.12 python3.11 python3.14; do
        if fits "$name"; then
            python=$name
            return 0
        fi
    done
    return 1
}

# offered PACKAGE: whether apt has it.
offered() { apt-cache show "$1" >/dev/null 2>&1; }

need_python() {
    find_python && return
    system_packages python3 python3-venv
    find_python && return
    local version
    for version in 3.13 3.12 3.11; do
        if offered "python$version-venv"; then
            system_packages "python$version" "python$version-venv"
            find_python && return
        fi
    done
    say "Python 3.11, 3.12, 3.13 or 3.14 is needed; this machine has and offers none. Install one, then run this again."
    exit 2
}

# A Debian Python can lack what a virtual environment needs.
need_venv() {
    "$python" -c 'import ensurepip, venv' 2>/dev/null && return
    system_packages "$("$python" -c 'import sys; print("python%d.%d-venv" % sys.version_info[:2])')"
}

# What is installed is told by a stamp: it changes with the versions wished for and with the place of the checkout.
stamp_now() { { printf '%s\n' "$root"; cat "$root/pyproject.toml" "$root/resources/constraints.txt"; } | sha256sum; }

installed() { # EXTRA
    local stamp
    [ -x "$venv/bin/python" ] && stamp=$(stamp_now) &&
        { [ "$stamp" = "$(cat "$venv/stamp-test" 2>/dev/null)" ] ||
            { [ "$1" = run ] && [ "$stamp" = "$(cat "$venv/stamp-run" 2>/dev/null)" ]; }; }
}

# prepare run|test: the virtual environment with the program, or with the program and what its tests need.
prepare() {
    installed "$1" && return
    if command -v flock >/dev/null; then # two scripts started at once take turns
        exec 9<"$root/pyproject.toml"
        flock 9
        installed "$1" && return
    fi
    if ! fits "$venv/bin/python" || ! "$venv/bin/python" -c 'import pip' 2>/dev/null; then
        need_python
        need_venv
        say "Making a virtual environment in $venv"
        "$python" -m venv --clear "$venv"
    fi
    say "Installing into $venv (once; some minutes on a slow line)"
    local what=$root more=()
    # Tests use a third of all modules: those are compiled as they are imported, instead of all of them one by one.
    [ "$1" = run ] || { what="$root[$1]" && more=(--no-compile); }
    "$venv/bin/python" -m pip install --quiet --disable-pip-version-check --no-warn-script-location "${more[@]}" \
        -c "$root/resources/constraints.txt" -e "$what" </dev/null
    stamp_now >"$venv/stamp-$1"
}
