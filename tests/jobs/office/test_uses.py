"""The four days: handled, away from the shop, lightly used, fully used."""

from __future__ import annotations

import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse

from jobs.models import Job, Piece
from jobs.services.customer_view import customer_view
from jobs.services.links import make_link, token_of
from jobs.services.orders import close_job
from jobs.services.readiness import outlook_of, rebuild
from shop.models import Sealer, Shop
from tests import factories
from tests.factories import NOW, make_notice
from tests.jobs.office.conftest import PROMISE, TODAY, text_of

DAY = dt.timedelta(days=1)


def view(job: Job):
    rebuild()
    return customer_view(job=job, shop=Shop.objects.get(), today=TODAY)


def test_a_customer_reads_what_may_be_done_from_when(cast: Piece, job: Job) -> None:
    make_notice(job, PROMISE)
    rebuild()
    token = token_of(make_link(job_id=job.pk, by=None))
    text = text_of(Client().get(reverse("customer-page", args=[token])))
    handle = outlook_of("217").pieces[0].handle_at.astimezone(Shop.objects.get().zone)

    assert "What may be done from when" in text
    assert f"From {handle:%A} {handle.day} {handle:%B}: touched with clean, dry hands" in text
    # Its sealer is hard long before the promised day.
    assert "From Friday 10 April: ready to leave our shop, and its finish bears everyday" in text


def test_use_after_the_told_day_stands_after_it(cast: Piece, job: Job) -> None:
    Sealer.objects.update(full_use_hours=24 * 60)
    make_notice(job, PROMISE)
    lines = view(job).uses

    assert [line.day for line in lines] == sorted(line.day for line in lines)
    assert lines[1].words == (
        "ready to leave our shop, and its finish bears light use, dry and with care"
    )
    assert lines[-1].words == "everyday use"
    assert lines[-1].day > PROMISE


def test_nothing_of_the_kind_before_a_day_is_told(cast: Piece, job: Job) -> None:
    assert view(job).uses == ()
    make_notice(job, PROMISE - 9 * DAY)  # a day that no longer holds, or is being checked
    Sealer.objects.update(least_age_hours=24 * 40)
    assert view(job).uses == ()


def test_delivered_only_use_is_left(cast: Piece, job: Job) -> None:
    make_notice(job, PROMISE)
    rebuild()
    close_job(job_id=job.pk)
    job.refresh_from_db()
    shown = customer_view(job=job, shop=Shop.objects.get(), today=TODAY)
    assert [line.words for line in shown.uses] == ["light use, dry and with care", "everyday use"]


@pytest.mark.parametrize("pieces", [1, 3])
def test_the_job_page_has_each_piece_and_the_whole(office: Client, job: Job, pieces: int) -> None:
    for letter in "ABC"[:pieces]:
        factories.make_mark(factories.make_piece(job, letter), "cast", NOW - DAY)
    text = text_of(office.get("/office/jobs/217/"))
    assert "What may be done from when" in text
    assert text.count('data-label="Full use"') == (pieces + 1 if pieces > 1 else 1)
    assert ("The whole job" in text) == (pieces > 1)
    assert "counted at 73 °F" in text
