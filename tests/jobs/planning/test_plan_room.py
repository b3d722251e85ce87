"""Two casts are pinned for which there is but one table: the page says which of them would have to
go to another time, and no pin that has nothing to do with it."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from django.utils import timezone

from jobs.planning.problem import Hold, Job, Key, Lag, Person, Piece, Place, Problem, Step
from jobs.services import casting, plan_room
from jobs.services.plan_room import pins_in_the_way
from shop.localtime import settle
from shop.models import CastingTable
from shop.services.settings import the_shop
from tests.jobs.planning.plan_shop import a_shop, an_owner, planned
from tests.jobs.planning.shops import bare_shop

DAY = dt.timedelta(days=1)


def cast_of(code: str, pin: int | None, table: str = "table") -> Piece:
    """A form in the morning, cast at `pin`, on the table until it has cured for 40 slots."""
    steps = (
        Step("form", 2, 1, lag=Lag(4)),
        Step("cast", 2, 1, pin=pin, lag=Lag(40)),
        Step("demold", 2, 1),
    )
    return Piece(code, code, steps, (Hold((table,), 0, 2, 10),))


def one_table_two_pins() -> Problem:
    """1 and 2 are pinned to the second and third morning on one table; 3 has one of its own."""
    places = (Place("table", 10, "table"), Place("other", 10, "table"))
    people = tuple(Person(name, frozenset()) for name in ("one", "two", "three"))
    shop = replace(bare_shop(places=places), people=people)
    pieces = (cast_of("1", 62), cast_of("2", 64), cast_of("3", 63, "other"))
    jobs = (Job("1", due=200), Job("2", due=200), Job("3", due=200))
    return Problem(shop, jobs, pieces)


@pytest.mark.parametrize(("out", "first"), [("2", "2"), ("1", "1")])
def test_either_of_the_two_may_go_and_the_job_s_own_is_named_first(out: str, first: str) -> None:
    found = pins_in_the_way(one_table_two_pins(), None, out, frozenset({out}))
    assert [pin.codes for pin in found] == [[first], ["1" if first == "2" else "2"]]
    assert {pin.name for pin in found} == {"cast"}
    assert found[0].steps == {Key(first, 1)}


def test_a_pin_that_would_only_throw_another_out_is_not_named() -> None:
    """Three casts for one table, none of which can be moved alone."""
    problem = one_table_two_pins()
    pieces = (*problem.pieces[:2], cast_of("3", 66))
    out = frozenset({"2"})
    assert pins_in_the_way(replace(problem, pieces=pieces), None, "2", out) == ()


def test_no_more_pins_are_tried_than_there_is_time_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(plan_room, "MOST", 1)
    found = pins_in_the_way(one_table_two_pins(), None, "2", frozenset({"2"}))
    assert [pin.codes for pin in found] == [["2"]]


@pytest.mark.django_db
def test_the_proposal_names_the_casts_and_when_they_are_set() -> None:
    jobs = a_shop(jobs=2)
    CastingTable.objects.exclude(name="Table 1").delete()
    CastingTable.objects.update(length_m=2.2, width_m=0.9)  # for one of them
    owner, today = an_owner(), timezone.localdate()
    monday = today + (7 - today.weekday()) * DAY
    for day, job in enumerate(jobs, 1):
        piece = job.pieces.get()
        at = settle(dt.datetime.combine(monday + day * DAY, dt.time(9)), the_shop().zone)
        casting.plan_cast(piece_ids=[piece.pk], room_id=piece.room_id, planned_for=at, by=owner)
    run = planned(owner)
    assert run.found is not None
    (said,) = run.found["shown"]["left_out"]
    assert "finds no room beside all that is pinned" in said["words"]
    assert "if one of these goes to another time" in said["words"]
    for job in jobs:
        assert f"the cast of {job.number}-A (" in said["words"]
    assert " or the cast of " in said["words"]
    assert f"{monday + DAY:%a}" in said["words"]
    (row,) = [each for each in run.found["shown"]["jobs"] if each["number"] == said["about"]]
    assert row["leaves"] is None
