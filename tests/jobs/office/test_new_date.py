"""The day that the office can say for a new job: reckoned from a whole small shop."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from jobs.models import Job, Piece
from jobs.planning.check import broken_rules
from jobs.planning.problem import Fault
from jobs.services import new_date, planned_shop
from jobs.services.asked import Asked, AskedPiece
from jobs.services.errors import Refused
from jobs.services.new_date import NAME, Question
from jobs.services.plan_read import PlanRead
from jobs.services.readiness import rebuild
from shop.models import CastingTable, JudgedOn, Shop, Worker
from shop.services.changed import note_change
from tests import factories
from tests.factories import NOW, make_customer, make_job, make_notice, make_piece
from tests.jobs.office.conftest import TODAY, text_of
from tests.jobs.office.test_date_forms import line, query

WISH = TODAY + dt.timedelta(days=40)


@pytest.fixture(autouse=True)
def shop(_shop: None) -> Shop:
    """One table, two people, and three jobs before it, one of which has been told a day."""
    planned_shop.forget()
    room = factories.make_room()
    factories.make_mix()
    factories.make_route()
    factories.make_sealer()
    CastingTable.objects.create(name="Table 1", room=room)
    for name in ("Ben Carrow", "Iris Holm", "Ada Quill"):
        Worker.objects.create(name=name)
    for number, days in (("301", 23), ("302", 30), ("303", 37)):
        job = make_job(number, TODAY + dt.timedelta(days=days), customer=make_customer())
        make_piece(job, area_m2=1.4)
        if number != "303":
            make_notice(job, TODAY + dt.timedelta(days=days))
    rebuild()
    return Shop.objects.get()


@pytest.fixture
def slab(shop: Shop) -> AskedPiece:
    return AskedPiece(
        name="Bar top",
        area_m2=1.5,
        thickness_m=0.019,
        count=1,
        mix=factories.make_mix(),
        route=factories.make_route(),
        sealer=factories.make_sealer(),
        room=factories.make_room(),
        coat_m=0.004,
        sides_m=(2.4, 0.625),
    )


def test_the_day_is_one_that_the_shop_can_keep(slab: AskedPiece) -> None:
    asked = Asked((slab,), WISH)
    answer = new_date.answer(asked, NOW)
    assert answer.say_on is not None
    assert answer.leaves_at and answer.likely and answer.late  # noqa: PT018
    assert NOW < answer.leaves_at <= answer.late
    assert answer.likely <= answer.late
    assert answer.held_words
    assert not answer.moved
    # By the shop's own hour, on a day on which somebody is there.
    by = dt.datetime.combine(answer.say_on, Shop.objects.get().leave_by, Shop.objects.get().zone)
    assert answer.late <= by
    assert answer.say_on.weekday() < 5


def test_its_plan_keeps_every_rule_and_every_told_day(slab: AskedPiece) -> None:
    question = Question.of(Asked((slab, replace(slab, count=2)), WISH), NOW)
    offer = question.plain
    assert not isinstance(offer, Fault)
    assert not broken_rules(question.filled.problem, offer.plan)
    before = question.shop.plan.finish
    for job in question.filled.problem.jobs:
        if job.told is not None and before[job.name] <= job.told:
            assert offer.plan.finish[job.name] <= job.told


def test_the_same_facts_give_the_same_day(slab: AskedPiece) -> None:
    asked = Asked((slab,), WISH)
    first = new_date.answer(asked, NOW)
    planned_shop.forget()
    assert new_date.answer(asked, NOW) == first


def test_more_pieces_take_no_less_time(slab: AskedPiece) -> None:
    one = new_date.answer(Asked((slab,)), NOW)
    six = new_date.answer(Asked((replace(slab, count=6),)), NOW)
    assert one.leaves_at and six.leaves_at  # noqa: PT018
    assert six.leaves_at > one.leaves_at


def test_a_wished_day_is_judged_on_the_late_day(slab: AskedPiece) -> None:
    answer = new_date.answer(Asked((slab,), TODAY + dt.timedelta(days=2)), NOW)
    assert (answer.wish_holds, answer.wish_chance) == (False, 0.0)
    far = new_date.answer(Asked((slab,), TODAY + dt.timedelta(days=60)), NOW)
    assert (far.wish_holds, far.wish_chance) == (True, 1.0)


def test_a_shop_that_judges_on_the_likely_time_says_that_day(slab: AskedPiece) -> None:
    late = new_date.answer(Asked((slab,)), NOW)
    Shop.objects.update(judged_on=JudgedOn.LIKELY)
    planned_shop.forget()
    likely = new_date.answer(Asked((slab,)), NOW)
    assert not likely.judged_late
    assert likely.say_on and late.say_on  # noqa: PT018
    assert likely.say_on <= late.say_on


def test_a_piece_larger_than_every_table_is_named(slab: AskedPiece) -> None:
    answer = new_date.answer(Asked((replace(slab, sides_m=(4.0, 0.6)),)), NOW)
    assert answer.say_on is None
    assert "piece A" in answer.trouble
    assert "table" in answer.trouble
    assert NAME not in answer.trouble


def test_a_day_that_has_passed_cannot_be_wished(slab: AskedPiece) -> None:
    with pytest.raises(Refused, match="has passed"):
        new_date.answer(Asked((slab,), TODAY - dt.timedelta(days=1)), NOW)


def test_other_ways_are_no_later_and_break_no_told_day(slab: AskedPiece) -> None:
    asked = Asked((replace(slab, count=3),), WISH)
    plain = new_date.answer(asked, NOW)
    ways = new_date.other_ways(asked, NOW)
    assert {way.key for way in ways} >= {"saturday", "slack"}
    told = {"301", "302"}
    for way in ways:
        assert way.sooner_days >= 0
        assert way.say_on is None or (plain.say_on and way.say_on <= plain.say_on)
        if way.sooner_days:
            assert way.words
            assert way.first
            assert not told & set(way.moved) or way.key == "slack"


def test_the_shop_is_read_once_for_many_questions(
    slab: AskedPiece, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    new_date.answer(Asked((slab,)), NOW)
    with django_assert_max_num_queries(3):
        new_date.answer(Asked((slab, slab)), NOW)


def test_a_change_in_the_shop_is_seen_at_once(slab: AskedPiece) -> None:
    before = new_date.answer(Asked((slab,)), NOW)
    make_piece(make_job("304", TODAY + dt.timedelta(days=20)), area_m2=1.4)
    rebuild()
    after = new_date.answer(Asked((slab,)), NOW)
    assert before.leaves_at and after.leaves_at  # noqa: PT018
    assert after.leaves_at >= before.leaves_at
    assert planned_shop.planned_shop(NOW).plan.finish.keys() >= {"304"}


def a_change(area_m2: float) -> None:
    """A fact as services write it, in a transaction with the note that dates must follow it."""
    with transaction.atomic():
        Piece.objects.update(area_m2=area_m2)
        note_change("areas")


def areas_seen() -> set[float]:
    jobs = planned_shop.planned_shop(NOW).read.jobs
    return {piece.area_m2 for job in jobs for piece in job.pieces.all()}


def test_no_answer_waits_for_a_worker_to_see_a_change(slab: AskedPiece) -> None:
    """Nothing has been rebuilt since: the edition still counts what was before the change."""
    before = new_date.answer(Asked((slab,)), NOW)
    edition = Shop.objects.get().edition
    a_change(6.0)
    assert Shop.objects.get().edition == edition
    assert areas_seen() == {6.0}
    after = new_date.answer(Asked((slab,)), NOW)
    assert after != before
    planned_shop.forget()
    assert new_date.answer(Asked((slab,)), NOW) == after
    rebuild()
    assert areas_seen() == {6.0}
    a_change(1.4)
    assert areas_seen() == {1.4}
    assert new_date.answer(Asked((slab,)), NOW) == before


@pytest.mark.parametrize("rebuilt", [False, True])
def test_facts_that_change_while_they_are_read_are_read_again(
    monkeypatch: pytest.MonkeyPatch, rebuilt: bool
) -> None:
    """A change that is written behind the reader's back, by whoever is quick enough."""
    read = planned_shop.read_shop

    def overtaken(*args: Any, **more: Any) -> PlanRead:
        found = read(*args, **more)
        a_change(6.0)
        if rebuilt:
            rebuild()
        return found

    monkeypatch.setattr(planned_shop, "read_shop", overtaken)
    assert areas_seen() == {1.4}  # asked before the change was written
    monkeypatch.setattr(planned_shop, "read_shop", read)
    assert areas_seen() == {6.0}


def test_a_rebuild_between_the_two_looks_at_the_shops_state_is_noticed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What it worked in is counted by one of the two, whichever is looked at first."""
    assert areas_seen() == {1.4}
    a_change(6.0)
    looks: list[str] = []

    def overtaken(name: str) -> Any:
        look = getattr(planned_shop, name)

        def looked() -> Any:
            found = look()
            looks.append(name)
            if len(looks) == 1:
                rebuild()
            return found

        return looked

    for name in ("_ahead", "_edition"):
        monkeypatch.setattr(planned_shop, name, overtaken(name))
    assert areas_seen() == {6.0}
    assert set(looks) == {"_ahead", "_edition"}


# The screen.


def asked_by(slab: AskedPiece, **more: str) -> dict[str, str]:
    known = new_date_materials()
    return query(
        line(known, area="96 x 25 1/2"), wish=WISH.isoformat(), must_match="on", **more
    ).dict()


def new_date_materials() -> Any:
    from jobs.services.asked import materials

    return materials()


def test_the_office_gets_a_day_with_what_holds_it(office: Client, slab: AskedPiece) -> None:
    answer = office.get(reverse("new-date"), asked_by(slab))
    assert answer.status_code == 200
    text = text_of(answer)
    for said in ("You can say", "What holds it", "Late", "Sooner, at a price", "Take the job on"):
        assert said in text
    assert 'value="96 x 25 1/2"' in text


def test_while_somebody_types_the_shop_is_read_as_it_changes(
    office: Client, slab: AskedPiece, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = office.get(reverse("new-date")).content.decode()
    ready = reverse("date-ready")
    assert f'hx-get="{ready}" hx-trigger="load, every' in page
    monkeypatch.setattr(timezone, "now", lambda: NOW)
    assert office.get(ready).status_code == 204
    a_change(2.0)
    assert office.get(ready).status_code == 204

    def read_again(*_: Any, **__: Any) -> PlanRead:
        raise AssertionError("the shop was ready")

    monkeypatch.setattr(planned_shop, "read_shop", read_again)
    assert areas_seen() == {2.0}


def test_by_htmx_the_other_ways_come_after_the_day(office: Client, slab: AskedPiece) -> None:
    answer = office.get(reverse("new-date"), asked_by(slab), headers={"hx-request": "true"})
    text = text_of(answer)
    assert "<html" not in text
    assert "You can say" in text
    assert reverse("date-ways") in text
    ways = office.get(reverse("date-ways"), asked_by(slab), headers={"hx-request": "true"})
    assert "Sooner, at a price" in text_of(ways)


def test_nothing_typed_is_lost_by_an_error(office: Client, slab: AskedPiece) -> None:
    answer = office.get(reverse("new-date"), asked_by(slab) | {"line1-area": "big"})
    assert answer.status_code == 422
    text = text_of(answer)
    assert "&#x27;big&#x27; is not a number" in text
    assert 'value="big"' in text
    assert 'value="Bar top"' in text


def test_a_shop_without_a_mix_is_told_what_is_missing(office: Client) -> None:
    from shop.models import Mix

    Mix.objects.update(in_use=False)
    answer = office.get(reverse("new-date"))
    assert answer.status_code == 200
    assert "none of this in use yet: a mix" in text_of(answer)


def test_the_pieces_and_the_day_become_a_job(office: Client, slab: AskedPiece) -> None:
    answer = office.get(reverse("new-date"), asked_by(slab))
    link = next(
        part.split('"')[0]
        for part in answer.content.decode().split('href="')
        if part.startswith(reverse("new-job"))
    ).replace("&amp;", "&")
    carried = {name: values[0] for name, values in parse_qs(urlsplit(link).query).items()}
    page = office.get(link)
    text = text_of(page)
    assert "2 × <strong>Bar top</strong>" in text
    assert f'value="{carried["promised_on"]}"' in text
    fields = {
        "number": "410", "title": "Bar", "customer": str(make_customer().pk), "weight": "1",
        "taken_on": "2026-03-18",
    }  # fmt: skip
    done = office.post(reverse("new-job"), carried | fields, follow=True)
    assert "Job 410 is taken on with its pieces" in text_of(done)
    job = Job.objects.get(number="410")
    assert job.promised_on == dt.date.fromisoformat(carried["promised_on"])
    assert list(job.pieces.values_list("code", flat=True)) == ["410-A", "410-B"]


def test_carried_pieces_stay_while_the_job_is_mended(office: Client, slab: AskedPiece) -> None:
    fields = asked_by(slab) | {"number": "21 7", "title": "", "taken_on": "2026-03-18"}
    answer = office.post(reverse("new-job"), fields)
    assert answer.status_code == 422
    assert 'name="line1-area" value="96 x 25 1/2"' in text_of(answer)
    assert not Job.objects.filter(title="").exists()


def test_pieces_that_cannot_be_taken_over_are_named(office: Client, slab: AskedPiece) -> None:
    fields = asked_by(slab) | {
        "number": "410", "title": "Bar", "customer": str(make_customer().pk), "weight": "1",
        "taken_on": "2026-03-18", "line1-mix": "999",
    }  # fmt: skip
    answer = office.post(reverse("new-job"), fields)
    assert answer.status_code == 422
    assert "can&#x27;t be taken over as they are. Mix:" in text_of(answer)
    assert not Job.objects.filter(number="410").exists()
