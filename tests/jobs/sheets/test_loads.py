from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from jobs.models import InstallDate, Job, Measured
from jobs.services.errors import Refused
from jobs.services.measured import add_measured, strike_measured
from jobs.services.readiness import outlook_of, rebuild
from jobs.services.sheets.loads import jobs_by_number, jobs_of_day, load_days, load_of, load_pdf
from shop.models import Change, Role, Shop
from tests.factories import (
    DAY,
    HOUR,
    NOW,
    make_job,
    make_mark,
    make_person,
    make_piece,
    make_shop,
    make_working_week,
)
from tests.jobs.sheets.reading import read, size_mm, words, y_of

pytestmark = pytest.mark.django_db
ON = dt.date(2026, 4, 10)
LONG = {"outline": "rectangle", "length": 3.2, "width": 0.6, "edges": [], "cutouts": []}


def at(hour: int, day: dt.date = ON) -> dt.datetime:
    """On the shop's clock, five hours behind UTC in April."""
    return dt.datetime.combine(day, dt.time(hour + 5), dt.UTC)


@pytest.fixture
def shop() -> Shop:
    make_working_week()
    return make_shop(site_ready_words="Doors are off.\nPower is on.")


@pytest.fixture
def jobs(shop: Shop) -> list[Job]:
    morning = make_job(
        "217", ON, site="4 Quay Lane", site_contact="Iva Renn 555-0117", site_ready="Sink on site."
    )
    noon = make_job("218", ON, title="Bench")
    later = make_job("219", ON + dt.timedelta(days=1))
    for job in (morning, noon, later):
        for letter, area in (("A", 0.5), ("B", 1.5)):
            make_mark(make_piece(job, letter, area_m2=area), "cast", NOW - 3 * DAY)
    InstallDate.objects.create(job=morning, starts_at=at(9), hours=5, people=3, note="Side door")
    InstallDate.objects.create(job=noon, starts_at=at(13))
    InstallDate.objects.create(job=later, starts_at=at(9, ON + dt.timedelta(days=1)))
    rebuild(NOW)
    return [morning, noon, later]


def text_of(jobs: list[Job], shop: Shop, paper: str = "Letter") -> str:
    return words(load_pdf("Friday 10 April", jobs, shop, paper))


def test_the_last_stop_goes_on_first_and_the_heaviest_of_a_job(jobs: list[Job], shop: Shop) -> None:
    load = load_of("Friday", jobs_of_day(ON, shop), shop)
    assert [stop.job for stop in load.stops] == ["218", "217"]
    assert [stop.number for stop in load.stops] == [2, 1]
    order = [(piece.on, piece.code) for stop in load.stops for piece in stop.pieces]
    assert order == [(1, "218-B"), (2, "218-A"), (3, "217-B"), (4, "217-A")]
    # 2 × (0.5 + 1.5 m²) × 19 mm × 2080 kg/m³
    assert load.weight_kg == pytest.approx(4.0 * 0.019 * 2080, abs=0.05)
    assert load.count == 4


def test_a_piece_that_asks_for_more_hands_than_go_along_is_told(
    jobs: list[Job], shop: Shop
) -> None:
    by = max(piece.lifted_by for stop in load_of("", jobs[:1], shop).stops for piece in stop.pieces)
    InstallDate.objects.filter(job=jobs[0]).update(people=by)
    assert load_of("", jobs[:1], shop).stops[0].too_few == ""
    InstallDate.objects.filter(job=jobs[0]).update(people=by - 1)
    said = text_of([Job.objects.select_related("install").get(pk=jobs[0].pk)], shop)
    assert f"217-B asks for {by} people" in said
    assert "take more hands" in said


@pytest.mark.parametrize(("paper", "size"), [("Letter", (215.9, 279.4)), ("A4", (210.0, 297.0))])
def test_it_stands_on_one_page_with_all_that_the_driver_needs(
    jobs: list[Job], shop: Shop, paper: str, size: tuple[float, float]
) -> None:
    pages = read(load_pdf("Friday 10 April", jobs_of_day(ON, shop), shop, paper)).pages
    assert [size_mm(page) for page in pages] == [size]
    text = words(pages[0])
    for said in [
        "Friday 10 April", "4 pieces", "349 lb", "2 stops", "What the truck may carry is not known here",
        "4 Quay Lane", "Iva Renn 555-0117", "Sink on site.", "Power is on.", "09:00", "3 people, 5 h",
        "Side door", "217-B", "16.1 ft²", "about 131 lb", "A-frame", "about 10°",
        "common practice, no source", "shadow", "not written down", "On at", "Off at", "loaded and tied by",
    ]:  # fmt: skip
        assert said in text, said
    assert "Doors are off." in text
    assert y_of(pages[0], "218-B")[0] > y_of(pages[0], "217-A")[0]


def test_what_speaks_against_taking_a_piece_stands_at_it(jobs: list[Job], shop: Shop) -> None:
    job = jobs[0]
    piece = job.pieces.get(letter="A")
    piece.shape, piece.area_m2 = LONG, 1.92
    piece.save()
    make_mark(piece, "", NOW, kind="hold", reason="Chipped corner")
    InstallDate.objects.filter(job=jobs[1]).update(starts_at=NOW + HOUR)
    rebuild(NOW)
    text = text_of(jobs_by_number("217,218"), shop)
    assert "on hold: Chipped corner" in text
    # 3.2 m long in a truck of 3.048 m
    assert "does not stand in the truck as its inside is set" in text
    assert "not ready before" in text
    assert "3 pieces have a word against taking them" in text


def test_what_was_weighed_counts_and_what_has_left_does_not(jobs: list[Job], shop: Shop) -> None:
    crew = make_person(Role.CREW)
    first = jobs[0].pieces.get(letter="A")
    Measured.objects.create(piece=first, kg=30.0, at=NOW, by=crew)
    Measured.objects.create(piece=first, kg=20.0, at=NOW - HOUR, by=crew)
    Measured.objects.create(
        piece=first, kg=90.0, at=NOW + HOUR, by=crew, struck_at=NOW, struck_by=crew
    )
    gone = jobs[0].pieces.get(letter="B")
    for key in ("demold", "grind", "fill", "hone", "seal-1", "seal-2", "crate", "deliver"):
        make_mark(gone, key, NOW - HOUR)
    rebuild(NOW)
    load = load_of("Friday", jobs_by_number("217"), shop)
    assert load.weight_kg == 30.0
    assert [piece.code for stop in load.stops for piece in stop.pieces] == ["217-A"]
    assert load.stops[0].pieces[0].weight == "66 lb"
    assert "Left the shop already, by their marks: 217-B" in text_of(jobs_by_number("217"), shop)


def test_a_piece_weighed_heavier_than_reckoned_asks_for_the_people_it_takes(
    jobs: list[Job], shop: Shop
) -> None:
    piece = jobs[0].pieces.get(letter="A")
    asked = {step.key: step.people for step in outlook_of("217", NOW).pieces[0].steps}
    crew = make_person(Role.CREW)
    row = add_measured(
        piece_id=piece.pk,
        by=crew,
        client_key=uuid.uuid4(),
        kg=2 * shop.carry_limit_kg + 1,
        sure=True,
        now=NOW,
    )
    assert Change.objects.filter(reason="217-A: weighed when finished").exists()
    rebuild(NOW)
    (outlook,) = [each for each in outlook_of("217", NOW).pieces if each.code == "217-A"]
    assert outlook.weight_kg == row.kg
    heavier = {step.key: step.people for step in outlook.steps}
    # In the mould it counts as reckoned: no one lifts it for that weighing.
    assert (asked["deliver"], heavier["deliver"]) == (2, 3)
    assert heavier["demold"] == asked["demold"]
    load = load_of("Friday", jobs_by_number("217"), shop)
    people = {each.code: each.lifted_by for stop in load.stops for each in stop.pieces}
    assert people == {"217-A": 3, "217-B": 3}  # 59 kg by two would be more than 25 each
    strike_measured(measured_id=row.pk, by=crew)
    assert Change.objects.filter(reason="217-A: finished weight struck").exists()
    assert outlook_of("217", NOW).pieces[0].weight_kg == pytest.approx(0.5 * 0.019 * 2080, abs=0.01)


def test_days_with_deliveries(jobs: list[Job], shop: Shop) -> None:
    unset = make_job("230", dt.date(2026, 4, 12))
    make_job("231", None)
    make_job("232", ON, called_off=True)
    days = load_days(shop, NOW.date())
    assert [(day.on.day, [job.number for job in day.jobs]) for day in days] == [
        (10, ["217", "218"]),
        (11, ["219"]),
        (12, ["230"]),
    ]
    make_piece(unset, "A")
    rebuild(NOW)
    assert "no install is set; promised Sun 12 Apr" in text_of(
        jobs_of_day(dt.date(2026, 4, 12), shop), shop
    )


def test_what_is_not_there_is_named(jobs: list[Job], shop: Shop) -> None:
    with pytest.raises(Refused, match="no job 999"):
        jobs_by_number("217,999")
    with pytest.raises(Refused, match="no job's number"):
        jobs_by_number("217;drop")
    with pytest.raises(Refused, match="Nothing is to be delivered"):
        load_pdf("Monday", jobs_of_day(dt.date(2026, 5, 4), shop), shop, "A4")


@pytest.mark.parametrize(
    ("day", "said"),
    [("9999-12-31", "Look at the year"), ("0001-01-01", "Look at the year"), ("x", "is no day")],
)
def test_a_day_that_is_none_is_said_to_be_none(
    jobs: list[Job], client: Client, day: str, said: str
) -> None:
    client.force_login(make_person(Role.OWNER))

    response = client.get("/sheets/load.pdf", {"day": day})

    assert response.status_code == 422
    assert said in response.content.decode()


def test_more_jobs_take_as_many_queries(jobs: list[Job], shop: Shop) -> None:
    def queries(chosen: str) -> int:
        with CaptureQueriesContext(connection) as seen:
            load_of("", jobs_by_number(chosen), shop)
            load_days(shop, NOW.date())
        return len(seen)

    assert queries("217") == queries("217,218,219") <= 8


def test_the_screen_leads_to_the_list(jobs: list[Job], client: Client) -> None:
    client.force_login(make_person(Role.CREW))
    page = client.get("/sheets/loads/").content.decode()
    assert ("Nothing is to be delivered" in page) == (dt.date.today() > ON)  # noqa: DTZ011
    found = client.get("/sheets/load.pdf?day=2026-04-10&jobs=217&paper=A4")
    assert found["Content-Type"] == "application/pdf"
    assert "217-A" in words(found.content)
    assert "218-A" not in words(found.content)
    for asked, said in [
        ("day=x", "is no day"),
        ("", "Say which day"),
        ("day=2026-05-04", "Nothing"),
    ]:
        refused = client.get(f"/sheets/load.pdf?{asked}")
        assert refused.status_code == 422
        assert said in refused.content.decode()
