from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.models import Customer, InstallDate, Job, Piece, PlannedStep
from jobs.services import readiness
from jobs.services.errors import Refused
from jobs.services.orders import save_piece
from shop.access import PERMISSIONS
from shop.models import Role, Room
from tests.factories import (
    HOUR,
    make_customer,
    make_mark,
    make_notice,
    make_person,
    make_piece,
    make_room,
)
from tests.jobs.office.conftest import PROMISE, text_of


def typed(answer: Any) -> dict[str, str]:
    form = answer.context["form"]
    fields = {name: form[name].value() for name in form.fields}
    return {name: str(value) for name, value in fields.items() if value is not None}


def test_a_new_job_suggests_its_number_and_today(office: Client, job: Job) -> None:
    fields = typed(office.get(reverse("new-job")))
    assert fields["number"] == "218"
    assert fields["taken_on"] == "2026-03-18"


def test_a_job_and_its_customer_are_taken_on_in_one_form(office: Client) -> None:
    fields = typed(office.get(reverse("new-job"))) | {
        "title": "Bench", "promised_on": "2026-05-04", "price": "1200.50", "customer": "",
        "new-name": "Nils Abernoth", "new-phone": "555 0117", "new-email": "nils@example.com",
    }  # fmt: skip
    answer = office.post(reverse("new-job"), fields, follow=True)
    assert "Job 101 is taken on" in text_of(answer)
    made = Job.objects.get(number="101")
    assert (made.customer.name, made.customer.phone_digits) == ("Nils Abernoth", "5550117")
    assert made.promised_on == dt.date(2026, 5, 4)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({}, "Choose a customer, or write"),
        ({"customer": "known", "new-name": "Nils"}, "Leave one of them"),
        ({"new-phone": "555 0117"}, "Fill this in"),
        ({"customer": "known", "number": "21 7"}, "A job number is up to 10 letters and digits"),
        ({"customer": "known", "number": "217"}, "There is a job 217 already"),
        ({"customer": "known", "promised_on": "2026-03-01"}, "taken on only Wed 18 Mar 2026"),
        ({"customer": "known", "price": "-1"}, "not below zero"),
        ({"customer": "known", "weight": "6"}, "At most 5"),
        ({"customer": "999999"}, "Choose another"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_typed_is_lost(
    office: Client, job: Job, more: dict[str, str], said: str
) -> None:
    if more.get("customer") == "known":
        more = more | {"customer": str(job.customer_id)}
    fields = typed(office.get(reverse("new-job"))) | {"title": "A <b>bench", **more}
    answer = office.post(reverse("new-job"), fields)
    assert answer.status_code == 422
    assert said in text_of(answer)
    assert answer.context["form"]["title"].value() == "A <b>bench"
    assert "A &lt;b&gt;bench" in text_of(answer)
    assert Job.objects.count() == 1
    assert Customer.objects.count() == 1


def test_the_job_page_shows_the_whole_of_it(office: Client, cast: Piece, job: Job) -> None:
    make_piece(job, "B", name="Waterfall end")
    make_notice(job, PROMISE, to="ada@example.com")
    text = text_of(office.get(reverse("job", args=["217"])))
    for said in [
        "Kitchen island", "Fri 10 Apr", "Ada Fenwick-Lowe", "(555) 555-0142", "4 Quay Lane",
        "5,300.00", "pays late", "217-A", "217-B", "1 of", "demold and flip", "Latest cast",
        "What the customer was told",
    ]:  # fmt: skip
        assert said in text


def test_an_install_that_the_plan_has_later_than_agreed_is_told(
    office: Client, cast: Piece, job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    agreed = dt.datetime(2026, 4, 13, 14, 0, tzinfo=dt.UTC)
    said = "later than was set with the site"
    row = PlannedStep(
        piece=cast, step_key="install", name="install", starts_at=agreed + 3 * HOUR,
        ends_at=agreed + 5 * HOUR,
    )  # fmt: skip
    row.save()
    page = reverse("job", args=["217"])
    assert said not in text_of(office.get(page))  # no day was agreed
    InstallDate.objects.create(job=job, starts_at=agreed, hours=2.0, people=2)
    readiness.rebuild()
    assert said not in text_of(office.get(page))  # later on the same day
    PlannedStep.objects.update(starts_at=agreed + 22 * HOUR)
    text = text_of(office.get(page))
    assert f"By the plan the install begins Tue 14 Apr 07:00, {said}" in text
    with monkeypatch.context() as later:
        later.setattr(timezone, "now", lambda: agreed + 23 * HOUR)
        assert said not in text_of(office.get(page))  # it has begun
    PlannedStep.objects.update(step_key="deliver")
    assert said not in text_of(office.get(page))


def test_a_job_is_reached_in_any_case_of_its_number(office: Client, job: Job) -> None:
    Job.objects.filter(pk=job.pk).update(number="A7")
    assert office.get("/office/jobs/a7/")["Location"] == "/office/jobs/A7/"
    for number in ["99999", "%00", "x" * 300, "a b", "..", "%F0%9F%92%A9"]:
        assert office.get(f"/office/jobs/{number}/").status_code == 404


def test_the_second_of_two_savers_sees_both_and_loses_nothing(office: Client, job: Job) -> None:
    address = reverse("edit-job", args=["217"])
    mine = typed(office.get(address)) | {"title": "Bench"}
    theirs = typed(office.get(address)) | {"notes": "call first", "title": "Hearth"}
    assert office.post(address, theirs).status_code == 302
    answer = office.post(address, mine)
    assert answer.status_code == 409
    text = text_of(answer)
    assert "now Hearth, yours is Bench" in text
    assert "now call first. You had not touched it" in text
    assert office.post(address, typed(answer)).status_code == 302
    job.refresh_from_db()
    assert (job.title, job.notes) == ("Bench", "call first")


def test_closing_opening_calling_off_and_taking_up_again(office: Client, job: Job) -> None:
    for action, said in [
        ("close-job", "is closed"),
        ("reopen-job", "is open again"),
        ("call-off-job", "is called off"),
        ("restore-job", "is taken up again"),
    ]:
        answer = office.post(reverse(action, args=["217"]), follow=True)
        assert f"Job 217 {said}." in text_of(answer)


def test_deleting_is_offered_only_while_nothing_stands_on_record(
    office: Client, job: Job, piece: Piece
) -> None:
    address = reverse("delete-job", args=["217"])
    assert address in text_of(office.get(reverse("job", args=["217"])))
    make_mark(piece, "cast")
    assert address not in text_of(office.get(reverse("job", args=["217"])))
    answer = office.post(address, follow=True)
    assert "has marks, so it stays on record" in text_of(answer)
    assert Job.objects.exists()


def test_prices_are_for_those_who_may_see_them(
    office: Client, job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(PERMISSIONS, "prices.see", frozenset({Role.OWNER}))
    assert "5,300.00" not in text_of(office.get(reverse("job", args=["217"])))
    address = reverse("edit-job", args=["217"])
    assert "Price" not in text_of(office.get(address))
    office.post(address, typed(office.get(address)) | {"price": "1"})
    job.refresh_from_db()
    assert str(job.price) == "5300.00"


def test_a_piece_takes_after_the_last_one_and_is_typed_in_the_shops_units(
    office: Client, piece: Piece, job: Job
) -> None:
    address = reverse("new-piece", args=["217"])
    fields = typed(office.get(address))
    assert fields["letter"] == "B"
    assert fields["mix"] == str(piece.mix_id)
    answer = office.post(
        address,
        fields | {"name": "Sill", "area_m2": "12", "thickness_m": "20 mm", "another": "yes"},
    )
    assert answer["Location"] == address
    made = Piece.objects.get(code="217-B")
    assert made.area_m2 == pytest.approx(12 * 0.09290304)
    assert made.thickness_m == pytest.approx(0.020)


def test_from_a_new_piece_straight_to_its_shape(office: Client, job: Job, piece: Piece) -> None:
    address = reverse("new-piece", args=["217"])
    typed_in = {"name": "Sill", "area_m2": "96 x 25 1/2", "shape": "yes"}
    answer = office.post(address, typed(office.get(address)) | typed_in)
    assert answer["Location"] == reverse("piece-section", args=["217-B"])
    assert Piece.objects.get(code="217-B").area_m2 == pytest.approx(96 * 25.5 * 0.0254**2)
    page = office.get(reverse("job", args=["217"])).content.decode()
    assert f'href="{reverse("piece-section", args=["217-B"])}"' in page


def test_a_copied_piece_brings_everything_but_its_letter(office: Client, piece: Piece) -> None:
    fields = typed(office.get(reverse("new-piece", args=["217"]), {"copy": "A"}))
    assert (fields["letter"], fields["name"]) == ("B", "Island top")
    assert fields["notes"] == "watch the corner"
    assert office.post(reverse("new-piece", args=["217"]), fields).status_code == 302
    assert Piece.objects.get(code="217-B").area_m2 == pytest.approx(piece.area_m2, rel=1e-2)


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("letter", "1", "one or two capital letters"),
        ("letter", "A", "has a piece A already"),
        ("area_m2", "0", "At least"),
        ("area_m2", "900", "At most"),
        ("area_m2", "12 psi", "not a unit for this"),
        ("thickness_m", "thick", "not a length"),
        ("coat_m", "1", "A face coat of 1 in is thicker than the whole slab, 3/4 in."),
        ("coat_m", "-1", "At least"),
        ("waste", "120", "Between 0 and 100 %."),
        ("waste", "some", "Write a number"),
        ("name", "", "Fill this in"),
        ("mix", "99999", "Choose another"),
    ],
)
def test_a_piece_that_cannot_be_is_refused_and_kept_on_the_page(
    office: Client, piece: Piece, field: str, value: str, said: str
) -> None:
    address = reverse("new-piece", args=["217"])
    fields = typed(office.get(address)) | {"name": "Sill", "area_m2": "12", field: value}
    answer = office.post(address, fields)
    assert answer.status_code == 422
    assert said in text_of(answer)
    assert answer.context["form"][field].value() == value
    assert Piece.objects.count() == 1


def test_coat_waste_and_matching_are_kept_with_the_piece(office: Client, piece: Piece) -> None:
    address = reverse("edit-piece", args=["217", "A"])
    fields = typed(office.get(address))
    assert "20 % of face coat and 10 % of backer" in text_of(office.get(address))
    del fields["matches_job"]
    office.post(address, fields | {"coat_m": "1/8", "waste": "17,5"})
    piece.refresh_from_db()
    assert piece.coat_m == pytest.approx(0.003175)
    assert (piece.waste, piece.matches_job) == (pytest.approx(0.175), False)
    office.post(address, typed(office.get(address)) | {"waste": ""})
    piece.refresh_from_db()
    assert piece.waste is None


def test_a_coat_thicker_than_the_slab_is_refused_by_the_service_too(piece: Piece) -> None:
    with pytest.raises(Refused) as refused:
        save_piece(
            job_id=piece.job_id, piece_id=piece.pk, version=1, values={"thickness_m": 0.0035}
        )
    assert refused.value.field == "coat_m"


def test_a_piece_is_changed_and_deleted(office: Client, piece: Piece) -> None:
    address = reverse("edit-piece", args=["217", "A"])
    office.post(address, typed(office.get(address)) | {"name": "Top"})
    piece.refresh_from_db()
    assert (piece.name, piece.area_m2, piece.version) == ("Top", 1.5, 2)
    answer = office.post(reverse("delete-piece", args=["217", "A"]), follow=True)
    assert "217-A is deleted." in text_of(answer)
    assert office.get(address).status_code == 404


def test_a_customer_is_written_changed_and_deleted(office: Client) -> None:
    fields = {"name": "Nils", "phone": "+1 555 555 0117", "email": "nils@example.com"}
    office.post(reverse("new-customer"), fields)
    customer = Customer.objects.get()
    assert customer.phone_digits == "5555550117"
    address = reverse("customer", args=[customer.pk])
    office.post(address, typed(office.get(address)) | {"phone": "555 0199"})
    customer.refresh_from_db()
    assert customer.phone_digits == "5550199"
    stale = typed(office.get(address)) | {"version": "1", "name": "Nils A."}
    assert office.post(address, stale).status_code == 409
    office.post(reverse("delete-customer", args=[customer.pk]))
    assert not Customer.objects.exists()


def test_the_crew_reaches_nothing_of_the_office(job: Job, cast: Piece) -> None:
    from jobs.office.urls import urlpatterns

    client = Client()
    client.force_login(make_person(Role.CREW))
    fill = {"number": "217", "letter": "A", "customer_id": 1, "mail_id": 1, "notice_id": 1}
    assert len(urlpatterns) > 20
    for pattern in urlpatterns:
        names = pattern.pattern.converters
        address = reverse(pattern.name, kwargs={name: fill[name] for name in names})
        for method in (client.get, client.post):
            assert method(address).status_code == 403, address


def test_customers_with_the_same_name_are_kept_apart(office: Client) -> None:
    make_customer("Nils", phone="555 0001")
    make_customer("Nils", phone="555 0002")
    text = text_of(office.get(reverse("customers"), {"q": "nils"}))
    assert "555 0001" in text
    assert "555 0002" in text


def test_without_a_room_a_piece_s_form_says_who_adds_one(office: Client, job: Job) -> None:
    address = reverse("new-piece", args=["217"])
    said = "There is no room in use yet. The owner adds rooms under Shop."
    Piece.objects.all().delete()
    Room.objects.all().delete()
    assert said in office.get(address).content.decode()
    make_room()
    assert said not in office.get(address).content.decode()


def test_a_job_without_pieces_is_not_called_ready_later(office: Client, job: Job) -> None:
    Piece.objects.all().delete()
    readiness.rebuild()
    page = office.get(reverse("board-job", args=["217"])).content.decode()
    assert "<dt>Ready</dt><dd>no pieces yet</dd>" in page
