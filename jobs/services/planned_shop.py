"""The shop filled for the planner and its plan, kept in the process until something changes.

Whoever asks while a customer waits must not pay for reading forty jobs: the problem and the plan
of one state of the shop serve every question of the same half hour. A state is the shop's edition
and the changes that no rebuild has worked in yet: whoever writes a fact writes a `Change` with it,
so no answer after it is of the facts before, however far behind the workers are.
"""

from __future__ import annotations

import datetime as dt
import gc
import math
import threading
from dataclasses import dataclass, replace
from functools import cache, cached_property

from django.utils import timezone

from jobs.models import Piece as PieceRow
from jobs.planning.faults import sift
from jobs.planning.fill import Draft, Filled, doubt, fill
from jobs.planning.ground import Ground
from jobs.planning.holding import Holder, Holding, schedule_from
from jobs.planning.problem import Plan, Problem
from jobs.planning.replan import replans
from jobs.planning.search import Spend
from jobs.planning.simulate import Doubt
from jobs.planning.tasks import Tasks, compile_tasks
from jobs.services.plan_read import PlanRead, read_shop
from shop.models import Change, Room, Shop, StepKind

SLOT = 1800  # seconds that an answer is kept at the most
# Where no plan was accepted yet: some tenths of a second.
QUICK = Spend(rounds=2, neighbourhoods=0)


@dataclass(frozen=True)
class PlannedShop:
    """`plan` is the accepted one brought up to date; where none is, one that was searched for
    briefly. `ground` is what of it the planner's core can plan, with the plan as arrays."""

    read: PlanRead
    plan: Plan
    accepted: bool
    ground: Ground

    @cached_property
    def rooms(self) -> dict[int, Room]:
        return {piece.room_id: piece.room for piece in self._pieces}

    @cached_property
    def room_of(self) -> dict[str, int]:
        return {piece.code: piece.room_id for piece in self._pieces}

    @property
    def _pieces(self) -> list[PieceRow]:
        return [piece for job in self.read.jobs for piece in job.pieces.all()]

    @cached_property
    def doubt(self) -> Doubt:
        return doubt(self.read.facts, self.read.filled)

    @cached_property
    def trips(self) -> dict[str, int]:
        return trips(self.read.problem)


def trips(problem: Problem) -> dict[str, int]:
    """By job, how many slots its way out of the shop takes: a promise is kept at its beginning."""
    found: dict[str, int] = {}
    for piece in problem.pieces:
        step = piece.steps[piece.counted.step]
        if step.skill == StepKind.DELIVER and step.began is None:
            found[piece.job] = max(found.get(piece.job, 0), step.slots)
    return found


def filled_with(shop: PlannedShop, draft: Draft) -> tuple[Filled, Doubt]:
    """The shop with a job that is not stored, which alone is filled anew: nobody waits for the
    others to be reckoned once more. Its name is not a stored job's."""
    known = shop.read.facts
    alone = replace(known, facts=known.facts.with_jobs(()))
    base = shop.read.filled
    new = fill(alone, (draft,), days=len(base.problem.shop.day_starts))
    filled = replace(
        base,
        problem=replace(
            base.problem,
            jobs=(*base.problem.jobs, *new.problem.jobs),
            pieces=(*base.problem.pieces, *new.problem.pieces),
        ),
        steps={**base.steps, **new.steps},
        jobs={**base.jobs, **new.jobs},
        faults=(*base.faults, *new.faults),
        notes=(*base.notes, *new.notes),
        undated=base.undated | new.undated,
    )
    factors = {**shop.doubt.factors, **doubt(alone, new).factors}
    return filled, replace(shop.doubt, factors=factors)


def held_by(problem: Problem, plan: Plan, job: str, tasks: Tasks | None = None) -> Holding | None:
    """What holds one job of a plan that keeps the rules. `tasks` is the problem as arrays,
    where somebody has made them."""
    tasks = tasks or compile_tasks(sift(problem)[0])
    if job not in plan.finish or job not in tasks.jobs:
        return None
    holder = Holder(tasks, schedule_from(tasks, plan))
    return holder.holding(tasks.jobs.index(job), plan.finish[job])


def leaves_at(shop: PlannedShop, job: str, finish: float) -> dt.datetime | None:
    """When the last piece leaves, of a job that ends in that slot; None for never."""
    if not math.isfinite(finish):
        return None
    return shop.read.filled.moment(math.ceil(finish) - shop.trips.get(job, 0))


@dataclass(frozen=True)
class _Stamp:
    shop: str  # a shop founded anew counts its editions anew
    edition: int
    ahead: tuple[int, ...]  # changes that the edition does not count yet
    half_hour: int


_lock = threading.Lock()
_kept: dict[_Stamp, PlannedShop] = {}


def planned_shop(now: dt.datetime | None = None) -> PlannedShop:
    now = now or timezone.now()
    with _lock:
        stamp = _stamp(now)
        if stamp not in _kept:
            _kept.clear()
            made = _made(now)
            # What changed while it was read may be in it in part: it answers this question only.
            if _stamp(now) != stamp:
                return made
            _kept[stamp] = made
        return _kept[stamp]


def forget() -> None:
    with _lock:
        _kept.clear()


def _stamp(now: dt.datetime) -> _Stamp:
    """Changes first: one that is worked in meanwhile is then counted twice, never left out."""
    ahead = _ahead()
    name, edition = _edition()
    return _Stamp(name, edition, ahead, int(now.timestamp()) // SLOT)


def _ahead() -> tuple[int, ...]:
    return tuple(Change.objects.order_by("pk").values_list("pk", flat=True))


def _edition() -> tuple[str, int]:
    row = Shop.objects.filter(pk=1).values_list("name", "edition").first() or ("", 0)
    return str(row[0]), int(row[1])


@cache
def _keep_what_is_loaded() -> None:
    """Once in a process. Filling a shop makes so much that all there is would be looked through
    for garbage; most of that is the program itself, and a customer would wait for it."""
    gc.freeze()


def _made(now: dt.datetime) -> PlannedShop:
    _keep_what_is_loaded()
    read = read_shop(now, lock=False)  # a rebuild that is under way would be waited for
    if read.known is not None:
        ground = Ground.of(read.problem, read.known)
    else:
        *_, (plan, _found) = replans(read.problem, None, QUICK)
        ground = Ground.of(read.problem, plan)
    shop = PlannedShop(
        read, read.filled.whole(ground.plan), accepted=read.known is not None, ground=ground
    )
    assert shop.doubt  # drawn now, not with the first question
    return shop
