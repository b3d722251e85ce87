from __future__ import annotations

import re
import tomllib
from importlib.metadata import requires

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from tests.settings import HOME

PACKAGE = re.compile(r"([a-z0-9._-]+)(?:\[([a-z0-9,-]+)\])?==([^\s;]+)( ; [^\\]+)? \\")
FILE_HASH = re.compile(r"    --hash=sha256:[0-9a-f]{64}( \\)?")


def pins(name: str) -> list[re.Match[str]]:
    lines = (HOME / "requirements" / f"{name}.txt").read_text().splitlines()
    return [found for line in lines if (found := PACKAGE.fullmatch(line))]


def locked(name: str) -> dict[str, str]:
    return {pin[1]: pin[3] for pin in pins(name)}


def extras(name: str) -> dict[str, set[str]]:
    return {pin[1]: set((pin[2] or "").split(",")) - {""} for pin in pins(name)}


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


@pytest.mark.parametrize("name", ["run", "dev"])
def test_every_extra_asked_for_is_locked_by_name(name: str) -> None:
    """Without it pip takes the newest release for the extra, and refuses that for having no hash."""
    named = extras(name)
    for package, chosen in named.items():
        for line in requires(package) or []:
            asked = Requirement(line)
            wanted = not asked.marker or any(
                asked.marker.evaluate({"extra": extra}) for extra in {"", *chosen}
            )
            if wanted:
                assert asked.extras <= named[canonicalize_name(asked.name)], f"{package}: {line}"
