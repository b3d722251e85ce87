#!/bin/sh
# Writes requirements/*.txt anew from pyproject.toml: exact versions, every file by its hash.
set -eu
cd "$(dirname "$0")/.."
room=$(mktemp -d)
trap 'rm -rf "$room"' EXIT
trap 'exit 1' INT TERM

python3 -m venv "$room/venv"
"$room/venv/bin/python" -m pip install --quiet --disable-pip-version-check uv

# Extras stay named: pip asks for an extra's pin by name, and without it refuses the whole file as soon
# as a newer release of that package than the one locked is out.
compile() {
    "$room/venv/bin/uv" pip compile --quiet --python-version 3.11 --generate-hashes \
        --no-header --no-annotate --no-strip-extras --upgrade "$@" pyproject.toml
}
compile --output-file "$room/run.txt"
compile --extra dev --constraints "$room/run.txt" --output-file "$room/dev.txt"
cp "$room/run.txt" "$room/dev.txt" requirements/
echo "Written: requirements/run.txt, requirements/dev.txt"
