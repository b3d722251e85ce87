"""A batch on record: its page and its paper, filled in on the floor."""

from __future__ import annotations

import datetime as dt
import io
import uuid
from typing import Any

import pypdf
import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from jobs.models import Batch, Demold, MixerRun, Photo, Specimen
from jobs.services.measured import add_measured
from jobs.services.photos import add_photo
from jobs.services.specimens import make_specimens
from jobs.services.ticks import tick
from jobs.services.weigh_sheets import sheet_of
from shop.models import Person, Recipe, Role
from tests.factories import (
    HOUR,
    NOW,
    make_batch,
    make_job,
    make_mark,
    make_person,
    make_piece,
    make_readings,
    make_room,
    make_shop,
    make_working_week,
)
from tests.jobs.mixing.rows import make_recipe, opened
from tests.jobs.mixing.test_pictures import drawn, saved

pytestmark = pytest.mark.django_db
WATER_IN = NOW  # 9:00 in the shop


@pytest.fixture(autouse=True)
def _later(monkeypatch: pytest.MonkeyPatch, settings: Any, tmp_path: Any) -> None:
    """It is ten days after the cast."""
    settings.MEDIA_ROOT = tmp_path
    monkeypatch.setattr(timezone, "now", lambda: NOW + dt.timedelta(days=10))


@pytest.fixture
def crew() -> Person:
    make_shop()
    make_working_week()
    return make_person(Role.CREW, name="Rosalind Okafor")


@pytest.fixture
def recipe(crew: Person) -> Recipe:
    return make_recipe()


@pytest.fixture
def client(crew: Person) -> Client:
    client = Client()
    client.force_login(crew, "django.contrib.auth.backends.ModelBackend")
    return client


def cast(crew: Person, letters: str = "AB", number: str = "217") -> Batch:
    """Cast, demolded, washed and sealed, with the room's readings."""
    job = make_job(number)
    pieces = [make_piece(job, letter) for letter in letters]
    batch = make_batch(*pieces)
    room = pieces[0].room
    if not room.readings.exists():
        make_readings(room, WATER_IN - 2 * HOUR, 220, celsius=20.0, humidity=0.5)
    for piece in pieces:
        make_mark(piece, "cast", WATER_IN, by=crew, batch=batch)
        demold = make_mark(piece, "demold", WATER_IN + 30 * HOUR, by=crew, outcome="clean")
        Demold.objects.create(
            mark=demold, mix=piece.mix, route=piece.route, kind="plain", age_hours=30.0
        )
        make_mark(piece, "hone", WATER_IN + 50 * HOUR, by=crew)
        make_mark(piece, "seal-1", WATER_IN + 120 * HOUR, by=crew)
    return batch


def weighed(run: MixerRun, crew: Person, lot: str = "24-118") -> None:
    for line in sheet_of(run).lines:
        tick(
            run_id=run.pk,
            line=line.key,
            kg=line.weigh_kg,
            lot=lot,
            by=crew,
            at=NOW,
            client_key=uuid.uuid4(),
            now=NOW,
        )


def typed(run: MixerRun, **fields: Any) -> dict[str, Any]:
    """What a phone sends: US units."""
    return {
        "version": run.version,
        "water_in_at_0": "2026-03-18",
        "water_in_at_1": "09:05",
        "mix_celsius": "66",
        "air_celsius": "68",
        "form_celsius": "60",
        "humidity": "48",
        "spread_m": "7 1/2",
        "unit_weight": "131",
        "covered_at_0": "2026-03-18",
        "covered_at_1": "10:20",
        **fields,
    }


@pytest.mark.parametrize("day", ["2025-03-18", "0001-01-01"])
def test_a_year_mistyped_is_asked_about_and_what_was_typed_stays(
    client: Client, crew: Person, recipe: Recipe, day: str
) -> None:
    run = opened(cast(crew), crew)
    address = reverse("run-record", args=[run.pk])

    response = client.post(address, typed(run, water_in_at_0=day, covered_at_0=day))

    assert response.status_code == 422
    html = response.content.decode()
    assert "more than a month before this run was opened" in html
    assert f'value="{day}"' in html
    run.refresh_from_db()
    assert run.water_in_at is None


def test_the_crew_fills_in_a_run_and_the_page_says_what_it_means(
    client: Client, crew: Person, recipe: Recipe
) -> None:
    batch = cast(crew)
    run = opened(batch, crew)
    weighed(run, crew)

    response = client.post(reverse("run-record", args=[run.pk]), typed(run))

    assert response.status_code == 302
    run.refresh_from_db()
    assert run.recorded_by == crew
    assert run.water_in_at == NOW + dt.timedelta(minutes=5)
    # 68 °F is 20 °C, 7½ in 190.5 mm, 131 lb/ft³ 2098.4 kg/m³ (NIST SP 811: exact factors).
    assert run.air_celsius == pytest.approx(20.0)
    assert run.spread_m == pytest.approx(0.1905)
    assert run.unit_weight == pytest.approx(131 * 0.45359237 / 0.3048**3)
    page = client.get(reverse("batch-record", args=[batch.pk])).content.decode()
    assert "131 lb/ft³" in page
    assert "7 1/2 in" in page
    assert "Mix 66 °F" in page
    assert "24-118" in page
    assert "By its weight and unit weight (ASTM C138)" in page
    assert "air would be" in page


def test_the_page_gathers_what_the_marks_and_the_air_say(client: Client, crew: Person) -> None:
    batch = cast(crew, "A")

    page = client.get(reverse("batch-record", args=[batch.pk])).content.decode()

    assert "Wed 18 Mar 09:00" in page  # water-in
    assert "Rosalind Okafor" in page
    assert "30.0 h at 68 °F" in page
    assert "came out clean" in page
    assert "Thu 19 Mar 15:00" in page  # demolded
    assert "lowest 68 °F" in page
    # 20 °C and 50 %: dew point 9.3 °C by Magnus (Alduchov and Eskridge 1996): 49 °F, 19 °F below.
    assert "dew point 49 °F: 19 °F above it" in page
    assert "5 °F asked" in page


def test_an_empty_batch_says_what_to_do(client: Client, crew: Person) -> None:
    batch = make_batch(make_piece(make_job("300")))

    page = client.get(reverse("batch-record", args=[batch.pk])).content.decode()

    assert "Nothing is on record of this cast yet" in page


def test_the_paper_says_the_same_and_shows_the_photos(
    client: Client, crew: Person, recipe: Recipe, django_capture_on_commit_callbacks: Any
) -> None:
    batch = cast(crew)
    run = opened(batch, crew)
    weighed(run, crew)
    client.post(reverse("run-record", args=[run.pk]), typed(run))
    with django_capture_on_commit_callbacks(execute=True):
        add_photo(
            sent=saved(drawn()), by=crew, client_key=uuid.uuid4(), batch_id=batch.pk, words="Front"
        )

    response = client.get(reverse("batch-record-paper", args=[batch.pk]))

    assert response["Content-Type"] == "application/pdf"
    paper = pypdf.PdfReader(io.BytesIO(response.content))
    text = " ".join(" ".join(page.extract_text() for page in paper.pages).split())
    for words in ("Record of cast", "131 lb/ft³", "24-118", "dew point 49 °F", "Front"):
        assert words in text
    assert len({image.data for page in paper.pages for image in page.images}) == 1


def test_a_photo_whose_file_is_gone_does_not_spoil_the_paper(client: Client, crew: Person) -> None:
    batch = cast(crew, "A")
    Photo.objects.create(
        batch=batch, name=f"{'0' * 32}.jpg", width=4, height=3, size=10, at=NOW, by=crew
    )

    assert client.get(reverse("batch-record-paper", args=[batch.pk])).status_code == 200


def test_a_wrong_value_keeps_what_was_typed_and_says_why(
    client: Client, crew: Person, recipe: Recipe
) -> None:
    run = opened(cast(crew), crew)

    response = client.post(
        reverse("run-record", args=[run.pk]),
        typed(run, added_water_kg="1.5", spread_m="900", note="stiff"),
    )

    page = response.content.decode()
    assert response.status_code == 422
    assert "At most" in page
    assert 'value="900"' in page
    assert 'value="stiff"' in page
    run.refresh_from_db()
    assert run.version == 1


def test_water_that_was_added_asks_why(client: Client, crew: Person, recipe: Recipe) -> None:
    run = opened(cast(crew), crew)

    response = client.post(reverse("run-record", args=[run.pk]), typed(run, added_water_kg="1.5"))

    assert response.status_code == 422
    assert "Write what was added, and why" in response.content.decode()


def test_a_weighed_cup_gives_the_unit_weight(client: Client, crew: Person, recipe: Recipe) -> None:
    """ASTM C138: (full - empty) / volume. 1,240 g less 200 g in 500 mL is 2,080 kg/m³."""
    run = opened(cast(crew), crew)

    client.post(
        reverse("run-record", args=[run.pk]),
        typed(run, unit_weight="", cup_full="1240", cup_empty="200", cup_volume="500 mL"),
    )

    run.refresh_from_db()
    assert run.unit_weight == pytest.approx(2080.0)


@pytest.mark.parametrize(
    ("cup", "said"),
    [
        ({"cup_full": "1240"}, "all three, or none"),
        ({"cup_full": "200", "cup_empty": "1240", "cup_volume": "500 mL"}, "lighter"),
        ({"cup_full": "1240", "cup_empty": "200", "cup_volume": "5 l"}, "no concrete is"),
    ],
)
def test_a_cup_that_cannot_be_is_refused(
    client: Client, crew: Person, recipe: Recipe, cup: dict[str, str], said: str
) -> None:
    run = opened(cast(crew), crew)

    response = client.post(reverse("run-record", args=[run.pk]), typed(run, unit_weight="", **cup))

    assert response.status_code == 422
    assert said in response.content.decode()


def test_who_saves_second_is_told_what_the_first_changed(
    client: Client, crew: Person, recipe: Recipe
) -> None:
    run = opened(cast(crew), crew)
    url = reverse("run-record", args=[run.pk])
    client.post(url, typed(run, note="first"))

    response = client.post(url, typed(run, note="second"))

    page = response.content.decode()
    assert response.status_code == 409
    assert "Somebody else saved this" in page
    assert 'value="second"' in page
    run.refresh_from_db()
    assert run.note == "first"


def test_the_air_is_offered_from_the_room_at_that_time(
    client: Client, crew: Person, recipe: Recipe
) -> None:
    batch = cast(crew)
    run = opened(batch, crew)

    page = client.get(reverse("run-record", args=[run.pk])).content.decode()

    assert "The air is filled in from the reading in Casting room of Wed 18 Mar 09:00" in page
    assert 'name="air_celsius" value="68"' in page
    assert 'name="humidity" value="50"' in page


def test_a_run_whose_water_went_in_well_before_the_mark_is_pointed_out(
    client: Client, crew: Person, recipe: Recipe
) -> None:
    batch = cast(crew)
    run = opened(batch, crew)
    client.post(reverse("run-record", args=[run.pk]), typed(run, water_in_at_1="08:20"))

    page = client.get(reverse("batch-record", args=[batch.pk])).content.decode()

    assert "every age here is reckoned shorter than it is" in page


def test_the_office_sees_the_record_and_does_not_change_it(crew: Person, recipe: Recipe) -> None:
    run = opened(cast(crew), crew)
    office = Client()
    office.force_login(make_person(Role.OFFICE), "django.contrib.auth.backends.ModelBackend")

    page = office.get(reverse("batch-record", args=[run.batch_id]))

    assert page.status_code == 200
    assert "Fill in its record" not in page.content.decode()
    assert "Keep the photo" not in page.content.decode()
    assert office.post(reverse("run-record", args=[run.pk]), typed(run)).status_code == 403


def full(crew: Person, letters: str, number: str) -> Batch:
    batch = cast(crew, letters, number)
    run = opened(batch, crew)
    weighed(run, crew, lot=f"L-{number}")
    make_specimens(run_id=run.pk, kind="cube", labels=[*letters], by=crew, now=NOW)
    for piece in batch.pieces.all():
        add_measured(
            piece_id=piece.pk, thickness_m=0.019, by=crew, client_key=uuid.uuid4(), now=NOW
        )
        Photo.objects.create(
            piece=piece, name=f"{uuid.uuid4().hex}.jpg", width=4, height=3, size=9, at=NOW, by=crew
        )
    return batch


def test_more_pieces_photos_and_specimens_take_no_more_queries(
    client: Client, crew: Person, recipe: Recipe
) -> None:
    few, many = full(crew, "AB", "401"), full(crew, "ABCDEFGH", "402")
    client.get(reverse("batch-record", args=[few.pk]))
    counts = []
    for batch in (few, many):
        with CaptureQueriesContext(connection) as seen:
            response = client.get(reverse("batch-record", args=[batch.pk]))
        assert response.status_code == 200
        counts.append(len(seen))

    assert Specimen.objects.count() == 10
    assert counts[0] == counts[1]
    assert counts[0] < 45


def test_a_lost_casting_stays_on_the_record_of_its_own_batch(client: Client, crew: Person) -> None:
    batch = cast(crew, "A")
    piece = batch.pieces.get()
    make_mark(piece, "", NOW + 150 * HOUR, by=crew, kind="recast", reason="corner broke")
    piece.batch = None
    piece.save()
    again = make_batch(piece, planned_for=NOW + 200 * HOUR)
    make_mark(piece, "cast", NOW + 200 * HOUR, by=crew, batch=again)

    first = client.get(reverse("batch-record", args=[batch.pk])).content.decode()
    second = client.get(reverse("batch-record", args=[again.pk])).content.decode()

    assert "casting given up" in first
    assert "corner broke" in first
    assert "30.0 h at 68 °F" in first
    assert "corner broke" not in second
    assert "30.0 h at 68 °F" not in second


def test_no_readings_are_said_and_not_made_up(client: Client, crew: Person) -> None:
    room = make_room("Cold room")
    piece = make_piece(make_job("500"), room=room)
    batch = make_batch(piece)
    make_mark(piece, "cast", WATER_IN, by=crew, batch=batch)

    page = client.get(reverse("batch-record", args=[batch.pk])).content.decode()

    assert "no readings" in page
