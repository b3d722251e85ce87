"""Another way of making a piece, thought through beside today's."""

from __future__ import annotations

import datetime as dt
from itertools import pairwise

import numpy as np
import pytest
from django.apps import apps
from hypothesis import given
from hypothesis import strategies as st

from curing.climate import Readings, compose
from jobs.models import Piece, PromiseState
from jobs.services.course import OpenPiece, open_piece
from jobs.services.errors import Refused
from jobs.services.what_if import Answer, Thought, kept_at, what_if
from tests import factories
from tests.factories import DAY, HOUR, NOW


def opened(code: str = "217-A") -> OpenPiece:
    found = open_piece(code, NOW)
    assert found is not None
    return found


def answer(**thought) -> Answer:
    return what_if(opened(), Thought(**thought))


def ready(**thought) -> dt.datetime:
    return answer(**thought).piece_after.ready_at


def test_nothing_thought_changes_nothing(cast):
    got = what_if(opened(), Thought())

    assert got.after == got.before
    assert got.shift_hours == 0
    assert {change.shift_hours for change in got.steps} == {0}
    assert not Thought()


@pytest.mark.parametrize("started", [True, False])
def test_a_hot_room_is_never_later_than_a_cold_one(waiting, started):
    if started:
        factories.make_mark(waiting, "cast", NOW - DAY)
    # From the least to the greatest at which this sealer may be put on.
    degrees = [16.0, 18.0, 20.0, 23.0, 26.0, 29.0]
    found = opened()
    answers = [what_if(found, Thought(celsius=celsius)) for celsius in degrees]

    for cold, hot in pairwise(answers):
        assert hot.piece_after.ready_at <= cold.piece_after.ready_at
        for before, after in zip(cold.piece_after.steps, hot.piece_after.steps, strict=True):
            assert after.workable <= before.workable
    assert answers[0].piece_after.ready_at > answers[-1].piece_after.ready_at


@given(
    changes=st.lists(st.floats(5, 30), min_size=2, max_size=40),
    cold=st.floats(0, 45),
    more=st.floats(0, 20),
    share=st.floats(0, 1),
)
def test_kept_warmer_from_now_on_concrete_is_never_behind(changes, cold, more, share):
    hours = np.arange(len(changes), dtype=float) * 2
    since = share * float(hours[-1])
    plan = Readings.of(hours, changes, 0.5)
    air = compose(readings=Readings.of([], []), planned=plan, now=since)
    cooler, warmer = (kept_at(air, celsius, since=since) for celsius in (cold, cold + more))
    times = np.linspace(0, 200, 50)

    assert (warmer.equivalent_age(0.0, times) >= cooler.equivalent_age(0.0, times) - 1e-9).all()
    before, after = times[times < since], times[times > since]
    assert cooler.celsius_at(before) == pytest.approx(air.celsius_at(before))
    assert cooler.celsius_at(after) == pytest.approx(cold)
    assert len(cooler.measured) == len(cooler.hours) - 1


def test_measured_hours_stay_measured_in_thought(cast):
    room = opened().facts.climate_of(cast.room_id)
    kept = kept_at(room, 25.0, since=room.now)

    past = room.now - 48.0
    assert kept.measured_share(past, room.now) == pytest.approx(1.0)
    assert kept.measured_share(room.now, room.now + 24) == 0
    assert float(kept.equivalent_age(past, room.now)) == pytest.approx(48.0)


def test_the_whole_job_in_the_room_is_kept_warm(cast):
    other = factories.make_piece(cast.job, "B")
    factories.make_mark(other, "cast", NOW - DAY)
    got = answer(celsius=28.0)

    a, b = got.after.pieces
    assert abs(a.ready_at - b.ready_at) < dt.timedelta(minutes=15)  # their work is their own
    assert b.ready_at < got.before.pieces[1].ready_at


def test_cast_later_it_is_ready_later_and_the_promise_says_so(waiting):
    waiting.job.promised_on = dt.date(2026, 3, 30)
    waiting.job.save()
    times = [NOW + days * DAY for days in (0, 1, 2, 6, 12)]
    answers = [answer(cast_at=at) for at in times]

    found = [got.piece_after.ready_at for got in answers]
    assert found == sorted(found)
    assert answers[0].after.state == PromiseState.HOLDS
    assert answers[-1].after.state == PromiseState.SHORT
    assert answers[-1].after.spare_hours < 0 < answers[0].after.spare_hours
    assert answers[-1].piece_after.cast_planned == times[-1]


def test_a_cast_piece_may_be_thought_cast_sooner_or_later(cast):
    today = opened().outlook.ready_at

    assert ready(cast_at=NOW - 3 * DAY) <= today <= ready(cast_at=NOW - 2 * HOUR)
    assert ready(cast_at=NOW - DAY) == today
    assert ready(cast_at=NOW + 2 * DAY) > today


def test_marks_that_cannot_stand_beside_the_casting_are_left_aside_and_named(cast):
    factories.make_mark(cast, "demold", NOW - 4 * HOUR)
    factories.make_mark(cast, "grind", NOW - 2 * HOUR)
    got = answer(cast_at=NOW - 3 * HOUR)

    assert got.left_aside == ("demold and flip",)
    done = {step.key for step in got.piece_after.steps if step.done}
    assert "demold" not in done
    assert answer(cast_at=NOW - 2 * DAY).left_aside == ()


def test_a_casting_still_to_come_is_not_a_done_one(cast):
    got = answer(cast_at=NOW + DAY)

    assert got.piece_after.cast_at is None
    assert got.piece_after.cast_planned == NOW + DAY
    assert not got.piece_after.steps[0].done


def test_a_faster_mix_is_ready_sooner(cast):
    quick = factories.make_mix(name="Quick", rate_per_hour=0.2, setting_hours=3.0)
    slow = factories.make_mix(name="Slow", rate_per_hour=0.005, setting_hours=9.0)
    today = opened().outlook

    quicker, slower = answer(mix=quick).piece_after, answer(mix=slow).piece_after
    assert quicker.strength_mpa > today.strength_mpa > slower.strength_mpa
    assert quicker.ready_at <= today.ready_at < slower.ready_at
    assert quicker.mix == "Quick"


def test_a_sealer_with_another_number_of_coats_has_its_own_steps(cast):
    three = factories.make_sealer(name="Thick", coats=3)
    got = answer(sealer=three)

    names = [change.name for change in got.steps]
    assert names[5:9] == ["seal coat 1", "seal coat 2", "seal coat 3", "check and crate"]
    third = got.steps[7]
    assert third.before is None
    assert third.after is not None
    assert third.shift_hours is None


def test_a_coat_that_the_other_sealer_has_not_is_told(cast):
    got = answer(sealer=factories.make_sealer(name="Thin", coats=1))

    gone = [change.name for change in got.steps if change.after is None]
    assert gone == ["seal coat 2"]
    assert "seal coat" in [change.name for change in got.steps]


@pytest.mark.parametrize(
    ("at", "said"),
    [
        (NOW - 40 * DAY, "air is read here from"),
        (NOW + 91 * DAY, "90 days ahead"),
    ],
)
def test_a_casting_out_of_sight_is_refused(cast, at, said):
    with pytest.raises(Refused, match=said) as refused:
        answer(cast_at=at)
    assert refused.value.field == "cast_at"


def test_an_uncast_piece_cannot_have_been_cast(waiting):
    with pytest.raises(Refused, match="not cast yet"):
        answer(cast_at=NOW - HOUR)


def test_thinking_saves_nothing_and_leaves_what_was_read_as_it_is(cast):
    factories.make_mark(cast, "demold", NOW - HOUR)
    thought = Thought(
        cast_at=NOW - HOUR / 2,
        celsius=25.0,
        mix=factories.make_mix(name="Other"),
        sealer=factories.make_sealer(name="Else"),
    )
    found = opened()
    before = _rows()
    what_if(found, thought)

    assert _rows() == before
    assert what_if(found, Thought()).after == found.job_outlook
    assert opened().outlook == found.outlook
    assert Piece.objects.get().mix_id == cast.mix_id


def _rows() -> dict[str, list[tuple]]:
    models = [*apps.get_app_config("shop").get_models(), *apps.get_app_config("jobs").get_models()]
    return {model.__name__: sorted(model.objects.values_list(), key=str) for model in models}
