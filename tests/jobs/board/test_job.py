"""A job opened: its pieces, and what each waits for."""

from __future__ import annotations

import datetime as dt

import pytest

from tests import factories
from tests.factories import DAY, NOW
from tests.jobs.board.conftest import signed_in, week


@pytest.fixture
def cast(piece, crew):
    factories.make_mark(piece, "cast", NOW - DAY, by=crew)
    return piece


def page(client, number: str = "217") -> str:
    return client.get(f"/board/jobs/{number}/").content.decode()


def test_every_step_tells_when_and_why(as_owner, cast) -> None:
    shown = page(as_owner)

    assert "Ben Carrow" in shown  # who cast it
    assert "strength for handling" in shown or "equivalent age" in shown
    assert shown.count("<tr class=") == 10


def test_strength_carries_its_basis(as_owner, cast) -> None:
    shown = page(as_owner)

    assert "placeholder curve, not this shop&#x27;s concrete" in shown.replace("'", "&#x27;")
    assert "safe" not in shown.lower()


def test_a_piece_without_a_cast_says_what_its_dates_rest_on(as_owner, piece) -> None:
    shown = page(as_owner)

    assert "No cast set; the dates below take it as cast" in shown
    assert "latest cast" in shown
    assert f"/board/casts/new/?pieces={piece.pk}" in shown


def test_a_told_day_that_no_longer_holds_stands_out(as_owner, office) -> None:
    job = factories.make_job("217", promised_on=dt.date(2026, 3, 20))
    factories.make_piece(job)
    factories.make_notice(job, dt.date(2026, 3, 20), by=office)

    assert "tell the customer again" in page(as_owner)


def test_flags_of_old_are_kept(as_owner) -> None:
    factories.make_piece(factories.make_job("217", promised_on=dt.date(2026, 3, 20)))
    week(as_owner)

    assert "<strong>Stands.</strong>" in page(as_owner)


def test_the_crew_sees_no_customer_and_no_price(crew) -> None:
    customer = factories.make_customer("Hetty Vance", phone="(555) 555-0177", address="9 Elm Row")
    job = factories.make_job("217", customer=customer, price=4321, site="12 Quarry Lane")
    factories.make_piece(job)

    shown = page(signed_in(crew))

    assert "Kitchen island" in shown
    for secret in ("Hetty", "Vance", "0177", "Elm", "4321", customer.email, "Quarry"):
        assert secret not in shown


@pytest.mark.parametrize("number", ["999", "%00", "21 7", "a" * 300])
def test_a_job_that_there_is_not_is_not_found(as_owner, number: str) -> None:
    assert as_owner.get(f"/board/jobs/{number}/").status_code == 404


def test_a_job_without_pieces_says_so(as_owner) -> None:
    factories.make_job("217")

    assert "This job has no pieces yet." in page(as_owner)
