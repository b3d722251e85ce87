"""The drying of a mix from its weighed pieces: shown, taken by the owner, left again."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from curing.moisture import Concrete, Slab, dry_out
from jobs.models import Piece
from jobs.services.drying_calibration import mix_drying, take_drying
from jobs.services.errors import Conflict, Refused
from jobs.services.route_steps import drying_rate
from shop.models import FitTaken, Mix, Role
from tests.factories import (
    DAY,
    HOUR,
    NOW,
    make_job,
    make_mark,
    make_mix,
    make_person,
    make_piece,
    make_room,
    make_shop,
    make_weighing,
    make_weighing_route,
    make_working_week,
)

pytestmark = pytest.mark.django_db
WASHED = NOW - 12 * DAY


@pytest.fixture(autouse=True)
def _now(monkeypatch: pytest.MonkeyPatch) -> None:
    make_shop()
    make_working_week()
    make_room(celsius=20.0, usual_humidity=0.5)
    make_person(Role.CREW)
    monkeypatch.setattr(timezone, "now", lambda: NOW)


@pytest.fixture
def mix() -> Mix:
    return make_mix()


def weighed(number: int, factor: float, *, days: int = 11, first: int = 2) -> Piece:
    """A piece of 19 mm in the room's steady air that dries so many times slower than the model."""
    piece = make_piece(make_job(str(number)), route=make_weighing_route())
    for step, ago in {"cast": 16, "demold": 15, "grind": 14, "fill": 13, "hone": 12}.items():
        make_mark(piece, step, NOW - ago * DAY)
    slow = Concrete(d1=Concrete().d1 / factor)
    run = dry_out(Slab(0.019), slow, [0.0, 300.0], [20.0, 20.0], [0.5, 0.5])
    for hours in first + 24.0 * np.arange(days):
        lost = float(np.interp(hours, run.hours, run.lost())) * piece.area_m2
        make_weighing(piece, 59.28 - lost, WASHED + float(hours) * HOUR)
    return piece


def seen(mix: Mix) -> Any:
    mix.refresh_from_db()
    return mix_drying(mix, now=NOW, shop=make_shop())


def taken(mix: Mix, basis: str | None = None) -> Mix:
    owner = make_person(Role.OWNER)
    mix.refresh_from_db()
    return take_drying(
        mix_id=mix.pk,
        version=mix.version,
        basis=seen(mix).basis if basis is None else basis,
        by=owner,
        now=NOW,
        shop=make_shop(),
    )


def test_the_factor_of_three_pieces_is_found_through_the_rooms_air(mix: Mix) -> None:
    for number, factor in ((301, 1.4), (302, 1.5), (303, 1.6)):
        weighed(number, factor)
    found = seen(mix)
    assert sorted(d.factor for d in found.pieces) == pytest.approx([1.4, 1.5, 1.6], rel=0.03)
    # The prior holds three pieces back a little; nine in ten further pieces lie around.
    assert 1.3 < found.result.factor < 1.5
    assert found.result.low < 1.4 < 1.6 < found.result.high


def test_two_pieces_stay_an_estimate(mix: Mix) -> None:
    weighed(301, 1.4)
    weighed(302, 1.5)
    assert not seen(mix).result.calibrated
    with pytest.raises(Refused, match="Fewer than 3 pieces"):
        taken(mix)
    mix.refresh_from_db()
    assert (mix.drying_factor, mix.drying_calibrated) == (1.0, False)


def test_pieces_that_tell_nothing_say_why(mix: Mix) -> None:
    early = weighed(301, 1.5, days=2)
    few = weighed(302, 1.5, days=11)
    first = few.weighings.order_by("at").values_list("pk", flat=True)[1:9]
    few.weighings.filter(pk__in=list(first)).update(struck_at=NOW, struck_by=make_person())
    why = {dried.piece.pk: dried.why_not for dried in seen(mix).pieces}
    assert why == {early.pk: "not weighed dry yet", few.pk: "fewer than 4 weights"}


def test_taking_it_moves_the_model_and_says_who(mix: Mix) -> None:
    pieces = [weighed(300 + n, 1.5) for n in range(4)]
    before = drying_rate(Piece.objects.select_related("mix", "route").get(pk=pieces[0].pk))
    mix = taken(mix)
    after = drying_rate(Piece.objects.select_related("mix", "route").get(pk=pieces[0].pk))
    assert mix.drying_calibrated
    assert 1.3 < mix.drying_factor < 1.5
    assert before is not None
    assert after is not None
    longer = float(after.hours(0.5, 20.0) / before.hours(0.5, 20.0))
    assert longer == pytest.approx(mix.drying_factor, rel=1e-6)
    record = FitTaken.objects.get()
    assert (record.what, record.tests) == ("drying", 4)


def test_a_weight_struck_meanwhile_stops_the_taking(mix: Mix) -> None:
    for number in (301, 302, 303):
        weighed(number, 1.5)
    basis = seen(mix).basis
    last = Piece.objects.first().weighings.last()
    last.struck_at, last.struck_by = NOW, make_person()
    last.save()
    with pytest.raises(Conflict, match="added or struck since"):
        taken(mix, basis)


def owners() -> Client:
    client = Client()
    client.force_login(make_person(Role.OWNER, name="Ora Lindqvist"))
    return client


def test_the_page_shows_takes_and_leaves(mix: Mix) -> None:
    client, address = owners(), reverse("mix-drying", args=[mix.pk])
    page = client.get(address).content.decode()
    assert "Estimate, not calibrated." in page
    assert "No piece tells yet." in page
    assert "Use 1" not in page
    for number in (301, 302, 303):
        weighed(number, 1.5)
    found = seen(mix)
    page = client.get(address).content.decode()
    assert f"Use {found.result.factor:.2f}" in page
    sent = {"version": mix.version, "basis": found.basis}
    page = client.post(reverse("take-drying", args=[mix.pk]), sent, follow=True).content.decode()
    assert "is in use." in page
    assert "calibrated from 3 pieces by Ora Lindqvist" in page
    assert "calibrated" in client.get(reverse("mix", args=[mix.pk])).content.decode()
    mix.refresh_from_db()
    leave = reverse("leave-drying", args=[mix.pk])
    page = client.post(leave, {"version": mix.version}, follow=True).content.decode()
    assert "Estimate, not calibrated." in page


def test_a_stale_page_changes_nothing(mix: Mix) -> None:
    client = owners()
    for number in (301, 302, 303):
        weighed(number, 1.5)
    sent = {"version": mix.version + 7, "basis": seen(mix).basis}
    client.post(reverse("take-drying", args=[mix.pk]), sent)
    mix.refresh_from_db()
    assert not mix.drying_calibrated


def test_the_office_sees_but_does_not_take(mix: Mix) -> None:
    for number in (301, 302, 303):
        weighed(number, 1.5)
    client = Client()
    client.force_login(make_person(Role.OFFICE))
    page = client.get(reverse("mix-drying", args=[mix.pk])).content.decode()
    assert "303-A" in page
    assert "<button>Use" not in page


def test_six_pieces_take_as_many_queries_as_two(mix: Mix) -> None:
    client, counts = owners(), []
    for numbers in ((301, 302), range(303, 307)):
        for number in numbers:
            weighed(number, 1.5, days=5)
        client.get(reverse("mix-drying", args=[mix.pk]))
        with CaptureQueriesContext(connection) as queries:
            client.get(reverse("mix-drying", args=[mix.pk]))
        counts.append(len(queries))
    assert counts[0] == counts[1]
