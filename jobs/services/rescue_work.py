"""What a worker does of a rescue: try each change a little, tell what came of it, then go on."""

from __future__ import annotations

import logging
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from time import monotonic

from celery.exceptions import SoftTimeLimitExceeded
from django.utils import timezone

from jobs.models import PlanRun
from jobs.planning.problem import Plan, Problem, visit_ends
from jobs.planning.rescue import Change, Effort, Tried, is_used, rescues
from jobs.planning.simulate import Doubt, JobRange, simulate
from jobs.services import plan_runs
from jobs.services.plan_mix import raw_of
from jobs.services.plan_runs import NoLongerOurs
from jobs.services.plan_stored import as_json
from jobs.services.planned_shop import PlannedShop, held_by, leaves_at, planned_shop
from jobs.services.rescue_changes import Option, by_price, late_option, nearer, options
from jobs.services.rescues import Moved, Rescue, Try
from shop.models import JudgedOn, Sealer
from shop.services.settings import the_shop

log = logging.getLogger("curewright.plan")

EFFORT = Effort()
LONGEST = 150.0  # seconds
EVERY = 1.0  # second, that what was found is written down
SAMPLES = 300
# A plan that is begun sooner is as unsure as the one that stands, and a little more: by so much.
ROOM = 1.15
MOST_ROOM = 8 * 48  # slots
STUMBLED = "The search stumbled ({name}). Nothing was changed. Look again."
NO_DATE = (
    "The plan has no date for this job: a piece is on hold or cannot be planned. What is wrong "
    "with it is on the plan's page."
)


def rescue_job(run_id: int, effort: Effort = EFFORT) -> PlanRun | None:
    """Does nothing where another took the run, or it is over: messages may come twice."""
    run = plan_runs.claim(run_id, timezone.now())
    if run is None:
        return None
    try:
        Work(run).go(effort)
    except NoLongerOurs:
        log.info("Run %s was given up while it was worked at.", run_id)
    except SoftTimeLimitExceeded:
        plan_runs.failed(run, "It took too long before a first change was tried. Look again.")
    except Exception as error:
        log.exception("Run %s failed.", run_id)
        plan_runs.failed(run, STUMBLED.format(name=type(error).__name__))
    run.refresh_from_db()
    return run


@dataclass
class Work:
    run: PlanRun
    wrote: float = -math.inf
    began: float | None = None  # with the first try: what comes before it is not the search
    options: dict[str, Option] = field(default_factory=dict)

    def go(self, effort: Effort) -> None:
        assert self.run.about is not None
        shop, job = planned_shop(), self.run.about.number
        PlanRun.objects.filter(pk=self.run.pk).update(
            edition=shop.read.edition, planned_from=shop.read.filled.starts_at
        )
        if job not in shop.plan.finish:
            plan_runs.failed(self.run, NO_DATE)
            return
        self.case = Case.of(shop, job)
        self.rescue = self.case.standing()
        self.write()
        words = self.search(effort)
        plan_runs.ready(self.run, as_json(self.rescue), words)

    def offered(self) -> Iterator[Option]:
        """Each as it is wanted, entered among the tries by its price."""
        shop, job = self.case.shop, self.case.job
        said = set()
        for option in options(shop, job, Sealer.objects.filter(in_use=True)):
            said.add(option.words)
            yield self.entered(option)
        for option in self.case.later():
            if option.words not in said:
                yield self.entered(option)

    def entered(self, option: Option) -> Option:
        tries = sorted((*self.rescue.tries, untried(option)), key=by_price)
        self.rescue = replace(self.rescue, tries=tuple(tries))
        self.options[option.key] = option
        return option

    def search(self, effort: Effort) -> str:
        """First round over all, then on; those whose late day is not in time are aimed sooner."""
        room = self.case.room
        try:
            if not self.through(self.offered(), room, effort):
                return "Stopped."
            short = [
                option
                for option in self.options.values()
                if (found := self.try_of(option)).in_time and not found.holds and not found.breaks
            ]
            more = min(2 * room + 8, MOST_ROOM)
            if short and not self.through(short, more, effort):
                return "Stopped."
        except SoftTimeLimitExceeded:
            return "Ended before all was tried."
        return ""

    def through(self, chosen: Iterable[Option], room: int, effort: Effort) -> bool:
        """Whether to go on."""
        case = self.case
        by_change: dict[int, Option] = {}

        def aimed() -> Iterator[Change]:
            for option in chosen:
                change = nearer(option.change, case.job, room)
                by_change[id(change)] = option
                yield change

        for tried in rescues(case.shop.read.problem, case.shop.plan, case.job, aimed(), effort):
            self.began = self.began or monotonic()
            option = by_change[id(tried.change)]
            self.keep(case.told_of(option, tried, self.try_of(option)))
            if monotonic() - self.wrote >= EVERY and not self.write():
                return False
            if monotonic() - self.began > LONGEST:
                return True
        return self.write()

    def try_of(self, option: Option) -> Try:
        return next(each for each in self.rescue.tries if each.key == option.key)

    def keep(self, found: Try) -> None:
        tries = tuple(found if each.key == found.key else each for each in self.rescue.tries)
        rounds = max(self.rescue.rounds, found.rounds)
        self.rescue = replace(self.rescue, tries=tries, rounds=rounds)

    def write(self) -> bool:
        self.wrote = monotonic()
        found = as_json(self.rescue)
        if not plan_runs.ours(self.run.pk).update(found=found, beat_at=timezone.now()):
            raise NoLongerOurs
        return not PlanRun.objects.values_list("stop_asked", flat=True).get(pk=self.run.pk)


def untried(option: Option) -> Try:
    return Try(
        key=option.key,
        kind=option.kind,
        words=option.words,
        price=option.price,
        hours=option.hours,
        act=option.act,
    )


@dataclass(frozen=True)
class Case:
    """The job as it stands, and how what was tried compares."""

    shop: PlannedShop
    job: str
    judged_late: bool
    doubt: Doubt
    range: JobRange

    @classmethod
    def of(cls, shop: PlannedShop, job: str) -> Case:
        drawn = shop.doubt
        return cls(
            shop,
            job,
            the_shop().judged_on == JudgedOn.LATE,
            drawn,
            range_of(shop.read.problem, shop.plan, drawn, job),
        )

    @property
    def room(self) -> int:
        """Slots from the planned end to the one that the promise is judged on."""
        judged = self.judged(self.range)
        if not math.isfinite(judged):
            return 2 * 48
        return min(MOST_ROOM, max(0, math.ceil(ROOM * (judged - self.range.planned))))

    def later(self) -> list[Option]:
        """The day that the plan as it stands keeps, to be asked of the customer."""
        return late_option(
            self.shop, self.job, leaves_at(self.shop, self.job, self.judged(self.range))
        )

    def standing(self) -> Rescue:
        """Nothing tried yet."""
        shop = self.shop
        held = held_by(shop.read.problem, shop.plan, self.job, shop.ground.tasks)
        return Rescue(
            leaves=leaves_at(self.shop, self.job, self.range.planned),
            late=leaves_at(self.shop, self.job, self.range.late),
            chance=self.range.chance,
            held_words=held.words if held else "",
        )

    def told_of(self, option: Option, tried: Tried, before: Try) -> Try:
        """What came of it; what was found before stays where this is no better."""
        rounds = before.rounds + 1
        if tried.plan is None or tried.finish is None:
            return replace(before, rounds=rounds)
        problem = option.change.problem
        due = next(job.due for job in problem.jobs if job.name == self.job)
        in_time = tried.finish <= due
        moved, visits = tuple(self.moves(problem, tried)), self.visits_later(problem, tried.plan)
        if not in_time:
            now = leaves_at(self.shop, self.job, tried.finish)
            if before.in_time or (before.leaves and now and before.leaves <= now):
                return replace(before, rounds=rounds)
            return replace(before, rounds=rounds, leaves=now, moved=moved, visits=visits)
        drawn = range_of(problem, tried.plan, self.doubt, self.job)
        good = self.judged(drawn) <= due and not tried.moved
        needed = self.is_needed(option.change, tried.plan, due)
        holds = good and needed
        if not holds and (before.holds or (before.chance or 0.0) > drawn.chance):
            return replace(before, rounds=rounds)
        return replace(
            before,
            rounds=rounds,
            holds=holds,
            in_time=True,
            needless=good and not needed,
            leaves=leaves_at(self.shop, self.job, tried.finish),
            late=leaves_at(self.shop, self.job, drawn.late),
            chance=drawn.chance,
            moved=moved,
            visits=visits,
            raw=raw_of(self.shop.read, tried.plan) if holds else None,
        )

    def judged(self, drawn: JobRange) -> float:
        return drawn.late if self.judged_late else drawn.likely

    def is_needed(self, change: Change, plan: Plan, due: int) -> bool:
        """Whether the plan rests on the change: by what it uses of it, or by what it has in reserve
        where something takes longer."""
        if is_used(change, plan):
            return True
        return self.judged(range_of(self.shop.read.problem, plan, self.doubt, self.job)) > due

    def moves(self, problem: Problem, tried: Tried) -> Iterable[Moved]:
        """Other jobs that leave later than they would, those whose told day breaks first."""
        assert tried.plan is not None
        rows = []
        for job in problem.jobs:
            was, now = (plan.finish.get(job.name) for plan in (self.shop.plan, tried.plan))
            if job.name == self.job or was is None or now is None or now <= was:
                continue
            rows.append(
                Moved(
                    job.name,
                    leaves_at(self.shop, job.name, was),
                    leaves_at(self.shop, job.name, now),
                    None if job.told is None else leaves_at(self.shop, job.name, job.told),
                    breaks=job.name in tried.moved,
                )
            )
        return sorted(rows, key=lambda move: not move.breaks)

    def visits_later(self, problem: Problem, plan: Plan) -> tuple[str, ...]:
        """Jobs whose install is over on a later day than was set with the site, and than it would:
        an hour more on the day is nothing to agree anew."""
        set_for = {job.name: job.visit for job in problem.jobs if job.visit is not None}
        was = visit_ends(problem, self.shop.plan)

        def day(end: int) -> int:
            return problem.shop.day_of(end - 1)

        return tuple(
            name
            for name, end in visit_ends(problem, plan).items()
            if name in set_for and day(end) > max(day(set_for[name]), day(was.get(name, 0)))
        )


def range_of(problem: Problem, plan: Plan, drawn: Doubt, job: str) -> JobRange:
    return simulate(problem, plan, drawn, samples=SAMPLES, only=job).jobs[job]
