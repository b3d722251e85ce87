"""The casting tables: where forms stand from set-up to demold."""

from __future__ import annotations

from typing import Any

from shop import defaults
from shop.models import CastingTable, Room
from shop.services import rows


def save_table(*, table_id: int | None, version: int, values: dict[str, Any]) -> CastingTable:
    if table_id is None:
        return rows.add(CastingTable, values)
    return rows.change(CastingTable, table_id, version, values)


def delete_table(*, table_id: int) -> str:
    return rows.delete(CastingTable, table_id)


def give_usual_tables(room: Room) -> None:
    """To a shop that has none: they stand in a room, so they come with its first one."""
    if not CastingTable.objects.exists():
        CastingTable.objects.bulk_create(
            CastingTable(room=room, **table) for table in defaults.TABLES
        )
