from __future__ import annotations

import datetime as dt
import smtplib
import threading
from typing import Any

import pytest
from django.core import mail as django_mail
from django.db import connection

from jobs.models import Mail
from jobs.services.errors import Refused
from jobs.services.mail import CLAIM_ENDS, RETRY_AFTER, queue_mail, retry_mail, send_waiting
from tests.conftest import Mailbox
from tests.factories import NOW, make_shop

CALENDAR = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nEND:VCALENDAR\r\n"
MINUTE = dt.timedelta(minutes=1)


def queued(**fields: Any) -> Mail:
    return queue_mail(
        **{"to": "nils@example.com", "subject": "Ready", "body": "On Friday.", "now": NOW, **fields}
    )


@pytest.mark.django_db
def test_a_waiting_mail_arrives_at_a_real_server_with_its_calendar(smtp: Mailbox) -> None:
    make_shop(name="Ferrow Bend Thin Concrete", reply_to="yard@example.com")
    mail = queued(calendar=CALENDAR)
    assert send_waiting(NOW) == 1
    (message,) = smtp.messages
    assert message["To"] == "nils@example.com"
    assert message["Reply-To"] == "yard@example.com"
    assert message["From"].startswith("Ferrow Bend Thin Concrete <")
    assert message["Message-ID"] == mail.message_id
    assert message.get_body().get_content().strip() == "On Friday."
    (part,) = message.iter_attachments()
    assert part.get_content_type() == "text/calendar"
    assert part.get_param("method") == "PUBLISH"
    assert part.get_filename() == "date.ics"
    assert part.get_payload(decode=True).decode() == CALENDAR
    mail.refresh_from_db()
    assert (mail.state, mail.sent_at, mail.tries) == ("sent", NOW, 1)


@pytest.mark.django_db
def test_what_is_sent_is_not_sent_again(smtp: Mailbox) -> None:
    queued()
    assert [send_waiting(NOW), send_waiting(NOW)] == [1, 0]
    assert len(smtp.messages) == 1


@pytest.mark.django_db
def test_a_server_that_refuses_for_now_is_asked_again_later_each_time(smtp: Mailbox) -> None:
    mail = queued()
    smtp.refusing = True
    now = NOW
    for tries, wait in enumerate(RETRY_AFTER, start=1):
        assert send_waiting(now) == 0
        mail.refresh_from_db()
        assert (mail.state, mail.tries, mail.try_after) == ("waiting", tries, now + wait)
        assert "451" in mail.last_error
        assert send_waiting(now + wait - MINUTE / 2) == 0
        mail.refresh_from_db()
        assert mail.tries == tries
        now += wait
    smtp.refusing = False
    assert send_waiting(now) == 1
    mail.refresh_from_db()
    assert (mail.state, mail.last_error) == ("sent", "")


@pytest.mark.django_db
def test_a_mail_that_never_gets_through_fails_with_its_reason_and_can_be_retried(
    smtp: Mailbox,
) -> None:
    mail = queued()
    smtp.refusing = True
    now = NOW
    for wait in [*RETRY_AFTER, MINUTE]:
        send_waiting(now)
        now += wait
    mail.refresh_from_db()
    assert mail.state == "failed"
    assert "Try again later" in mail.last_error
    assert send_waiting(now + dt.timedelta(days=3)) == 0
    smtp.refusing = False
    retry_mail(mail_id=mail.pk, now=now)
    assert send_waiting(now) == 1
    with pytest.raises(Refused):
        retry_mail(mail_id=mail.pk, now=now)


@pytest.mark.django_db
def test_a_server_out_of_reach_keeps_the_mail_waiting(settings: Any) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 1
    mail = queued()
    assert send_waiting(NOW) == 0
    mail.refresh_from_db()
    assert mail.state == "waiting"
    assert "could not be reached" in mail.last_error


@pytest.mark.django_db
def test_an_address_the_server_does_not_know_fails_at_once(monkeypatch: Any) -> None:
    def refuse(self: Any, fail_silently: bool = False) -> int:
        raise smtplib.SMTPRecipientsRefused({"nils@example.com": (550, b"No such user")})

    monkeypatch.setattr(django_mail.EmailMessage, "send", refuse)
    mail = queued()
    assert send_waiting(NOW) == 0
    mail.refresh_from_db()
    assert (mail.state, mail.tries) == ("failed", 1)
    assert "550 No such user" in mail.last_error


@pytest.mark.django_db
def test_what_a_dead_worker_claimed_is_taken_over(smtp: Mailbox) -> None:
    mail = queued()
    Mail.objects.filter(pk=mail.pk).update(state="sending", claimed_at=NOW, tries=1)
    assert send_waiting(NOW + CLAIM_ENDS - MINUTE) == 0
    assert send_waiting(NOW + CLAIM_ENDS) == 1


@pytest.mark.django_db
def test_a_worker_that_lost_its_claim_does_not_settle_it(monkeypatch: Any) -> None:
    mail = queued()

    def taken_over(self: Any, fail_silently: bool = False) -> int:
        Mail.objects.filter(pk=mail.pk).update(tries=2)
        raise ConnectionError("gone")

    monkeypatch.setattr(django_mail.EmailMessage, "send", taken_over)
    send_waiting(NOW)
    mail.refresh_from_db()
    assert (mail.state, mail.tries, mail.last_error) == ("sending", 2, "")


@pytest.mark.django_db
def test_a_mail_that_kills_its_workers_fails_in_the_end() -> None:
    mail = queued()
    Mail.objects.filter(pk=mail.pk).update(
        state="sending", claimed_at=NOW - CLAIM_ENDS, tries=len(RETRY_AFTER) + 1
    )
    assert send_waiting(NOW) == 0
    mail.refresh_from_db()
    assert mail.state == "failed"


@pytest.mark.django_db
def test_the_same_cause_is_mailed_once() -> None:
    first = queued(once_key="turn:1:7s")
    again = queued(once_key="turn:1:7s", subject="Other")
    assert (again.pk, again.subject) == (first.pk, "Ready")
    assert queued().pk != queued().pk


@pytest.mark.django_db
@pytest.mark.parametrize(
    "to",
    ["", "nils", "nils@example.com\r\nBcc: all@example.com", "a@example.com, b@example.com"],
)
def test_what_is_no_single_address_is_refused(to: str) -> None:
    with pytest.raises(Refused):
        queued(to=to)
    assert not Mail.objects.exists()


@pytest.mark.django_db
def test_no_name_or_subject_writes_a_header_of_its_own(smtp: Mailbox) -> None:
    make_shop(name="Shop\r\nBcc: all@example.com", reply_to="yard@example.com")
    queued(subject="Ready\r\nBcc: all@example.com\u202e \x00מוכן")
    assert send_waiting(NOW) == 1
    (message,) = smtp.messages
    assert message["Bcc"] is None
    assert message["Subject"] == "Ready Bcc: all@example.com מוכן"
    assert message["From"].addresses[0].addr_spec == "shop@example.com"


@pytest.fixture
def slow_sender(monkeypatch: Any) -> list[str]:
    """Sends into a list, and lets workers meet in the middle of it."""
    sent: list[str] = []
    meet = threading.Barrier(2)

    def send(self: Any, fail_silently: bool = False) -> int:
        meet.wait(timeout=20)
        sent.append(self.subject)
        return 1

    monkeypatch.setattr(django_mail.EmailMessage, "send", send)
    return sent


@pytest.mark.django_db(transaction=True)
def test_two_workers_at_once_send_each_mail_once(slow_sender: list[str]) -> None:
    make_shop()
    for number in range(6):
        queued(subject=f"Mail {number}")

    def work() -> None:
        send_waiting(NOW)
        connection.close()

    workers = [threading.Thread(target=work) for _ in range(2)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join(timeout=30)
    assert sorted(slow_sender) == [f"Mail {number}" for number in range(6)]
    assert set(Mail.objects.values_list("state", "tries")) == {("sent", 1)}
