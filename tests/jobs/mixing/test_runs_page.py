"""A cast's runs at the desk, and the casts ahead."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from jobs.models import Batch, MixerRun, Weighed
from jobs.services.mixing import cast_runs, open_run
from jobs.services.readiness import rebuild
from shop.models import Person, Role, Shop
from tests.factories import (
    make_batch,
    make_job,
    make_mark,
    make_person,
    make_piece,
    make_recipe,
    make_shop,
    make_working_week,
)

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)


@pytest.fixture
def shop() -> Shop:
    make_working_week()
    return make_shop()


@pytest.fixture
def owner(shop: Shop, client: Client) -> Person:
    person = make_person(Role.OWNER)
    client.force_login(person, "django.contrib.auth.backends.ModelBackend")
    return person


def cast(number: str = "217", letters: str = "AB", days: int = 2, **fields: Any) -> Batch:
    today = timezone.now().date()
    job = make_job(number, today + 30 * DAY, taken_on=today)
    pieces = [make_piece(job, letter, **fields) for letter in letters]
    return make_batch(*pieces, planned_for=timezone.now() + days * DAY)


def page(client: Client, batch: Batch) -> str:
    answer = client.get(reverse("cast-runs", args=[batch.pk]))
    assert answer.status_code == 200
    return str(answer.content.decode())


def opening(batch: Batch, number: int = 1, **fields: str) -> dict[str, str]:
    planned = next(one for one in cast_runs(batch).planned if one.number == number)
    sent = {"number": str(number), f"seal-{number}": planned.seal, "client_key": str(uuid.uuid4())}
    return sent | fields


def opened(batch: Batch, by: Person) -> MixerRun:
    return open_run(batch_id=batch.pk, number=1, moisture={}, by=by)


def ticking(run: MixerRun, place: int = 0, **fields: str) -> dict[str, str]:
    line = run.sheet["lines"][place]
    sent = {"line": line["component"]["name"], "client_key": str(uuid.uuid4()), "lot": "24-B"}
    return sent | {"weight": f"{line['weigh_kg']} kg"} | fields


def test_without_a_recipe_the_needs_are_shown_and_the_way_to_write_one(
    client: Client, owner: Person
) -> None:
    batch = cast()
    text = page(client, batch)
    assert "no recipe yet" in text
    assert reverse("recipe", args=[batch.mix_id]) in text
    assert "Face coat" in text
    assert "Open run" not in text
    answer = client.post(reverse("open-run", args=[batch.pk]), {"number": "1"})
    assert answer.status_code == 422
    assert "no recipe" in answer.content.decode()


def test_a_run_is_opened_with_the_sands_moisture_of_the_day(client: Client, owner: Person) -> None:
    batch = cast()
    make_recipe(batch.mix)
    address = reverse("open-run", args=[batch.pk])
    shown = client.post(address, opening(batch, **{"wet-0": "4,2", "show": "1"}))
    assert shown.status_code == 200
    assert "Silica sand at 4.2 %" in shown.content.decode()
    assert not MixerRun.objects.exists()
    answer = client.post(address, opening(batch, **{"wet-0": "4.2"}))
    run = MixerRun.objects.get()
    assert answer["Location"] == f"{reverse('cast-runs', args=[batch.pk])}#run-{run.pk}"
    assert run.sheet["moisture"] == {"Silica sand": pytest.approx(0.042)}
    # The next cast of the day starts from it.
    other = cast("218")
    assert 'value="4.2"' in page(client, other)


@pytest.mark.parametrize(
    ("wet", "words"),
    [
        ("60", "Below 50 %"),
        ("-1", "Between 0 and 100"),
        ("x", "number"),
        ("49", "cannot be written"),
    ],
)
def test_moisture_that_cannot_be_keeps_what_was_typed(
    client: Client, owner: Person, wet: str, words: str
) -> None:
    """At 49 % the sand brings more water than the recipe adds."""
    batch = cast()
    make_recipe(batch.mix)
    answer = client.post(reverse("open-run", args=[batch.pk]), opening(batch, **{"wet-0": wet}))
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert f'value="{wet}"' in answer.content.decode()
    assert not MixerRun.objects.exists()


def test_a_run_that_changed_meanwhile_is_not_opened_blindly(client: Client, owner: Person) -> None:
    batch = cast()
    make_recipe(batch.mix)
    sent = opening(batch)
    piece = batch.pieces.first()
    assert piece is not None
    piece.coat_m = 0.006
    piece.save()
    answer = client.post(reverse("open-run", args=[batch.pk]), sent)
    assert answer.status_code == 409
    assert "changed while you looked" in answer.content.decode()
    assert not MixerRun.objects.exists()


def test_two_who_open_one_run_open_it_once(client: Client, owner: Person) -> None:
    batch = cast()
    make_recipe(batch.mix)
    sent = opening(batch)
    address = reverse("open-run", args=[batch.pk])
    client.post(address, sent)
    assert client.post(address, sent).status_code == 302  # the same key: sent twice
    answer = client.post(address, sent | {"client_key": str(uuid.uuid4())})
    assert answer.status_code == 422
    assert f"{owner.name} opened run 1" in answer.content.decode()
    assert MixerRun.objects.count() == 1


def test_a_line_is_ticked_and_taken_back(client: Client, owner: Person) -> None:
    batch = cast()
    make_recipe(batch.mix)
    run = opened(batch, owner)
    address = reverse("tick-line", args=[run.pk])
    part = client.post(address, ticking(run), headers={"HX-Request": "true"})
    assert part.status_code == 200
    assert "within" in part.content.decode()
    row = Weighed.objects.get()
    assert row.lot == "24-B"
    back = client.post(reverse("take-back-tick", args=[row.pk]))
    assert back.status_code == 302
    row.refresh_from_db()
    assert row.struck_by == owner


@pytest.mark.parametrize(
    ("weight", "words"),
    [("", "Write what the scale showed"), ("twelve", "not a weight"), ("5 st", "no unit")],
)
def test_a_weight_that_is_none_stays_and_is_marked(
    client: Client, owner: Person, weight: str, words: str
) -> None:
    batch = cast()
    make_recipe(batch.mix)
    run = opened(batch, owner)
    answer = client.post(reverse("tick-line", args=[run.pk]), ticking(run, weight=weight))
    assert answer.status_code == 422
    text = answer.content.decode()
    assert words in text
    assert 'value="24-B"' in text
    assert not Weighed.objects.exists()


def test_a_wild_weight_is_kept_once_somebody_looked_again(client: Client, owner: Person) -> None:
    batch = cast()
    make_recipe(batch.mix)
    run = opened(batch, owner)
    address = reverse("tick-line", args=[run.pk])
    kg = run.sheet["lines"][0]["weigh_kg"]
    asked = client.post(address, ticking(run, weight=f"{10 * kg} kg"))
    assert asked.status_code == 422
    assert "I looked again" in asked.content.decode()
    client.post(address, ticking(run, weight=f"{10 * kg} kg", sure="on"))
    assert Weighed.objects.get().kg == pytest.approx(10 * kg)


def test_a_run_is_struck_with_a_reason_and_planned_again(client: Client, owner: Person) -> None:
    batch = cast()
    make_recipe(batch.mix)
    run = opened(batch, owner)
    address = reverse("strike-run", args=[run.pk])
    assert client.post(address, {"because": " "}).status_code == 422
    client.post(address, {"because": "spilled on the floor"})
    text = page(client, batch)
    assert "spilled on the floor" in text
    numbers = [one.number for one in cast_runs(batch).planned]
    assert run.number not in numbers
    assert numbers


def test_the_office_looks_and_opens_nothing(client: Client, shop: Shop) -> None:
    client.force_login(make_person(Role.OFFICE), "django.contrib.auth.backends.ModelBackend")
    batch = cast()
    make_recipe(batch.mix)
    text = page(client, batch)
    assert "Its weigh sheet" in text
    assert "Open run" not in text


def test_a_cast_with_a_standing_run_is_not_called_off(client: Client, owner: Person) -> None:
    batch = cast()
    make_recipe(batch.mix)
    run = opened(batch, owner)
    address = reverse("cast-off", args=[batch.pk])
    client.post(address, {"version": "1"})
    assert batch.pieces.count() == 2
    client.post(reverse("strike-run", args=[run.pk]), {"because": "not mixed"})
    client.post(address, {"version": "1"})
    assert batch.pieces.count() == 0
    assert Batch.objects.filter(pk=batch.pk).exists(), "its struck run points at it"


def test_the_casts_ahead_name_what_is_missing(client: Client, owner: Person) -> None:
    batch = cast()
    text = client.get(reverse("mixing")).content.decode()
    assert "no recipe yet" in text
    assert "217-A" in text
    make_recipe(batch.mix)
    text = client.get(reverse("mixing")).content.decode()
    assert "recipe version 1" in text
    assert "To prepare for the day" in text


def test_a_cast_goes_to_the_last_ones_once_all_of_it_is_cast(client: Client, owner: Person) -> None:
    batch = cast(days=-1)
    make_recipe(batch.mix)
    opened(batch, owner)
    first, second = batch.pieces.order_by("code")
    make_mark(first, happened_at=timezone.now() - DAY)
    assert "due" in client.get(reverse("mixing")).content.decode()
    make_mark(second, happened_at=timezone.now() - DAY)
    text = client.get(reverse("mixing")).content.decode()
    assert "No cast is set" in text
    assert "0 of" in text


def test_queries_do_not_grow_with_casts(client: Client, owner: Person) -> None:
    make_recipe(cast("300").mix)

    def queries(name: str, *args: Any) -> int:
        with CaptureQueriesContext(
            connection,
        ) as seen:
            assert client.get(reverse(name, args=args)).status_code == 200
        return len(seen)

    opened(Batch.objects.get(), owner)
    rebuild()
    few, one = queries("mixing"), queries("cast-runs", Batch.objects.get().pk)
    grouped = queries("mixing-together")
    for number in range(301, 307):
        opened(cast(str(number), "ABC"), owner)
        job = make_job(f"9{number}")
        make_piece(job, "A")
    large = cast("400", "ABCDEF")
    opened(large, owner)
    rebuild()
    assert queries("mixing") == few
    assert queries("cast-runs", large.pk) == one
    assert queries("mixing-together") == grouped
