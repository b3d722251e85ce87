from __future__ import annotations

import datetime as dt

import pytest
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from jobs.models import Job, Mail, Piece
from jobs.services.finding import open_rows
from jobs.services.mail import queue_mail
from jobs.services.orders import call_off_job, close_job
from jobs.services.readiness import outlook_of, rebuild
from tests.factories import NOW, make_customer, make_job, make_mark, make_notice, make_piece
from tests.jobs.office.conftest import PROMISE, text_of

DAY = dt.timedelta(days=1)


def failed_mail(**fields: object) -> Mail:
    mail = queue_mail(to="ada@example.com", subject="Ready", body="", now=NOW)
    Mail.objects.filter(pk=mail.pk).update(state="failed", last_error="550 No such user", **fields)
    return Mail.objects.get(pk=mail.pk)


def test_each_open_job_shows_what_holds_what_was_told_and_the_difference(
    office: Client, cast: Piece, job: Job
) -> None:
    make_notice(job, PROMISE - 4 * DAY)
    text = text_of(office.get(reverse("office")))
    assert "told Mon 6 Apr, now Fri 10 Apr: 4 days later, must be told" in text
    assert "1 customer must be told again" in text
    assert "holds," in text


def test_a_told_day_that_still_holds_need_not_be_told_again(
    office: Client, cast: Piece, job: Job
) -> None:
    make_notice(job, PROMISE)
    text = text_of(office.get(reverse("office")))
    assert "told Fri 10 Apr, as it stands" in text
    assert "must be told" not in text


def test_an_earlier_day_is_a_difference_too(cast: Piece, job: Job) -> None:
    make_notice(job, PROMISE + DAY)
    (row,) = open_rows()
    assert row.difference == "told Sat 11 Apr, now Fri 10 Apr: 1 day earlier, must be told"


def test_a_customer_never_told_is_not_in_the_list_of_those_to_be_told_again(
    office: Client, cast: Piece
) -> None:
    text = text_of(office.get(reverse("office")))
    assert "not told yet" in text
    assert "told again" not in text


def test_a_delivered_job_asks_for_no_telling(cast: Piece, job: Job) -> None:
    for step in outlook_of("217").pieces[0].steps[1:]:
        make_mark(cast, step.key)
    make_notice(job, PROMISE - 9 * DAY)
    (row,) = open_rows()
    assert row.state == "kept"
    assert not row.must_be_told


def test_a_mail_that_failed_has_told_nobody(cast: Piece, job: Job) -> None:
    make_notice(job, PROMISE - 4 * DAY, at=NOW - DAY)
    make_notice(job, PROMISE, mail=failed_mail())
    (row,) = open_rows()
    assert row.told_on == PROMISE - 4 * DAY
    assert row.must_be_told


def test_a_mail_that_failed_is_said_on_the_office_page(
    office: Client, cast: Piece, job: Job
) -> None:
    mail = failed_mail()
    make_notice(job, PROMISE, mail=mail)
    text = text_of(office.get(reverse("office")))
    assert "The e-mail to ada@example.com could not be sent." in text
    assert "550 No such user" in text
    assert reverse("retry-mail", args=[mail.pk]) in text


def test_a_failed_mail_that_a_later_notice_made_good_is_not_said(
    office: Client, cast: Piece, job: Job
) -> None:
    make_notice(job, PROMISE, mail=failed_mail(), at=NOW - DAY)
    make_notice(job, PROMISE, means="call")
    assert "could not be sent" not in text_of(office.get(reverse("office")))


def test_trying_again_puts_the_mail_back(office: Client, cast: Piece, job: Job) -> None:
    mail = failed_mail()
    make_notice(job, PROMISE, mail=mail)
    answer = office.post(reverse("retry-mail", args=[mail.pk]), follow=True)
    assert "Trying again: ada@example.com." in text_of(answer)
    mail.refresh_from_db()
    assert (mail.state, mail.tries) == ("waiting", 0)
    again = office.post(reverse("retry-mail", args=[mail.pk]), follow=True)
    assert "not one that failed" in text_of(again)


def test_a_promise_moved_a_moment_ago_shows_at_once(cast: Piece, job: Job) -> None:
    rebuild()
    Job.objects.filter(pk=job.pk).update(promised_on=PROMISE + 3 * DAY)
    make_notice(job, PROMISE + 3 * DAY)
    (row,) = open_rows()
    assert row.holding_on == PROMISE + 3 * DAY
    assert not row.must_be_told


@pytest.mark.parametrize(("end", "kind"), [(close_job, "closed"), (call_off_job, "called-off")])
def test_past_jobs_stay_findable(office: Client, job: Job, end: object, kind: str) -> None:
    end(job_id=job.pk)  # type: ignore[operator]
    assert "Ada Fenwick-Lowe" not in text_of(office.get(reverse("office")))
    assert "Ada Fenwick-Lowe" in text_of(office.get(reverse("office"), {"show": kind}))
    assert office.get(reverse("office"), {"q": "217"}).status_code == 302


def fill(first: int, last: int) -> None:
    for number in range(first, last):
        customer = make_customer(f"Customer {number}")
        job = make_job(str(number), PROMISE, customer=customer)
        make_mark(make_piece(job), "cast", NOW - 20 * DAY / 24)
        make_notice(job, PROMISE - DAY)


@pytest.mark.parametrize("query", [{}, {"q": "customer"}, {"show": "closed"}])
def test_twenty_jobs_take_as_many_queries_as_ten(office: Client, query: dict[str, str]) -> None:
    def queries() -> int:
        rebuild()
        cache.clear()
        with CaptureQueriesContext(
            connection,
        ) as seen:
            assert office.get(reverse("office"), query).status_code == 200
        return len(seen)

    fill(300, 310)
    Job.objects.filter(number__gte="305").update(closed_at=NOW)
    office.get(reverse("office"))
    ten = queries()
    fill(310, 320)
    Job.objects.filter(number__gte="315").update(closed_at=NOW)
    assert queries() == ten


def test_a_long_list_comes_in_pages(office: Client) -> None:
    customer = make_customer("Gable & Finch")
    Job.objects.bulk_create(
        Job(number=str(1000 + n), title="Tread", customer=customer, taken_on=PROMISE, closed_at=NOW)
        for n in range(95)
    )
    first = text_of(office.get(reverse("office"), {"show": "closed"}))
    assert "page 1 of 3" in first
    assert "page=2" in first
    last = text_of(office.get(reverse("office"), {"show": "closed", "page": "99"}))
    assert "page 3 of 3" in last


def test_a_job_without_a_promise_is_listed_with_what_is_stored(office: Client) -> None:
    """What is stored of it holds nothings, which the databases name differently."""
    job = make_job("412", promised_on=None)
    make_piece(job)
    rebuild(NOW)
    answer = office.get(reverse("office"))
    assert answer.status_code == 200
    assert "412" in answer.content.decode()
