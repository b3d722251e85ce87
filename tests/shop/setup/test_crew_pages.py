"""Who works here: listed, entered, changed, away, taken out of use, deleted."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from shop.models import Absence, Change, Person, Role, Worker
from shop.setup.crew_words import weekdays_words, works_words
from tests.factories import make_person
from tests.shop.setup.helpers import text, today, typed

SignIn = Callable[[Person], Client]
EVERYTHING = 11  # setting up forms, and ten kinds of step


@pytest.fixture
def wren(owner: Person) -> Worker:
    return Worker.objects.create(name="Wren", works=["form", "cast"], weekdays=[0, 1, 2, 4])


def in_days(number: int) -> dt.date:
    return today() + dt.timedelta(days=number)


def away(owners: Client, worker: Worker, **sent: str) -> object:
    return owners.post(reverse("add-absence", args=[worker.pk]), sent)


def test_with_nobody_entered_the_page_says_whom_the_plan_takes(owners: Client) -> None:
    make_person(Role.CREW, name="Dell")
    make_person(Role.OFFICE, name="Toby")
    said = text(owners.get(reverse("crew")))
    assert "Nobody is entered: the plan takes everybody of crew and owners" in said
    assert "2 people able to do everything on any day: Dell, Ora Lindqvist." in said
    assert "Toby" not in said


def test_they_are_entered_by_one_button_and_can_then_be_told_apart(owners: Client) -> None:
    make_person(Role.CREW, name="Dell")
    owners.post(reverse("enter-accounts"))
    assert set(Worker.objects.values_list("name", flat=True)) == {"Dell", "Ora Lindqvist"}
    assert "Nobody is entered" not in text(owners.get(reverse("crew")))


def test_an_account_that_joins_later_is_said_to_be_left_out(owners: Client, wren: Worker) -> None:
    make_person(Role.CREW, name="Newcomer")
    said = text(owners.get(reverse("crew")))
    assert "Newcomer" in said
    assert "The plan leaves them out until they are entered" in said


def test_somebody_is_entered_with_what_they_can_do(owners: Client) -> None:
    dell = make_person(Role.CREW, name="Dell Harkaway")
    sent = typed(owners.get(reverse("new-worker")), name="Dell", account=str(dell.pk))
    assert len(sent["works"]) == EVERYTHING
    assert sent["weekdays"] == [str(day) for day in range(7)]
    sent.update(works=["grind", "hone"], weekdays=["0", "5"])
    assert owners.post(reverse("new-worker"), sent).status_code == 302
    made = Worker.objects.get()
    assert (made.name, made.account, made.works, made.weekdays, made.in_use) == (
        "Dell", dell, ["grind", "hone"], [0, 5], True,
    )  # fmt: skip
    assert Change.objects.filter(reason="worker added").exists()
    said = text(owners.get(reverse("crew")))
    assert "grind or hone, last hone and wash" in said
    assert "Mon, Sat" in said
    assert "Nobody can: set up forms, cast, demold and flip" in said


def test_an_account_is_offered_once(owners: Client, owner: Person, wren: Worker) -> None:
    wren.account = owner
    wren.save()
    make_person(Role.OFFICE, name="Toby")
    make_person(Role.CREW, name="Gone", is_active=False)
    for address, offered in (
        (reverse("new-worker"), False),
        (reverse("worker", args=[wren.pk]), True),
    ):
        page = owners.get(address).content.decode()
        assert (f">{owner.name}</option>" in page) is offered
        assert ">Toby</option>" not in page
        assert ">Gone</option>" not in page


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"name": ""}, "Fill this in"),
        ({"name": "wren"}, "somebody of this name already"),
        ({"works": []}, "Tick at least one, or take them out of use"),
        ({"weekdays": []}, "Tick at least one, or take them out of use"),
        ({"works": ["juggle"]}, "Choose another"),
        ({"weekdays": ["7"]}, "Choose another"),
        ({"account": "999"}, "Choose another"),
    ],
)
def test_what_cannot_be_is_refused_and_kept(
    owners: Client, wren: Worker, change: dict[str, object], word: str
) -> None:
    sent = typed(owners.get(reverse("new-worker")), name="Other", works=["fill"])
    answer = owners.post(reverse("new-worker"), {**sent, **change})
    assert answer.status_code == 422
    assert word in text(answer)
    again = typed(answer)
    if "name" not in change:
        assert again["name"] == "Other"
    if "works" not in change:
        assert again["works"] == ["fill"]
    assert Worker.objects.count() == 1


def test_a_worker_keeps_their_own_name_when_it_is_saved_again(owners: Client, wren: Worker) -> None:
    address = reverse("worker", args=[wren.pk])
    assert owners.post(address, typed(owners.get(address), address)).status_code == 302
    wren.refresh_from_db()
    assert (wren.works, wren.weekdays, wren.version) == (["form", "cast"], [0, 1, 2, 4], 2)


def test_two_owners_at_one_worker_are_told_by_ticks_too(owners: Client, wren: Worker) -> None:
    address = reverse("worker", args=[wren.pk])
    mine = typed(owners.get(address), address, name="Wren A.", works=["grind"])
    theirs = typed(owners.get(address), address, works=["cast", "fill"], weekdays=["0"])
    assert owners.post(address, theirs).status_code == 302
    answer = owners.post(address, mine)
    assert answer.status_code == 409
    said = text(answer)
    assert "Can do : now cast, slurry fill, yours is grind or hone. Yours is kept" in said
    assert "May be planned on : now Monday. You had not touched it" in said
    again = typed(answer, address)
    assert (again["name"], again["works"], again["weekdays"]) == ("Wren A.", ["grind"], ["0"])
    assert owners.post(address, again).status_code == 302
    wren.refresh_from_db()
    assert (wren.name, wren.works, wren.weekdays) == ("Wren A.", ["grind"], [0])


def test_days_away_are_added_listed_and_taken_back(owners: Client, wren: Worker) -> None:
    first, last = in_days(3), in_days(5)
    assert away(
        owners, wren, first_day=str(first), last_day=str(last), reason="Fishing"
    ).status_code == 302  # fmt: skip
    away(owners, wren, first_day=str(in_days(9)))
    assert [(a.first_day, a.last_day) for a in Absence.objects.all()] == [
        (first, last), (in_days(9), in_days(9)),
    ]  # fmt: skip
    assert "Fishing" in text(owners.get(reverse("worker", args=[wren.pk])))
    assert "Fishing" in text(owners.get(reverse("crew")))
    owners.post(reverse("remove-absence", args=[Absence.objects.first().pk]))
    assert "Fishing" not in text(owners.get(reverse("crew")))


def test_days_that_cannot_be_are_refused_and_kept_and_the_form_beside_stays(
    owners: Client, wren: Worker
) -> None:
    answer = away(owners, wren, first_day=str(in_days(5)), last_day=str(in_days(3)), reason="x")
    assert answer.status_code == 422
    assert "The last day is before the first." in text(answer)
    sent = typed(answer, reverse("add-absence", args=[wren.pk]))
    assert (sent["first_day"], sent["reason"]) == (str(in_days(5)), "x")
    assert typed(answer, reverse("worker", args=[wren.pk]))["name"] == "Wren"
    assert not Absence.objects.exists()


def test_out_of_use_or_without_their_account_they_rest_on_the_list(
    owners: Client, wren: Worker
) -> None:
    gone = make_person(Role.CREW, is_active=False)
    Worker.objects.create(name="Gone", account=gone)
    address = reverse("worker", args=[wren.pk])
    owners.post(address, typed(owners.get(address), address, in_use=None))
    said = text(owners.get(reverse("crew")))
    assert "Wren out of use" in said
    assert "Gone not planned: the account was removed" in said
    assert "Nobody is entered" in said  # that could be planned


def test_a_worker_is_deleted(owners: Client, wren: Worker) -> None:
    owners.post(reverse("delete-worker", args=[wren.pk]))
    assert not Worker.objects.exists()


def test_the_office_sees_who_is_there_and_changes_nothing(signed_in: SignIn, wren: Worker) -> None:
    office = signed_in(make_person(Role.OFFICE))
    page = office.get(reverse("crew")).content.decode()
    assert "Wren" in page
    assert reverse("worker", args=[wren.pk]) not in page
    assert reverse("enter-accounts") not in page


def test_the_list_takes_no_more_queries_for_more_people(owners: Client, wren: Worker) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            owners.get(reverse("crew"))
        return len(seen)

    def add(number: int) -> None:
        person = make_person(Role.CREW)
        worker = Worker.objects.create(name=f"W{number}", account=person)
        worker.absences.create(first_day=in_days(1), last_day=in_days(2))

    add(0)
    few = queries()
    for number in range(1, 12):
        add(number)
    assert queries() == few


@pytest.mark.parametrize(
    ("days", "said"),
    [
        (range(7), "any day"),
        (range(5), "Mon–Fri"),
        ([0, 2, 3, 4], "Mon, Wed–Fri"),
        ([6, 5], "Sat, Sun"),
        ([3], "Thu"),
    ],
)
def test_weekdays_are_said_shortly(days: range, said: str) -> None:
    assert weekdays_words(days) == said


def test_what_somebody_can_do_is_said_by_what_is_left_out_when_that_is_little() -> None:
    every = [
        "form",
        "cast",
        "demold",
        "grind",
        "fill",
        "hone",
        "coat",
        "crate",
        "deliver",
        "install",
        "other",
    ]
    assert works_words(every) == "everything"
    assert works_words(every[:-2]) == "all but install, other work"
    assert works_words(["coat", "form"]) == "set up forms, seal coat"
