from __future__ import annotations

import re
import tomllib

import pytest

from tests.settings import HOME

PACKAGE = re.compile(r"([a-z0-9._-]+)(?:\[[a-z0-9,-]+\])?==([^\s;]+)( ; [^\\]+)? \\")
FILE_HASH = re.compile(r"    --hash=sha256:[0-9a-f]{64}( \\)?")


def locked(name: str) -> dict[str, str]:
    lines = (HOME / "requirements" / f"{name}.txt").read_text().splitlines()
    found = [PACKAGE.fullmatch(line) for line in lines]
    return {match[1]: match[2] for match in found if match}


@pytest.mark.parametrize("name", ["run", "dev"])
def test_every_line_is_an_exact_version_or_a_hash_and_nothing_else(name: str) -> None:
    before = ""
    for line in (HOME / "requirements" / f"{name}.txt").read_text().splitlines():
        if PACKAGE.fullmatch(line):
            assert not before.endswith("\\"), f"no hash above {line}"
        else:
            assert FILE_HASH.fullmatch(line), line
            assert before.endswith("\\"), line
        before = line
    assert not before.endswith("\\")


def test_the_tests_run_on_the_versions_that_run() -> None:
    assert locked("run").items() <= locked("dev").items()


def test_what_the_project_asks_for_is_locked() -> None:
    project = tomllib.loads((HOME / "pyproject.toml").read_text())["project"]
    for name, asked in (
        ("run", project["dependencies"]),
        ("dev", project["optional-dependencies"]["dev"]),
    ):
        names = {re.split(r"[\[<>=;]", line)[0].strip().lower() for line in asked}
        assert names <= set(locked(name)), name
