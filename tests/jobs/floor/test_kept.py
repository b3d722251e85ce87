"""What a phone without signal kept and sends later, and what it needs to do so."""

from __future__ import annotations

import datetime as dt
import uuid

from django.test import Client
from django.urls import reverse

from jobs.models import Mark
from shop.models import Role
from tests.factories import HOUR, NOW, make_mark, make_person
from tests.jobs.floor.conftest import KEPT


def test_a_kept_mark_counts_from_when_it_was_tapped(hand, crew, cured):
    answer = hand(crew).mark(cured, "demold", kept_seconds="3600", headers=KEPT)
    assert answer.json()["state"] == "recorded"
    assert Mark.objects.get(step_key="demold").happened_at == NOW - HOUR


def test_a_kept_mark_that_came_through_already_is_recorded_once(hand, crew, cured):
    key = str(uuid.uuid4())
    hand(crew).mark(cured, "demold", client_key=key)
    answer = hand(crew).mark(cured, "demold", client_key=key, kept_seconds="60", headers=KEPT)
    assert answer.status_code == 200
    assert Mark.objects.filter(step_key="demold").count() == 1


def test_a_refused_kept_mark_says_why_and_that_a_reason_would_do(hand, crew, green):
    answer = hand(crew).mark(green, "demold", headers=KEPT)
    assert answer.status_code == 422
    said = answer.json()
    assert said["state"] == "refused"
    assert said["asks"] is True
    assert "Not before" in said["message"]


def test_a_kept_mark_that_another_made_meanwhile_asks_for_nothing(hand, crew, other, cured):
    make_mark(cured, "demold", NOW - HOUR, by=other)
    said = hand(crew).mark(cured, "demold", headers=KEPT).json()
    assert said["asks"] is False
    assert "Ida Marsh" in said["message"]


def test_a_mark_kept_for_a_month_is_refused(hand, crew, cured):
    answer = hand(crew).mark(cured, "demold", kept_seconds=str(31 * 86400), headers=KEPT)
    assert answer.status_code == 422
    assert not Mark.objects.filter(step_key="demold").exists()


def test_the_token_says_whose_it_is_and_is_never_stored(hand, crew):
    answer = hand(crew).client.get(reverse("floor-token"))
    assert answer.json()["person"] == crew.pk
    assert "no-store" in answer["Cache-Control"]


def test_a_signed_out_phone_is_told_and_gets_no_token(client):
    answer = client.get(reverse("floor-token"), headers={"HX-Request": "true"})
    assert answer.status_code == 204
    assert not answer.content


def test_a_kept_mark_of_a_signed_out_phone_is_sent_to_the_sign_in(client, cured):
    url = reverse("floor-mark", args=[cured.code])
    answer = client.post(url, {"step_key": "demold"}, headers=KEPT)
    assert answer.status_code == 302
    assert not Mark.objects.filter(step_key="demold").exists()


def test_a_stale_token_is_refused_and_a_fresh_one_taken(crew, cured):
    phone = Client(enforce_csrf_checks=True)
    phone.force_login(crew)
    url = reverse("floor-mark", args=[cured.code])
    sent = {"step_key": "demold", "client_key": str(uuid.uuid4())}
    assert phone.post(url, sent, headers=KEPT | {"X-CSRFToken": "x" * 64}).status_code == 403
    fresh = phone.get(reverse("floor-token")).json()["token"]
    assert phone.post(url, sent, headers=KEPT | {"X-CSRFToken": fresh}).status_code == 200


def test_the_worker_is_a_script_that_rules_only_the_floor(client):
    answer = client.get(reverse("floor-worker"))
    assert answer["Content-Type"].startswith("text/javascript")
    assert "no-store" in answer["Cache-Control"]
    assert "Service-Worker-Allowed" not in answer
    assert reverse("floor-worker").startswith(reverse("floor"))


def test_the_office_gets_a_token_but_records_nothing(hand, cured):
    office = hand(make_person(Role.OFFICE))
    assert office.mark(cured, "demold", headers=KEPT).status_code == 403


def test_a_kept_time_that_was_typed_wins_over_the_tap(hand, crew, cured):
    typed = {"happened_at_0": "2026-03-17", "happened_at_1": "14:10", "kept_seconds": "60"}
    hand(crew).mark(cured, "demold", headers=KEPT, **typed)
    mark = Mark.objects.get(step_key="demold")
    assert mark.happened_at == dt.datetime(2026, 3, 17, 19, 10, tzinfo=dt.UTC)
