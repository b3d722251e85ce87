from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from jobs.models import Batch, Customer, Job, Piece
from jobs.services import orders
from jobs.services.errors import Conflict, Refused
from shop.models import Change
from tests.factories import (
    DAY,
    HOUR,
    NOW,
    make_batch,
    make_customer,
    make_job,
    make_mark,
    make_mix,
    make_notice,
    make_piece,
    make_shop,
    make_working_week,
)

pytestmark = pytest.mark.django_db
TAKEN, PROMISE = dt.date(2026, 2, 20), dt.date(2026, 4, 10)


@pytest.fixture(autouse=True)
def _shop(db: None) -> None:
    make_shop()
    make_working_week()


def job_values(**fields: Any) -> dict[str, Any]:
    return {"number": "300", "title": "Island", "taken_on": TAKEN, "promised_on": PROMISE, **fields}


def piece_values(piece: Piece, **fields: Any) -> dict[str, Any]:
    names = ("letter", "name", "area_m2", "thickness_m", "room", "mix", "route", "sealer", "notes")
    return {name: getattr(piece, name) for name in names} | fields


def test_a_customer_keeps_the_digits_of_the_phone() -> None:
    customer = orders.save_customer(values={"name": "Ada", "phone": "+1 (555) 555-0142"})
    assert customer.phone_digits == "5555550142"
    orders.save_customer(values={"phone": ""}, customer_id=customer.pk, version=1)
    customer.refresh_from_db()
    assert (customer.phone_digits, customer.version) == ("", 2)


def test_a_job_with_its_new_customer_is_made_together_or_not_at_all() -> None:
    job = orders.save_job(values=job_values(), new_customer={"name": "Ada", "phone": "555 0142"})
    assert job.customer.name == "Ada"
    assert Change.objects.exists()
    with pytest.raises(Refused, match="There is a job 300 already"):
        orders.save_job(values=job_values(), new_customer={"name": "Nils"})
    assert not Customer.objects.filter(name="Nils").exists()


def test_a_number_is_kept_in_capitals() -> None:
    job = orders.save_job(values=job_values(number="a7", customer=make_customer()))
    assert job.number == "A7"
    with pytest.raises(Refused, match="A7"):
        orders.save_job(values=job_values(number="A7", customer=make_customer("Nils")))


def test_a_job_gets_the_next_number_and_a_piece_the_next_letter() -> None:
    assert orders.suggested_number() == "101"
    job = make_job("217")
    make_job("A9")
    assert orders.suggested_number() == "218"
    assert orders.suggested_letter(job) == "A"
    for letter, following in [("A", "B"), ("Z", "AA"), ("AZ", "BA")]:
        make_piece(job, letter)
        assert orders.suggested_letter(job) == following


def test_a_promise_before_the_job_was_taken_on_is_refused_naming_both() -> None:
    with pytest.raises(Refused, match=r"Promised Thu 19 Feb 2026, but taken on only Fri 20 Feb"):
        orders.save_job(
            values=job_values(customer=make_customer(), promised_on=TAKEN - dt.timedelta(days=1))
        )
    assert not Job.objects.exists()


def promise(job: Job, day: dt.date) -> Job:
    return orders.save_job(values={"promised_on": day}, job_id=job.pk, version=job.version)


def test_a_promise_before_a_planned_cast_is_refused_naming_both() -> None:
    job = make_job("217", PROMISE)
    make_batch(make_piece(job, "B"), planned_for=NOW + 2 * DAY)
    with pytest.raises(Refused, match="Thu 19 Mar 2026, would come before 217-B is cast") as caught:
        promise(job, dt.date(2026, 3, 19))
    assert "is to be cast Fri 20 Mar 2026 09:00" in caught.value.message
    assert caught.value.field == "promised_on"
    assert promise(job, dt.date(2026, 3, 20)).promised_on == dt.date(2026, 3, 20)


def test_a_promise_before_a_true_cast_is_refused() -> None:
    job = make_job("217", PROMISE)
    make_mark(make_piece(job, "B"), "cast", NOW - HOUR)
    with pytest.raises(Refused, match="it was cast Wed 18 Mar 2026 08:00"):
        promise(job, dt.date(2026, 3, 17))


def test_a_promise_that_stands_does_not_bar_other_changes() -> None:
    job = make_job("217", dt.date(2026, 3, 1))
    make_mark(make_piece(job, "B"), "cast", NOW - HOUR)
    saved = orders.save_job(
        values={"notes": "call first", "promised_on": dt.date(2026, 3, 1)}, job_id=job.pk, version=1
    )
    assert saved.notes == "call first"


def test_the_second_saver_is_told_and_changes_nothing() -> None:
    job = make_job("217", PROMISE)
    orders.save_job(values={"title": "Hearth"}, job_id=job.pk, version=1)
    with pytest.raises(Conflict) as caught:
        orders.save_job(values={"title": "Bench"}, job_id=job.pk, version=1)
    assert caught.value.version == 2
    job.refresh_from_db()
    assert job.title == "Hearth"


def test_a_job_changes_its_number_with_its_codes_until_they_are_on_forms() -> None:
    job = make_job("217", PROMISE)
    piece = make_piece(job, "B")
    orders.save_job(values={"number": "218"}, job_id=job.pk, version=1)
    piece.refresh_from_db()
    assert piece.code == "218-B"
    make_mark(piece, "cast", NOW - HOUR)
    with pytest.raises(Refused, match="written on its forms"):
        orders.save_job(values={"number": "219"}, job_id=job.pk, version=2)


def test_a_piece_has_the_code_of_its_job_and_letter() -> None:
    model = make_piece(make_job("217"), "A")
    job = make_job("218", customer=make_customer("Nils"))
    piece = orders.save_piece(job_id=job.pk, values=piece_values(model, letter="C"))
    assert piece.code == "218-C"
    with pytest.raises(Refused, match="has a piece C already"):
        orders.save_piece(job_id=job.pk, values=piece_values(model, letter="C"))


def test_what_marks_hold_on_to_stays() -> None:
    piece = make_piece(make_job("217"), "A")
    make_mark(piece, "cast", NOW - HOUR)
    for field, value in {"letter": "B", "mix": make_mix(name="Charcoal premix")}.items():
        with pytest.raises(Refused, match="has marks already") as caught:
            orders.save_piece(
                job_id=piece.job_id,
                piece_id=piece.pk,
                version=1,
                values=piece_values(piece, **{field: value}),
            )
        assert caught.value.field == field
    saved = orders.save_piece(
        job_id=piece.job_id, piece_id=piece.pk, version=1, values=piece_values(piece, name="Top")
    )
    assert saved.name == "Top"


def test_a_piece_that_changes_its_mix_leaves_the_cast_of_the_other() -> None:
    job = make_job("217")
    first, second = make_piece(job, "A"), make_piece(job, "B")
    batch = make_batch(first, second)
    for piece in (first, second):
        saved = orders.save_piece(
            job_id=job.pk,
            piece_id=piece.pk,
            version=1,
            values=piece_values(piece, mix=make_mix(name="Charcoal premix")),
        )
        assert saved.batch is None
    assert not Batch.objects.filter(pk=batch.pk).exists()


def test_only_what_has_no_marks_is_deleted() -> None:
    job = make_job("217")
    marked, plain = make_piece(job, "A"), make_piece(job, "B")
    make_mark(marked, "cast", NOW - HOUR)
    assert orders.delete_piece(piece_id=plain.pk) == "217-B"
    with pytest.raises(Refused, match="stays on record"):
        orders.delete_piece(piece_id=marked.pk)
    with pytest.raises(Refused, match="stays on record"):
        orders.delete_job(job_id=job.pk)


def test_a_job_whose_customer_was_told_stays_on_record() -> None:
    job = make_job("217")
    make_notice(job, PROMISE)
    with pytest.raises(Refused, match="was told"):
        orders.delete_job(job_id=job.pk)


def test_a_job_without_marks_goes_with_its_pieces_and_casts() -> None:
    job = make_job("217")
    make_batch(make_piece(job, "A"))
    assert orders.delete_job(job_id=job.pk) == "217"
    assert not Piece.objects.exists()
    assert not Batch.objects.exists()
    assert orders.delete_customer(customer_id=job.customer_id)


def test_a_customer_with_jobs_stays() -> None:
    with pytest.raises(Refused, match="has jobs"):
        orders.delete_customer(customer_id=make_job("217").customer_id)


def test_calling_off_frees_the_casts_that_are_set_and_keeps_what_was_cast() -> None:
    job = make_job("217")
    cast, uncast = make_piece(job, "A"), make_piece(job, "B")
    kept, freed = make_batch(cast), make_batch(uncast)
    make_mark(cast, "cast", NOW - HOUR, batch=kept)
    orders.call_off_job(job_id=job.pk)
    cast.refresh_from_db()
    uncast.refresh_from_db()
    assert (cast.batch, uncast.batch) == (kept, None)
    assert not Batch.objects.filter(pk=freed.pk).exists()
    orders.restore_job(job_id=job.pk)
    job.refresh_from_db()
    assert not job.called_off


def test_closing_and_opening_again() -> None:
    job = make_job("217")
    orders.close_job(job_id=job.pk, now=NOW)
    job.refresh_from_db()
    assert job.closed_at == NOW
    with pytest.raises(Refused, match="no longer open"):
        orders.save_piece(job_id=job.pk, values={})
    orders.reopen_job(job_id=job.pk)
    job.refresh_from_db()
    assert job.closed_at is None
