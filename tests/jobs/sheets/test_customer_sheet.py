from __future__ import annotations

import datetime as dt

import pytest
from django.core.cache import cache
from django.test import Client

from jobs.models import Job
from jobs.services.drawings import paper_drawings
from jobs.services.errors import Refused
from jobs.services.links import make_link, revoke_link, token_of
from jobs.services.readiness import outlook_of, rebuild
from jobs.services.sheets.customer_sheet import customer_pdf, customer_sheet
from shop.models import Shop
from tests.factories import (
    HOUR,
    NOW,
    make_customer,
    make_job,
    make_mark,
    make_notice,
    make_person,
    make_piece,
    make_shop,
    make_working_week,
)
from tests.jobs.sheets.reading import read, size_mm, words
from tests.jobs.sheets.test_route_sheet import SHAPE

pytestmark = pytest.mark.django_db
TODAY = NOW.date()


@pytest.fixture(autouse=True)
def _fresh() -> None:
    cache.clear()


@pytest.fixture
def shop() -> Shop:
    make_working_week()
    return make_shop(name="Ferrow Bend Thin Concrete", phone="(555) 555-0100")


@pytest.fixture
def job(shop: Shop) -> Job:
    customer = make_customer("Ada Fenwick-Lowe", notes="pays late")
    job = make_job("217", customer=customer, price=4321, notes="inside word", site_contact="Iva")
    piece = make_piece(
        job, "A", name="Island top", shape=SHAPE, area_m2=1.3626, notes="watch the corner"
    )
    make_mark(piece, "cast", NOW - 20 * HOUR, by=make_person("crew", name="Dell Harkaway"))
    rebuild(NOW)
    return job


@pytest.mark.parametrize(("paper", "size"), [("Letter", (215.9, 279.4)), ("A4", (210.0, 297.0))])
def test_one_page_says_what_it_is_and_how_to_live_with_it(
    job: Job, shop: Shop, paper: str, size: tuple[float, float]
) -> None:
    pages = read(customer_pdf(job, shop, paper, TODAY)).pages
    assert [size_mm(page) for page in pages] == [size]
    text = words(pages[0])
    for said in [
        "Kitchen island", "Ada Fenwick-Lowe", "Ferrow Bend Thin Concrete", "(555) 555-0100", "Island top",
        "96 × 25 1/2 in", "1 1/2 in", "It weighs about", "The same in solid concrete", "In solid stone",
        "why it is hollow behind", "glass fibre", "From above", "From below", "Cut through",
        "How it will age", "Care", "Cut on a board", "Reseal", "When it may be used",
        "The day is not set yet",
    ]:  # fmt: skip
        assert said in text, said
    for inside in ["4,321", "4321", "inside word", "pays late", "Iva", "Dell Harkaway", "watch the corner",
                   "White premix", "psi", "demold", "217-A", "Waterborne"]:  # fmt: skip
        assert inside not in text, inside


def test_strongbacks_stay_in_the_shop(job: Job, shop: Shop) -> None:
    bar = {"x": 0.3, "y": 0.02, "length": 1.5, "width": 0.089, "depth": 0.038}
    piece = job.pieces.get()
    piece.shape["strongbacks"] = [bar | {"modulus": 9000.0, "density": 500.0, "bonded": False}]
    piece.save()
    assert paper_drawings(piece, shop, 90, 60).underside.of("bar")
    (own,) = customer_sheet(job, shop, TODAY).pieces
    assert own.drawings.underside.of("edge")
    assert not own.drawings.underside.of("bar")


def test_its_weights_are_reckoned_from_the_drawing(job: Job, shop: Shop) -> None:
    own = customer_sheet(job, shop, TODAY)
    face = 2.4384 * 0.6477 - 0.5334 * 0.4064
    edge = 2.4384 * 0.0381 * (0.0381 - 0.019)
    assert own.weight_kg == pytest.approx((face * 0.019 + edge) * 2080, rel=1e-4)
    assert own.solid_kg == pytest.approx(face * 0.0381 * 2403, rel=1e-4)
    assert own.stone_kg == pytest.approx(face * 0.0381 * 2700, rel=1e-4)
    assert own.hollow


def test_the_four_dates_stand_there_once_a_day_is_told_and_not_before(job: Job, shop: Shop) -> None:
    outlook = outlook_of("217", NOW)
    assert outlook
    assert outlook.holding_on
    assert not customer_sheet(job, shop, TODAY).view.uses
    told = outlook.holding_on
    assert told == job.promised_on
    make_notice(job, told, NOW)
    rebuild(NOW)
    text = words(customer_pdf(job, shop, "Letter", TODAY))
    assert f"{told:%A} {told.day} {told:%B}" in text
    assert "ready to leave our shop" in text
    uses = customer_sheet(job, shop, TODAY).view.uses
    assert all(line.words in text for line in uses)
    assert [line.day for line in uses] == sorted(line.day for line in uses)


def test_the_shops_own_words_stand_in_place_of_the_usual(job: Job) -> None:
    own = make_shop(
        about_words="Ours is cast upside down.", care_words="Soap.", ageing_words="Slow."
    )
    text = words(customer_pdf(job, own, "Letter", TODAY))
    assert "Ours is cast upside down." in text
    assert "Cut on a board" not in text


def test_a_plain_slab_of_somebody_whose_name_runs_from_right_to_left(shop: Shop) -> None:
    job = make_job("218", None, customer=make_customer("נועה ברק"), title="مطبخ")
    make_piece(job, "A", name="Shelf")
    rebuild(NOW)
    text = words(customer_pdf(job, shop, "A4", TODAY))
    assert "ברק" in text or "קרב" in text
    assert "16.1 ft²" in text
    assert "hollow behind" not in text.partition("What it is")[2][:30]


def test_a_link_serves_its_own_job_alone_and_tells_nobody(job: Job, client: Client) -> None:
    other = make_job("219", customer=make_customer("Bo Tarn"), title="Bench")
    make_piece(other, "A", name="Bench seat")
    rebuild(NOW)
    token = token_of(make_link(job_id=job.pk, by=None))
    found = client.get(f"/p/{token}/sheet.pdf?paper=A4&job=219&number=219")
    assert found["Content-Type"] == "application/pdf"
    text = words(found.content)
    assert "Island top" in text
    assert "Bench" not in text
    assert "Bo Tarn" not in text
    assert found["X-Robots-Tag"] == "noindex, nofollow"
    assert found["Cache-Control"] == "private, no-store"
    assert found["Referrer-Policy"] == "no-referrer"
    assert f"/p/{token}/sheet.pdf" in client.get(f"/p/{token}/").content.decode()

    assert client.get(f"/p/{'x' * 43}/sheet.pdf").status_code == 404
    assert client.get("/sheets/jobs/217/customer.pdf").status_code == 302
    revoke_link(job_id=job.pk)
    assert client.get(f"/p/{token}/sheet.pdf").status_code == 404


def test_a_job_called_off_or_empty_has_none(job: Job, shop: Shop, client: Client) -> None:
    token = token_of(make_link(job_id=job.pk, by=None))
    Job.objects.filter(pk=job.pk).update(called_off=True)
    assert client.get(f"/p/{token}/sheet.pdf").status_code == 404
    job.refresh_from_db()
    with pytest.raises(Refused, match="called off"):
        customer_sheet(job, shop, dt.date(2026, 3, 18))
    with pytest.raises(Refused, match="no pieces yet"):
        customer_sheet(make_job("220"), shop, TODAY)


def test_the_same_sheet_is_drawn_once(
    job: Job, shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = customer_pdf(job, shop, "A4", TODAY)
    monkeypatch.setattr("jobs.services.sheets.customer_sheet.fitted", None)
    assert customer_pdf(job, shop, "A4", TODAY) == first
