"""How soon the office has a day for a new job in a shop of forty jobs, from question to page.

python -m tools.bench_promise [rounds]: five of each, if nothing else is said. The demo's jobs under
way and more of the same beside them are planned and the plan is accepted. Then the question is
asked again and again: with nothing changed since the last time, and just after one thing was. Times
are of the whole request, seconds of the clock and of the processor; what others do on the machine
counts in the first, and its load is printed. Goal: 2 s.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from statistics import median
from urllib.parse import urlencode

from tools.bench_shop import throwaway_shop

ROUNDS = 5
JOBS, PIECES = 40, 160


def main() -> None:
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS
    with throwaway_shop():
        forty_jobs()
        measure(rounds)


def measure(rounds: int) -> None:
    from jobs.services import planned_shop

    ask = question()
    begun = time.perf_counter()
    ask()
    print(f"the first question of a process: {time.perf_counter() - begun:.2f} s")
    ways: dict[str, Callable[[int], None]] = {
        "nothing changed": lambda _: None,
        "after a process begins": lambda _: planned_shop.forget(),
        "after a reading": a_reading,
        "after a piece grew": a_larger_piece,
        "after a sealer's rule": a_sealer,
    }
    for name, change in ways.items():
        taken = []
        for number in range(rounds):
            change(number)
            wall, work = time.perf_counter(), time.process_time()
            ask()
            taken.append((time.perf_counter() - wall, time.process_time() - work))
        walls, works = zip(*taken, strict=True)
        print(
            f"{name}: {median(walls):.2f} s, at the most {max(walls):.2f} s; of the processor "
            f"{median(works):.2f} s; load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores",
            flush=True,
        )


def question() -> Callable[[], None]:
    from django.conf import settings
    from django.test import Client
    from django.urls import reverse

    from shop.models import Mix, Person, Role, Room, Route, Sealer

    settings.ALLOWED_HOSTS = ["*"]
    client = Client(headers={"hx-request": "true"})
    client.force_login(Person.objects.filter(role=Role.OWNER)[0])
    line = {
        "area": "96 x 25 1/2",
        "thickness": "3/4",
        "count": "2",
        "name": "Bar top",
        "mix": Mix.objects.filter(in_use=True)[0].pk,
        "route": Route.objects.filter(in_use=True)[0].pk,
        "sealer": Sealer.objects.filter(in_use=True)[0].pk,
        "room": Room.objects.filter(in_use=True, is_booth=False)[0].pk,
    }
    data = urlencode({"must_match": "on", **{f"line1-{name}": each for name, each in line.items()}})
    address = f"{reverse('new-date')}?{data}"

    def ask() -> None:
        answer = client.get(address)
        if answer.status_code != 200 or "You can say" not in answer.content.decode():
            raise SystemExit(f"no day is said ({answer.status_code}):\n{answer.content.decode()}")

    return ask


def a_reading(number: int) -> None:
    from django.utils import timezone

    from jobs.services.readiness import rebuild
    from shop.models import Reading, Room
    from shop.services.changed import note_change

    for room in Room.objects.all():
        Reading.objects.create(room=room, at=timezone.now(), celsius=18 + number, humidity=0.5)
    note_change("reading")
    rebuild()


def a_larger_piece(number: int) -> None:
    from jobs.models import Piece
    from jobs.services.readiness import rebuild
    from shop.services.changed import note_change

    piece = Piece.objects.filter(job__closed_at=None).order_by("pk")[number]
    Piece.objects.filter(pk=piece.pk).update(area_m2=piece.area_m2 * 1.01)
    note_change("piece")
    rebuild()


def a_sealer(number: int) -> None:
    from jobs.services.readiness import rebuild
    from shop.models import Sealer
    from shop.services.changed import note_change

    sealer = Sealer.objects.filter(in_use=True)[0]
    sealer.least_age_hours = (sealer.least_age_hours or 0) + 0.5
    sealer.save()
    note_change("sealer")
    rebuild()


def forty_jobs() -> None:
    """The demo's jobs, and copies of its pieces that are not cast yet as jobs that follow them,
    with tables and people for as many; all of it planned, and the plan accepted."""
    import datetime as dt

    from django.utils import timezone

    from jobs.models import Job, Piece
    from jobs.planning.search import Spend
    from jobs.services import plan_runs, plan_taking, plan_work
    from jobs.services.facts import open_jobs
    from jobs.services.readiness import rebuild
    from shop.models import CastingTable, Person, Role, Stations, Worker

    where = CastingTable.objects.order_by("pk")[0].room
    for number in range(7):
        CastingTable.objects.create(name=f"Table {number + 11}", room=where)
    for number in range(8):
        Worker.objects.create(name=f"Hand {number + 1}")
    room = {"rack_places": 90, "wet_bays": 6, "booth_places": 4, "mixers": 3, "trucks": 3}
    Stations.objects.update_or_create(pk=1, defaults=room)
    standing = list(open_jobs())
    like = list(Piece.objects.filter(job__in=standing, marks=None).order_by("pk"))
    short = PIECES - Piece.objects.filter(job__in=standing).count()
    more = JOBS - len(standing)
    customer = standing[0].customer
    today = timezone.now().date()
    for number in range(more):
        job = Job.objects.create(
            number=str(900 + number),
            title="More of the same",
            customer=customer,
            taken_on=today,
            promised_on=today + dt.timedelta(days=21 + 2 * number),
        )
        for letter in "ABCDEF"[: short // more + (number < short % more)]:
            piece = Piece.objects.get(pk=like[(5 * number + ord(letter)) % len(like)].pk)
            piece.pk, piece.job, piece.letter, piece.batch = None, job, letter, None
            piece.code = f"{job.number}-{letter}"
            piece.save()
    rebuild()
    owner = Person.objects.filter(role=Role.OWNER)[0]
    run = plan_runs.ask(owner)
    print("planning", flush=True)
    plan_work.plan_shop(run.pk, Spend(rounds=2, neighbourhoods=0))
    plan_taking.take(run_id=run.pk, by=owner)
    rebuild()
    print(f"{open_jobs().count()} jobs, {Piece.objects.filter(job__in=open_jobs()).count()} pieces")


if __name__ == "__main__":
    main()
