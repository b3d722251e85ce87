"""A plan's range: with nothing in doubt the plan itself; else what plain code makes of the same draws."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from jobs.planning.course import Wait
from jobs.planning.faults import sift
from jobs.planning.generate import SMALL, random_shop
from jobs.planning.lists import earliest_due_first
from jobs.planning.moment import FAR, MEND, OVER, TICKS
from jobs.planning.problem import After, Job, Key, Lag, Plan, Problem, Step, Window
from jobs.planning.search import Spend, plans
from jobs.planning.simulate import NO_DOUBT, Doubt, Sampled, sampled, simulate
from jobs.planning.tasks import compile_tasks, plan_of
from tests.jobs.planning.shops import TINY, bare_shop, eventful_shop, lag, one_job, piece
from tools.bench_range import truth_keeps, truth_of
from tools.carried_out import Chances, carry_out


def listed(problem: Problem) -> tuple[Problem, Plan]:
    kept, _ = sift(problem)
    tasks = compile_tasks(kept)
    return kept, plan_of(tasks, earliest_due_first(tasks))


def chances_of(got: Sampled, sample: int) -> Chances:
    """The sample's draws by name, for the code that shares nothing with the compiled one."""
    course, drawn, path = got.course, got.drawn, got.path
    arcs = {arc.wait: number for number, arc in enumerate(path.arcs)}

    def wait(code: str, step: int, since: int, day: int) -> int:
        row = course.arc[arcs[Wait(code, step, since)]]
        which = row.row + row.stride * sample + min(day, row.days - 1)
        return round(float(drawn.length[which] * drawn.factor[sample, row.factor]))

    return Chances(
        work={keys[0]: int(drawn.work[sample, v]) for v, keys in enumerate(path.keys)},
        wait=wait,
        release={keys[0]: int(course.event.release[v]) for v, keys in enumerate(path.keys)},
        over=int(course.rule[OVER]),
        mend=int(course.rule[MEND]),
    )


def begun_by_plain_code(problem: Problem, plan: Plan, got: Sampled, sample: int) -> dict[Key, int]:
    longer = replace(problem, shop=got.path.shop)
    return {key: t for key, (t, _) in carry_out(longer, plan, chances_of(got, sample)).items()}


def begun_in(got: Sampled, sample: int) -> dict[Key, int]:
    return {
        key: int(got.begun[sample, v])
        for v, keys in enumerate(got.path.keys)
        for key in keys
        if got.begun[sample, v] < FAR
    }


def starts_of(got: Sampled, sample: int) -> dict[Key, float]:
    return {key: at / TICKS for key, at in begun_in(got, sample).items()}


def by_hand(shop_problem: Problem, **starts: int) -> Plan:
    """A plan of one piece `1-A`, everything by person 0."""
    rows = {Key("1-A", int(name[1:])): t for name, t in starts.items()}
    steps = shop_problem.pieces[0].steps
    people = {key: ("person 0",)[: steps[key.step].crew] for key in rows}
    last = max(rows, key=lambda key: key.step)
    return Plan(rows, people, {}, {"1": rows[last] + steps[last.step].slots})


@pytest.mark.parametrize("seed", range(40))
def test_with_nothing_in_doubt_a_listed_plan_comes_true_to_the_tick(seed: int) -> None:
    for make in (eventful_shop, lambda number: random_shop(TINY, number)):
        problem, plan = listed(make(seed))
        got = sampled(problem, plan, NO_DOUBT, samples=2, seed=seed)
        assert starts_of(got, 0) == starts_of(got, 1) == plan.starts
        ranges = simulate(problem, plan, NO_DOUBT, samples=2).jobs
        assert {job: each.late for job, each in ranges.items()} == plan.finish
        assert {job: each.early for job, each in ranges.items()} == plan.finish
        due = {job.name: job.due for job in problem.jobs}
        assert all(each.chance == (each.planned <= due[job]) for job, each in ranges.items())


@pytest.mark.parametrize("seed", range(4))
def test_with_nothing_in_doubt_a_searched_plan_comes_true_to_the_tick(seed: int) -> None:
    problem, _ = sift(random_shop(SMALL, seed) if seed % 2 else eventful_shop(seed))
    for plan, _found in plans(
        problem, Spend(rounds=1, neighbourhoods=1, work=0.02, whole_work=0.1)
    ):
        got = sampled(problem, plan, NO_DOUBT, samples=1, seed=1)
        assert starts_of(got, 0) == plan.starts


@pytest.mark.parametrize("seed", range(10))
def test_plain_code_makes_the_same_of_the_same_draws(seed: int) -> None:
    problem, plan = listed(eventful_shop(seed))
    doubt = Doubt(work=0.4, shop=0.1, wait=0.2, over=seed % 3)
    got = sampled(problem, plan, doubt, samples=3, seed=seed)
    for sample in range(3):
        assert begun_in(got, sample) == begun_by_plain_code(problem, plan, got, sample)


@pytest.mark.parametrize("seed", range(20))
def test_every_sample_keeps_to_the_rules(seed: int) -> None:
    """Pins and facts, the piece's own order and least waits, one thing at a time, places' room."""
    problem, plan = listed(eventful_shop(seed))
    got = sampled(problem, plan, Doubt(work=0.5), samples=20, seed=seed)
    course, path = got.course, got.path
    for v, step in enumerate(path.steps):
        if step.began is not None:
            assert (got.begun[:, v] == step.began * TICKS).all()
        elif step.pin is not None:
            assert (got.begun[:, v] >= step.pin * TICKS).all()
    for number, arc in enumerate(path.arcs):
        if path.steps[arc.target].began is None and not arc.lag.by_day:
            gap = got.begun[:, course.arc[number].target] - got.ended[:, arc.source]
            assert (gap >= arc.lag.least * TICKS).all()
    booth = [v for v, step in enumerate(path.steps) if "booth" in step.uses]
    coats = [v for v, step in enumerate(path.steps) if step.air == "coat"]
    dusty = [v for v, step in enumerate(path.steps) if step.air == "dust"]
    settle = problem.shop.settle * TICKS
    for sample in range(20):
        spans = sorted((got.begun[sample, v], got.ended[sample, v]) for v in booth)
        assert all(a[1] <= b[0] for a, b in pairwise(spans))
        for coat in coats:
            for dust in dusty:
                before = got.ended[sample, coat] <= got.begun[sample, dust]
                assert before or got.ended[sample, dust] + settle <= got.begun[sample, coat]


@pytest.mark.parametrize("seed", range(10))
def test_tables_and_racks_never_hold_more_than_they_have_room_for(seed: int) -> None:
    problem, plan = listed(random_shop(TINY, seed))
    got = sampled(problem, plan, Doubt(work=0.5), samples=20, seed=seed)
    at = {key: v for v, keys in enumerate(got.path.keys) for key in keys}
    for place in problem.shop.places:
        holds = [
            (each, at[Key(p.code, each.first)], at[Key(p.code, each.last)])
            for p in problem.pieces
            for n, each in enumerate(p.holds)
            if plan.held[p.code, n] == place.name
        ]
        for sample in range(20):
            spans = [
                (
                    (got.ended if h.from_end else got.begun)[sample, a],
                    got.ended[sample, b],
                    h.amount,
                )
                for h, a, b in holds
            ]
            for begin, _, _ in spans:
                there = sum(amount for a, b, amount in spans if a <= begin < b)
                assert there <= place.room


def late_for(seed: int, doubt: Doubt) -> float:
    problem, plan = listed(random_shop(SMALL, seed))
    ranges = simulate(problem, plan, doubt, samples=300).jobs.values()
    return float(np.mean([each.likely - each.planned for each in ranges])) / 48


def test_a_little_doubt_moves_dates_a_little() -> None:
    """Neither whole slots nor closing time turn minutes into days: the fault of a rigid chain."""
    small = [late_for(seed, Doubt(work=0.01, wait=0.0, shared_wait=0.0)) for seed in range(6)]
    assert float(np.mean(small)) < 0.1
    usual = [late_for(seed, Doubt()) for seed in range(6)]
    assert 0.0 <= float(np.mean(usual)) < 2.0


def test_a_step_that_no_longer_fits_its_shift_is_done_in_the_next() -> None:
    """Form from 14 for 8, then a cast of 8: planned at 22 to 30 of a shift that ends at 32."""
    shop = bare_shop()
    problem = one_job(shop, piece("1-A", Step("form", 8, 1), Step("cast", 8, 1)))
    plan = by_hand(problem, s0=14, s1=22)
    doubt = Doubt(work=0.3, wait=0, shared_wait=0, over=1)
    got = sampled(problem, plan, doubt, samples=400, seed=1)
    formed, cast = got.ended[:, 0] / TICKS, got.begun[:, 1] / TICKS
    fits = formed <= 25  # half an hour past closing may be stayed
    assert 0.5 < fits.mean() < 0.98
    assert (cast[fits] == formed[fits]).all()
    assert (cast[~fits & (formed <= 33)] == 48 + 14).all()
    # What takes longer than that is gone on with in the morning, from where it stood.
    work = got.drawn.work[:, 1] / TICKS
    ends = got.ended[:, 1] / TICKS
    long = fits & (cast + work > 33)
    assert long.any()
    assert np.allclose(ends[long], 62 + cast[long] + work[long] - 33)


def test_coat_one_is_held_until_coat_two_can_be_put_on_in_time() -> None:
    """At 23 coat 2 could follow at 28 at the earliest; once that is past closing, both wait."""
    shop = bare_shop()
    steps = (
        Step("grind", 6, 1),
        Step("coat 1", 1, 1, air="coat", lag=Lag(8, (), 10)),
        Step("coat 2", 1, 1, air="coat"),
    )
    problem = one_job(shop, piece("1-A", *steps))
    plan = by_hand(problem, s0=14, s1=20, s2=29)
    got = sampled(problem, plan, Doubt(work=0.4, over=0), samples=400, seed=2)
    ground, first, second = got.ended[:, 0], got.begun[:, 1] / TICKS, got.begun[:, 2] / TICKS
    late = ground > 22 * TICKS  # 22, coat, 8 of wait, coat 2 from 31 to 32
    assert 0.02 < late.mean() < 0.6
    assert (first[late] >= 62).all()
    assert ((first < 32) == ~late).all()
    assert not got.missed.any() or (second[got.missed[:, 2]] < 100).all()
    assert got.missed.mean() < 0.05


def test_a_coat_that_is_too_old_is_abraded_first() -> None:
    """Coat 1 is on; who is to put on coat 2 is away beyond the greatest wait."""
    shop = bare_shop(people=1)
    away = replace(shop.people[0], absences=(Window(0, 96),))
    steps = (
        Step("coat 1", 1, 1, air="coat", lag=Lag(8, (), 40), began=-4, by=("person 0",)),
        Step("coat 2", 1, 1, air="coat"),
    )
    problem = one_job(replace(shop, people=(away,)), piece("1-A", *steps))
    plan = by_hand(problem, s0=-4, s1=20)
    got = sampled(problem, plan, replace(NO_DOUBT, mend=3), samples=1, seed=1)
    assert got.begun[0, 1] == (96 + 14) * TICKS
    assert got.ended[0, 1] == (96 + 14 + 1 + 3) * TICKS
    assert simulate(problem, plan, replace(NO_DOUBT, mend=3), samples=4).jobs["1"].missed == 1.0


def test_waits_that_were_drawn_are_taken_by_sample_and_day() -> None:
    shop = bare_shop()
    steps = (
        Step("cast", 2, 1, lag=Lag(by_day=(30, 20))),
        Step("demold", 1, 1, lag=lag(0)),
        Step("grind", 1, 1, after=(After(0, Lag(40)),)),
    )
    problem = one_job(shop, piece("1-A", *steps), due=150)
    plan = by_hand(problem, s0=62, s1=110, s2=111)
    drawn = {
        Wait("1-A", 1, 0): np.array([[1.0, 46.0], [1.0, 90.0], [1.0, 20.0]]),
        Wait("1-A", 2, 0): np.array([[40.0], [40.0], [95.0]]),
    }
    got = sampled(problem, plan, replace(NO_DOUBT, waits=drawn), samples=3, seed=1)
    assert (got.begun[:, 1] / TICKS).tolist() == [110.0, 158.0, 110.0]
    assert (got.begun[:, 2] / TICKS).tolist() == [111.0, 159.0, 159.0]
    with pytest.raises(ValueError, match="drawn waits of 1-A must be"):
        sampled(problem, plan, replace(NO_DOUBT, waits=drawn), samples=4, seed=1)


def test_what_is_under_way_has_not_ended_by_now() -> None:
    shop = bare_shop()
    step = Step("form", 8, 1, began=-7, by=("person 0",))
    problem = one_job(shop, piece("1-A", step))
    got = sampled(problem, by_hand(problem, s0=-7), Doubt(), samples=500, seed=1)
    assert got.ended.min() >= 0
    # Lognormal, median 8, sigma 0.25, given that it is above 7: that is the upper 70.3 % of it (from
    # z = ln(7/8) / 0.25 = -0.534), whose middle is z = 0.381 (normal table), 8 exp(0.0952) = 8.80.
    assert float(np.median(got.ended) / TICKS) + 7 == pytest.approx(8.80, abs=0.15)
    over = one_job(shop, piece("1-A", replace(step, began=-30)))
    done = sampled(over, by_hand(over, s0=-30), Doubt(), samples=5, seed=1)
    assert (done.ended == -22 * TICKS).all()


def test_who_is_late_is_helped_by_whoever_is_free() -> None:
    """Person 0 has two pieces to cast; when the first takes long, person 1 casts the second."""
    shop = bare_shop()
    problem = replace(
        one_job(shop, piece("1-A", Step("cast", 6, 1)), piece("1-B", Step("cast", 6, 1))),
        jobs=(Job("1", due=26),),
    )
    starts = {Key("1-A", 0): 14, Key("1-B", 0): 20}
    plan = Plan(starts, dict.fromkeys(starts, ("person 0",)), {}, {"1": 26})
    got = sampled(problem, plan, Doubt(work=0.3), samples=200, seed=1)
    late = got.ended[:, 0] > 20 * TICKS
    assert late.any()
    assert (got.begun[late, 1] == 20 * TICKS).all()


def test_people_wait_half_an_hour_for_each_other_and_no_longer() -> None:
    """Both are to cast at 20, then person 0 grinds. Whoever is done with the first work sooner
    waits for the other if that is a slot at the most; person 0 else grinds before the cast."""
    first, second = ("person 0",), ("person 1",)
    steps = {"A": Step("grind", 6, 1), "B": Step("form", 6, 1)}
    steps |= {"C": Step("cast", 4, 2), "D": Step("grind", 6, 1)}
    problem = one_job(bare_shop(), *(piece(f"1-{code}", step) for code, step in steps.items()))
    keys = [Key(f"1-{code}", 0) for code in steps]
    starts = dict(zip(keys, (14, 14, 20, 24), strict=True))
    people = dict(zip(keys, (first, second, first + second, first), strict=True))
    got = sampled(problem, Plan(starts, people, {}, {"1": 30}), Doubt(work=0.3), 400, seed=1)
    ground, formed = got.ended[:, 0], got.ended[:, 1]
    cast, second_grind = got.begun[:, 2], got.begun[:, 3]
    wait = formed - ground
    short, long = (wait > 0) & (wait <= TICKS), wait > TICKS
    assert short.any()
    assert long.any()
    assert (cast[short] == formed[short]).all()
    assert (second_grind[short] >= got.ended[short, 2]).all()
    assert (second_grind[long] == ground[long]).all()
    assert (cast[long] >= got.ended[long, 3]).all()


def test_doubt_and_seeds_are_checked_and_kept() -> None:
    problem, plan = listed(random_shop(TINY, 3))
    one = simulate(problem, plan, samples=200, seed=5)
    assert one == simulate(problem, plan, samples=200, seed=5)
    assert one != simulate(problem, plan, samples=200, seed=6)
    for each in one.jobs.values():
        assert each.early <= each.likely <= each.late
        assert 0.0 <= each.chance <= 1.0
    with pytest.raises(ValueError, match="work must be finite, 0 or above"):
        Doubt(work=-0.1)


def test_a_job_alone_has_the_range_it_has_among_all() -> None:
    """To the last number, also where the samples are shared among threads."""
    problem, plan = listed(eventful_shop(5))
    for samples in (30, 240):
        of_all = simulate(problem, plan, Doubt(work=0.5), samples=samples).jobs
        assert len(of_all) > 1
        for job in of_all:
            of_one = simulate(problem, plan, Doubt(work=0.5), samples=samples, only=job).jobs
            assert of_one == {job: of_all[job]}


def test_a_job_that_was_left_out_has_no_range() -> None:
    shop = bare_shop()
    problem = replace(
        one_job(shop, piece("1-A", Step("cast", 2, 1)), piece("2-A", Step("cast", 2, 1), job="2")),
        jobs=(Job("1", due=40), Job("2", due=40)),
    )
    plan = Plan({Key("1-A", 0): 14}, {Key("1-A", 0): ("person 0",)}, {}, {"1": 16})
    assert set(simulate(problem, plan, samples=10).jobs) == {"1"}
    assert not simulate(problem, plan, samples=10, only="2").jobs


def test_the_late_date_is_kept_as_often_as_it_says() -> None:
    """The truth is drawn here, by another generator, and carried out by the plain code.

    640 jobs of 160 truths; jobs of one truth go together, so that the standard error is about
    0.02 (it would be 0.012 if they did not): a share outside 0.84 to 0.96 has a chance below 1 %.
    """
    draw = np.random.default_rng(20_26)
    kept: list[bool] = []
    doubt = Doubt(work=0.3, wait=0.1, shared_wait=0.2)
    for seed in range(8):
        problem, plan = listed(random_shop(replace(SMALL, pieces=6), seed))
        got = sampled(problem, plan, doubt, samples=1000, seed=seed)
        late = {job: float(np.quantile(got.finish(job), 0.9)) for job in got.path.jobs}
        for _ in range(20):
            kept += truth_keeps(problem, plan, got, late, truth_of(got, doubt, draw))
    assert 0.84 < float(np.mean(kept)) < 0.96
