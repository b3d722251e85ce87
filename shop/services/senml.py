"""Sensor Measurement Lists in JSON (RFC 8428): from a pack to records that stand for themselves."""

from __future__ import annotations

import json
import math
import re
from dataclasses import dataclass
from typing import Any, NoReturn

# RFC 8428, 4.4: the version this text defines; a higher one must not be used.
VERSION = 10
# RFC 8428, 4.5.3: times below 2**28 are relative to now, those from it on are Unix times.
RELATIVE_BELOW = 2.0**28
RECORDS_LIMIT = 4000

NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9\-:./_]*")
NUMBERS = ("bt", "bv", "bs", "bver", "v", "s", "t", "ut")
TEXTS = ("bn", "bu", "n", "u", "vs", "vd")
BASES = {"bn", "bt", "bu", "bv", "bs", "bver"}
VALUES = ("v", "vs", "vb", "vd")


class BadPack(ValueError):
    """Why a pack is refused, and at which record (counted from 0) if one is at fault."""

    def __init__(self, reason: str, record: int | None = None) -> None:
        super().__init__(reason)
        self.reason = reason
        self.record = record


@dataclass(frozen=True)
class Record:
    """One measurement with base values worked in. `time` is Unix seconds."""

    index: int
    name: str
    unit: str
    time: float
    value: float


@dataclass
class _Bases:
    name: str = ""
    time: float = 0.0
    unit: str = ""
    value: float | None = None

    def take(self, record: dict[str, Any]) -> None:
        self.name = record.get("bn", self.name)
        self.time = record.get("bt", self.time)
        self.unit = record.get("bu", self.unit)
        self.value = record.get("bv", self.value)


def read_pack(body: bytes, now: float) -> list[Record]:
    """Records of a JSON pack; `now` in Unix seconds. Raises BadPack."""
    return resolve(_decoded(body), now)


def resolve(pack: Any, now: float) -> list[Record]:
    """RFC 8428, 4.6: base values applied, relative times made absolute."""
    if not isinstance(pack, list) or not pack:
        raise BadPack("A pack is a JSON array with at least one record.")
    if len(pack) > RECORDS_LIMIT:
        raise BadPack(f"{len(pack)} records are too many: send at most {RECORDS_LIMIT} at a time.")
    bases = _Bases()
    records = []
    for index, raw in enumerate(pack):
        record = _checked(raw, index)
        bases.take(record)
        if not BASES.issuperset(record):
            records.append(_resolved(record, bases, index, now))
    if not records:
        raise BadPack("The pack has base values only and no measurement.")
    return records


def _decoded(body: bytes) -> Any:
    def no_number(name: str) -> NoReturn:
        raise BadPack(f"{name} is not a number in JSON.")

    def no_label_twice(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        record = dict(pairs)
        if len(record) < len(pairs):
            raise BadPack("A label stands twice in one record, so one of its values is wrong.")
        return record

    try:
        return json.loads(
            body.decode("utf-8"), parse_constant=no_number, object_pairs_hook=no_label_twice
        )
    except BadPack:
        raise
    except UnicodeDecodeError:
        raise BadPack("The body is not UTF-8 text.") from None
    except RecursionError:
        raise BadPack("The JSON is nested too deeply.") from None
    except ValueError as error:
        raise BadPack(f"The body is not JSON: {error}.") from None


def _checked(raw: Any, index: int) -> dict[str, Any]:
    if not isinstance(raw, dict):
        raise BadPack("A record is a JSON object.", index)
    for label, value in raw.items():
        if label in NUMBERS and not _is_number(value):
            raise BadPack(f"{label!r} must be a finite number, not {_short(value)}.", index)
        if label in TEXTS and not isinstance(value, str):
            raise BadPack(f"{label!r} must be text, not {_short(value)}.", index)
        if label.endswith("_"):  # RFC 8428, 4.4: a label that must be understood
            raise BadPack(f"The label {label[:20]!r} is not understood here.", index)
    if raw.get("bver", VERSION) > VERSION:
        raise BadPack(f"Version {raw['bver']} is newer than {VERSION}, which is read here.", index)
    # Labels that nobody here knows may be ignored (RFC 8428, 4.4).
    known = {*NUMBERS, *TEXTS, "vb"}
    return {label: value for label, value in raw.items() if label in known}


def _is_number(value: Any) -> bool:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    try:
        return math.isfinite(value)
    except OverflowError:
        return False


def _resolved(record: dict[str, Any], bases: _Bases, index: int, now: float) -> Record:
    name = bases.name + record.get("n", "")
    if not NAME.fullmatch(name):
        raise BadPack(
            "The record has no name: send 'n' or 'bn'."
            if not name
            else f"The name {_short(name)} has characters a name may not have.",
            index,
        )
    return Record(
        index=index,
        name=name,
        unit=record.get("u", bases.unit),
        time=_absolute(float(record.get("t", 0.0)) + float(bases.time), now),
        value=_value(record, bases, index),
    )


def _value(record: dict[str, Any], bases: _Bases, index: int) -> float:
    given = [label for label in VALUES if label in record]
    if len(given) > 1:
        raise BadPack(f"A record has one value, not {' and '.join(given)}.", index)
    if given and given != ["v"]:
        raise BadPack(f"The value must be a number in 'v', not {given[0]!r}.", index)
    if not given and bases.value is None:
        raise BadPack("The record has no value: send a number in 'v'.", index)
    return float(record.get("v", 0.0)) + float(bases.value or 0.0)


def _absolute(time: float, now: float) -> float:
    return now + time if time < RELATIVE_BELOW else time


def _short(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= 40 else text[:37] + "..."
