from __future__ import annotations

import datetime as dt
import re
from pathlib import Path
from typing import Any

import pytest
from django.contrib.staticfiles import finders
from django.test import Client
from django.urls import reverse
from icalendar import Calendar

from jobs.models import Job, Piece
from jobs.services.corrections import hold
from jobs.services.links import make_link, renew_link, revoke_link, token_of
from jobs.services.orders import call_off_job, close_job
from jobs.services.readiness import outlook_of, rebuild
from shop.models import Person
from tests.factories import NOW, make_job, make_mark, make_notice
from tests.jobs.office.conftest import PROMISE, text_of

DAY = dt.timedelta(days=1)


@pytest.fixture
def token(cast: Piece, job: Job) -> str:
    return token_of(make_link(job_id=job.pk, by=None))


def page(token: str) -> Any:
    return Client().get(reverse("customer-page", args=[token]))


def test_it_shows_the_told_day_in_plain_words_without_signing_in(token: str, job: Job) -> None:
    make_notice(job, PROMISE)
    answer = page(token)
    text = text_of(answer)
    assert answer.status_code == 200
    assert "Your kitchen island should be ready on" in text
    assert "Friday <span>10 April</span>" in text
    assert "such a day is kept more than 19 times in 20" in text
    assert "<b>Done:</b> cast." in text
    assert "<b>Next:</b> taking it out of its form." in text
    assert "16.1 ft², about 131 lb" in text
    assert reverse("customer-calendar", args=[token]) in text


def test_what_is_filled_of_a_piece_s_bar_is_what_is_done(token: str) -> None:
    """A customer reads the darker part as done, whatever the concrete's own colours mean here."""
    styles = Path(finders.find("css/customer.css")).read_text()

    def brightness(pattern: str) -> int:
        name = re.search(pattern, styles)
        assert name is not None
        value = re.search(rf"--{name[1]}: #([0-9a-f]{{6}})", styles)
        assert value is not None
        return sum(bytes.fromhex(value[1]))

    done = brightness(r"\.slab \.done { fill: var\(--(\w+)\)")
    to_do = brightness(r"\.slab {[^}]*background: var\(--(\w+)\)")
    assert done < to_do
    width = re.search(r'<rect class="done" width="(\d+)"', text_of(page(token)))
    assert width is not None
    assert 0 < int(width[1]) < 100  # cast, of some ten steps


def test_nothing_of_the_shops_own_is_on_it(token: str, job: Job, cast: Piece) -> None:
    by = Person.objects.filter(role="crew").get()
    hold(piece_id=cast.pk, by=by, reason="crack at the corner", client_key=job_key())
    make_notice(job, PROMISE, body="dear customer")
    text = text_of(page(token))
    for secret in [
        "5300",
        "pays late",
        "watch the corner",
        "crack",
        by.name,
        "/office/",
        "sign-in",
    ]:
        assert secret not in text
    assert "ada@example.com" not in text
    assert "555-0142" not in text


def job_key() -> Any:
    import uuid

    return uuid.uuid4()


def test_a_day_the_office_has_not_released_is_not_shown(token: str, job: Job) -> None:
    make_notice(job, PROMISE - 2 * DAY)
    text = text_of(page(token))
    assert "We are checking the day" in text
    assert "We told you Wednesday 8 April. We are checking this date and will be in touch." in text
    assert "10 April" not in text
    assert "Full use from" not in text


def test_before_any_notice_there_is_no_day_and_no_calendar(token: str) -> None:
    text = text_of(page(token))
    assert "The day is not set yet" in text
    assert "10 April" not in text
    assert Client().get(reverse("customer-calendar", args=[token])).status_code == 404


def test_it_follows_the_work(token: str, job: Job, cast: Piece) -> None:
    make_notice(job, PROMISE)
    rebuild()
    for step in outlook_of("217").pieces[0].steps[1:]:
        make_mark(cast, step.key)
    rebuild()
    text = text_of(page(token))
    assert "It is with you" in text
    assert "sealed, checked and crated, delivered and installed" in text
    assert "have ready on site" not in text


@pytest.mark.parametrize(
    ("end", "said"), [(close_job, "It is with you"), (call_off_job, "This order is called off")]
)
def test_a_job_that_ended_says_how(token: str, job: Job, end: Any, said: str) -> None:
    make_notice(job, PROMISE)
    end(job_id=job.pk)
    assert said in text_of(page(token))


def test_it_is_kept_out_of_indexes_caches_and_other_sites_logs(token: str) -> None:
    for address in (token, "x" * 43):
        answer = page(address)
        assert answer["X-Robots-Tag"] == "noindex, nofollow"
        assert answer["Cache-Control"] == "private, no-store"
        assert answer["Referrer-Policy"] == "no-referrer"
        assert "script-src 'self'" in answer["Content-Security-Policy"]
        assert not answer.cookies
    assert '<meta name="robots" content="noindex, nofollow">' in text_of(page(token))


def test_a_closed_link_and_one_that_never_was_answer_the_same(token: str, job: Job) -> None:
    never = page("A" * 43)
    revoke_link(job_id=job.pk)
    closed = page(token)
    assert (never.status_code, closed.status_code) == (404, 404)
    assert never.content == closed.content
    assert b"217" not in closed.content


def test_a_renewed_link_closes_the_old_one(token: str, job: Job, clerk: Person) -> None:
    new = token_of(renew_link(job_id=job.pk, by=clerk))
    assert page(token).status_code == 404
    assert page(new).status_code == 200


def test_no_other_job_is_reachable(token: str) -> None:
    other = make_job("218", PROMISE, title="Hearth")
    assert "Hearth" not in text_of(page(token))
    for guess in ["218", str(other.pk), token[:-1], token + "A", token.swapcase()]:
        assert page(guess).status_code == 404


@pytest.mark.parametrize(
    "path",
    ["x" * 20000, "%00", "%ff%fe", "..%2f..%2foffice", "%E2%80%AE", "a%0d%0aSet-Cookie:x=1", "'--"],
)
def test_odd_addresses_are_simply_not_here(path: str) -> None:
    answer = Client().get(f"/p/{path}/")
    assert answer.status_code == 404
    assert "Set-Cookie" not in answer.headers


def test_hostile_names_stay_words(token: str, job: Job) -> None:
    job.title = "<script>alert(1)</script>"
    job.site = '"><img src=x>'
    job.save()
    text = text_of(page(token))
    assert "<script>alert" not in text
    assert "<img" not in text


def test_the_calendar_link_serves_the_told_day(token: str, job: Job) -> None:
    make_notice(job, PROMISE, at=NOW - DAY)
    make_notice(job, PROMISE + 3 * DAY)
    answer = Client().get(reverse("customer-calendar", args=[token]))
    assert answer["Content-Type"].startswith("text/calendar")
    assert answer["Cache-Control"] == "private, no-store"
    event = calendar_entry(token)
    assert event["DTSTART"].dt == PROMISE + 3 * DAY
    assert event["SEQUENCE"] == 1


def calendar_entry(token: str) -> Any:
    answer = Client().get(reverse("customer-calendar", args=[token]))
    (event,) = Calendar.from_ical(answer.content).walk("VEVENT")
    return event


def test_the_calendar_entry_of_a_day_in_doubt_says_so_as_the_page_does(
    token: str, job: Job
) -> None:
    make_notice(job, PROMISE - 2 * DAY)
    assert "We are checking the day" in text_of(page(token))
    event = calendar_entry(token)
    assert event["SUMMARY"].startswith(f"{job.title} day being checked, ")
    assert (event["DTSTART"].dt, event["STATUS"]) == (PROMISE - 2 * DAY, "TENTATIVE")
    close_job(job_id=job.pk)
    assert "being checked" not in calendar_entry(token)["SUMMARY"]


def test_the_calendar_link_does_not_set_the_engine_to_work(
    token: str, job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    make_notice(job, PROMISE)
    rebuild()
    monkeypatch.setattr("jobs.services.readiness.load_facts", lambda *_, **__: pytest.fail("asked"))
    assert calendar_entry(token)["SUMMARY"].startswith(f"{job.title} ready, ")


def test_the_page_speaks_english_whoever_looks(token: str) -> None:
    spanish = Client(headers={"Accept-Language": "es"})
    answer = spanish.get(reverse("customer-page", args=[token]))
    assert "The day is not set yet" in text_of(answer)
