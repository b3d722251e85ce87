#!/bin/sh
# Installs the Debian packages that are missing. 'run': what the app needs; 'test': its tests too.
set -eu

PATH=$PATH:/usr/sbin:/sbin
missing=

need() { # package, command that succeeds where it is there
    package=$1
    shift
    "$@" >/dev/null 2>&1 || missing="$missing $package"
}
library() { ldconfig -p | grep -q "$1"; }
venv_can_be_made() { python3.11 -c 'import ensurepip, venv' || python3 -c 'import ensurepip, venv'; }
some_font() { fc-list : family | grep -q 'DejaVu Sans'; }
# Names in Chinese, Japanese, Korean; in Devanagari, Bengali, Tamil, Thai, Ethiopic and others.
east_asian_font() { fc-list ':lang=zh' | grep -q .; }
indian_font() { fc-list ':lang=hi' | grep -q .; }
some_chromium() { command -v chromium-headless-shell || command -v chromium; }
postgres_programs() { ls /usr/lib/postgresql/*/bin/initdb || command -v initdb; }

find_missing() {
    missing=
    need "python3 python3-venv" venv_can_be_made
    need libpango-1.0-0 library libpango-1.0.so.0
    need libpangoft2-1.0-0 library libpangoft2-1.0.so.0
    need libharfbuzz-subset0 library libharfbuzz-subset.so.0
    need "fontconfig fonts-dejavu-core" some_font
    if [ "$1" = test ]; then
        need postgresql postgres_programs
        need redis-server command -v redis-server
        # Without windows the browser's tests take half as long; with them they work too.
        need chromium-headless-shell some_chromium
    fi
}

install_missing() {
    as_root=
    if [ "$(id -u)" -ne 0 ]; then
        as_root=sudo
    fi
    if ! command -v apt-get >/dev/null || ! command -v ${as_root:-env} >/dev/null; then
        echo "Missing on this machine:$missing (named as in Debian 12)." >&2
        echo "Install them as root, for example: apt-get install$missing" >&2
        exit 1
    fi
    echo "Installing from Debian:$missing"
    log=$(mktemp)
    # shellcheck disable=SC2086
    if ! { $as_root apt-get update && $as_root env DEBIAN_FRONTEND=noninteractive \
        apt-get install --yes --no-install-recommends $missing; } >"$log" 2>&1; then
        tail -n 20 "$log" >&2
        echo "apt-get could not install:$missing. Install them as root, then try again." >&2
        exit 1
    fi
    # Sheets print without these; a name that they can't write then is told on screen.
    missing=
    need fonts-wqy-microhei east_asian_font
    need fonts-freefont-ttf indian_font
    # shellcheck disable=SC2086
    if [ -n "$missing" ] && ! $as_root env DEBIAN_FRONTEND=noninteractive \
        apt-get install --yes --no-install-recommends $missing >"$log" 2>&1; then
        echo "Could not install$missing: names in some scripts will not print." >&2
    fi
    rm -f "$log"
}

case "${1:-}" in
    run | test) ;;
    *) echo "usage: tools/system.sh run|test" >&2 && exit 2 ;;
esac
find_missing "$1"
[ -z "$missing" ] && exit 0
install_missing
find_missing "$1"
if [ -n "$missing" ]; then
    echo "Still missing after installing:$missing" >&2
    exit 1
fi
