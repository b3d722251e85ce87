from __future__ import annotations

from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from jobs.models import Mark
from tests.factories import (
    DAY,
    HOUR,
    NOW,
    make_job,
    make_mark,
    make_piece,
    make_readings,
    make_room,
)


def test_it_shows_route_age_strength_and_air(hand, crew, cured):
    make_readings(make_room(), NOW - 3 * DAY, 72, 20.0, humidity=0.55)
    text = hand(crew).page(cured).content.decode()
    assert "Now: demold and flip" in text
    assert "48 h at 68 °F" in text
    assert "about 5,150 psi" in text  # 9000·k·42/(1 + k·42), k = 0.0322
    assert "The curve is a placeholder" in text
    assert "68 °F, 55% humidity" in text
    assert "✓ Mon 16 Mar 09:00, Ben Carrow" in text


def test_it_shows_no_customer_and_no_price(hand, crew):
    job = make_job("301", site="4 Quarry Lane", price=9876)
    text = hand(crew).page(make_piece(job, "A")).content.decode()
    assert "4 Quarry Lane" in text
    for secret in (job.customer.name, job.customer.email, job.customer.phone, "9876", "9,876"):
        assert secret not in text


def test_the_floor_shows_no_customer_either(hand, crew, cured):
    text = hand(crew).floor().content.decode()
    assert cured.job.customer.name not in text
    assert cured.job.customer.phone not in text


def test_a_small_letter_leads_to_the_code(hand, crew, cured):
    answer = hand(crew).client.get(reverse("piece", args=["217-b"]))
    assert answer["Location"] == reverse("piece", args=["217-B"])


def test_a_code_nobody_gave_is_not_here(hand, crew):
    assert hand(crew).client.get(reverse("piece", args=["1-ZZ"])).status_code == 404


def test_a_room_without_readings_says_so(hand, crew, cured):
    text = hand(crew).page(cured).content.decode()
    assert "no readings" in text
    assert "Readings have stopped" in text


def test_a_closed_job_is_read_only(hand, crew, cured):
    cured.job.closed_at = NOW
    cured.job.save()
    text = hand(crew).page(cured).content.decode()
    assert "This job is closed." in text
    assert "Mark demolded" not in text


def test_an_early_mark_keeps_its_reason_in_sight(hand, crew, green):
    hand(crew).mark(green, "demold", reason="Form was leaking")
    text = hand(crew).page(green).content.decode()
    assert "before its time" in text
    assert "Form was leaking" in text


def test_a_piece_with_many_marks_takes_as_many_queries(hand, crew, cured):
    ben, counts = hand(crew), []
    for _ in range(2):
        with CaptureQueriesContext(connection) as queries:
            ben.page(cured)
        counts.append(len(queries))
        # Held and released again and again: what may be done next stays the same.
        for back in range(4):
            for kind in (Mark.Kind.HOLD, Mark.Kind.RELEASE):
                make_mark(cured, "", NOW - (9 - back) * HOUR, by=crew, kind=kind)
    assert counts[0] == counts[1]
