#!/bin/sh
# Sees to it that a program which does not come from PyPI is there: installs Debian's package
# where it may, otherwise says in one line what to install. Called by the Makefile.
#
#   need.sh mosquitto chromium    programs
#   need.sh venv PYTHON           the virtual environment .venv, made with that Python
set -eu

as_root() {
    if [ "$(id -u)" -eq 0 ]; then
        "$@"
    else
        sudo "$@"
    fi
}

may_install() {
    command -v apt-get >/dev/null 2>&1 || return 1
    [ "$(id -u)" -eq 0 ] && return 0
    command -v sudo >/dev/null 2>&1 && sudo -n true 2>/dev/null
}

# install PROGRAM PACKAGE...
install() {
    program=$1
    shift
    if ! may_install; then
        echo "wheelward: $program is missing; run: sudo apt-get install $*" >&2
        exit 1
    fi
    echo "Installing $* with apt-get, because $program is missing"
    as_root apt-get update -q
    as_root env DEBIAN_FRONTEND=noninteractive apt-get install -q -y --no-install-recommends "$@"
}

has() {
    command -v "$1" >/dev/null 2>&1 || [ -x "/usr/sbin/$1" ]
}

if [ "$1" = venv ]; then
    python=$2
    if ! "$python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
        echo "wheelward: Python 3.11 or newer is needed; $python is older or missing (set PYTHON=...)" >&2
        exit 1
    fi
    if ! "$python" -c 'import ensurepip, venv' 2>/dev/null; then
        install "Python's venv module" python3-venv
    fi
    echo "Making the virtual environment .venv"
    "$python" -m venv .venv
    exit 0
fi

for program in "$@"; do
    has "$program" && continue
    case $program in
        # The tests also need a font, or Chromium draws boxes in place of words.
        chromium) install chromium chromium fonts-dejavu-core ;;
        *) install "$program" "$program" ;;
    esac
done
