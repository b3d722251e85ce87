from __future__ import annotations

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from jobs.models import Batch
from jobs.services.errors import Refused
from jobs.services.readiness import rebuild
from jobs.services.sheets.cast_sheet import cast_of, cast_pdf
from shop import cautions
from shop.models import Shop
from shop.services.fresh import add_usual_recipe
from tests.factories import (
    DAY,
    NOW,
    make_batch,
    make_job,
    make_mix,
    make_person,
    make_piece,
    make_shop,
    make_working_week,
)
from tests.jobs.sheets.reading import read, size_mm, words
from tests.jobs.sheets.test_route_sheet import SHAPE

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    make_working_week()
    return make_shop(mixer_kg=68.0)


@pytest.fixture
def batch(shop: Shop) -> Batch:
    job = make_job("217")
    pieces = [
        make_piece(job, "A", name="Long leg", shape=SHAPE, area_m2=1.3626, coat_m=0.004),
        make_piece(job, "B", name="שולחן ארוך", area_m2=0.5, coat_m=0.004),
    ]
    add_usual_recipe(pieces[0].mix)
    made = make_batch(*pieces, planned_for=NOW + DAY)
    rebuild(NOW)
    return made


@pytest.mark.parametrize(("paper", "size"), [("Letter", (215.9, 279.4)), ("A4", (210.0, 297.0))])
def test_it_has_pieces_amounts_runs_steps_and_drawings(
    batch: Batch, shop: Shop, paper: str, size: tuple[float, float]
) -> None:
    pdf = cast_pdf(batch.pk, shop, paper)
    assert {size_mm(page) for page in read(pdf).pages} == {size}
    text = words(pdf)
    for said in [
        "Thu 19 Mar 09:00", "White premix", "version 1", "217-A", "Long leg", "96 × 25 1/2 in",
        "What it takes, waste included", "face coat", "backer", "Run 1", "Add in this order", "Tolerance",
        "White cement", "Water", "lb", "Not opened yet", "Water in at", "Covered at", "Mix temperature",
        "Spread", "Unit weight", "Humidity", "Do not demold before", "2,500 psi", "Underside, mirrored",
        "as it lies in the form", "Section from front to back", "37 1/2", "No shape is entered",
        "forms checked by",
    ]:  # fmt: skip
        assert said in text, said
    assert "ארוך" in text or "ךורא" in text
    for caution in (cautions.WET_CEMENT, cautions.DUST_WEIGHING, cautions.COVER_AT_ONCE):
        assert " ".join(str(caution.text).split()) in text
        assert str(caution.reference) in text


def test_its_amounts_are_those_of_the_forms_and_the_shops_waste(batch: Batch, shop: Shop) -> None:
    sheet = cast_of(batch.pk, shop)
    by_layer = {amount.layer: amount for amount in sheet.amounts}
    # The face of A without its sink, and B, 4 mm thick; and a fifth more for waste.
    net = (2.4384 * 0.6477 - 0.5334 * 0.4064 + 0.5) * 0.004
    assert by_layer["face"].net_m3 == pytest.approx(net, rel=1e-6)
    assert by_layer["face"].m3 == pytest.approx(1.2 * net, rel=1e-6)
    assert sum(run.kg for run in sheet.runs) == pytest.approx(sheet.kg, rel=1e-6)
    assert all(run.lines for run in sheet.runs)


def test_without_a_recipe_it_says_so_and_still_has_pieces_and_amounts(shop: Shop) -> None:
    piece = make_piece(make_job("300"), "A", mix=make_mix(name="Grey"))
    batch = make_batch(piece, planned_for=NOW + DAY)
    rebuild(NOW)
    text = words(cast_pdf(batch.pk, shop, "Letter"))
    assert "This mix has no recipe here yet" in text
    assert "300-A" in text
    assert "Water in at" in text


def test_a_cast_that_is_gone_or_empty_is_named(shop: Shop) -> None:
    with pytest.raises(Refused, match="no such cast"):
        cast_of(999, shop)
    with pytest.raises(Refused, match="No piece is set"):
        cast_of(make_batch().pk, shop)


def test_more_pieces_take_as_many_queries(batch: Batch, shop: Shop) -> None:
    job = make_job("400")
    many = [make_piece(job, letter, shape=SHAPE) for letter in "ABCDEFGH"]
    more = make_batch(*many, planned_for=NOW + DAY)
    rebuild(NOW)

    def queries(one: Batch) -> int:
        with CaptureQueriesContext(connection) as seen:
            cast_of(one.pk, shop)
        return len(seen)

    assert queries(more) == queries(batch)


def test_the_crew_opens_it(batch: Batch, client: Client) -> None:
    client.force_login(make_person("crew"))
    assert client.get(f"/sheets/casts/{batch.pk}/cast.pdf")["Content-Type"] == "application/pdf"
    gone = client.get("/sheets/casts/999/cast.pdf")
    assert gone.status_code == 422
    assert "There is no such cast any more" in gone.content.decode()
