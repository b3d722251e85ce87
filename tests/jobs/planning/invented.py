"""Stored shops by seed, with work at every stage: what has been marked is what the engine allowed."""

from __future__ import annotations

import datetime as dt
import random

from curing import timeline
from jobs.models import InstallDate, Job, Piece
from jobs.services.derive import engine_arguments
from jobs.services.facts import load_facts
from jobs.services.route_steps import piece_steps
from shop import defaults
from shop.localtime import from_hours, to_hours
from shop.models import CastingTable, DryingRule, Room, Route, Worker
from tests.factories import (
    DAY,
    HOUR,
    make_batch,
    make_job,
    make_mark,
    make_mix,
    make_notice,
    make_piece,
    make_readings,
    make_room,
    make_route,
    make_sealer,
    make_shop,
    make_working_week,
)

NOW = dt.datetime(2026, 3, 4, 15, 10, tzinfo=dt.UTC)  # Wednesday 9:10; clocks change on the 8th
SINK = {"outline": "rectangle", "length": 1.2, "width": 0.6,
        "cutouts": [{"x": 0.4, "y": 0.1, "length": 0.4, "width": 0.35, "around": "sink"}]}  # fmt: skip


def furnish(celsius: float = 20.0, humidity: float = 0.5) -> Room:
    """A casting room at one temperature, two tables, five people who can do everything."""
    make_shop()
    make_working_week()
    for name in ("Ada", "Bo", "Cleo", "Dov", "Esi"):
        Worker.objects.get_or_create(name=name)
    room = make_room(celsius=celsius, usual_humidity=humidity)
    make_readings(room, NOW - 30 * DAY, 30 * 24, celsius, humidity=humidity, every_minutes=60)
    for name, length, width in (("Table 1", 3.048, 1.524), ("Table 2", 2.4384, 1.2192)):
        CastingTable.objects.get_or_create(
            name=name, defaults={"room": room, "length_m": length, "width_m": width}
        )
    return room


def invent(seed: int) -> None:
    draw = random.Random(seed)
    cold = draw.choice((14.0, 17.0, 20.0))
    room = furnish(cold, draw.choice((0.45, 0.6, 0.75)))
    booth = make_room("Booth", 21.0, is_booth=True)
    make_readings(booth, NOW - 3 * DAY, 72, 21.0, every_minutes=60)
    routes = [make_route(name, steps) for name, steps in defaults.ROUTES.items()]
    rules = [DryingRule.HOURS, draw.choice((DryingRule.MODEL, DryingRule.WEIGHING))]
    for route in routes[1:]:
        Route.objects.filter(pk=route.pk).update(drying_rule=draw.choice(rules))
    sealers = [make_sealer(), make_sealer(**defaults.SEALERS[1])]
    mixes = [make_mix(), make_mix(name="Charcoal", activation_energy=38000.0)]
    for number in range(6):
        job = make_job(str(300 + number), (NOW + draw.randint(6, 30) * DAY).date())
        count = draw.randint(1, 3)
        mix = draw.choice(mixes)
        pieces = [
            make_piece(
                job, letter, room=room, mix=mix, route=Route.objects.get(pk=draw.choice(routes).pk),
                sealer=draw.choice(sealers), area_m2=round(draw.uniform(0.4, 1.4), 2),
                shape=SINK if draw.random() < 0.3 else None,
            )
            for letter in "ABC"[:count]
        ]  # fmt: skip
        stage(draw, job, pieces)
        if draw.random() < 0.4:
            make_notice(job, job.promised_on)
        if draw.random() < 0.4:
            InstallDate.objects.create(job=job, starts_at=NOW + draw.randint(15, 30) * DAY)


def stage(draw: random.Random, job: Job, pieces: list[Piece]) -> None:
    kind = draw.choice(("waits", "set", "set loosely", "under way", "under way"))
    if kind == "under way":
        for piece in pieces:
            work_at(job, piece, NOW - draw.randint(8, 500) * HOUR, draw.randint(1, 10))
    elif kind != "waits":
        day = NOW.replace(hour=13, minute=0) + draw.choice((5, 6, 7, 8)) * DAY
        make_batch(*pieces, planned_for=day, pinned=kind == "set")


def work_at(job: Job, piece: Piece, cast: dt.datetime, most: int) -> None:
    """Marks step by step, each when the engine first lets it be finished, up to now."""
    make_mark(piece, piece.route.steps.order_by("place")[0].key, cast)
    facts = load_facts(NOW, [job.number])
    loaded = next(row for row in facts.jobs[0].pieces.all() if row.pk == piece.pk)
    steps = piece_steps(loaded, facts.shop, facts.gate_of(loaded))
    arguments = engine_arguments(facts, loaded, steps)
    done = {steps[0].engine.key: to_hours(cast)}
    for _ in range(most - 1):
        found = timeline.derive(cast=to_hours(cast), done=done, **arguments)
        pending = timeline.pending(found)
        if pending is None or pending.finish > to_hours(NOW):
            return
        at = from_hours(pending.finish)
        make_mark(piece, pending.key, at)
        done[pending.key] = to_hours(at)
