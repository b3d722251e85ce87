"""Every address of the app and what each role gets there. An address that is not here fails."""

from __future__ import annotations

import datetime as dt
import hashlib
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone

from jobs.models import Job, Mail, Notice
from jobs.services.links import make_link, token_of
from jobs.services.mixing import open_run
from jobs.services.readiness import rebuild
from jobs.services.ticks import tick
from shop.access import PERMISSIONS
from shop.models import CastingTable, ClosedDay, Invitation, Person, Reading, Role, Room, Sensor
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

GET, POST = "GET", "POST"
ANONYMOUS = "anonymous"
ROLES = (ANONYMOUS, Role.CREW, Role.OFFICE, Role.OWNER)

IN = "to the sign-in page"
NO = 403  # signed in, but not this person's business
OK = 200
GO = 302  # done, and on to a page; without htmx
BAD = 422  # an empty form comes back with what is missing
SAME = 204  # nothing new since

# name: (method, anonymous, crew, office, owner). POSTs are sent empty, to rows that exist.
TABLE: dict[str, tuple[str, Any, Any, Any, Any]] = {
    # Coming in
    "home": (GET, IN, GO, GO, GO),
    "health": (GET, OK, OK, OK, OK),
    "robots": (GET, OK, OK, OK, OK),
    "sign-in": (GET, OK, GO, GO, GO),
    "sign-out": (POST, GO, GO, GO, GO),
    "forgot": (GET, OK, OK, OK, OK),
    "own-account": (GET, IN, OK, OK, OK),
    "change-password": (POST, IN, BAD, BAD, BAD),
    "join": (GET, OK, OK, OK, OK),
    # Air
    "api-readings": (POST, 401, 401, 401, 401),
    "readings": (GET, IN, OK, OK, OK),
    "readings-by-hand": (POST, IN, BAD, BAD, BAD),
    "readings-upload": (POST, IN, BAD, BAD, BAD),
    "readings-preview": (GET, IN, GO, GO, GO),
    "readings-confirm": (POST, IN, GO, GO, GO),
    "readings-discard": (POST, IN, GO, GO, GO),
    "reading-remove": (GET, IN, NO, NO, OK),
    "sensors": (GET, IN, NO, NO, OK),
    "sensor-renew": (POST, IN, NO, NO, OK),
    "sensor-withdraw": (POST, IN, NO, NO, GO),
    # The shop
    "setup": (GET, IN, NO, OK, OK),
    "settings": (GET, IN, NO, NO, OK),
    "settings-part": (GET, IN, NO, NO, OK),
    "rooms": (GET, IN, NO, OK, OK),
    "new-room": (GET, IN, NO, NO, OK),
    "room": (GET, IN, NO, NO, OK),
    "delete-room": (POST, IN, NO, NO, GO),
    "room-air": (GET, IN, NO, NO, OK),
    "set-back": (POST, IN, NO, NO, BAD),
    "tables": (GET, IN, NO, OK, OK),
    "new-table": (GET, IN, NO, NO, OK),
    "table": (GET, IN, NO, NO, OK),
    "delete-table": (POST, IN, NO, NO, GO),
    "hours": (GET, IN, NO, OK, OK),
    "edit-hours": (GET, IN, NO, NO, OK),
    "closed": (GET, IN, NO, OK, OK),
    "decide-closed": (POST, IN, NO, NO, GO),
    "add-closed": (POST, IN, NO, NO, BAD),
    "remove-closed": (POST, IN, NO, NO, GO),
    "mixes": (GET, IN, NO, OK, OK),
    "new-mix": (GET, IN, NO, NO, OK),
    "mix": (GET, IN, NO, NO, OK),
    "delete-mix": (POST, IN, NO, NO, GO),
    "recipe": (GET, IN, NO, NO, OK),
    "recipe-look": (POST, IN, NO, NO, OK),
    "recipes": (GET, IN, NO, OK, OK),
    "recipe-version": (GET, IN, NO, OK, OK),
    "recipe-again": (POST, IN, NO, NO, GO),
    "take-unit-weight": (POST, IN, NO, NO, GO),
    "mix-tests": (GET, IN, NO, OK, OK),
    "add-test": (POST, IN, NO, NO, BAD),
    "use-fit": (POST, IN, NO, NO, GO),
    "strike-test": (POST, IN, NO, NO, GO),
    "mix-drying": (GET, IN, NO, OK, OK),
    "take-drying": (POST, IN, NO, NO, GO),
    "leave-drying": (POST, IN, NO, NO, GO),
    "mix-demolds": (GET, IN, OK, OK, OK),
    "demolds-yes": (POST, IN, NO, NO, GO),
    "demolds-back": (POST, IN, NO, NO, GO),
    "sealers": (GET, IN, NO, OK, OK),
    "new-sealer": (GET, IN, NO, NO, OK),
    "sealer": (GET, IN, NO, NO, OK),
    "delete-sealer": (POST, IN, NO, NO, GO),
    "routes": (GET, IN, NO, OK, OK),
    "new-route": (GET, IN, NO, NO, OK),
    "route": (GET, IN, NO, NO, OK),
    "delete-route": (POST, IN, NO, NO, GO),
    "new-step": (GET, IN, NO, NO, OK),
    "step": (GET, IN, NO, NO, OK),
    "move-step": (POST, IN, NO, NO, GO),
    "delete-step": (POST, IN, NO, NO, GO),
    "people": (GET, IN, NO, NO, OK),
    "invite": (POST, IN, NO, NO, BAD),
    "withdraw": (POST, IN, NO, NO, GO),
    "person": (GET, IN, NO, NO, OK),
    "new-password": (POST, IN, NO, NO, OK),
    "remove-person": (POST, IN, NO, NO, GO),
    "bring-back": (POST, IN, NO, NO, GO),
    # The owner's week
    "board": (GET, IN, OK, OK, OK),
    "board-pulse": (GET, IN, SAME, SAME, SAME),
    "board-job": (GET, IN, OK, OK, OK),
    "cast-new": (GET, IN, NO, NO, OK),
    "cast-effect": (POST, IN, NO, NO, OK),
    "cast": (GET, IN, NO, NO, OK),
    "cast-off": (POST, IN, NO, NO, GO),
    "install": (GET, IN, NO, OK, OK),
    "install-effect": (POST, IN, NO, OK, OK),
    "install-off": (POST, IN, NO, GO, GO),
    # The floor
    "floor": (GET, IN, OK, OK, OK),
    "floor-worker": (GET, OK, OK, OK, OK),
    "floor-token": (GET, IN, OK, OK, OK),
    "floor-mark-cast": (POST, IN, BAD, NO, BAD),
    "floor-take-back-cast": (POST, IN, BAD, NO, BAD),
    "floor-strike": (POST, IN, BAD, NO, BAD),
    "piece": (GET, IN, OK, OK, OK),
    "floor-mark": (POST, IN, BAD, NO, BAD),
    "floor-hold": (POST, IN, BAD, NO, BAD),
    "floor-release": (POST, IN, BAD, NO, BAD),
    "floor-recast": (POST, IN, BAD, NO, BAD),
    "floor-runs": (GET, IN, OK, OK, OK),
    "floor-open-run": (POST, IN, GO, NO, GO),  # run 1 is open already: on to its sheet
    "floor-run": (GET, IN, OK, OK, OK),
    "floor-tick": (POST, IN, BAD, NO, BAD),
    "floor-added": (POST, IN, BAD, NO, BAD),
    "floor-strike-tick": (POST, IN, BAD, NO, BAD),
    "floor-strike-run": (POST, IN, BAD, NO, BAD),
    "floor-weigh": (POST, IN, BAD, NO, BAD),
    "floor-strike-weighing": (POST, IN, BAD, NO, BAD),
    # One piece over time
    "piece-figure": (GET, IN, OK, OK, OK),
    "piece-sheet": (GET, IN, OK, OK, OK),
    "piece-outline": (GET, IN, GO, GO, GO),
    "piece-outline-in": (GET, IN, NO, OK, OK),
    "piece-section": (GET, IN, NO, OK, OK),
    "piece-section-plan": (POST, IN, NO, OK, OK),
    "piece-section-remove": (POST, IN, NO, GO, GO),
    # Sheets of paper; without a choice they say what is missing
    "tags-sheet": (GET, IN, BAD, BAD, BAD),
    "route-sheet": (GET, IN, BAD, BAD, BAD),
    "load-sheet": (GET, IN, BAD, BAD, BAD),
    "loads": (GET, IN, OK, OK, OK),
    "cast-sheet": (GET, IN, OK, OK, OK),
    "customer-sheet": (GET, IN, NO, OK, OK),
    # The mixer's runs
    "mixing": (GET, IN, OK, OK, OK),
    "mixing-together": (GET, IN, NO, NO, OK),
    "cast-runs": (GET, IN, OK, OK, OK),
    "open-run": (POST, IN, BAD, NO, BAD),
    "tick-line": (POST, IN, BAD, NO, BAD),
    "strike-run": (POST, IN, BAD, NO, BAD),
    "take-back-tick": (POST, IN, GO, NO, GO),
    # A cast on record
    "batch-record": (GET, IN, OK, OK, OK),
    "batch-record-paper": (GET, IN, OK, OK, OK),
    "batch-photo": (POST, IN, BAD, NO, BAD),
    "run-record": (GET, IN, OK, NO, OK),
    "make-specimens": (POST, IN, BAD, NO, BAD),
    "specimens": (GET, IN, OK, OK, OK),
    "specimen": (GET, IN, OK, NO, OK),
    "lose-specimen": (POST, IN, GO, NO, GO),
    "piece-record": (GET, IN, OK, OK, OK),
    "measure-piece": (POST, IN, BAD, NO, BAD),
    "piece-photo": (POST, IN, BAD, NO, BAD),
    "strike-measured": (POST, IN, GO, NO, GO),
    "photo": (GET, IN, OK, OK, OK),
    "small-photo": (GET, IN, OK, OK, OK),
    "remove-photo": (POST, IN, GO, NO, GO),
    "lots": (GET, IN, OK, OK, OK),
    # The office
    "office": (GET, IN, NO, OK, OK),
    "job": (GET, IN, NO, OK, OK),
    "new-job": (GET, IN, NO, OK, OK),
    "edit-job": (GET, IN, NO, OK, OK),
    "close-job": (POST, IN, NO, GO, GO),
    "reopen-job": (POST, IN, NO, GO, GO),
    "call-off-job": (POST, IN, NO, GO, GO),
    "restore-job": (POST, IN, NO, GO, GO),
    "delete-job": (POST, IN, NO, GO, GO),
    "new-piece": (GET, IN, NO, OK, OK),
    "edit-piece": (GET, IN, NO, OK, OK),
    "delete-piece": (POST, IN, NO, GO, GO),
    "customers": (GET, IN, NO, OK, OK),
    "new-customer": (GET, IN, NO, OK, OK),
    "customer": (GET, IN, NO, OK, OK),
    "delete-customer": (POST, IN, NO, GO, GO),
    "tell": (GET, IN, NO, OK, OK),
    "draft-letter": (POST, IN, NO, GO, GO),
    "job-letter": (GET, IN, NO, OK, OK),
    "notice-letter": (GET, IN, NO, OK, OK),
    "retry-mail": (POST, IN, NO, GO, GO),
    "make-link": (POST, IN, NO, GO, GO),
    "renew-link": (POST, IN, NO, GO, GO),
    "close-link": (POST, IN, NO, GO, GO),
    # Tables in and out
    "bring-in": (GET, IN, NO, OK, OK),
    "bring-in-sheet": (GET, IN, NO, GO, GO),
    "bring-in-columns": (GET, IN, NO, GO, GO),
    "bring-in-rows": (POST, IN, NO, GO, GO),
    "bring-in-to-mend": (GET, IN, NO, GO, GO),
    "bring-in-leave": (POST, IN, NO, GO, GO),
    "take-out": (GET, IN, NO, OK, OK),
    "take-out-table": (GET, IN, NO, BAD, BAD),
    # The customer
    "customer-page": (GET, OK, OK, OK, OK),
    "customer-calendar": (GET, OK, OK, OK, OK),
    "customer-own-sheet": (GET, OK, OK, OK, OK),
}
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
        "person_id": make_person(Role.CREW).pk,
        "kind": "csv",
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


@pytest.mark.parametrize("role", ROLES)
def test_each_role_gets_what_the_table_says(role: str, sample: dict[str, Any]) -> None:
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
