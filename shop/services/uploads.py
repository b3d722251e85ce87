"""An uploaded file between its preview and its confirmation.

Kept as a file named by a random token, so that exactly what was seen is what is taken. It is a
convenience that may be thrown away: after an hour it is.
"""

from __future__ import annotations

import datetime as dt
import json
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from django.conf import settings

from shop.models import Person, Reading, Room
from shop.services.air_file import FileRow
from shop.services.errors import Refused
from shop.services.readings import Air, Differs, Taken, stored_air, take

KEPT = dt.timedelta(hours=1)

Verdict = Literal["taken", "already", "refused"]


@dataclass(frozen=True)
class PreviewRow:
    line: int
    time: str
    temperature: str
    humidity: str
    verdict: Verdict
    reason: str
    at: str = ""
    celsius: float | None = None
    fraction: float | None = None

    @property
    def moment(self) -> dt.datetime | None:
        return dt.datetime.fromisoformat(self.at) if self.at else None

    @property
    def humidity_percent(self) -> float | None:
        return None if self.fraction is None else self.fraction * 100

    @property
    def air(self) -> Air:
        assert self.celsius is not None
        return Air(dt.datetime.fromisoformat(self.at), self.celsius, self.fraction)


@dataclass(frozen=True)
class Preview:
    token: str
    name: str
    room_id: int
    person_id: int
    rows: list[PreviewRow]

    def count(self, verdict: Verdict) -> int:
        return sum(row.verdict == verdict for row in self.rows)

    @property
    def counts(self) -> dict[str, int]:
        return {
            "taken": self.count("taken"),
            "already": self.count("already"),
            "refused": self.count("refused"),
        }


def judge(rows: Sequence[FileRow], room: Room) -> list[PreviewRow]:
    """What will become of each row, given what is stored and the rows above it."""
    times = [row.at for row in rows if row.at]
    known: dict[dt.datetime, tuple[Air, str]] = {}
    if times:
        stored = stored_air(room, min(times), max(times))
        known = {at: (air, "stored") for at, air in stored.items()}
    return [_judged(row, known) for row in rows]


def _judged(row: FileRow, known: dict[dt.datetime, tuple[Air, str]]) -> PreviewRow:
    written = (row.line, row.time, row.temperature, row.humidity)
    if row.at is None or row.celsius is None:
        return PreviewRow(*written, "refused", row.fault)
    air = Air(row.at, row.celsius, row.fraction)
    value = (row.at.isoformat(), row.celsius, row.fraction)
    if row.at not in known:
        known[row.at] = (air, f"line {row.line}")
        return PreviewRow(*written, "taken", "", *value)
    there, where = known[row.at]
    if air.same_as(there):
        reason = "There already." if where == "stored" else f"The same as {where}."
        return PreviewRow(*written, "already", reason, *value)
    owner = "The room already" if where == "stored" else f"This file in {where}"
    return PreviewRow(*written, "refused", f"{owner} has {there.words} for this time.", *value)


def keep(*, name: str, rows: list[PreviewRow], room: Room, by: Person) -> Preview:
    clear_old()
    preview = Preview(secrets.token_hex(16), name[:80], room.pk, by.pk, rows)
    path = _path(preview.token)
    path.parent.mkdir(parents=True, exist_ok=True)
    plain = {**vars(preview), "rows": [vars(row) for row in rows]}
    path.write_text(json.dumps(plain), encoding="utf-8")
    path.chmod(0o600)
    return preview


def find(token: str, by: Person) -> Preview | None:
    """The person's own preview, if it is still kept."""
    path = _path(token)
    try:
        if _age(path) > KEPT:
            return None
        kept: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    except (FileNotFoundError, json.JSONDecodeError):
        return None
    rows = [PreviewRow(**row) for row in kept.pop("rows")]
    preview = Preview(**kept, rows=rows)
    return preview if preview.person_id == by.pk else None


def confirm(preview: Preview, by: Person) -> Taken:
    """Take exactly the rows that the preview said would be taken, or none."""
    room = Room.objects.get(pk=preview.room_id)
    readings = [row.air for row in preview.rows if row.verdict == "taken"]
    try:
        taken = take(room=room, readings=readings, source=Reading.Source.FILE, by=by)
    except Differs as refusal:
        raise Refused(
            f"Nothing was taken: since the preview another reading came in. {refusal.message} "
            "Upload the file again to see what is left."
        ) from None
    discard(preview.token)
    return taken


def discard(token: str) -> None:
    _path(token).unlink(missing_ok=True)


def clear_old() -> None:
    for path in _folder().glob("*.json"):
        if _age(path) > KEPT:
            path.unlink(missing_ok=True)


def _age(path: Path) -> dt.timedelta:
    written = dt.datetime.fromtimestamp(path.stat().st_mtime, dt.UTC)
    return dt.datetime.now(dt.UTC) - written


def _folder() -> Path:
    return Path(settings.MEDIA_ROOT) / "readings"


def _path(token: str) -> Path:
    return _folder() / f"{token}.json"
