#!/bin/sh
# Makes .venv and puts one of the two locked sets of packages in it: run, or dev (run and more).
set -eu
cd "$(dirname "$0")/.."
set_name=$1

python=
for candidate in python3.11 python3; do
    if "$candidate" -c 'import sys; sys.exit(sys.version_info[:2] != (3, 11))' 2>/dev/null; then
        python=$candidate
        break
    fi
done
if [ -z "$python" ]; then
    echo "Python 3.11 is needed (Debian 12 has it: apt-get install python3 python3-venv)." >&2
    exit 1
fi

if ! .venv/bin/python -m pip --version >/dev/null 2>&1; then
    echo "Making the virtual environment .venv"
    "$python" -m venv .venv
fi
echo "Installing requirements/$set_name.txt"
.venv/bin/python -m pip install --quiet --disable-pip-version-check --require-hashes \
    --requirement "requirements/$set_name.txt"
touch .venv/run.stamp
if [ "$set_name" = dev ]; then
    touch .venv/dev.stamp
fi
