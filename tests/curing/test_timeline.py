"""The milestones of a piece: what governs, what holds them, and the latest casting time."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from curing.climate import Climate, Readings, compose
from curing.sealing import Sealer
from curing.strength import PLACEHOLDER
from curing.timeline import CRITERIA, Shifts, Step, derive, latest_cast, pending, ready

WEEK = [(day * 24 + 7.0, day * 24 + 15.5) for day in range(60) if day % 7 < 5]
CAST = Step("cast", "cast", kind="cast")
DEMOLD = Step("demold", "demold", since_cast_hours=16.0, strength_mpa=17.2, kind="demold")
HONE = Step("hone", "hone", wets=True, labour_hours=1.0)
COATS = [
    Step("seal-1", "coat 1", coat=1, drying_hours=24.0, labour_hours=0.5),
    Step("seal-2", "coat 2", coat=2, labour_hours=0.5),
]
CRATE = Step("crate", "crate", film=True, labour_hours=0.5)
DELIVER = Step("deliver", "deliver", kind="deliver")
ROUTE = [CAST, DEMOLD, HONE, *COATS, CRATE, DELIVER]


def room(celsius: float = 20.0, humidity: float = 0.5) -> Climate:
    hours = np.arange(0.0, 24 * 60)
    planned = Readings.of(hours, np.full(len(hours), celsius), np.full(len(hours), humidity))
    return compose(readings=Readings.of([], []), planned=planned, now=0.0)


def case(**changes):
    values = {
        "cast": 14.0,
        "steps": ROUTE,
        "climate": room(),
        "curve": PLACEHOLDER,
        "shifts": Shifts(WEEK),
        "sealer": Sealer(least_age=0.0),
    }
    return {**values, **changes}


def by_key(**changes):
    return {milestone.key: milestone for milestone in derive(**case(**changes))}


def test_strength_governs_a_cold_demold_and_the_clock_a_warm_one() -> None:
    cold, warm = by_key(climate=room(8.0))["demold"], by_key(climate=room(35.0))["demold"]

    assert cold.governs == "strength"
    assert cold.detail == "strength for handling (17.2 MPa)"
    assert warm.governs == "clock floor"
    assert warm.earliest == 14.0 + 16.0


def test_strength_is_reached_at_the_age_of_the_curve() -> None:
    """At a steady 20 °C equivalent age is the clock."""
    expected = 14.0 + PLACEHOLDER.age_at(17.2)

    assert by_key()["demold"].earliest == pytest.approx(expected, abs=1e-6)


def test_what_the_concrete_allows_at_night_waits_for_the_shift() -> None:
    demold = by_key(cast=9.0)["demold"]  # its strength comes in the small hours

    assert demold.earliest < 31.0
    assert demold.workable == 31.0
    assert demold.held_by == "crew hours"


def test_drying_starts_at_the_last_wetting() -> None:
    milestones = by_key()
    wait = next(w for w in milestones["seal-1"].waits if w.criterion == "drying")

    assert wait.until == pytest.approx(milestones["hone"].finish + 24.0)


def test_without_a_wetting_drying_starts_at_demold() -> None:
    milestones = by_key(steps=[CAST, DEMOLD, *COATS])
    wait = next(w for w in milestones["seal-1"].waits if w.criterion == "drying")

    assert wait.until == pytest.approx(milestones["demold"].finish + 24.0)


def test_the_sealers_least_concrete_age_is_kept() -> None:
    seal = by_key(sealer=Sealer(least_age=400.0))["seal-1"]

    assert seal.governs == "concrete age"
    assert seal.earliest == 414.0


def test_the_recoat_wait_and_the_sealer_cure_are_kept() -> None:
    milestones = by_key()

    assert milestones["seal-2"].earliest == pytest.approx(milestones["seal-1"].finish + 4.0)
    cured = room().time_of_film(milestones["seal-2"].finish, 24.0)
    assert milestones["crate"].earliest == pytest.approx(cured)
    assert milestones["crate"].governs == "sealer cure"


def test_a_coat_waits_for_air_that_fits() -> None:
    hours = np.arange(0.0, 24 * 60)
    celsius = np.where(hours < 30 * 24, 10.0, 20.0)
    cold_booth = compose(
        readings=Readings.of([], []),
        planned=Readings.of(hours, celsius, np.full(len(hours), 0.5)),
        now=0.0,
    )
    seal = by_key(coating_climate=cold_booth)["seal-1"]

    assert seal.workable >= 30 * 24 - 1
    assert seal.held_by == "sealing air"
    assert seal.earliest < 10 * 24


def test_a_missed_recoat_window_asks_for_abrading() -> None:
    done = {"cast": 14.0, "demold": 40.0, "hone": 55.0, "seal-1": 130.0}
    sealer = Sealer(recoat_greatest=5.0, least_age=0.0, abrade_hours=1.0)
    seal = by_key(done=done, sealer=sealer)["seal-2"]  # 130 h is a Saturday

    assert seal.note.startswith("abrade first")
    assert seal.finish - seal.workable == pytest.approx(1.5)


def test_a_coat_is_held_back_for_the_next_ones_window() -> None:
    """Coat 1 could go on at 13:00, but coat 2 would then miss its 8 h window overnight: both are
    on sooner, without abrading, when coat 1 waits for the morning."""
    sealer = Sealer(recoat_least=4.0, recoat_greatest=8.0, least_age=0.0, abrade_hours=6.0)
    steps = [CAST, Step("seal-1", "coat 1", coat=1, since_cast_hours=23.0), COATS[1]]
    milestones = by_key(steps=steps, sealer=sealer)

    assert milestones["seal-1"].note.startswith("held back")
    assert milestones["seal-2"].note == ""
    gap = milestones["seal-2"].workable - milestones["seal-1"].finish
    assert 4.0 <= gap <= 8.0


def test_marks_are_facts_and_what_follows_rests_on_them() -> None:
    milestones = derive(**case(done={"cast": 14.0, "demold": 60.0}, now=61.0))

    assert milestones[1].done
    assert milestones[1].workable == 60.0
    assert pending(milestones).key == "hone"
    assert milestones[2].workable >= 61.0


def test_an_early_mark_still_shows_what_the_concrete_allowed() -> None:
    demold = by_key(done={"cast": 14.0, "demold": 20.0})["demold"]

    assert demold.finish == 20.0
    assert demold.earliest > 20.0


def test_an_undone_step_is_never_workable_in_the_past() -> None:
    demold = by_key(now=130.0)["demold"]

    assert demold.earliest < 130.0
    assert demold.workable >= 130.0


def test_what_is_never_reached_is_told_as_never() -> None:
    milestones = by_key(steps=[CAST, replace(DEMOLD, strength_mpa=500.0), DELIVER])

    assert milestones["demold"].earliest == math.inf
    assert milestones["deliver"].workable == math.inf


def test_each_criterion_has_words() -> None:
    for milestone in derive(**case()):
        assert all(wait.criterion in CRITERIA for wait in milestone.waits)
        assert milestone.governs == milestone.waits[0].criterion


def test_work_that_fits_a_shift_ends_in_the_shift_it_starts_in() -> None:
    shifts = Shifts(WEEK)

    assert shifts.first_fit(14.0, 1.0) == (14.0, 15.0)
    assert shifts.first_fit(15.0, 1.0) == (31.0, 32.0)
    assert shifts.first_fit(15.0, 0.5) == (15.0, 15.5)
    assert shifts.first_fit(15.5, 0.0) == (31.0, 31.0)


def test_work_longer_than_a_shift_runs_on() -> None:
    assert Shifts(WEEK).first_fit(14.0, 10.0) == (14.0, 39.5 - 0.0)


def test_past_the_last_shift_there_is_no_time() -> None:
    assert Shifts(WEEK).first_fit(24 * 90.0, 1.0) == (math.inf, math.inf)
    assert Shifts([]).first_fit(0.0, 0.0) == (math.inf, math.inf)


def test_shifts_cut_by_allowed_air() -> None:
    cut = Shifts([(7, 12), (13, 16)]).within([(0, 8), (11, 14)])

    assert cut.windows.tolist() == [[7, 8], [11, 12], [13, 14]]


def test_the_latest_cast_meets_the_deadline_and_a_later_shift_does_not() -> None:
    arguments = case()
    del arguments["cast"]
    deadline = 24 * 16 + 15.0
    latest = latest_cast(deadline, ready_key="deliver", not_before=8.0, **arguments)

    def ready_at(cast: float) -> float:
        return ready(derive(cast=cast, **arguments), "deliver")

    assert ready_at(latest) <= deadline
    following = arguments["shifts"].first_fit(latest + 1 / 30, 0.0)[0]
    assert ready_at(following) > deadline


def test_the_latest_cast_leaves_the_shift_time_for_the_work() -> None:
    arguments = case()
    del arguments["cast"]
    free, worked = (
        latest_cast(24 * 16 + 15.0, ready_key="deliver", not_before=8.0, cast_labour=h, **arguments)
        for h in (0.0, 3.0)
    )

    assert worked <= free
    assert arguments["shifts"].first_fit(worked, 3.0)[0] == pytest.approx(worked)


def test_a_coat_with_a_late_floor_of_its_own_holds_the_coat_before_it_back() -> None:
    """Coat 2 may not go on before 200 h: coat 1 waits, so that it can follow in its window."""
    second = replace(COATS[1], since_cast_hours=200.0)
    milestones = by_key(steps=[CAST, DEMOLD, COATS[0], second, DELIVER])
    gap = milestones["seal-2"].workable - milestones["seal-1"].finish

    assert milestones["seal-1"].note.startswith("held back")
    assert milestones["seal-2"].note == ""
    assert 4.0 <= gap <= 24.0


def test_there_may_be_no_cast_that_meets_a_deadline() -> None:
    arguments = case()
    del arguments["cast"]

    assert latest_cast(30.0, ready_key="deliver", not_before=8.0, **arguments) is None


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"steps": []}, "at least the casting"),
        ({"cast": math.inf}, "finite"),
        ({"sealer": None}, "needs a sealer"),
    ],
)
def test_impossible_cases_are_refused(changes, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        derive(**case(**changes))


@pytest.mark.parametrize(
    ("windows", "message"),
    [
        ([(8, 7)], "end after"),
        ([(7, 9), (8, 10)], "not overlap"),
        ([(7, math.inf)], "finite"),
    ],
)
def test_impossible_shifts_are_refused(windows, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        Shifts(windows)
