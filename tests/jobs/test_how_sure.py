"""The range of a job's dates in the app: what it is judged on, and what it is drawn from."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from curing.doubt import Doubt, quantiles
from curing.fitting import Form, fit
from curing.strength import PLACEHOLDER
from jobs.models import PromiseState
from jobs.services.derive import derive_jobs
from jobs.services.facts import load_facts
from jobs.services.outlook import as_json, from_json
from jobs.services.readiness import outlook_of
from shop.models import JudgedOn, Mix, Shop
from shop.services.curves import curves_of, draws_of, strength_band
from shop.services.materials import save_mix
from tests.factories import (
    make_job,
    make_mark,
    make_piece,
    make_readings,
    make_room,
    make_shop,
    make_working_week,
)

NOW = dt.datetime(2026, 3, 10, 15, tzinfo=dt.UTC)
HOUR = dt.timedelta(hours=1)
pytestmark = pytest.mark.django_db


@pytest.fixture
def job():
    make_shop()
    make_working_week()
    room = make_room()
    make_readings(room, NOW - 200 * HOUR, 200, 18.0, every_minutes=60)
    job = make_job("217")
    for letter in "AB":
        piece = make_piece(job, letter, room=room)
        make_mark(piece, "cast", NOW - 6 * HOUR)
    return job


def test_every_step_to_come_has_its_range_in_order(job) -> None:
    for piece in outlook_of("217", NOW).pieces:
        assert piece.ready_early <= piece.ready_at <= piece.ready_late
        for step in piece.steps:
            if step.done:
                assert step.early is step.likely is step.late is None
            else:
                assert step.early <= step.likely <= step.late


def test_the_same_facts_give_the_same_range_and_it_is_stored_whole(job) -> None:
    once, again = outlook_of("217", NOW), outlook_of("217", NOW)
    assert once == again
    assert from_json(as_json(once)) == once


def test_two_pieces_are_ready_no_sooner_than_either(job) -> None:
    found = outlook_of("217", NOW)
    assert found.ready_late >= max(piece.ready_late for piece in found.pieces)
    assert found.ready_early >= max(piece.ready_early for piece in found.pieces)


def test_the_chance_of_the_promise_rises_with_the_days_given(job) -> None:
    ready = outlook_of("217", NOW)
    chances = []
    for days in (-2, 0, 1, 4):
        job.promised_on = ready.ready_at.date() + dt.timedelta(days=days)
        job.save()
        chances.append(outlook_of("217", NOW).chance)
    assert chances == sorted(chances)
    assert chances[0] == 0.0
    assert chances[-1] > 0.95


def test_a_promise_is_judged_on_the_late_time_unless_the_shop_says_otherwise(job) -> None:
    Mix.objects.update(placeholder=True)
    found = outlook_of("217", NOW)
    between = found.ready_at + (found.ready_late - found.ready_at) / 2
    local = between.astimezone(Shop.objects.get().zone)
    job.promised_on, job.promised_by = local.date(), local.time()
    job.save()

    assert found.ready_late > found.ready_at
    late = outlook_of("217", NOW)
    assert (late.state, late.judged_at) == (PromiseState.SHORT, late.ready_late)
    assert late.spare_hours < 0
    assert 0.0 < late.chance < 0.9

    Shop.objects.update(judged_on=JudgedOn.LIKELY)
    likely = outlook_of("217", NOW)
    assert likely.state == PromiseState.TIGHT
    assert likely.spare_hours > 0
    assert likely.chance == late.chance


def test_the_shops_own_tests_narrow_the_range(job) -> None:
    """Of the age at which 2,500 psi are reached, and of the strengths that are shown."""

    def spread_of(mix: Mix) -> tuple[float, float]:
        early, _, late = quantiles(curves_of(mix, Doubt()).ages_at(17.2)).tolist()
        low, high = strength_band(mix, [24.0])
        return late - early, float(high[0] - low[0])

    mix = Mix.objects.get()
    mix.placeholder = True
    placeholder = spread_of(mix)
    ages = np.repeat([8.0, 12.0, 16.0, 24.0, 48.0, 168.0], 3)
    noise = np.random.default_rng(5).normal(0, 0.04, len(ages))
    fitted = fit(Form.HYPERBOLIC, ages, PLACEHOLDER.at(ages) * (1 + noise))
    mix.placeholder, mix.curve_draws = False, draws_of(fitted)
    tested = spread_of(mix)
    assert tested[0] < 0.5 * placeholder[0]
    assert tested[1] < 0.5 * placeholder[1]


def test_typing_another_curve_lets_the_band_of_the_tests_go(job) -> None:
    mix = Mix.objects.get()
    mix.curve_draws = [[62.0, -3.4, 6.0]]
    mix.save()
    same = save_mix(mix_id=mix.pk, version=mix.version, values={"notes": "seen"})
    assert same.curve_draws
    other = save_mix(mix_id=mix.pk, version=same.version, values={"su_mpa": 50.0})
    assert other.curve_draws == []


def test_a_room_that_missed_its_plan_has_a_wider_range(job) -> None:
    """The same last day of readings; the weeks before it wandered or did not."""
    facts = load_facts(NOW)
    room = job.pieces.first().room
    steady = facts.airs[room.pk].doubt.sd
    for hours in range(-900, -200):
        make_readings(room, NOW + hours * HOUR, 0, 18.0 + 8.0 * float(np.sin(hours / 15.0)))
    make_mark(make_piece(make_job("218"), "A", room=room), "cast", NOW - 880 * HOUR)
    assert load_facts(NOW).airs[room.pk].doubt.sd > steady


def test_the_range_asks_the_database_nothing(job, django_assert_num_queries) -> None:
    facts = load_facts(NOW)
    with django_assert_num_queries(0):
        derive_jobs(facts)


def test_the_latest_cast_leaves_time_for_what_is_not_known(job) -> None:
    make_job("300", promised_on=dt.date(2026, 4, 10))
    piece = make_piece(job.__class__.objects.get(number="300"), "A", room=job.pieces.first().room)
    assert piece.pk
    late = outlook_of("300", NOW).latest_cast
    Shop.objects.update(judged_on=JudgedOn.LIKELY)
    likely = outlook_of("300", NOW).latest_cast
    assert late <= likely


def test_each_day_has_its_chance_and_the_promised_one_has_the_promises(job) -> None:
    found = outlook_of("217", NOW)
    shares = [entry.chance for entry in found.days]
    assert shares == sorted(shares)
    assert shares[0] > 0
    assert shares[-1] > 0.95
    assert found.days[0].on <= found.ready_late.date() <= found.days[-1].on
    assert found.chance_on(found.days[0].on - dt.timedelta(days=1)) == 0.0
    assert found.chance_on(found.days[-1].on + dt.timedelta(days=30)) == shares[-1]
    job.promised_on = found.ready_at.date()
    job.save()
    promised = outlook_of("217", NOW)
    assert promised.chance_on(promised.promised_on) == promised.chance


@pytest.mark.parametrize("judged_on", JudgedOn.values)
def test_the_day_that_can_be_told_is_the_first_whose_chance_is_enough(job, judged_on) -> None:
    """Judged on the late time: kept at least 9 times in 10, and the working day before is not."""
    Shop.objects.update(judged_on=judged_on)
    job.promised_on = NOW.date()
    job.save()
    found = outlook_of("217", NOW)
    chance = found.chance_on(found.holding_on)
    before = found.chance_on(found.holding_on - dt.timedelta(days=1))
    if judged_on == JudgedOn.LATE:
        assert before < 0.9 <= chance
    else:
        assert chance > 0.25


def test_the_sealers_dates_are_late_with_the_last_coat(job) -> None:
    """By as much as the coat itself, counted in the room's warmth; later is never sooner."""
    room, moved = make_room(), 0
    Mix.objects.update(placeholder=True)
    for number, hours in enumerate((0, 9, 18, 30)):
        other = make_job(str(300 + number))
        make_mark(make_piece(other, "A", room=room), "cast", NOW - hours * HOUR)
        piece = outlook_of(other.number, NOW).pieces[0]
        coat = [step for step in piece.steps if step.kind == "coat"][-1]
        later = coat.late - coat.workable
        moved += later > dt.timedelta(0)
        for likely, late in (
            (piece.handle_at, piece.handle_late),
            (piece.light_use_at, piece.light_use_late),
            (piece.full_use_at, piece.full_use_late),
        ):
            assert abs((late - likely) - later) < max(later / 4, dt.timedelta(minutes=2))
    assert moved
