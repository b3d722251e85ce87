"""A shop worked by hand, in which it is known which change helps; and random ones, in which every
plan offered is held against the rules as the change states them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from jobs.planning.changes import EXTRA_TABLE, closed_days
from jobs.planning.check import broken_rules
from jobs.planning.faults import sift
from jobs.planning.problem import (
    Hold,
    Job,
    Key,
    Lag,
    Person,
    Piece,
    Place,
    Plan,
    Problem,
    Shop,
    Step,
    Window,
)
from jobs.planning.rescue import Attempt, Change, Effort, Naming, Tried, changes, is_used, rescues
from jobs.planning.search import Spend, plans
from tests.jobs.planning.shops import eventful_shop

QUICK = Effort(rounds=3, events=2_000, work=0.01, solve_from=2)

# Two days, a closed one, two more: slots 14 to 32 of 48.
SHOP = Shop(
    horizon=10 * 48,
    day_starts=tuple(range(0, 480, 48)),
    shifts=tuple(Window(day * 48 + 14, day * 48 + 32) for day in (0, 1, 3, 4, 6, 7, 8)),
    people=(Person("one", frozenset({"cast", "move"})), Person("two", frozenset({"cast", "move"}))),
    places=(Place("table 1", 10, "table"), Place("truck", 1, "truck")),
)


def test_a_day_that_stays_closed_is_not_offered() -> None:
    assert [slot // 48 for slot, _ in closed_days(SHOP)] == [2, 5, 9]
    holiday = replace(SHOP, stays_closed=frozenset({5}))
    assert [slot // 48 for slot, _ in closed_days(holiday)] == [2, 9]


def a_piece(code: str, trip: str = "", area: int = 10) -> Piece:
    job = code.split("-", maxsplit=1)[0]
    steps = (
        Step("cast", 4, 2, "cast", lag=Lag(30, why="cure")),
        Step("demold", 1, 1, "move"),
        Step("deliver", 2, 1, "move", uses=("truck",), together=trip),
    )
    return Piece(code, job, steps, (Hold(("table 1",), 0, 1, amount=area),))


def planned(problem: Problem, **starts: tuple[int, int, int]) -> Plan:
    """By hand: `a` stands for 1-A, `b` for 2-A and so on, both people casting."""
    codes = dict(zip("abc", (piece.code for piece in problem.pieces), strict=False))
    at = {
        Key(codes[letter], number): slot
        for letter, row in starts.items()
        for number, slot in enumerate(row)
    }
    people = {key: ("one", "two") if key.step == 0 else ("one",) for key in at}
    held = {(code, 0): "table 1" for code in codes.values()}
    finish: dict[str, int] = {}
    for piece in problem.pieces:
        end = at[Key(piece.code, 2)] + 2
        finish[piece.job] = max(finish.get(piece.job, 0), end)
    plan = Plan(at, people, held, finish)
    assert broken_rules(problem, plan) == []
    return plan


def two_jobs(due: int, told: int | None) -> tuple[Problem, Plan]:
    """Job 1 has the only table today. Job 2 is cast tomorrow, cures over the closed day and is
    there at slot 161, in the morning of the day after it."""
    jobs = (Job("1", due=65, told=told), Job("2", due=due))
    problem = Problem(SHOP, jobs, (a_piece("1-A"), a_piece("2-A")))
    return problem, planned(problem, a=(14, 62, 63), b=(65, 158, 159))


def tried(problem: Problem, known: Plan, job: str, effort: Effort = QUICK) -> dict[str, Tried]:
    """The last of each change, by its key; `days` by the number of days."""
    found: dict[str, Tried] = {}
    for each in rescues(problem, known, job, changes(problem, known, job), effort):
        found[each.change.words if each.change.key == "days" else each.change.key] = each
        if each.plan is not None:
            assert broken_rules(each.change.problem, each.plan) == []
    return found


def test_what_helps_is_found_and_what_cannot_help_without_breaking_a_told_date_is_not() -> None:
    problem, known = two_jobs(due=128, told=65)
    found = tried(problem, known, "2")
    assert set(found) == {
        "first",
        "before",
        "table",
        "saturday",
        "person",
        "Ask the customer for 1 day, until slot 176",
        "Ask the customer for 2 days, until slot 224",
    }
    # Job 1 was told slot 65: it has to have the table today.
    assert not found["first"].holds
    assert not found["person"].holds
    # With a second table both are cast today; the truck takes job 1 first, and then job 2.
    assert found["table"].holds
    assert (found["table"].finish, found["table"].moved) == (67, ())
    # On the closed day job 2 is demolded at 7:00 and taken there: an hour and a half of work.
    assert found["saturday"].holds
    assert (found["saturday"].finish, found["saturday"].hours) == (113, 1.5)
    assert found["saturday"].change.hours == 2 * 9
    assert (found["saturday"].change.slot, found["saturday"].change.until) == (110, 128)
    assert all(each.holds for words, each in found.items() if words.startswith("Ask"))


def test_a_job_with_slack_lets_it_be_cast_first() -> None:
    problem, known = two_jobs(due=80, told=200)
    found = tried(problem, known, "2")["first"]
    assert found.holds
    assert found.plan is not None
    assert found.plan.starts[Key("2-A", 0)] == 14
    assert found.finish == 65
    assert found.plan.finish["1"] <= 200
    assert found.moved == ()
    assert found.later == ("1",)  # it was due at 65, and told later
    assert found.change.words == "Cast 2-A first, by slot 14"


def test_the_broken_date_is_named_where_nothing_else_makes_room() -> None:
    problem, known = two_jobs(due=80, told=65)
    found = tried(problem, known, "2")["first"]
    assert not found.holds
    assert found.moved == ("1",)


def test_what_no_shop_could_do_is_settled_at_once() -> None:
    """A cast at 7:00 today is there at slot 65 at the soonest, whatever else gives way."""
    problem, known = two_jobs(due=64, told=None)
    every = changes(problem, known, "2")
    rows = [each for each in rescues(problem, known, "2", every) if each.change.key != "days"]
    assert rows
    assert all(each.settled and not each.holds for each in rows)
    assert len(rows) == len({each.change.words for each in rows})


def test_pieces_that_are_ready_go_first_and_the_rest_is_named() -> None:
    """2-A is there tomorrow; 2-B is cast tomorrow and holds up the one delivery."""
    jobs = (Job("2", due=80),)
    problem = Problem(SHOP, jobs, (a_piece("2-A", "trip"), a_piece("2-B", "trip")))
    known = planned(problem, a=(14, 62, 159), b=(63, 158, 159))
    found = tried(problem, known, "2")["part"]
    assert found.change.words == "Deliver 2-A first, 2-B later"
    assert found.holds
    assert found.hours == 1.0  # one person more on the way for two slots
    assert found.plan is not None
    assert (found.finish, found.plan.finish["2, the rest"]) == (65, 161)


def test_nothing_is_split_that_is_on_its_way() -> None:
    jobs = (Job("2", due=80),)
    problem = Problem(SHOP, jobs, (a_piece("2-A", "trip"), a_piece("2-B", "trip")))
    known = planned(problem, a=(14, 62, 159), b=(63, 158, 159))
    pinned = tuple(
        replace(each, steps=(*each.steps[:2], replace(each.steps[2], pin=159)))
        for each in problem.pieces
    )
    keys = {each.key for each in changes(replace(problem, pieces=pinned), known, "2")}
    assert "part" not in keys
    assert "days" in keys


def test_the_cheapest_is_tried_first_and_the_customer_is_asked_last() -> None:
    problem, known = two_jobs(due=128, told=65)
    named = Naming(day=lambda slot: f"day {slot // 48}", hours=1.0)
    found = changes(problem, known, "2", named)
    keys = ["first", "before", "table", "saturday", "person", "days", "days"]
    assert [each.key for each in found] == keys
    assert [each.hours for each in found] == [0, 0, 0, 36, 36, 0, 0]
    assert found[3].words == "Work day 2"
    assert found[0].piece == "2-A"


def test_a_change_made_elsewhere_is_tried_like_the_others() -> None:
    """A warm room: the concrete of tomorrow is cured three slots before they go home."""
    problem, known = two_jobs(due=128, told=65)
    cast, *rest = problem.pieces[1].steps
    warm = replace(problem.pieces[1], steps=(replace(cast, lag=Lag(8, why="cure")), *rest))
    change = Change(
        "warm",
        "Keep the casting room warm",
        12.0,
        replace(problem, pieces=(problem.pieces[0], warm)),
    )
    *_, last = rescues(problem, known, "2", iter([change]), QUICK)
    assert last.holds
    assert (last.finish, last.hours) == (80, 12.0)


def test_every_change_has_its_turn_before_any_has_a_second() -> None:
    problem, known = two_jobs(due=128, told=65)
    every = changes(problem, known, "2")
    rounds = [each.round for each in rescues(problem, known, "2", every, QUICK)]
    assert rounds[: len(every)] == [0] * len(every)
    assert rounds == sorted(rounds)
    assert max(rounds) == 2


def promised(seed: int) -> Iterator[tuple[Problem, Plan, str]]:
    """Late jobs of a shop in which every customer was told the date due."""
    problem = eventful_shop(seed)
    told = tuple(replace(job, told=job.due) for job in problem.jobs)
    problem = sift(replace(problem, jobs=told))[0]
    *_, (known, _) = plans(problem, Spend(rounds=1, neighbourhoods=0, whole_work=0.01))
    due = {job.name: job.due for job in problem.jobs}
    for name in known.finish:
        if known.finish[name] > due[name]:
            yield problem, known, name


@pytest.mark.parametrize("seed", range(6))
def test_in_random_shops_what_is_said_to_hold_holds(seed: int) -> None:
    for problem, known, name in promised(seed):
        ends = known.finish
        on_time = {job.name for job in problem.jobs if ends.get(job.name, job.due + 1) <= job.due}
        for each in rescues(problem, known, name, changes(problem, known, name), QUICK):
            assert each.plan is not None
            assert broken_rules(each.change.problem, each.plan) == []
            due = {job.name: job.due for job in each.change.problem.jobs}
            broken = {other for other in on_time if each.plan.finish.get(other, 0) > due[other]}
            assert set(each.moved) == broken
            whole = known.finish.keys() <= each.plan.finish.keys()
            assert each.holds == (each.plan.finish[name] <= due[name] and not broken and whole)
            assert each.finish == each.plan.finish[name]


def test_the_same_facts_give_the_same_rescues() -> None:
    problem, known, name = next(case for seed in range(9) for case in promised(seed))
    first, second = (
        list(rescues(problem, known, name, changes(problem, known, name), QUICK)) for _ in range(2)
    )
    assert [(each.plan, each.holds, each.later) for each in first] == [
        (each.plan, each.holds, each.later) for each in second
    ]


def test_what_stays_idle_has_not_helped() -> None:
    """With a table, a day or a person more the job may be planned sooner by its order alone: that
    is what is told then, and nobody buys a table for it."""
    problem, known = two_jobs(due=161, told=None)
    idle = changes(problem, known, "2")
    for change in idle:
        if change.key in {"table", "saturday", "person"}:
            assert not is_used(change, known)
    table = next(change for change in idle if change.key == "table")
    held = {**known.held, ("2-A", 0): EXTRA_TABLE}
    assert is_used(table, replace(known, held=held))
    first = next(change for change in idle if change.key == "before")
    assert is_used(first, known)


def test_what_is_found_for_one_change_serves_the_others(monkeypatch: pytest.MonkeyPatch) -> None:
    """Putting the job first without a search of its own: the plan found for casting its piece
    first is one for that too."""
    problem, known = two_jobs(due=128, told=None)
    search = Attempt.list_anew

    def search_others(attempt: Attempt, effort: Effort, number: int) -> None:
        if attempt.change.key != "before":
            search(attempt, effort, number)

    monkeypatch.setattr(Attempt, "list_anew", search_others)
    found = tried(problem, known, "2", replace(QUICK, solve_from=9))
    assert found["first"].holds
    assert found["before"].holds
    assert found["before"].plan is not None
    assert broken_rules(problem, found["before"].plan) == []
