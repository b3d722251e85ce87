"""Whom the plan counts on, when they are away, and what the stations take."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from shop.models import Absence, Change, Role, Shop, Stations, StepKind, Worker, WorkingHours
from shop.services import crew, people
from shop.services.errors import Conflict, Refused
from tests.factories import PASSWORD, make_person, make_shop

pytestmark = pytest.mark.django_db

TODAY = dt.date(2026, 3, 18)
EVERY_WORK = {"form", *StepKind.values}


def day(number: int) -> dt.date:
    return dt.date(2026, 3, number)


@pytest.fixture(autouse=True)
def shop(db: None) -> Shop:
    return make_shop()


def enter(name: str, **values: object) -> Worker:
    return crew.save_worker(worker_id=None, version=0, values={"name": name, **values})


def away(worker: Worker, first: int, last: int) -> Absence:
    return crew.add_absence(
        worker_id=worker.pk, first_day=day(first), last_day=day(last), today=TODAY
    )


def test_those_entered_are_planned_with_what_they_can_do_and_when(shop: Shop) -> None:
    account = make_person(Role.CREW)
    wren = enter("Wren", works=["cast", "grind"], weekdays=[0, 1, 2], account=account)
    enter("Abel")
    enter("Retired", in_use=False)
    away(wren, 20, 24)
    planned = crew.planned_people(since=TODAY)
    assert planned.basis == "entered"
    assert not planned.fell_back
    abel, hand = planned.hands
    assert (abel.name, abel.works, abel.weekdays) == ("Abel", EVERY_WORK, set(range(7)))
    assert (abel.absences, abel.account_id) == ((), None)
    assert (hand.name, hand.works, hand.weekdays) == ("Wren", {"cast", "grind"}, {0, 1, 2})
    assert hand.absences == ((day(20), day(24)),)
    assert (hand.worker_id, hand.account_id) == (wren.pk, account.pk)


def test_absences_that_are_over_are_left_out_and_one_that_runs_is_not() -> None:
    wren = enter("Wren")
    wren.absences.create(first_day=day(2), last_day=day(17))
    away(wren, 18, 18)
    (hand,) = crew.planned_people(since=TODAY).hands
    assert hand.absences == ((day(18), day(18)),)


def test_somebody_whose_account_was_removed_is_not_planned() -> None:
    gone = make_person(Role.CREW, is_active=False)
    enter("Gone", account=gone)
    enter("Here", account=make_person(Role.CREW))
    enter("No account")
    names = [hand.name for hand in crew.planned_people(since=TODAY).hands]
    assert names == ["Here", "No account"]


def test_with_nobody_entered_the_crews_and_owners_accounts_are_planned() -> None:
    make_person(Role.OWNER, name="Ora")
    make_person(Role.CREW, name="Wren")
    make_person(Role.CREW, name="Wren")
    make_person(Role.OFFICE, name="Toby")
    make_person(Role.CREW, name="Gone", is_active=False)
    enter("Retired", in_use=False)
    planned = crew.planned_people(since=TODAY)
    assert planned.basis == "accounts"
    assert planned.fell_back
    assert [hand.name for hand in planned.hands] == ["Ora", "Wren", "Wren 2"]
    assert {hand.works for hand in planned.hands} == {frozenset(EVERY_WORK)}
    assert {hand.worker_id for hand in planned.hands} == {None}


def test_with_no_account_there_are_as_many_hands_as_the_working_hours_have_people() -> None:
    for weekday, most in ((0, 2), (1, 3)):
        WorkingHours.objects.create(
            weekday=weekday, starts=dt.time(7), ends=dt.time(15), people=most
        )
    planned = crew.planned_people(since=TODAY)
    assert (planned.basis, len(planned.hands)) == ("hours", 3)
    assert [hand.name for hand in planned.hands] == ["Hand 1", "Hand 2", "Hand 3"]


def test_a_shop_without_anything_has_no_hands() -> None:
    assert crew.planned_people(since=TODAY).hands == ()


def test_twenty_people_take_as_many_queries_as_one() -> None:
    counts = []
    for number in range(20):
        worker = enter(f"W{number}")
        worker.absences.create(first_day=day(20), last_day=day(21))
        if number in {0, 19}:
            with CaptureQueriesContext(connection) as queries:
                crew.planned_people(since=TODAY)
            counts.append(len(queries))
    assert counts == [2, 2]


def test_two_of_one_name_are_refused_and_so_are_two_of_one_account() -> None:
    account = make_person(Role.CREW, name="Wren Ames")
    wren = enter("Wren", account=account)
    with pytest.raises(Refused, match="one of this name already"):
        enter("Wren")
    with pytest.raises(Refused, match="Wren Ames is the account of Wren already") as refused:
        enter("Other", account=account)
    assert refused.value.field == "account"
    crew.save_worker(worker_id=wren.pk, version=1, values={"name": "W", "account": account})
    assert Worker.objects.get().version == 2


def test_a_stale_worker_is_not_overwritten() -> None:
    wren = enter("Wren")
    crew.save_worker(worker_id=wren.pk, version=1, values={"works": ["cast"]})
    with pytest.raises(Conflict):
        crew.save_worker(worker_id=wren.pk, version=1, values={"works": ["grind"]})
    assert Worker.objects.get().works == ["cast"]


def test_everybody_with_an_account_is_entered_once_and_told_apart() -> None:
    make_person(Role.OWNER, name="Ora")
    make_person(Role.CREW, name="Wren")
    make_person(Role.OFFICE)
    enter("Wren")
    Change.objects.all().delete()
    assert crew.enter_accounts() == 2
    assert list(Worker.objects.values_list("name", "account__name")) == [
        ("Ora", "Ora"), ("Wren", None), ("Wren 2", "Wren"),
    ]  # fmt: skip
    assert Change.objects.count() == 1
    assert crew.enter_accounts() == 0
    assert Change.objects.count() == 1


def test_names_as_long_as_can_be_are_told_apart_within_their_length() -> None:
    long = "W" * 60
    names = crew.apart([long, long, long])
    assert len(set(names)) == 3
    assert max(map(len, names)) <= 60


@pytest.mark.parametrize(
    ("first", "last", "said", "field"),
    [
        (day(24), day(20), "before the first", "last_day"),
        (day(10), day(17), "are over", "last_day"),
        (day(20), dt.date(2027, 3, 21), "more than a year", "last_day"),
        (dt.date(2036, 3, 20), dt.date(2036, 3, 21), "Check the year", "last_day"),
        (day(24), day(30), "Wren is away Fri 20 Mar – Tue 24 Mar already", "first_day"),
    ],
)
def test_absences_that_cannot_be_are_refused_with_why(
    first: dt.date, last: dt.date, said: str, field: str
) -> None:
    wren = enter("Wren")
    away(wren, 20, 24)
    with pytest.raises(Refused, match=said) as refused:
        crew.add_absence(worker_id=wren.pk, first_day=first, last_day=last, today=TODAY)
    assert refused.value.field == field
    assert Absence.objects.count() == 1


def test_days_away_are_noted_as_a_change_and_so_is_taking_them_back() -> None:
    absence = away(enter("Wren"), 16, 19)  # has begun already
    away(Worker.objects.get(), 20, 20)
    crew.remove_absence(absence_id=absence.pk)
    reasons = list(Change.objects.order_by("pk").values_list("reason", flat=True))
    assert reasons == ["worker added", "absence added", "absence added", "absence removed"]
    assert Absence.objects.get().first_day == day(20)


def test_a_deleted_workers_days_away_go_with_them() -> None:
    wren = enter("Wren")
    away(wren, 20, 24)
    assert crew.delete_worker(worker_id=wren.pk) == "Wren"
    assert not Absence.objects.exists()


def test_the_stations_have_usual_figures_until_they_are_saved() -> None:
    usual = crew.stations()
    assert (usual.rack_places, usual.booth_places, usual.shared_air) == (40, 1, True)
    assert not Stations.objects.exists()
    crew.save_stations(version=usual.version, values={"rack_places": 24})
    assert (crew.stations().rack_places, crew.stations().version) == (24, 2)
    with pytest.raises(Conflict):
        crew.save_stations(version=1, values={"rack_places": 99})
    assert crew.stations().rack_places == 24


def test_joining_leaving_and_another_role_are_changes_because_the_plan_may_count_on_them() -> None:
    owner = make_person(Role.OWNER)
    _, token = people.invite(name="Wren", email="wren@example.com", role=Role.CREW, by=owner)
    wren = people.accept(token=token, password=PASSWORD, language="en")
    people.change_person(person_id=wren.pk, version=1, name="W", role=Role.CREW, warned=True)
    people.change_person(person_id=wren.pk, version=2, name="W", role=Role.OFFICE, warned=True)
    people.remove(person_id=wren.pk, by=owner)
    people.bring_back(person_id=wren.pk)
    reasons = list(Change.objects.order_by("pk").values_list("reason", flat=True))
    assert reasons == ["somebody joined", "a role changed", "somebody left", "somebody came back"]
