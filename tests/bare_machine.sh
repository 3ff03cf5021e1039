#!/usr/bin/env bash
# Proves both scripts on a bare machine:  bash tests/bare_machine.sh [SUITE [FOLDER]]    as root, with debootstrap
# Makes a minimal Debian (bookworm, trixie ...) in FOLDER, or uses the one that is there, clones the last commit into
# it, and runs there resources/start.sh (without rights, then with) and tests/run.sh. Some ten minutes.
set -euo pipefail
suite=${1:-bookworm}
machine=${2:-$(mktemp -d)/$suite}
checkout=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
inside="/home/a maker/ventplanner"

[ -e "$machine/etc/debian_version" ] || debootstrap --variant=minbase "$suite" "$machine"

# How this machine reaches the network: names, certificates, and what the environment says to pip.
cp -L /etc/resolv.conf /etc/hosts "$machine/etc/"
mkdir -p "$machine/$inside"
trusted=()
if [ -e /etc/ssl/certs/ca-certificates.crt ]; then
    cp -L /etc/ssl/certs/ca-certificates.crt "$machine/etc/trusted.crt"
    trusted=(PIP_CERT=/etc/trusted.crt SSL_CERT_FILE=/etc/trusted.crt REQUESTS_CA_BUNDLE=/etc/trusted.crt)
fi

rm -rf "${machine:?}/$inside"
git clone --quiet "file://$checkout" "$machine/$inside"
chmod -R a+rX "$machine/home"

run() { # COMMAND in the bare machine; its mounts end with it
    unshare --mount --pid --fork bash -c '
        machine=$1
        shift
        mount -t proc proc "$machine/proc"
        mount -t tmpfs tmpfs "$machine/dev/shm" 2>/dev/null || true
        # Terminals, for the tests that want one.
        mkdir -p "$machine/dev/pts"
        mount -t devpts -o newinstance,ptmxmode=0666 devpts "$machine/dev/pts" &&
            ln -sfn pts/ptmx "$machine/dev/ptmx"
        exec chroot "$machine" "$@"' bare "$machine" \
        /usr/bin/env -u PIP_FIND_LINKS -u PIP_CONFIG_FILE "${trusted[@]}" HOME=/root LC_ALL=C.UTF-8 \
        PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin bash -c "$1"
}
sample=$(cd "$checkout" && git ls-files 'samples/*.stl' 'samples/*.3mf' | head -n 1)

if [ ! -e "$machine/usr/bin/python3" ]; then
    echo "== without the right to install: says what to type, and ends with 2"
    status=0
    run "setpriv --reuid 65534 --regid 65534 --clear-groups bash '$inside/resources/start.sh' '$inside/$sample'" ||
        status=$?
    [ "$status" = 2 ] || { echo "ended with $status instead of 2"; exit 1; }
fi

echo "== resources/start.sh, from another folder"
time run "cd '$inside/samples' && bash ../resources/start.sh '../$sample'"
echo "== resources/start.sh again"
time run "cd / && bash '$inside/resources/start.sh' '$inside/$sample'"
echo "== tests/run.sh"
time run "cd / && bash '$inside/tests/run.sh'"
echo "== done"
