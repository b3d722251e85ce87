"""What would make a short promise hold: looked for by a worker, and told as far as it has come.

A run about a job keeps what was tried in `PlanRun.found`, each change with its plan by codes and
moments, so that one of them can be taken; nothing is changed by looking.
"""

from __future__ import annotations

import datetime as dt
import logging
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from jobs.models import Job, PlanRun, RunState
from jobs.services import plan_runs
from jobs.services.errors import Refused
from jobs.services.facts import promise_moment
from jobs.services.plan_mix import Raw
from jobs.services.plan_stored import from_json
from shop.models import Person, Shop
from shop.services.settings import the_shop

log = logging.getLogger("curewright.plan")


@dataclass(frozen=True)
class Moved:
    """Another job that leaves at another time with the change. `told` is the day said last."""

    number: str
    was: dt.datetime | None
    now: dt.datetime | None
    told: dt.datetime | None = None
    breaks: bool = False


@dataclass(frozen=True)
class Act:
    """What taking the change does to the shop beside accepting its plan. Empty: nothing."""

    hours: tuple[tuple[str, str, str], ...] = ()  # day and from-to on the shop's clock
    room_id: int | None = None
    celsius: float | None = None
    nights: tuple[str, ...] = ()
    sealer_id: int | None = None
    pin: str = ""  # the piece whose cast stays where this plan has it
    until: str = ""  # the day to ask the customer for
    later: tuple[str, ...] = ()  # pieces that follow in a delivery of their own


@dataclass(frozen=True)
class Try:
    """One change, and how far it has brought the job. `holds` goes by the time that the shop judges
    its promises on; `in_time` by the plan alone. `rounds` of search it has had, 0 for none yet."""

    key: str
    kind: str
    words: str
    price: str
    hours: float
    rounds: int = 0
    holds: bool = False
    in_time: bool = False
    needless: bool = False  # the plan that was found does as well without it
    leaves: dt.datetime | None = None
    late: dt.datetime | None = None
    chance: float | None = None
    moved: tuple[Moved, ...] = ()
    visits: tuple[str, ...] = ()  # jobs installed later than was set with the site, and than now
    act: Act = Act()
    raw: Raw | None = None
    trouble: str = ""

    @property
    def breaks(self) -> list[str]:
        return [move.number for move in self.moved if move.breaks]


@dataclass(frozen=True)
class Rescue:
    """The job as the plan has it, and the tries in the order of their price."""

    leaves: dt.datetime | None = None
    late: dt.datetime | None = None
    chance: float | None = None
    held_words: str = ""
    tries: tuple[Try, ...] = ()
    rounds: int = 0

    @property
    def holding(self) -> list[Try]:
        """Those that break nothing that was said first, the cheapest of them first."""

        def key(each: Try) -> tuple[bool, bool, bool, float]:
            return bool(each.breaks), bool(each.visits), each.kind == "days", each.hours

        return sorted((each for each in self.tries if each.holds), key=key)

    @property
    def others(self) -> list[Try]:
        return [each for each in self.tries if not each.holds]

    @property
    def tried(self) -> int:
        return sum(each.rounds > 0 or bool(each.trouble) for each in self.tries)


def look(*, job_id: int, by: Person, now: dt.datetime | None = None) -> PlanRun:
    """One looks at a time for each job: the second who asks is given the first one's run."""
    now = now or timezone.now()
    job = Job.objects.filter(pk=job_id).first()
    if job is None:
        raise Refused("This job was removed meanwhile.")
    if job.closed_at or job.called_off:
        raise Refused(f"Job {job.number} is no longer open, so it needs no rescue.")
    promised = promise_moment(job, the_shop())
    if promised is None:
        raise Refused("Nothing is promised, so nothing can be short. Enter the promise first.")
    if promised <= now:
        raise Refused(
            "The promised day has passed: no change in the shop brings it back. Agree a new day "
            "with the customer."
        )
    return plan_runs.ask(by, about_id=job.pk, now=now)


def found_of(run: PlanRun) -> Rescue | None:
    return from_json(Rescue, run.found) if run.found else None


def trouble(run: PlanRun) -> str:
    """Why a run came to nothing; a run that was only stopped, or superseded, is no trouble."""
    return run.trouble if run.state in {RunState.FAILED, RunState.LOST} else ""


def is_stale(run: PlanRun, shop: Shop) -> bool:
    """Something changed since its facts were read."""
    return run.found is not None and run.edition != shop.edition


def try_of(run: PlanRun, key: str) -> Try:
    rescue = found_of(run)
    found = next((each for each in rescue.tries if each.key == key), None) if rescue else None
    if found is None or not found.holds or found.raw is None:
        raise Refused("This is not among what was found any more. Look again.")
    return found


def close(run_id: int) -> None:
    """Taken: whoever still looks stops, and the run is through."""
    with transaction.atomic():
        PlanRun.objects.filter(pk=run_id).update(
            state=RunState.TAKEN, stop_asked=True, ended_at=timezone.now()
        )
