"""All that is compiled, compiled: once for each state of the code, some minutes of a busy machine.

Whoever plans afterwards finds it kept. It is compiled by use, on an invented shop, so that no list
of functions and types has to be kept beside the code.
"""

from __future__ import annotations

import multiprocessing
import os
import threading
from concurrent.futures import ProcessPoolExecutor

from jobs.planning.adapt import adapt
from jobs.planning.blocks import blocks_of
from jobs.planning.faults import sift
from jobs.planning.generate import SMALL, random_shop
from jobs.planning.holding import what_holds
from jobs.planning.lists import earliest_due_first
from jobs.planning.problem import Plan, Problem
from jobs.planning.promise import alternatives, offer, slack
from jobs.planning.rearrange import Lane, rearrange_state
from jobs.planning.replan import replans
from jobs.planning.search import Spend, planned, plans
from jobs.planning.simulate import Doubt, simulate
from jobs.planning.tasks import compile_tasks
from jobs.planning.way import make_way

LITTLE = Spend(rounds=1, neighbourhoods=1, work=0.01, whole_work=0.01)


def compile_all() -> None:
    """Two processes compile what takes longest, then the rest is compiled here and all of it used:
    three fifths of the time on two cores. They share nothing but the folder it is kept in."""
    apart = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(2, mp_context=apart, initializer=end_with_parent) as pool:
        for part in [pool.submit(each) for each in (compile_tries, compile_others)]:
            part.result()
    warm_up()


def end_with_parent() -> None:
    """Killed, it could not end them: each keeps the other's queue open, and both would wait on."""
    threading.Thread(target=wait_for_its_end, daemon=True).start()


def wait_for_its_end() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def compile_tries() -> None:
    """What annealing goes through: as long to compile as everything else."""
    lane = annealing(random_shop(SMALL, 999))
    rearrange_state(lane.tasks.arrays, lane.state, lane.blocks, lane.marks, (1, 1.0, 1.0))


def compile_others() -> None:
    problem = random_shop(SMALL, 999)
    lane = annealing(problem)
    plan = planned(problem, lane.tasks, (), lane.schedule)
    lane.forward((lane.schedule.start, lane.schedule.who, lane.schedule.at))
    simulate(problem, plan, Doubt(work=0.2), samples=3)
    make_way_for_a_job(problem, plan)


def annealing(problem: Problem) -> Lane:
    tasks = compile_tasks(sift(problem)[0])
    return Lane(tasks, blocks_of(tasks), earliest_due_first(tasks), seed=1)


def warm_up() -> None:
    problem = random_shop(SMALL, 999)
    plan = last_of(problem, None)
    last_of(problem, plan)
    what_holds(problem, plan)
    make_way_for_a_job(problem, plan)
    simulate(problem, plan, Doubt(work=0.2), samples=3)
    ask_for_a_job(problem, plan)


def last_of(problem: Problem, known: Plan | None) -> Plan:
    found = replans(problem, known, LITTLE) if known else plans(problem, LITTLE)
    return [plan for plan, _ in found][-1]


def make_way_for_a_job(problem: Problem, plan: Plan) -> None:
    """As a rescue does."""
    tasks = compile_tasks(sift(problem)[0])
    known = adapt(tasks, plan)
    make_way(tasks, known, 0, (2, -1), 1)


def ask_for_a_job(problem: Problem, plan: Plan) -> None:
    """The last job taken as one that is asked for."""
    kept, _ = sift(problem)
    job = kept.jobs[-1]
    mine = tuple(piece for piece in kept.pieces if piece.job == job.name)
    rest = Problem(
        kept.shop,
        kept.jobs[:-1],
        tuple(piece for piece in kept.pieces if piece.job != job.name),
        kept.move_cost,
    )
    offer(rest, plan, job, mine)
    for _ in alternatives(rest, plan, job, mine, (slack(rest, plan),)):
        pass
