"""Rows for tests, with sensible figures where the test does not care."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable, Sequence
from itertools import count
from typing import Any

from jobs.models import Batch, Customer, Job, Mark, Notice, Piece, Weighing
from shop import defaults
from shop.models import (
    DryingRule,
    Mix,
    Person,
    Reading,
    Recipe,
    Role,
    Room,
    Route,
    Sealer,
    Shop,
    StrengthTest,
)
from shop.services import recipes
from shop.services.fresh import add_route, add_working_week
from shop.services.materials import curve_of

PASSWORD = "wet-hone-and-wash-7"
# A Wednesday, 09:00 in the shop, with no clock change near.
NOW = dt.datetime(2026, 3, 18, 14, 0, tzinfo=dt.UTC)
HOUR = dt.timedelta(hours=1)
DAY = dt.timedelta(days=1)
_numbers = count(1)


def make_shop(**fields: Any) -> Shop:
    shop, _ = Shop.objects.update_or_create(
        pk=1, defaults={"name": "Test shop", "time_zone": "America/Chicago", **fields}
    )
    return shop


def make_person(role: str = Role.OWNER, **fields: Any) -> Person:
    number = next(_numbers)
    fields.setdefault("email", f"{role}{number}@example.com")
    fields.setdefault("name", f"{role.title()} {number}")
    fields.setdefault("password", PASSWORD)
    return Person.objects.create_user(role=role, **fields)


def make_room(name: str = "Casting room", celsius: float = 20.0, **fields: Any) -> Room:
    room, _ = Room.objects.update_or_create(
        name=name, defaults={"usual_celsius": celsius, **fields}
    )
    return room


def make_mix(**fields: Any) -> Mix:
    values = {**defaults.MIX, **fields}
    mix, _ = Mix.objects.update_or_create(name=values.pop("name"), defaults=values)
    return mix


def make_recipe(
    mix: Mix | None = None,
    parts: Sequence[recipes.Part] = (),
    fibre: recipes.Fibre | None = None,
    *,
    pigment: float = 0.0,
    by: Person | None = None,
    note: str = "",
) -> Recipe:
    """The next version: the usual recipe, unless parts are given."""
    mix = mix or make_mix()
    return recipes.write(
        mix,
        mix.recipes.count() + 1,
        parts or [recipes.Part(**part) for part in defaults.usual_recipe(pigment)],
        fibre or recipes.Fibre(),
        note=note,
        by=by,
    )


def make_strength_test(mix: Mix, by: Person, hours: float = 24.0, **fields: Any) -> StrengthTest:
    """A cube of the mix's own curve, cured at 20 °C unless a room or temperature is given."""
    if "room" not in fields:
        fields.setdefault("celsius", 20.0)
    fields.setdefault("strength_mpa", max(float(curve_of(mix).at(hours)), 0.1))
    fields.setdefault("tested_at", NOW)
    return StrengthTest.objects.create(mix=mix, by=by, age_hours=hours, **fields)


def make_sealer(**fields: Any) -> Sealer:
    values = {**defaults.SEALERS[0], **fields}
    sealer, _ = Sealer.objects.update_or_create(name=values.pop("name"), defaults=values)
    return sealer


def make_route(
    name: str = defaults.ROUTE, steps: tuple[dict[str, Any], ...] | None = None
) -> Route:
    """cast, demold, grind, fill, hone, seal (a coat step), crate, deliver, install."""
    if route := Route.objects.filter(name=name).first():
        return route
    return add_route(name, steps or defaults.ROUTES[defaults.ROUTE])


def make_working_week() -> None:
    """Monday to Friday 7:00-12:00 and 12:30-15:30, three people."""
    add_working_week()


def make_readings(
    room: Room,
    start: dt.datetime,
    hours: float,
    celsius: float = 20.0,
    *,
    humidity: float | None = 0.5,
    every_minutes: float = 15.0,
    source: str = Reading.Source.SENSOR,
) -> list[Reading]:
    steps = int(hours * 60 / every_minutes)
    return Reading.objects.bulk_create(
        Reading(
            room=room,
            at=start + dt.timedelta(minutes=every_minutes * step),
            celsius=celsius,
            humidity=humidity,
            source=source,
        )
        for step in range(steps + 1)
    )


def make_customer(name: str = "Ada Fenwick-Lowe", **fields: Any) -> Customer:
    fields.setdefault("email", f"customer{next(_numbers)}@example.com")
    fields.setdefault("phone", "(555) 555-0142")
    digits = "".join(filter(str.isdigit, fields["phone"]))
    return Customer.objects.create(name=name, phone_digits=digits, **fields)


def make_job(
    number: str = "217",
    promised_on: dt.date | None = dt.date(2026, 4, 10),
    *,
    customer: Customer | None = None,
    **fields: Any,
) -> Job:
    fields.setdefault("title", "Kitchen island")
    fields.setdefault("taken_on", min(dt.date(2026, 2, 20), promised_on or dt.date.max))
    return Job.objects.create(
        number=number,
        promised_on=promised_on,
        customer=customer or make_customer(),
        **fields,
    )


def make_piece(job: Job, letter: str = "A", **fields: Any) -> Piece:
    fields.setdefault("name", f"Slab {letter}")
    fields.setdefault("area_m2", 1.5)
    for name, make in _MATERIALS.items():
        if name not in fields:
            fields[name] = make()
    return Piece.objects.create(job=job, letter=letter, code=f"{job.number}-{letter}", **fields)


def make_batch(*pieces: Piece, planned_for: dt.datetime = NOW, **fields: Any) -> Batch:
    """A cast set for these pieces, in the mix and room of the first."""
    fields.setdefault("mix", pieces[0].mix if pieces else make_mix())
    fields.setdefault("room", pieces[0].room if pieces else make_room())
    batch = Batch.objects.create(planned_for=planned_for, **fields)
    for piece in pieces:
        piece.batch = batch
        piece.save(update_fields=["batch"])
    return batch


def make_mark(
    piece: Piece,
    step_key: str = "cast",
    happened_at: dt.datetime = NOW,
    *,
    by: Person | None = None,
    **fields: Any,
) -> Mark:
    """The row as it is, without the rules that the service keeps."""
    step = piece.route.steps.filter(key=step_key.rstrip("-0123456789")).first()
    fields.setdefault("step_name", step.name if step else step_key)
    mark = Mark.objects.create(
        piece=piece,
        step_key=step_key,
        happened_at=happened_at,
        by=by or Person.objects.filter(role=Role.CREW).first() or make_person(Role.CREW),
        **fields,
    )
    Mark.objects.filter(pk=mark.pk).update(recorded_at=happened_at)
    mark.recorded_at = happened_at
    return mark


def make_weighing(
    piece: Piece, kg: float, at: dt.datetime = NOW, *, by: Person | None = None, **fields: Any
) -> Weighing:
    """The row as it is, without the rules that the service keeps."""
    by = by or Person.objects.filter(role=Role.CREW).first() or make_person(Role.CREW)
    weighing = Weighing.objects.create(piece=piece, kg=kg, at=at, by=by, **fields)
    Weighing.objects.filter(pk=weighing.pk).update(recorded_at=at)
    weighing.recorded_at = at
    return weighing


def make_weighing_route(**fields: Any) -> Route:
    """The usual route, but dry when the scale says so."""
    route = make_route("Honed, dried by weighing", defaults.ROUTES[defaults.ROUTE])
    Route.objects.filter(pk=route.pk).update(drying_rule=DryingRule.WEIGHING, **fields)
    route.refresh_from_db()
    return route


def make_notice(job: Job, told_on: dt.date, at: dt.datetime = NOW, **fields: Any) -> Notice:
    by = fields.pop("by", None) or make_person(Role.OFFICE)
    return Notice.objects.create(
        job=job,
        told_on=told_on,
        at=at,
        by=by,
        means=fields.pop("means", Notice.Means.EMAIL),
        client_key=uuid.uuid4(),
        **fields,
    )


_MATERIALS: dict[str, Callable[..., Any]] = {
    "room": make_room,
    "mix": make_mix,
    "route": make_route,
    "sealer": make_sealer,
}
