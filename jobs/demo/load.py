"""The demo shop, made around a moment so that it is alive whenever it is looked at."""

from __future__ import annotations

import datetime as dt
import random
from dataclasses import replace

from django.conf import settings
from django.db import transaction
from django.utils.crypto import salted_hmac

from jobs.demo import crew, promises, samples, story
from jobs.demo.air import WEEKS, RoomAir, add_reading_by_hand, add_readings
from jobs.demo.breaks import break_some
from jobs.demo.cast_list import (
    CHARCOAL,
    CLOSED,
    CREW,
    CREW_SPANISH,
    CUSTOMERS,
    JOBS,
    OFFICE,
    OWNER,
    PASSWORD,
    PEOPLE,
    SHOP_NAME,
    SMALL,
    TOWN,
    DemoJob,
)
from jobs.demo.recipes import write_recipes
from jobs.demo.record import put_on_record
from jobs.demo.runs import weigh_casts
from jobs.demo.sections import shape_of
from jobs.demo.story import DAY, Stage
from jobs.models import Customer, Job, Mark, Piece
from jobs.services.facts import AHEAD, Facts, load_facts
from jobs.services.readiness import rebuild
from jobs.services.shape import face_area_of
from shop import defaults
from shop.models import ClosedDay, DryingRule, Mix, Person, Room, Route, Sealer, Sensor, Shop
from shop.services.calendar import open_days, proposed_closed_days, shifts
from shop.services.climate import climates
from shop.services.fresh import add_heating_plan, give_usual_figures
from shop.services.sensors import token_hash
from shop.services.settings import the_shop
from shop.services.tables import give_usual_tables

SEED = 217
CASTING, FINISHING, BOOTH = "Casting room", "Finishing room", "Spray booth"
THICK, COAT = 0.01905, 0.0047625  # 3/4 in, of which 3/16 in face coat
HEATER_FAILED_DAYS_AGO = 4  # working days, at the least


class NotADemo(Exception):
    """Invented people with a printed password have no place in a real shop."""


def load(now: dt.datetime) -> bool:
    """True when the demo was made; False where a shop with people stands already."""
    if not settings.DEMO:
        raise NotADemo("The demo is only loaded where CUREWRIGHT_DEMO is on.")
    with transaction.atomic():
        shop = the_shop()
        Shop.objects.select_for_update().get(pk=shop.pk)
        if Person.objects.exists():
            return False
        _make(now.replace(second=0, microsecond=0))
    return True


def _make(now: dt.datetime) -> None:
    shop = _furnish(now)
    people = {
        person.email: Person.objects.create_user(
            email=person.email,
            password=PASSWORD,
            name=person.name,
            role=person.role,
            language=person.language,
            warned=person is OWNER,
        )
        for person in PEOPLE
    }
    write_recipes(now, people[OWNER.email])
    heater_day = _heater_day(now, shop)
    hands = [people[CREW.email], people[CREW_SPANISH.email]]
    _breathe(now, shop, heater_day, hands[0])
    casting = Room.objects.get(name=CASTING)
    break_some(Mix.objects.get(name=CHARCOAL), casting, now, people[OWNER.email])
    jobs = {demo.number: _order(demo, now) for demo in JOBS}
    delays = random.Random(SEED)  # noqa: S311  made-up minutes
    stage = Stage(_facts_from_the_start(now, shop), people[OWNER.email], hands, delays)
    samples.cast_samples(stage, jobs["217"].customer, casting, heater_day)
    for demo in JOBS:
        story.play(stage, jobs[demo.number], demo, heater_day)
    # What is known of the air now is what the promises will be judged by.
    stage.facts = replace(load_facts(now), shifts=stage.facts.shifts)
    for demo in JOBS:
        promises.place(stage, jobs[demo.number], demo, people[OFFICE.email])
    weigh_casts(now, shop, hands, SEED)
    put_on_record(now, hands, SEED)
    crew.take_on(people, now.astimezone(shop.zone).date())
    crew.set_up_forms(stage)
    _close(jobs)
    rebuild(now)


def _facts_from_the_start(now: dt.datetime, shop: Shop) -> Facts:
    """Facts reach back to the first mark, but here nothing is cast yet."""
    since, until = now - WEEKS * 7 * DAY, now + AHEAD
    rooms = list(Room.objects.all())
    return replace(
        load_facts(now),
        shifts=shifts(shop, since, until),
        climates=climates(rooms, since=since, until=until, now=now, shop=shop),
    )


def _furnish(now: dt.datetime) -> Shop:
    shop = the_shop()
    shop.name, shop.address = SHOP_NAME, f"14 Millrace Lane\n{TOWN}"
    shop.phone, shop.reply_to = "(555) 555-0100", "office@example.com"
    shop.save()
    give_usual_figures()
    # One route shows what the moisture model makes of a drying.
    Route.objects.filter(name=list(defaults.ROUTES)[SMALL]).update(drying_rule=DryingRule.MODEL)
    Mix.objects.create(**{**defaults.MIX, "name": CHARCOAL, "colour": "charcoal"})
    for year in (now.year - 1, now.year, now.year + 1):
        ClosedDay.objects.bulk_create(
            (ClosedDay(day=day.day, name=day.name) for day in proposed_closed_days(year, shop)),
            ignore_conflicts=True,
        )
    return shop


def _heater_day(now: dt.datetime, shop: Shop) -> dt.date:
    """The working day on whose evening the heater failed: last week, with work the day after."""
    today = now.astimezone(shop.zone).date()
    days = sorted(open_days(today - 30 * DAY, today - DAY), reverse=True)
    for day in days[HEATER_FAILED_DAYS_AGO - 1 :]:
        if day + DAY in days:
            return day
    return days[HEATER_FAILED_DAYS_AGO]


def _breathe(now: dt.datetime, shop: Shop, heater_day: dt.date, finder: Person) -> None:
    def at(day: dt.date, hour: int, minute: int = 0) -> dt.datetime:
        return dt.datetime.combine(day, dt.time(hour, minute), shop.zone).astimezone(dt.UTC)

    found = heater_day + DAY
    silent = (at(found, 19, 30), at(found, 23, 10))
    airs = {
        CASTING: RoomAir(
            0.0, 10, SEED, heater_off=(at(heater_day, 17, 30), at(found, 6, 45)), silent=silent
        ),
        FINISHING: RoomAir(1.5, 15, SEED + 1),
        BOOTH: RoomAir(2.5, 15, SEED + 2),
    }
    for name, air in airs.items():
        room = Room.objects.create(
            name=name,
            is_booth=name == BOOTH,
            usual_celsius=18.0 + air.warmer,
            usual_humidity=0.5,
        )
        add_heating_plan(room, warmer=air.warmer)
        add_readings(room, _sensor(room), air, shop, now)
    casting = Room.objects.get(name=CASTING)
    add_reading_by_hand(casting, at(found, 6, 40), finder)
    give_usual_tables(casting)


def _sensor(room: Room) -> Sensor:
    token = sensor_token(room.name)
    return Sensor.objects.create(
        name=f"{room.name} wall", room=room, token_hash=token_hash(token), token_hint=token[-4:]
    )


def sensor_token(room_name: str) -> str:
    """Known to whoever knows the server's key, so that the demo can print it again."""
    return salted_hmac("demo sensor", room_name).hexdigest()


def _order(demo: DemoJob, now: dt.datetime) -> Job:
    email, phone, street = CUSTOMERS[demo.customer]
    customer, _ = Customer.objects.get_or_create(
        name=demo.customer,
        defaults={
            "email": email,
            "phone": phone,
            "phone_digits": "".join(filter(str.isdigit, phone)),
            "address": f"{street}\n{TOWN}",
        },
    )
    job = Job.objects.create(
        number=demo.number,
        title=demo.title,
        customer=customer,
        site=f"{street}, {TOWN}",
        taken_on=now.date(),
        weight=demo.weight,
        price=demo.price,
        notes=demo.notes,
    )
    _pieces(demo, job)
    return job


def _pieces(demo: DemoJob, job: Job) -> None:
    routes = {route.name: route for route in Route.objects.all()}
    route_names = list(defaults.ROUTES)
    pieces = [
        Piece(
            job=job,
            letter=piece.letter,
            code=f"{job.number}-{piece.letter}",
            name=piece.name,
            room=Room.objects.get(name=CASTING),
            mix=Mix.objects.get(name=demo.mix),
            route=routes[route_names[piece.route]],
            sealer=Sealer.objects.get(name=defaults.SEALERS[demo.sealer]["name"]),
            area_m2=round(piece.square_feet / defaults.PER_SQUARE_FOOT, 3),
            shape=shape_of(f"{job.number}-{piece.letter}"),
            thickness_m=THICK,
            coat_m=COAT,
            notes=piece.notes,
        )
        for piece in demo.pieces
    ]
    for piece in pieces:
        if piece.shape:
            piece.area_m2 = face_area_of(piece.shape, face=piece.thickness_m)
    Piece.objects.bulk_create(pieces)


def _close(jobs: dict[str, Job]) -> None:
    for number in CLOSED:
        last = Mark.objects.filter(piece__job=jobs[number]).latest("happened_at")
        Job.objects.filter(number=number).update(closed_at=last.happened_at)
