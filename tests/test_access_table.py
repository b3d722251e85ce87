"""Every address is asked as each role. One that is not in `access_table` fails."""

from __future__ import annotations

import datetime as dt
import hashlib
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest
import weasyprint
from django.db import transaction
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone

from jobs.models import Job, Mail, Notice, PlanAccepted, PlanRun, RunState
from jobs.services.links import make_link, token_of
from jobs.services.mixing import open_run
from jobs.services.plan_mix import Raw
from jobs.services.plan_shown import Shown
from jobs.services.plan_stored import as_json
from jobs.services.readiness import rebuild
from jobs.services.ticks import tick
from shop.access import PERMISSIONS
from shop.models import (
    CastingTable,
    ClosedDay,
    ExtraHours,
    Invitation,
    Person,
    Reading,
    Role,
    Room,
    Sensor,
    Worker,
)
from tests.access_table import ANONYMOUS, IN, NO, POST, ROLES, TABLE
from tests.factories import (
    make_batch,
    make_job,
    make_mark,
    make_notice,
    make_person,
    make_piece,
    make_readings,
    make_recipe,
    make_room,
    make_shop,
    make_strength_test,
    make_weighing,
    make_working_week,
)
from tests.jobs.mixing.record_rows import make_measured, make_photo, make_specimen

pytestmark = pytest.mark.django_db

assert len({*TABLE}) == len(TABLE)


@dataclass(frozen=True)
class Address:
    name: str
    pattern: URLPattern
    above: frozenset[str] = frozenset()  # taken by the addresses it is included under

    @property
    def permission(self) -> str | None:
        permission: str | None = self.pattern.callback.permission
        return permission

    @property
    def takes(self) -> set[str]:
        return self.above | set(self.pattern.pattern.regex.groupindex)


def addresses(
    resolver: URLResolver | None = None, above: frozenset[str] = frozenset()
) -> Iterator[Address]:
    for pattern in (resolver or get_resolver()).url_patterns:
        if isinstance(pattern, URLResolver):
            yield from addresses(pattern, above | set(pattern.pattern.regex.groupindex))
        else:
            yield Address(pattern.name or "", pattern, above)


@pytest.fixture
def sample() -> dict[str, Any]:
    """One row of everything that an address names."""
    make_shop()
    make_working_week()
    now = timezone.now()
    people = {role: make_person(role) for role in Role.values}
    job = make_job(promised_on=now.date() + dt.timedelta(days=40), taken_on=now.date())
    cast, waiting = make_piece(job, "A"), make_piece(job, "B")
    mark = make_mark(cast, happened_at=now - dt.timedelta(days=1), by=people[Role.CREW])
    batch = make_batch(waiting, planned_for=now + dt.timedelta(days=2))
    room = make_room()
    make_readings(room, now - dt.timedelta(days=3), 70)
    rebuild(now)
    make_recipe(waiting.mix)
    run = open_run(batch_id=batch.pk, number=1, moisture={}, by=people[Role.CREW])
    first = run.sheet["lines"][0]
    weighed = {"line": first["component"]["name"], "kg": first["weigh_kg"]}
    ticked = tick(run_id=run.pk, by=people[Role.CREW], client_key=uuid.uuid4(), **weighed)
    return {
        "people": people,
        "number": job.number,
        "letter": waiting.letter,
        "code": cast.code,
        "batch_id": batch.pk,
        "mark_id": mark.pk,
        "run_id": run.pk,
        "run_number": run.number,
        "weighed_id": ticked.pk,
        "specimen_id": make_specimen(run, people[Role.CREW]).pk,
        "measured_id": make_measured(cast, people[Role.CREW]).pk,
        "photo_id": make_photo(cast, people[Role.CREW]).pk,
        "weighing_id": make_weighing(cast, 30.0, now, by=people[Role.CREW]).pk,
        "room_id": room.pk,
        "table_id": CastingTable.objects.create(name="Table 1", room=room).pk,
        "part": "mixing",
        "mix_id": cast.mix.pk,
        "version": make_recipe(cast.mix).number,
        "test_id": make_strength_test(cast.mix, people[Role.OWNER]).pk,
        "sealer_id": cast.sealer.pk,
        "route_id": cast.route.pk,
        "step_id": cast.route.steps.get(key="fill").pk,
        "customer_id": job.customer.pk,
        "reading_id": _by_hand(room, now).pk,
        "notice_id": _letter(job, people[Role.OFFICE], now).pk,
        "mail_id": _failed_mail(now).pk,
        "sensor_id": _sensor(room).pk,
        "closed_id": ClosedDay.objects.create(day=now.date(), name="Inventory").pk,
        "extra_id": _extra_hours(now).pk,
        "worker_id": (worker := Worker.objects.create(name="Wren")).pk,
        "absence_id": worker.absences.create(first_day=now.date(), last_day=now.date()).pk,
        "person_id": make_person(Role.CREW).pk,
        "kind": "csv",
        "plan_id": _proposal(now).pk,
        "accepted_id": PlanAccepted.objects.create(
            by=people[Role.OWNER], words="The plan", before=NOTHING_BEFORE
        ).pk,
        "invitation_id": _invitation(people[Role.OWNER], now).pk,
        "token": {
            "join": "an-invitation",
            "customer-page": (token := token_of(make_link(job_id=job.pk, by=None))),
            "customer-calendar": token,
            "customer-own-sheet": token,
            "readings-preview": "0" * 32,
            "readings-confirm": "0" * 32,
            "readings-discard": "0" * 32,
            "bring-in-sheet": "0" * 32,
            "bring-in-columns": "0" * 32,
            "bring-in-rows": "0" * 32,
            "bring-in-to-mend": "0" * 32,
            "bring-in-leave": "0" * 32,
        },
    }


NOTHING_BEFORE = {
    "steps": [], "pieces": {}, "batches": [], "dates": [], "jobs": [], "planned": [],
    "after": {"batches": {}, "installs": {}, "pieces": {}, "pins": []},
}  # fmt: skip


def _proposal(now: dt.datetime) -> PlanRun:
    shown = as_json(Shown(planned_from=now))
    raw = as_json(Raw(now, (), (), ()))
    return PlanRun.objects.create(
        state=RunState.READY, ended_at=now, found={"shown": shown, "raw": raw}
    )


def _letter(job: Job, by: Person, now: dt.datetime) -> Notice:
    assert job.promised_on is not None
    return make_notice(job, job.promised_on, now, by=by, means=Notice.Means.LETTER, body="Ready.")


def _by_hand(room: Room, now: dt.datetime) -> Reading:
    at = now - dt.timedelta(hours=1, minutes=7)
    return Reading.objects.create(room=room, at=at, celsius=18, source=Reading.Source.HAND)


def _failed_mail(now: dt.datetime) -> Mail:
    return Mail.objects.create(
        to="ada@example.com",
        subject="Ready",
        body="Ready",
        state=Mail.State.FAILED,
        try_after=now,
        message_id="<1@example.com>",
    )


def _extra_hours(now: dt.datetime) -> ExtraHours:
    return ExtraHours.objects.create(day=now.date(), starts=dt.time(18), ends=dt.time(20))


def _sensor(room: Room) -> Sensor:
    return Sensor.objects.create(name="Wall", room=room, token_hash="0" * 64, token_hint="0000")


def _invitation(by: Person, now: dt.datetime) -> Invitation:
    return Invitation.objects.create(
        email="new@example.com",
        name="New",
        role=Role.CREW,
        token_hash=hashlib.sha256(b"an-invitation").hexdigest(),
        invited_by=by,
        expires_at=now + dt.timedelta(days=1),
    )


def url_of(address: Address, sample: dict[str, Any]) -> str:
    chosen = {
        name: sample[name][address.name] if name == "token" else sample[name]
        for name in address.takes
    }
    return reverse(address.name, kwargs=chosen)


def answer(role: str, address: Address, sample: dict[str, Any]) -> Any:
    """What this role gets, undone afterwards so that the next one finds the same shop."""
    client = Client(raise_request_exception=False)
    with transaction.atomic():
        if role != ANONYMOUS:
            client.force_login(sample["people"][role], "django.contrib.auth.backends.ModelBackend")
        method = TABLE[address.name][0]
        response = client.generic(method, url_of(address, sample), **FORM if method == POST else {})
        transaction.set_rollback(True)
    if response.status_code == 302 and response["Location"].startswith(reverse("sign-in") + "?"):
        return IN
    return response.status_code


FORM = {"content_type": "application/x-www-form-urlencoded"}


def test_every_address_stands_in_the_table_and_every_line_is_an_address() -> None:
    names = [address.name for address in addresses()]

    assert len(names) == len(set(names)), "two addresses share a name"
    assert "" not in names, "an address has no name"
    assert set(names) - set(TABLE) == set(), "add these to TABLE"
    assert set(TABLE) - set(names) == set(), "these are no addresses any more"


def test_every_view_says_what_it_needs_or_that_it_is_open() -> None:
    silent = [a.name for a in addresses() if not hasattr(a.pattern.callback, "permission")]

    assert silent == [], "decorate these with @needs(...) or @open_to_all"
    assert {a.permission for a in addresses()} - {None} <= set(PERMISSIONS)


class OneLine(weasyprint.HTML):
    """Lays out one line, whatever it is given: to lay out the papers takes most of this file's time."""

    def __init__(self, *, string: str, **how: Any) -> None:
        assert string
        super().__init__(string="<p>One line.</p>", **how)


@pytest.mark.parametrize("role", ROLES)
def test_each_role_gets_what_the_table_says(
    role: str, sample: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    if role != Role.OWNER:  # who opens all of them: for one role they are laid out as they are
        monkeypatch.setattr(weasyprint, "HTML", OneLine)
    column = 1 + ROLES.index(role)
    expected = {address.name: TABLE[address.name][column] for address in addresses()}
    got = {address.name: answer(role, address, sample) for address in addresses()}

    wrong = [
        f"{name}: {got[name]}, not {want}" for name, want in expected.items() if got[name] != want
    ]
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize("role", ROLES)
def test_the_table_agrees_with_the_permissions(role: str) -> None:
    column = 1 + ROLES.index(role)
    for address in addresses():
        expected = TABLE[address.name][column]
        if address.permission is None:
            assert expected not in {IN, NO}, address.name
        elif role == ANONYMOUS:
            assert expected == IN, address.name
        else:
            assert (expected == NO) == (role not in PERMISSIONS[address.permission]), address.name


def test_a_form_from_elsewhere_is_refused(sample: dict[str, Any]) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(sample["people"][Role.OWNER], "django.contrib.auth.backends.ModelBackend")
    posts = [a for a in addresses() if TABLE[a.name][0] == POST and a.name != "api-readings"]

    taken = [a.name for a in posts if client.post(url_of(a, sample)).status_code != NO]

    assert taken == []
