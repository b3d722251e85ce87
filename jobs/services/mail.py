"""E-mail that must go out: a row written with its cause, claimed by one worker, tried until sent.

waiting → sending → sent, or back to waiting for the next try, or failed when tries run out. A
claim that is not settled within minutes belonged to a worker that died, and is taken over.
"""

from __future__ import annotations

import datetime as dt
import logging
import smtplib
import unicodedata
from email.mime.text import MIMEText
from email.utils import formataddr, make_msgid, parseaddr

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.mail import EmailMessage
from django.core.validators import validate_email
from django.db.models import F, Q, QuerySet
from django.utils import timezone

from jobs.models import Mail
from jobs.services.errors import Refused
from shop.models import Shop
from shop.services.changed import nudge_after_commit
from shop.services.settings import the_shop

log = logging.getLogger("curewright.mail")

RETRY_AFTER = [dt.timedelta(minutes=minutes) for minutes in (1, 5, 20, 60, 240)]
CLAIM_ENDS = dt.timedelta(minutes=5)  # well beyond the time a mail server may take
AT_ONCE = 40  # so that one run ends and the queue gets its turn


def queue_mail(
    *,
    to: str,
    subject: str,
    body: str,
    calendar: str = "",
    once_key: str | None = None,
    now: dt.datetime,
) -> Mail:
    """Write the order to send. With a `once_key` seen before, the first mail is returned."""
    values = {
        "to": checked_address(to),
        "subject": one_line(subject)[:200],
        "body": body,
        "calendar": calendar,
        "try_after": now,
        "message_id": make_msgid(domain=_own_domain()),
    }
    if once_key is None:
        return Mail.objects.create(**values)
    return Mail.objects.get_or_create(once_key=once_key, defaults=values)[0]


def checked_address(address: str) -> str:
    try:
        validate_email(address)
    except ValidationError as error:
        raise Refused(f"{address!r} is not an e-mail address.", field="to") from error
    return address


def one_line(text: str) -> str:
    """Fit for a header: no line ends, no control characters, none that turn the reading order."""
    spaced = " ".join(text.split())
    return "".join(char for char in spaced if unicodedata.category(char) not in {"Cc", "Cf"})


def _own_domain() -> str:
    return parseaddr(settings.DEFAULT_FROM_EMAIL)[1].partition("@")[2] or "localhost"


def send_waiting(now: dt.datetime | None = None) -> int:
    """Try what is due, and return how many were sent. Any number of workers may run this."""
    sent = 0
    for _ in range(AT_ONCE):
        mail = _claim(now or timezone.now())
        if mail is None:
            break
        sent += _try(mail, now or timezone.now())
    return sent


def _due(now: dt.datetime) -> QuerySet[Mail]:
    return Mail.objects.filter(
        Q(state=Mail.State.WAITING, try_after__lte=now)
        | Q(state=Mail.State.SENDING, claimed_at__lte=now - CLAIM_ENDS)
    )


def _claim(now: dt.datetime) -> Mail | None:
    """The filtered update is the claim: of two workers only one changes the row."""
    for pk in _due(now).order_by("try_after", "pk").values_list("pk", flat=True)[:AT_ONCE]:
        claimed = _due(now).filter(pk=pk)
        if claimed.update(state=Mail.State.SENDING, claimed_at=now, tries=F("tries") + 1):
            return Mail.objects.get(pk=pk)
    return None


def _try(mail: Mail, now: dt.datetime) -> bool:
    if mail.tries > len(RETRY_AFTER) + 1:  # it took its workers down with it
        _settle(mail, state=Mail.State.FAILED, last_error="Sending it was cut off each time.")
        return False
    try:
        message_of(mail, the_shop()).send()
    except (OSError, smtplib.SMTPException, ValueError) as error:
        _after_failure(mail, error, now)
        return False
    _settle(mail, state=Mail.State.SENT, sent_at=now, last_error="")
    return True


def _after_failure(mail: Mail, error: Exception, now: dt.datetime) -> None:
    reason = _words(error)[:300]
    if hopeless(error) or mail.tries > len(RETRY_AFTER):
        log.warning("Mail %s failed for good: %s", mail.pk, reason)
        _settle(mail, state=Mail.State.FAILED, last_error=reason)
        return
    try_after = now + RETRY_AFTER[mail.tries - 1]
    _settle(mail, state=Mail.State.WAITING, try_after=try_after, last_error=reason)


def _settle(mail: Mail, **fields: object) -> None:
    """Only the claim this worker holds: one that was taken over is another's to settle."""
    held = Mail.objects.filter(pk=mail.pk, state=Mail.State.SENDING, tries=mail.tries)
    held.update(claimed_at=None, **fields)


def hopeless(error: Exception) -> bool:
    """The server knows this will never work (5xx), as against not now (4xx) or out of reach."""
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        return all(code >= 500 for code, _ in error.recipients.values())
    if isinstance(error, smtplib.SMTPDataError):
        return error.smtp_code >= 500
    return isinstance(error, ValueError)  # a header that cannot be written


def _words(error: Exception) -> str:
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        code, text = next(iter(error.recipients.values()))
        return f"The mail server refused the address: {code} {_text(text)}"
    if isinstance(error, smtplib.SMTPResponseException):
        return f"The mail server answered {error.smtp_code} {_text(error.smtp_error)}"
    if isinstance(error, OSError):
        return f"The mail server could not be reached: {error.strerror or error}"
    return one_line(str(error)) or type(error).__name__


def _text(answer: bytes | str) -> str:
    return one_line(answer.decode("utf-8", "replace") if isinstance(answer, bytes) else answer)


def message_of(mail: Mail, shop: Shop) -> EmailMessage:
    address = parseaddr(settings.DEFAULT_FROM_EMAIL)[1]
    message = EmailMessage(
        subject=mail.subject,
        body=mail.body,
        from_email=formataddr((one_line(shop.name), address)),
        to=[mail.to],
        reply_to=[shop.reply_to] if shop.reply_to else None,
        headers={"Message-ID": mail.message_id},
    )
    if mail.calendar:
        message.attach(calendar_part(mail.calendar))
    return message


def calendar_part(calendar: str) -> MIMEText:
    part = MIMEText(calendar, "calendar", "utf-8")
    part.set_param("method", "PUBLISH")
    part.add_header("Content-Disposition", "attachment", filename="date.ics")
    return part


def retry_mail(*, mail_id: int, now: dt.datetime | None = None) -> Mail:
    """Start over with a mail that failed."""
    failed = Mail.objects.filter(pk=mail_id, state=Mail.State.FAILED)
    if not failed.update(state=Mail.State.WAITING, tries=0, try_after=now or timezone.now()):
        raise Refused("This mail is not one that failed; it may have gone out meanwhile.")
    nudge_after_commit("jobs.tasks.send_mail")
    return Mail.objects.get(pk=mail_id)
