"""Plain frozen objects to JSON and back, by the types they state."""

from __future__ import annotations

import datetime as dt
import types
from dataclasses import fields, is_dataclass
from functools import lru_cache
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

Row = TypeVar("Row")


def as_json(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return {each.name: as_json(getattr(value, each.name)) for each in fields(value)}
    if isinstance(value, dt.datetime):
        return value.isoformat()
    if isinstance(value, (tuple, list)):
        return [as_json(each) for each in value]
    if isinstance(value, str):
        return str(value)  # a choice's own class is none of JSON's
    return value


def from_json(kind: type[Row], data: Any) -> Row:
    row: Row = _read(kind, data)
    return row


@lru_cache
def _types(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def _read(kind: Any, data: Any) -> Any:
    if data is None:
        return None
    origin = get_origin(kind)
    if origin in {Union, types.UnionType}:
        return _read(next(each for each in get_args(kind) if each is not type(None)), data)
    if origin is tuple:
        return _rows(get_args(kind), data)
    if kind is dt.datetime:
        return dt.datetime.fromisoformat(data)
    if is_dataclass(kind) and isinstance(kind, type):
        known = _types(kind)
        return kind(**{name: _read(known[name], data[name]) for name in known if name in data})
    return data


def _rows(kinds: tuple[Any, ...], data: list[Any]) -> tuple[Any, ...]:
    if kinds[-1] is Ellipsis:
        return tuple(_read(kinds[0], each) for each in data)
    return tuple(_read(each, value) for each, value in zip(kinds, data, strict=True))
