#!/bin/sh
# Make .venv and install paneglow into it, editable: `install.sh demo` to run it, `install.sh dev` to work on it.
# Ends with one clear line when the machine lacks something; installs system libraries only as root or with sudo -n.
set -eu
cd "$(dirname "$0")/.."

extras=${1:?say demo or dev}
oldest="3.11"
# In tests only: a second solution of circuits, and a browser for the report; without one its tests are skipped
referees="ngspice chromium"
system_packages="libegl1 libgl1 libexpat1" # drawing library: libEGL.so.1, libGL.so.1, libexpat.so.1

stop() {
    echo "install: $*" >&2
    exit 1
}

is_new_enough() {
    "$1" -c "import sys; sys.exit(sys.version_info < tuple(map(int, '$oldest'.split('.'))))" 2>/dev/null
}

find_python() {
    for candidate in ${PYTHON:-python3 python3.13 python3.12 python3.11}; do
        if is_new_enough "$candidate"; then
            echo "$candidate"
            return
        fi
    done
}

make_venv() {
    python=$(find_python)
    [ -n "$python" ] || stop "needs Python $oldest or newer and ${PYTHON:-python3} is not; on Debian 12 or newer:" \
        "apt-get install python3 python3-venv; or name one: make PYTHON=/path/to/python ..."
    "$python" -c "import venv, ensurepip" 2>/dev/null ||
        stop "$python has no venv module; on Debian: apt-get install python3-venv"
    "$python" -m venv --clear .venv
}

as_root() {
    if [ "$(id -u)" -eq 0 ]; then "$@"; else sudo -n "$@"; fi
}

add_system_libraries() {
    advice="the drawing library needs system libraries; run: sudo apt-get install -y $system_packages"
    command -v apt-get >/dev/null || stop "$advice (or what your system calls them)"
    [ "$(id -u)" -eq 0 ] || sudo -n true 2>/dev/null || stop "$advice"
    echo "install: adding $system_packages" >&2
    # shellcheck disable=SC2086  # one word per package is meant
    { as_root apt-get update -qq && as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq $system_packages; } \
        >.venv/apt.log 2>&1 || stop "apt-get failed, see .venv/apt.log; $advice"
}

# Never stops the installation: the tests that need it say so and are skipped
add_referee() {
    command -v "$1" >/dev/null && return
    command -v apt-get >/dev/null && { [ "$(id -u)" -eq 0 ] || sudo -n true 2>/dev/null; } || return 0
    echo "install: adding $1, for tests" >&2
    { as_root apt-get update -qq && as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq "$1"; } \
        >".venv/apt-$1.log" 2>&1 || echo "install: no $1 here; its tests will be skipped" >&2
}

add_packages() {
    .venv/bin/python -m pip install --quiet --disable-pip-version-check "$@" --editable "$target"
}

can_draw() {
    .venv/bin/python -c "import skia" 2>/dev/null
}

.venv/bin/python -m pip --version >/dev/null 2>&1 || make_venv
echo "install: paneglow for $extras into .venv; this takes about a minute" >&2
case $extras in
demo) target="." ;;
dev) target=".[dev]" ;;
*) stop "say demo or dev, not $extras" ;;
esac
add_packages --constraint tools/constraints.txt 2>.venv/pip.log ||
    { echo "install: the tested versions are not to be had here; taking the newest allowed" >&2 && add_packages; } ||
    stop "pip could not install the packages; its own words are above"
can_draw || add_system_libraries
can_draw || stop "skia-python does not load: $(.venv/bin/python -c 'import skia' 2>&1 | tail -1)"

[ "$extras" = demo ] || for referee in $referees; do add_referee "$referee"; done
touch .venv/installed-demo
[ "$extras" = demo ] || touch .venv/installed-dev
