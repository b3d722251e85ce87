from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

import pytest
from icalendar import Calendar

from jobs.models import Job, Mail, Notice, Piece
from jobs.services import telling
from jobs.services.errors import Conflict, Refused
from jobs.services.links import open_address, revoke_link
from jobs.services.mail import send_waiting
from jobs.services.orders import close_job
from jobs.services.outlook import JobOutlook
from jobs.services.readiness import outlook_of
from shop.models import Change, Person, Role
from tests.conftest import Mailbox
from tests.factories import (
    DAY,
    HOUR,
    NOW,
    make_customer,
    make_job,
    make_mark,
    make_person,
    make_piece,
    make_shop,
    make_working_week,
)

pytestmark = pytest.mark.django_db
PROMISE = dt.date(2026, 4, 10)


@pytest.fixture(autouse=True)
def _shop(db: None) -> None:
    make_shop(name="Ferrow Bend Thin Concrete", phone="(555) 555-0100")
    make_working_week()


@pytest.fixture
def clerk() -> Person:
    return make_person(Role.OFFICE)


@pytest.fixture
def piece() -> Piece:
    customer = make_customer("Ada Fenwick-Lowe", email="ada@example.com")
    job = make_job("217", PROMISE, customer=customer, site="4 Quay Lane")
    piece = make_piece(job, "A")
    make_mark(piece, "cast", NOW - 20 * HOUR)
    return piece


@pytest.fixture
def job(piece: Piece) -> Job:
    return piece.job


def outlook() -> JobOutlook:
    found = outlook_of("217", NOW)
    assert found is not None
    return found


def tell(job: Job, by: Person, **fields: Any) -> Notice:
    values: dict[str, Any] = {
        "means": "email",
        "told_on": PROMISE,
        "to": "ada@example.com",
        "subject": "Ready",
        "body": "It is ready on Friday 10 April.",
        "client_key": uuid.uuid4(),
        "now": NOW,
    }
    return telling.tell(job_id=job.pk, by=by, **values | fields)


def test_an_email_is_written_with_its_notice_and_goes_out_with_the_day(
    job: Job, clerk: Person, smtp: Mailbox
) -> None:
    notice = tell(job, clerk)
    assert notice.mail.state == "waiting"
    assert Change.objects.exists()
    assert send_waiting(NOW) == 1
    (message,) = smtp.messages
    assert message["To"] == "ada@example.com"
    (part,) = message.iter_attachments()
    (event,) = Calendar.from_ical(part.get_payload(decode=True)).walk("VEVENT")
    assert event["DTSTART"].dt == PROMISE
    assert event["DTEND"].dt == PROMISE + DAY
    assert telling.told_notice(job) == notice


def test_sending_twice_with_one_key_tells_once(job: Job, clerk: Person) -> None:
    key = uuid.uuid4()
    first, again = (tell(job, clerk, client_key=key) for _ in range(2))
    assert first == again
    assert (Notice.objects.count(), Mail.objects.count()) == (1, 1)


def test_a_second_press_after_the_job_was_closed_still_finds_the_first(
    job: Job, clerk: Person
) -> None:
    key = uuid.uuid4()
    first = tell(job, clerk, client_key=key)
    close_job(job_id=job.pk)
    assert tell(job, clerk, client_key=key) == first


def test_each_notice_moves_the_same_calendar_entry(job: Job, clerk: Person) -> None:
    entries = []
    for days in range(3):
        notice = tell(job, clerk, told_on=PROMISE + days * DAY)
        (event,) = Calendar.from_ical(notice.mail.calendar).walk("VEVENT")
        entries.append((str(event["UID"]), int(event["SEQUENCE"])))
    assert len({uid for uid, _ in entries}) == 1
    assert [sequence for _, sequence in entries] == [0, 1, 2]


@pytest.mark.parametrize("means", ["text", "call", "letter"])
def test_other_means_are_recorded_without_a_mail(job: Job, clerk: Person, means: str) -> None:
    notice = tell(job, clerk, means=means, to="(555) 555-0142", subject="")
    assert notice.mail is None
    assert not Mail.objects.exists()
    assert telling.told_notice(job) == notice


def test_the_told_day_becomes_the_promise_if_wished(job: Job, clerk: Person) -> None:
    tell(job, clerk, told_on=PROMISE + 3 * DAY, promise_too=True, version=job.version)
    job.refresh_from_db()
    assert (job.promised_on, job.version) == (PROMISE + 3 * DAY, 2)


def test_the_promise_stays_if_not_wished(job: Job, clerk: Person) -> None:
    tell(job, clerk, told_on=PROMISE + 3 * DAY)
    job.refresh_from_db()
    assert (job.promised_on, job.version) == (PROMISE, 1)


def test_a_promise_somebody_else_moved_meanwhile_is_not_overwritten(
    job: Job, clerk: Person
) -> None:
    Job.objects.filter(pk=job.pk).update(version=2, promised_on=PROMISE + DAY)
    with pytest.raises(Conflict, match="now: Sat 11 Apr") as caught:
        tell(job, clerk, told_on=PROMISE + 3 * DAY, promise_too=True, version=1)
    assert caught.value.version == 2
    assert not Notice.objects.exists()
    assert not Mail.objects.exists()


def test_a_day_the_concrete_does_not_keep_is_refused_with_the_one_it_does(
    job: Job, clerk: Person
) -> None:
    with pytest.raises(
        Refused, match=r"does not hold \(.* to keep it\): the first day that does is"
    ) as caught:
        tell(job, clerk, told_on=NOW.date())
    assert caught.value.field == "anyway"
    assert "Wednesday 18 March" in caught.value.message
    assert tell(job, clerk, told_on=NOW.date(), anyway=True).told_on == NOW.date()


def test_a_job_without_pieces_has_no_day_to_stand_behind(clerk: Person) -> None:
    with pytest.raises(Refused, match="no pieces"):
        tell(make_job("300", PROMISE), clerk)


@pytest.mark.parametrize(
    ("day", "said"), [(NOW.date() - DAY, "has passed"), (dt.date(2029, 1, 1), "two years ahead")]
)
def test_days_nobody_means_are_refused(job: Job, clerk: Person, day: dt.date, said: str) -> None:
    with pytest.raises(Refused, match=said):
        tell(job, clerk, told_on=day, anyway=True)


@pytest.mark.parametrize("fields", [{"closed_at": NOW}, {"called_off": True}])
def test_a_job_that_is_not_open_has_no_day_to_tell(
    job: Job, clerk: Person, fields: dict[str, Any]
) -> None:
    Job.objects.filter(pk=job.pk).update(**fields)
    with pytest.raises(Refused, match="no longer open"):
        tell(job, clerk)


def test_an_address_that_is_none_leaves_no_notice(job: Job, clerk: Person) -> None:
    with pytest.raises(Refused):
        tell(job, clerk, to="ada@example.com\r\nBcc: all@example.com")
    assert not Notice.objects.exists()


def test_hostile_names_stay_words_in_mail_and_calendar(
    job: Job, clerk: Person, smtp: Mailbox
) -> None:
    job.title = "מטבח\r\nBcc: all@example.com\r\nATTACH:http://example.com/x"
    job.site = "4 Quay Lane;\nX-EVIL:1"
    job.save()
    job.customer.name = "عائشة\r\nBcc: all@example.com"
    job.customer.save()
    draft = telling.notice_draft(
        job=job, outlook=outlook(), means="email", told_on=PROMISE, by=clerk, now=NOW
    )
    assert "\n" not in draft.subject
    tell(job, clerk, subject=draft.subject, body=draft.body)
    assert send_waiting(NOW) == 1
    (message,) = smtp.messages
    assert message["Bcc"] is None
    assert "מטבח" in message["Subject"]
    assert "عائشة" in message.get_body().get_content()
    (part,) = message.iter_attachments()
    (event,) = Calendar.from_ical(part.get_payload(decode=True)).walk("VEVENT")
    assert event.get("ATTACH") is None
    assert event.get("X-EVIL") is None
    assert event["LOCATION"] == "4 Quay Lane; X-EVIL:1"


def test_the_prefilled_mail_says_day_sureness_site_and_link(job: Job, clerk: Person) -> None:
    draft = telling.notice_draft(
        job=job, outlook=outlook(), means="email", told_on=PROMISE, by=clerk, now=NOW
    )
    assert draft.subject == "Kitchen island: ready Friday 10 April"
    assert "Your kitchen island (job 217) should be ready on Friday 10 April." in draft.body
    assert "such a day is kept more than 19 times in 20" in draft.body
    assert "ready on site" in draft.body
    assert "131 lb" in draft.body  # 1.5 m² × 19 mm × 2080 kg/m³ = 59.3 kg
    assert open_address(job) in draft.body
    assert draft.body.endswith("(555) 555-0100")


def test_a_moved_day_is_told_with_the_one_before(job: Job, clerk: Person) -> None:
    tell(job, clerk)
    later, sooner = (
        telling.notice_draft(
            job=job, outlook=outlook(), means="email", told_on=day, by=clerk, now=NOW
        )
        for day in (PROMISE + 3 * DAY, PROMISE - DAY)
    )
    assert "We told you Friday 10 April" in later.body
    assert "we are sorry. It should be ready on Monday 13 April." in later.body
    assert "sooner than we told you, on Thursday 9 April" in sooner.body


def test_a_page_that_was_closed_stays_closed(job: Job, clerk: Person) -> None:
    words = {"job": job, "outlook": outlook(), "means": "text", "by": clerk, "now": NOW}
    assert "/p/" in telling.notice_draft(told_on=PROMISE, **words).body
    revoke_link(job_id=job.pk)
    assert "/p/" not in telling.notice_draft(told_on=PROMISE, **words).body
    assert open_address(job) == ""


@pytest.mark.parametrize("title", ["Island", "Kitchen counters with a very long name " * 2])
def test_a_phone_message_fits_one_message_and_names_the_day(
    job: Job, clerk: Person, title: str
) -> None:
    job.title = title[:80]
    draft = telling.notice_draft(
        job=job, outlook=outlook(), means="text", told_on=PROMISE, by=clerk, now=NOW
    )
    assert len(draft.body) <= 160
    assert "Fri 10 Apr" in draft.body
    assert "/p/" in draft.body
