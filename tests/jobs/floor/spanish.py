"""Reads which texts the crew's screens give out for translation, and what Spanish there is."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterable
from gettext import GNUTranslations
from pathlib import Path

from django.utils.translation.template import templatize

HOME = Path(__file__).resolve().parents[3]
CATALOGUE = HOME / "locale" / "es" / "LC_MESSAGES" / "django.po"

SCREENS = [
    "templates/base.html",
    "templates/parts/*.html",
    "templates/floor/*.html",
    "templates/account/*.html",
    "templates/errors/*.html",
]
SOURCES = [
    "jobs/floor/*.py",
    "shop/cautions.py",
    "shop/account/*.py",
    "shop/forms.py",
    "shop/form_words.py",
    "shop/edits.py",
    "shop/services/people.py",
    "jobs/services/marks.py",
    "jobs/services/corrections.py",
    "jobs/services/lifting.py",
    "jobs/services/locking.py",
    "jobs/services/weighing_entry.py",
    "jobs/services/casting.py",
    "jobs/services/mix_names.py",
    "jobs/services/mixing.py",
    "jobs/services/ticks.py",
    "jobs/services/run_words.py",
    "jobs/services/weigh_sheets.py",
    "jobs/services/added_water.py",
    "jobs/services/evaporation.py",
]
SINGULAR = {"_", "gettext", "gettext_lazy", "gettext_noop"}
PLURAL = {"ngettext", "ngettext_lazy"}
# What `templatize` makes of {% translate %} and {% blocktranslate %}.
TEMPLATE_CALL = re.compile(
    r"\b_?(n?gettext|_)\(u?(?P<first>'(?:[^'\\]|\\.)*'|\"(?:[^\"\\]|\\.)*\")"
)


def crew_texts() -> dict[str, str]:
    """msgid -> the file that asks for it."""
    found: dict[str, str] = {}
    for path in _files(SCREENS):
        for text in _in_template(path):
            found.setdefault(text, path.name)
    for path in _files(SOURCES):
        for text in _in_python(path):
            found.setdefault(text, path.name)
    return found


def _files(patterns: Iterable[str]) -> Iterable[Path]:
    for pattern in patterns:
        matches = sorted(HOME.glob(pattern))
        assert matches, f"nothing matches {pattern}"
        yield from matches


def _in_template(path: Path) -> Iterable[str]:
    source = templatize(path.read_text(encoding="utf-8"), origin=str(path))
    for call in TEMPLATE_CALL.finditer(source):
        yield ast.literal_eval(call["first"])


def _in_python(path: Path) -> Iterable[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.args):
            continue
        first = node.args[0]
        if node.func.id in SINGULAR | PLURAL and isinstance(first, ast.Constant):
            yield str(first.value)


class Untranslated(GNUTranslations):
    """Asked last: it has nothing."""

    def __init__(self) -> None:
        self.asked: set[str] = set()

    def gettext(self, message: str) -> str:
        self.asked.add(message)
        return message

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        self.asked.add(msgid1)
        return msgid1


def compiled() -> GNUTranslations:
    with CATALOGUE.with_suffix(".mo").open("rb") as file:
        return GNUTranslations(file)


def entries() -> list[tuple[str, str, list[str], bool]]:
    """Of the .po: (msgid, plural or '', translations, fuzzy)."""
    found = []
    for block in CATALOGUE.read_text(encoding="utf-8").split("\n\n"):
        lines = [line for line in block.splitlines() if not line.startswith("#~")]
        fuzzy = any(line.startswith("#,") and "fuzzy" in line for line in lines)
        parts = _parts(line for line in lines if line and not line.startswith("#"))
        if parts.get("msgid"):
            strings = [text for name, text in parts.items() if name.startswith("msgstr")]
            found.append((parts["msgid"], parts.get("msgid_plural", ""), strings, fuzzy))
    return found


def _parts(lines: Iterable[str]) -> dict[str, str]:
    parts: dict[str, str] = {}
    name = ""
    for line in lines:
        if not line.startswith('"'):
            name = line.split(" ")[0]
            parts[name] = ""
        parts[name] += ast.literal_eval(line.removeprefix(name).strip())
    return parts
