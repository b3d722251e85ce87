from __future__ import annotations

import datetime as dt
import io
import re
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from jobs.models import CustomerLink, Job, Mail, Notice, Piece
from jobs.services.orders import close_job
from tests.factories import NOW, make_notice, make_piece
from tests.jobs.office.conftest import PROMISE, text_of

DAY = dt.timedelta(days=1)
LATER = PROMISE + 3 * DAY
SWAP = {"HX-Request": "true"}


@pytest.fixture
def address(cast: Piece) -> str:
    return reverse("tell", args=["217"])


def form_of(answer: Any) -> dict[str, str]:
    """What a browser would send back of the form, unchanged."""
    form = answer.context["form"]
    fields = {name: form[name].value() for name in form.fields}
    return {name: str(value) for name, value in fields.items() if value not in (None, False)}


def carried(answer: Any) -> dict[str, str]:
    """What the preview carries along unseen."""
    hidden = r'<input type="hidden" name="([^"]+)" value="([^"]*)">'
    found = re.findall(hidden, answer.content.decode())
    return {name: unescape(value) for name, value in found if name != "csrfmiddlewaretoken"}


def test_the_day_that_holds_is_filled_in(office: Client, address: str, job: Job) -> None:
    make_notice(job, PROMISE - DAY)
    fields = form_of(office.get(address))
    assert fields["told_on"] == str(PROMISE)
    assert fields["to"] == "ada@example.com"
    assert "Friday 10 April" in fields["body"]
    assert "promise_too" not in fields


def test_a_promise_that_no_longer_holds_is_to_move_along(
    office: Client, address: str, job: Job
) -> None:
    Job.objects.filter(pk=job.pk).update(promised_on=NOW.date())
    fields = form_of(office.get(address))
    assert dt.date.fromisoformat(fields["told_on"]) > NOW.date()
    assert fields["promise_too"] == "True"


def test_two_deliveries_are_offered_with_both_days_and_the_text_follows(
    office: Client, address: str, job: Job
) -> None:
    Piece.objects.filter(code="217-A").update(name="Island top")
    make_piece(job, letter="B", name="Sink run")
    rest = PROMISE + 4 * DAY  # a Tuesday
    answer = office.get(address, {"first": "217-A", "rest_on": str(rest)})
    fields = form_of(answer)
    assert fields["told_on"] == str(rest)
    assert fields["promise_too"] == "True"
    offer = (
        "island top (217-A) could come on Friday 10 April, and sink run (217-B) on Tuesday 14 April"
    )
    assert offer in fields["body"]
    # Another day: what was promised for the first part stays, the rest follows.
    fields |= {"told_on": str(rest + DAY), "step": "redraw"}
    again = form_of(office.post(address, fields, headers=SWAP))["body"]
    assert "(217-A) could come on Friday 10 April" in again
    assert "(217-B) on Wednesday 15 April" in again
    fields |= {"step": "as-text"}
    short = form_of(office.post(address, fields, headers=SWAP))["body"]
    assert len(short) <= 160
    assert "in two deliveries: 217-A Fri 10 Apr, the rest Wed 15 Apr" in short


@pytest.mark.parametrize("first", ["217-A,217-B", "999-A", "", "<b>"])
def test_what_is_no_part_of_the_job_is_no_delivery_of_its_own(
    office: Client, address: str, job: Job, first: str
) -> None:
    make_piece(job, letter="B", name="Sink run")
    fields = form_of(office.get(address, {"first": first, "rest_on": "soon"}))
    assert "could come" not in fields["body"]


def test_looking_sends_nothing_and_shows_what_will_arrive(office: Client, address: str) -> None:
    answer = office.post(address, form_of(office.get(address)) | {"step": "preview"})
    text = text_of(answer)
    assert "Friday 10 April" in text
    assert "Kitchen island: ready Friday 10 April" in text
    assert "date.ics" in text
    assert not Notice.objects.exists()
    assert not Mail.objects.exists()


def test_going_back_from_the_preview_loses_nothing(office: Client, address: str) -> None:
    typed = form_of(office.get(address)) | {
        "body": 'Ours on Fri 10 Apr.\r\n\r\n"Bye" <b>',
        "step": "",
    }
    preview = office.post(address, typed)
    back = form_of(office.post(address, carried(preview) | {"step": "edit"}))
    del typed["step"]
    assert back == typed


def test_sending_from_the_preview_tells_and_returns_to_the_job(
    office: Client, address: str, job: Job
) -> None:
    preview = office.post(address, form_of(office.get(address)))
    sent = carried(preview) | {"step": "send"}
    answer = office.post(address, sent, follow=True)
    assert "The e-mail to ada@example.com is on its way." in text_of(answer)
    assert "on its way" in text_of(answer)
    office.post(address, sent)
    notice = Notice.objects.get()
    assert (notice.told_on, notice.means, notice.mail.to) == (PROMISE, "email", "ada@example.com")


def test_another_day_draws_the_text_anew(office: Client, address: str) -> None:
    fields = form_of(office.get(address)) | {"told_on": str(LATER), "step": "redraw"}
    answer = office.post(address, fields, headers=SWAP)
    assert text_of(answer).startswith('<form id="tell"')
    drawn = form_of(answer)
    assert "Monday 13 April" in drawn["body"]
    assert "Friday 10 April" not in drawn["body"]
    assert drawn["subject"].endswith("Monday 13 April")
    assert drawn["promise_too"] == "True"


def test_a_text_that_somebody_wrote_is_never_drawn_over(office: Client, address: str) -> None:
    fields = form_of(office.get(address)) | {"body": "My own words.", "told_on": str(LATER)}
    for step in ("redraw", "as-text", "as-letter"):
        assert form_of(office.post(address, fields | {"step": step}))["body"] == "My own words."


def test_other_means_bring_their_own_text_and_address(office: Client, address: str) -> None:
    fields = form_of(office.get(address))
    message = form_of(office.post(address, fields | {"step": "as-text"}))
    assert message["to"] == "(555) 555-0142"
    assert len(message["body"]) <= 160
    assert "subject" not in message
    mail = form_of(office.post(address, message | {"step": "as-email"}))
    assert {name: mail[name] for name in ("to", "subject", "body")} == {
        name: fields[name] for name in ("to", "subject", "body")
    }


def test_a_text_that_does_not_name_the_day_is_pointed_out(office: Client, address: str) -> None:
    fields = form_of(office.get(address)) | {"told_on": str(LATER)}
    assert "does not name Monday 13 April" in text_of(office.post(address, fields))
    fields |= {"body": "On Monday 13 April."}
    assert "does not name" not in text_of(office.post(address, fields))


def test_a_day_that_does_not_hold_asks_for_a_tick(office: Client, address: str, job: Job) -> None:
    fields = form_of(office.get(address)) | {"told_on": str(NOW.date()), "body": "Today, 18 March"}
    preview = office.post(address, fields)
    assert (
        "does not hold (less than 1 in 20 to keep it): the first day that does is Friday 10 April"
        in text_of(preview)
    )
    sent = carried(preview) | {"step": "send"}
    refused = office.post(address, sent)
    assert refused.status_code == 422
    assert carried(refused)["body"] == "Today, 18 March"
    assert not Notice.objects.exists()
    assert office.post(address, sent | {"anyway": "on"}).status_code == 302
    assert Notice.objects.get().told_on == NOW.date()


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("to", "nobody", "Write an e-mail address like office@example.com."),
        (
            "to",
            "a@example.com\r\nBcc: b@example.com",
            "Write an e-mail address like office@example.com.",
        ),
        ("to", "", "Fill this in: nothing is written here yet."),
        ("subject", "", "Fill this in: nothing is written here yet."),
        ("body", "", "Fill this in: nothing is written here yet."),
        ("body", "x" * 4001, "At most 4000 characters"),
        ("told_on", "", "Give a date."),
        ("told_on", "31/02/2026", "Write a date like 2026-03-31."),
        ("told_on", "2026-03-17", "This day has passed."),
    ],
)
def test_what_is_wrong_is_said_and_everything_typed_stays(
    office: Client, address: str, field: str, value: str, said: str
) -> None:
    fields = form_of(office.get(address)) | {field: value, "anyway": "on", "step": "send"}
    answer = office.post(address, fields)
    assert answer.status_code == 422
    assert said in text_of(answer)
    kept = "subject" if field != "subject" else "to"
    assert answer.context["form"][kept].value() == fields[kept]
    assert not Notice.objects.exists()


def test_a_promise_moved_by_another_is_told_and_nothing_is_lost(
    office: Client, address: str, job: Job
) -> None:
    fields = form_of(office.get(address)) | {
        "told_on": str(LATER), "body": "On 13 April.", "promise_too": "on", "step": "send",
    }  # fmt: skip
    Job.objects.filter(pk=job.pk).update(promised_on=PROMISE + DAY, version=2)
    answer = office.post(address, fields)
    assert answer.status_code == 409
    assert "Its promise is now: Sat 11 Apr" in text_of(answer)
    again = form_of(answer) | {"step": "send"}
    assert (again["body"], again["job_version"]) == ("On 13 April.", "2")
    assert office.post(address, again).status_code == 302
    job.refresh_from_db()
    assert job.promised_on == LATER


@pytest.mark.parametrize(
    "junk", [{}, {"client_key": "x"}, {"means": "pigeon"}, {"told_on": "\x00"}, {"job_version": ""}]
)
def test_a_broken_form_is_answered(office: Client, address: str, junk: dict[str, str]) -> None:
    for step in ("preview", "send", "redraw", "edit", "as-call", "nonsense"):
        assert office.post(address, {**junk, "step": step}).status_code in {200, 422}
    assert not Notice.objects.exists()


def test_a_closed_job_leads_back_to_its_page(office: Client, address: str, job: Job) -> None:
    close_job(job_id=job.pk)
    assert office.get(address)["Location"] == reverse("job", args=["217"])


def pdf_text(answer: Any) -> str:
    assert answer["Content-Type"] == "application/pdf"
    return " ".join(PdfReader(io.BytesIO(answer.content)).pages[0].extract_text().split())


def test_the_letter_of_a_job_carries_the_told_day(office: Client, cast: Piece, job: Job) -> None:
    assert "Friday 10 April" in pdf_text(office.get(reverse("job-letter", args=["217"])))
    make_notice(job, LATER)
    assert "Monday 13 April" in pdf_text(office.get(reverse("job-letter", args=["217"])))


def test_a_told_day_that_no_longer_holds_is_not_put_on_paper(
    office: Client, cast: Piece, job: Job
) -> None:
    make_notice(job, job.taken_on)  # long before the concrete can be ready
    answer = office.get(reverse("job-letter", args=["217"]), follow=True)

    assert answer.redirect_chain[-1][0] == reverse("tell", args=["217"])
    assert "which was told, no longer holds" in text_of(answer)


def test_a_letter_can_be_seen_before_it_is_recorded(office: Client, address: str) -> None:
    fields = form_of(office.get(address, {"means": "letter"})) | {"body": "Our own words."}
    assert "See the letter" in text_of(office.post(address, fields))
    text = pdf_text(office.post(reverse("draft-letter", args=["217"]), fields))
    assert "Our own words." in text
    assert not Notice.objects.exists()
    office.post(address, fields | {"step": "send", "anyway": "on"})
    letter = reverse("notice-letter", args=[Notice.objects.get().pk])
    assert letter in text_of(office.get(reverse("job", args=["217"])))
    assert "Our own words." in pdf_text(office.get(letter))


def test_without_a_day_there_is_no_letter(office: Client, job: Job) -> None:
    answer = office.get(reverse("job-letter", args=["217"]), follow=True)
    assert "No day holds yet" in text_of(answer)


def test_the_customers_link_is_made_renewed_and_closed(office: Client, job: Job) -> None:
    page = reverse("job", args=["217"])
    assert "/p/" not in text_of(office.get(page))
    office.post(reverse("make-link", args=["217"]))
    first = office.get(page).context["address"]
    assert first in text_of(office.get(page))
    office.post(reverse("renew-link", args=["217"]))
    assert office.get(page).context["address"] not in {"", first}
    office.post(reverse("close-link", args=["217"]))
    assert office.get(page).context["address"] == ""
    assert CustomerLink.objects.filter(revoked_at=None).count() == 0
