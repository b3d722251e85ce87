"""A table between its upload and its saving, with what was chosen for it on the way.

Kept as one file a table, named by its person and a random key, for a day at the most. What was
uploaded is never written: only the text of its cells. Once saved, only the words that say so stay.
"""

from __future__ import annotations

import datetime as dt
import fcntl
import json
import os
import re
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from django.conf import settings

from jobs.services.exchange.columns import Choices
from jobs.services.exchange.files import Read
from jobs.services.exchange.table import Table
from jobs.services.exchange.workbook import Sheet
from shop.models import Person

KEPT = dt.timedelta(days=1)
A_PERSON = 4  # tables at once; the oldest gives way
TOKEN = re.compile(r"[0-9a-f]{32}")


@dataclass
class Kept:
    token: str
    person_id: int
    name: str
    note: str
    sheets: list[Sheet]
    sheet: int | None = None
    choices: Choices | None = None
    seen: dict[str, int] = field(default_factory=dict)
    done: str = ""

    @property
    def table(self) -> Table | None:
        return None if self.sheet is None else self.sheets[self.sheet].table

    def take_sheet(self, place: int) -> None:
        """Another sheet has other columns; what rows are given stays chosen."""
        self.sheet, self.seen = place, {}
        if self.choices:
            self.choices = replace(self.choices, columns=(), without=())

    def take_header(self, line: int) -> None:
        """Another row names the columns. Raises ValueError where it cannot."""
        assert self.sheet is not None
        assert self.table is not None
        place = self.sheet
        self.sheets[place] = replace(self.sheets[place], table=self.table.headed(line))
        self.take_sheet(place)


def keep(read: Read, *, name: str, by: Person) -> Kept:
    clear_old()
    for path in _of(by)[: -(A_PERSON - 1)]:
        _remove(path)
    usable = [place for place, sheet in enumerate(read.sheets) if sheet.table]
    only = usable[0] if len(read.sheets) == 1 else None
    kept = Kept(secrets.token_hex(16), by.pk, name[:80], read.note, read.sheets, only)
    put(kept)
    return kept


def put(kept: Kept) -> None:
    plain = {
        "name": kept.name,
        "note": kept.note,
        "sheets": [
            {
                "name": sheet.name,
                "table": sheet.table.plain() if sheet.table else None,
                "trouble": sheet.trouble,
            }
            for sheet in kept.sheets
        ],
        "sheet": kept.sheet,
        "choices": kept.choices.plain() if kept.choices else None,
        "seen": kept.seen,
        "done": kept.done,
    }
    path = _path(kept.person_id, kept.token)
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    # Whole or not at all: a second request may be reading it.
    part = path.with_suffix(f".{secrets.token_hex(4)}")
    with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as file:
        json.dump(plain, file)
    part.replace(path)


def find(token: str, by: Person) -> Kept | None:
    """The person's own table, if it is still kept."""
    if not TOKEN.fullmatch(token):
        return None
    path = _path(by.pk, token)
    try:
        if _age(path) > KEPT:
            return None
        plain: dict[str, Any] = json.loads(path.read_text())
    except (FileNotFoundError, json.JSONDecodeError):
        return None
    sheets = [
        Sheet(row["name"], Table.of(row["table"]) if row["table"] else None, row["trouble"])
        for row in plain.pop("sheets")
    ]
    chosen = plain.pop("choices")
    choices = Choices.of(chosen) if chosen else None
    return Kept(token, by.pk, sheets=sheets, choices=choices, **plain)


def done(kept: Kept, words: str) -> None:
    """Its cells go; that it is done stays for whoever presses again."""
    put(Kept(kept.token, kept.person_id, kept.name, "", [], done=words))


def leave(token: str, by: Person) -> None:
    if TOKEN.fullmatch(token):
        _remove(_path(by.pk, token))


def waiting(by: Person) -> list[Kept]:
    """The person's tables that were not saved yet, the newest first."""
    clear_old()
    found = [find(path.stem.partition("-")[2], by) for path in reversed(_of(by))]
    return [kept for kept in found if kept and not kept.done]


@contextmanager
def held(token: str, by: Person) -> Iterator[None]:
    """One at a time: who presses twice waits here until the first press is through."""
    path = _path(by.pk, token).with_suffix(".lock")
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT, 0o600), "w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield


def clear_old() -> None:
    for path in _folder().glob("*"):
        try:
            if _age(path) > KEPT:
                path.unlink(missing_ok=True)
        except FileNotFoundError:  # somebody else was faster
            continue


def _remove(path: Path) -> None:
    path.unlink(missing_ok=True)
    path.with_suffix(".lock").unlink(missing_ok=True)


def _of(by: Person) -> list[Path]:
    """The person's files, the oldest first."""
    times = []
    for path in _folder().glob(f"{by.pk}-*.json"):
        try:
            times.append((path.stat().st_mtime, path))
        except FileNotFoundError:
            continue
    return [path for _, path in sorted(times)]


def _age(path: Path) -> dt.timedelta:
    written = dt.datetime.fromtimestamp(path.stat().st_mtime, dt.UTC)
    return dt.datetime.now(dt.UTC) - written


def _folder() -> Path:
    return Path(settings.VAR_DIR) / "bring-in"


def _path(person_id: int, token: str) -> Path:
    return _folder() / f"{person_id}-{token}.json"
