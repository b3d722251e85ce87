"""What a taken rescue changed in the shop beside its plan: kept with it, and taken back with it.

Hours opened, a room's planned air raised, another sealer. Undoing the plan takes each of them back
where it still is as it was taken; what somebody changed since stays, and that is said.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import astuple, dataclass
from typing import Any

from jobs.models import Piece
from jobs.services.plain_words import short_day
from jobs.services.standing import standing_of
from shop.models import ExtraHours, Room, Sealer, StepKind
from shop.services.calendar import remove_extra
from shop.services.changed import note_change
from shop.services.setup import AirFrom, edition, plan_air, planned_air

HOURS, AIR, SEALER = "hours", "air", "sealer"


@dataclass(frozen=True)
class Also:
    """One of them: `words` name it, `left` says why it would stay, or is empty."""

    kept: dict[str, Any]
    words: str
    left: str = ""


def of_hours(rows: Iterable[ExtraHours]) -> list[dict[str, Any]]:
    return [{"kind": HOURS, "id": row.pk, **_span(row)} for row in rows]


def of_air(room: Room, was: Sequence[AirFrom]) -> dict[str, Any]:
    """To be made once the air is raised; `was` is the room's week before."""
    return {
        "kind": AIR,
        "room": room.pk,
        "was": [list(astuple(row)) for row in sorted(was)],
        "became": edition(planned_air(room)),
    }


def of_sealer(sealer: Sealer, was: dict[int, int]) -> dict[str, Any]:
    """`was` is the sealer by piece, before."""
    return {"kind": SEALER, "sealer": sealer.pk, "was": {str(pk): old for pk, old in was.items()}}


def _span(row: ExtraHours) -> dict[str, str]:
    return {
        "day": row.day.isoformat(),
        "starts": row.starts.isoformat("minutes"),
        "ends": row.ends.isoformat("minutes"),
    }


def also_of(before: dict[str, Any], today: dt.date) -> list[Also]:
    """As it is now, in three queries at the most."""
    kept = before.get("also", [])
    by_kind = {kind: [row for row in kept if row["kind"] == kind] for kind in (HOURS, AIR, SEALER)}
    return [
        *_hours(by_kind[HOURS], today),
        *_airs(by_kind[AIR]),
        *_sealers(by_kind[SEALER]),
    ]


def _hours(kept: Sequence[dict[str, Any]], today: dt.date) -> Iterable[Also]:
    found = ExtraHours.objects.in_bulk([row["id"] for row in kept]) if kept else {}
    for row in kept:
        day = dt.date.fromisoformat(row["day"])
        words = f"the extra hours of {short_day(day)}, {row['starts']} to {row['ends']}"
        now = found.get(row["id"])
        if day < today:
            yield Also(row, words, "that day is over")
        elif now is None:
            yield Also(row, words, "they were removed since")
        elif any(row[name] != value for name, value in _span(now).items()):
            yield Also(row, words, "they were changed since")
        else:
            yield Also(row, words)


def _airs(kept: Sequence[dict[str, Any]]) -> Iterable[Also]:
    rooms = Room.objects.filter(pk__in=[row["room"] for row in kept]).prefetch_related("planned")
    found = {room.pk: room for room in rooms} if kept else {}
    for row in kept:
        room = found.get(row["room"])
        if room is None:
            yield Also(row, "a room's planned air", "the room is gone")
            continue
        changed = edition(planned_air(room)) != row["became"]
        words = f"the raised planned air of {room.name}"
        yield Also(row, words, "somebody changed it since" if changed else "")


def _sealers(kept: Sequence[dict[str, Any]]) -> Iterable[Also]:
    ids = [int(pk) for row in kept for pk in row["was"]]
    pieces = Piece.objects.filter(pk__in=ids).select_related("sealer")
    found = pieces.prefetch_related("marks", "route__steps").in_bulk() if kept else {}
    for row in kept:
        for pk in row["was"]:
            piece = found.get(int(pk))
            if piece is None:
                continue
            words = f"the sealer of {piece.code}"
            one = {**row, "was": {pk: row["was"][pk]}}
            if piece.sealer_id != row["sealer"]:
                yield Also(one, words, "somebody chose another since")
            elif coated(piece):
                yield Also(one, words, "it has a coat on")
            else:
                yield Also(one, words)


def coated(piece: Piece) -> bool:
    """A coat's key carries its number where there are several."""
    done = standing_of(piece.marks.all()).done
    coats = {step.key for step in piece.route.steps.all() if step.kind == StepKind.COAT}
    return any(key in coats or key.rstrip("-0123456789") in coats for key in done)


def take_back(rows: Iterable[Also]) -> None:
    """Those that nothing stands against."""
    for each in rows:
        if each.left:
            continue
        row = each.kept
        if row["kind"] == HOURS:
            remove_extra(extra_id=row["id"])
        elif row["kind"] == AIR:
            was = [AirFrom(*values) for values in row["was"]]
            plan_air(room_id=row["room"], seen=row["became"], plan=was)
        else:
            _sealer_back(row)


def _sealer_back(row: dict[str, Any]) -> None:
    for pk, sealer_id in row["was"].items():
        piece = Piece.objects.select_for_update().get(pk=int(pk))
        piece.sealer_id, piece.version = sealer_id, piece.version + 1
        piece.save(update_fields=["sealer", "version"])
        note_change(f"sealer of {piece.code} as before")
