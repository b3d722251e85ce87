"""The shop's own facts: settings, rooms, the heating's plan, working hours, closed days."""

from __future__ import annotations

import datetime as dt
import zlib
from collections.abc import Iterable
from dataclasses import astuple, dataclass
from itertools import pairwise
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from shop.models import ClosedDay, PlannedAir, Room, Shop, WorkingHours
from shop.services import rows
from shop.services.changed import note_change
from shop.services.errors import Conflict, Refused
from shop.services.tables import give_usual_tables


@dataclass(frozen=True, order=True)
class AirFrom:
    """The heating is set to `celsius` from this hour of the weekday on, until the next row."""

    weekday: int
    hour: int
    celsius: float
    humidity: float | None = None


@dataclass(frozen=True, order=True)
class Stretch:
    weekday: int
    starts: dt.time
    ends: dt.time
    people: int


def save_shop(*, version: int, values: dict[str, Any]) -> Shop:
    return rows.change(Shop, 1, version, values)


def save_room(*, room_id: int | None, version: int, values: dict[str, Any]) -> Room:
    if room_id is None:
        return _add_room(values)
    return rows.change(Room, room_id, version, values)


@transaction.atomic
def _add_room(values: dict[str, Any]) -> Room:
    first = not Room.objects.exists()
    room = rows.add(Room, values)
    if first:
        give_usual_tables(room)
    return room


def edition(stretches: Iterable[AirFrom | Stretch]) -> int:
    """A number that stands for what a week of rows says, so that a stale editor is noticed."""
    return zlib.crc32(repr([astuple(row) for row in sorted(stretches)]).encode())


def planned_air(room: Room) -> list[AirFrom]:
    return [AirFrom(row.weekday, row.hour, row.celsius, row.humidity) for row in room.planned.all()]


@transaction.atomic
def plan_air(*, room_id: int, seen: int, plan: list[AirFrom]) -> None:
    room = Room.objects.select_for_update().get(pk=room_id)
    _not_meanwhile(seen, edition(planned_air(room)))
    _one_an_hour(plan)
    _replace_air(room, plan)


@transaction.atomic
def set_back(*, room_id: int, days: Iterable[int], day: AirFrom, night: AirFrom) -> None:
    """Day and night set-back on these weekdays; the other weekdays keep their plan."""
    room = Room.objects.select_for_update().get(pk=room_id)
    if day.hour == night.hour:
        raise Refused(_("Day and night begin at the same hour."), field="night_from")
    days = set(days)
    kept = [row for row in planned_air(room) if row.weekday not in days]
    laid = [
        AirFrom(weekday, part.hour, part.celsius, part.humidity)
        for weekday in sorted(days)
        for part in (day, night)
    ]
    _replace_air(room, kept + laid)


def _replace_air(room: Room, plan: list[AirFrom]) -> None:
    room.planned.all().delete()
    PlannedAir.objects.bulk_create(
        PlannedAir(
            room=room, weekday=row.weekday, hour=row.hour,
            celsius=row.celsius, humidity=row.humidity,
        )
        for row in sorted(plan, key=lambda row: (row.weekday, row.hour))
    )  # fmt: skip
    note_change("planned temperatures changed")


def _one_an_hour(plan: list[AirFrom]) -> None:
    hours = [(row.weekday, row.hour) for row in plan]
    if len(hours) != len(set(hours)):
        raise Refused(_("Two rows of one day begin at the same hour. Keep one of them."))


def working_week() -> list[Stretch]:
    return [
        Stretch(row.weekday, row.starts, row.ends, row.people) for row in WorkingHours.objects.all()
    ]


@transaction.atomic
def set_working_week(*, seen: int, week: list[Stretch]) -> None:
    Shop.objects.select_for_update().get(pk=1)  # one editor of the week at a time
    _not_meanwhile(seen, edition(working_week()))
    if overlap := overlapping(week):
        raise Refused(overlap)
    WorkingHours.objects.all().delete()
    WorkingHours.objects.bulk_create(
        WorkingHours(weekday=row.weekday, starts=row.starts, ends=row.ends, people=row.people)
        for row in sorted(week)
    )
    note_change("working hours changed")


def overlapping(week: list[Stretch]) -> str:
    """Says which two stretches of a day overlap; empty when none do."""
    ordered = sorted(week)
    for before, after in pairwise(ordered):
        if before.weekday == after.weekday and after.starts < before.ends:
            return _("%(one)s and %(two)s overlap. Let one end before the next begins.") % {
                "one": f"{before.starts:%H:%M}–{before.ends:%H:%M}",
                "two": f"{after.starts:%H:%M}–{after.ends:%H:%M}",
            }
    return ""


def _not_meanwhile(seen: int, stands: int) -> None:
    if seen != stands:
        raise Conflict(
            _("Somebody else saved this while you were typing. Nothing of yours is saved yet."),
            version=stands,
            theirs={},
        )


@transaction.atomic
def decide_days(*, close: dict[dt.date, str], work: dict[dt.date, str]) -> None:
    """What the shop does on proposed holidays: closed, or worked through."""
    for open_anyway, days in ((False, close), (True, work)):
        for day, name in days.items():
            ClosedDay.objects.update_or_create(
                day=day, defaults={"name": name[:80], "open_anyway": open_anyway}
            )
    note_change("closed days changed")


@transaction.atomic
def close_days(*, first: dt.date, last: dt.date, name: str) -> int:
    """Every day from `first` to `last`; says how many."""
    count = (last - first).days + 1
    if count < 1:
        raise Refused(_("The last day is before the first."), field="last")
    if count > 60:
        raise Refused(_("That is more than 60 days at once. Check the year."), field="last")
    days = [first + dt.timedelta(days=n) for n in range(count)]
    decide_days(close=dict.fromkeys(days, name), work={})
    return count


@transaction.atomic
def open_day(*, closed_id: int) -> None:
    ClosedDay.objects.filter(pk=closed_id).delete()
    note_change("closed days changed")
