"""The planner's runs: asked for, carried out by a worker, watched, stopped, given up.

A row is the order and its state; the queue only nudges. Whoever looks finds out that a worker was
lost: it says that it lives every few seconds, and half a minute's silence ends the run.
"""

from __future__ import annotations

import datetime as dt
import logging
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from time import monotonic

from django.db import OperationalError, connection, transaction
from django.db.models import Q, QuerySet
from django.utils import timezone

from jobs.models import PlanRun, RunState
from jobs.services.errors import Refused
from shop.models import Person, Shop
from shop.services.changed import nudge, nudge_after_commit
from shop.services.settings import the_shop

log = logging.getLogger("curewright.plan")

OPEN = (RunState.ASKED, RunState.RUNNING)
SILENCE = dt.timedelta(seconds=30)
BEATS_EVERY = 5.0  # seconds
LOST_WORDS = (
    "The planner stopped answering before it was through: its worker was ended, or no worker is "
    "running. Nothing was changed."
)

TASKS = {False: "jobs.tasks.plan_shop", True: "jobs.tasks.rescue_job"}


class NoLongerOurs(Exception):
    """The run was given up, or ended by somebody else: whoever works at it stops."""


def ask(by: Person, about_id: int | None = None, now: dt.datetime | None = None) -> PlanRun:
    """One open run at a time for the shop, and one for each job to be rescued: the second who asks
    is given the first one's."""
    now = now or timezone.now()
    with transaction.atomic():
        the_shop()
        Shop.objects.select_for_update().get(pk=1)
        give_up_lost(now)
        known = PlanRun.objects.filter(state__in=OPEN, about=about_id).first()
        if known:
            return known
        run = PlanRun.objects.create(about_id=about_id, asked_by=by)
        PlanRun.objects.filter(pk=run.pk).update(asked_at=now)
        run.asked_at = now
        nudge_after_commit(task_of(run), run.pk)
    return run


def task_of(run: PlanRun) -> str:
    return TASKS[run.about_id is not None]


def remind(now: dt.datetime | None = None) -> None:
    """By the clock: runs whose nudge was lost are asked for again, those that fell silent end."""
    give_up_lost(now or timezone.now())
    for run in PlanRun.objects.filter(state=RunState.ASKED).order_by("pk")[:20]:
        nudge(task_of(run), run.pk)


def give_up_lost(now: dt.datetime) -> int:
    """Runs that nobody works at any more. One that only waits behind another is not lost."""
    silent = now - SILENCE
    alive = PlanRun.objects.filter(state=RunState.RUNNING, beat_at__gte=silent).exists()
    lost = Q(state=RunState.RUNNING) & (Q(beat_at__lt=silent) | Q(beat_at=None))
    if not alive:
        # The one before it may have ended a moment ago, and its worker is on the way to this one.
        latest = PlanRun.objects.exclude(ended_at=None).order_by("-ended_at").first()
        if latest is None or latest.ended_at is None or latest.ended_at < silent:
            lost |= Q(state=RunState.ASKED, asked_at__lt=silent)
    return PlanRun.objects.filter(lost).update(
        state=RunState.LOST, ended_at=now, trouble=LOST_WORDS
    )


def stop(run_id: int, now: dt.datetime | None = None) -> PlanRun:
    """Whoever plans keeps the best found and ends; one that has not begun ends at once."""
    now = now or timezone.now()
    with transaction.atomic():
        run = PlanRun.objects.select_for_update().filter(pk=run_id).first()
        if run is None:
            raise Refused("There is no such planning any more. Plan again.")
        if run.state == RunState.ASKED:
            run.state, run.ended_at = RunState.LEFT, now
            run.trouble = "Stopped before it began."
        run.stop_asked = True
        run.save(update_fields=["state", "ended_at", "trouble", "stop_asked"])
    return run


def leave(run_id: int) -> PlanRun:
    """The proposal is not taken: it goes, and nothing else changes."""
    with transaction.atomic():
        run = PlanRun.objects.select_for_update().filter(pk=run_id).first()
        if run is None or run.state != RunState.READY:
            raise Refused("This proposal was taken or put aside already.")
        run.state = RunState.LEFT
        run.save(update_fields=["state"])
    return run


def latest(about_id: int | None = None, now: dt.datetime | None = None) -> PlanRun | None:
    """The run that a page tells of; those that fell silent are found out here."""
    give_up_lost(now or timezone.now())
    return PlanRun.objects.filter(about=about_id).select_related("asked_by").first()


def proposal(about_id: int | None = None) -> PlanRun | None:
    """What waits to be taken or put aside: a later run that failed leaves it there."""
    return PlanRun.objects.filter(about=about_id, state=RunState.READY).first()


def claim(run_id: int, now: dt.datetime) -> PlanRun | None:
    """The run, for whoever gets there first; messages may come twice."""
    taken = PlanRun.objects.filter(pk=run_id, state=RunState.ASKED).update(
        state=RunState.RUNNING, started_at=now, beat_at=now
    )
    return PlanRun.objects.get(pk=run_id) if taken else None


def ours(run_id: int) -> QuerySet[PlanRun]:
    return PlanRun.objects.filter(pk=run_id, state=RunState.RUNNING)


def beat(run_id: int) -> bool:
    return bool(ours(run_id).update(beat_at=timezone.now()))


@contextmanager
def beating(run_id: int) -> Iterator[None]:
    """Says that the worker lives, also while a compiled loop or the solver is at it."""
    over = threading.Event()

    def tell() -> None:
        try:
            while not over.wait(BEATS_EVERY):
                try:
                    beat(run_id)
                except Exception as error:  # the next one may arrive
                    log.warning("Run %s could not say that it lives: %s", run_id, error)
        finally:
            connection.close()

    thread = threading.Thread(target=tell, name=f"beat {run_id}", daemon=True)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join(timeout=BEATS_EVERY)


class Diary:
    """What a run writes down on its way: once a second at the most, and when something is new."""

    EVERY = 1.0
    KEPT = 60

    def __init__(self, run: PlanRun, clock: Callable[[], float] = monotonic) -> None:
        self.run, self.clock = run, clock
        self.began = clock()
        self.entries: list[dict[str, object]] = []
        self.wrote = float("-inf")

    @property
    def seconds(self) -> float:
        return self.clock() - self.began

    def note(self, entry: dict[str, object]) -> bool:
        """Whether to go on: not where somebody asked to stop."""
        now = self.clock()
        entry = {"seconds": round(self.seconds, 1), **entry}
        same = self.entries and _without_time(self.entries[-1]) == _without_time(entry)
        if same:
            self.entries[-1] = entry
        else:
            self.entries.append(entry)
        if len(self.entries) > self.KEPT:  # the first one stays, to be compared with
            del self.entries[1]
        if now - self.wrote < self.EVERY:
            return True
        self.wrote = now
        try:
            return self.write()
        except OperationalError as error:  # somebody else writes for long: the next second will do
            log.warning("Run %s could not say how far it is: %s", self.run.pk, error)
            return True

    def write(self) -> bool:
        if not ours(self.run.pk).update(progress=self.entries, beat_at=timezone.now()):
            raise NoLongerOurs
        return not PlanRun.objects.values_list("stop_asked", flat=True).get(pk=self.run.pk)


def _without_time(entry: dict[str, object]) -> dict[str, object]:
    return {key: value for key, value in entry.items() if key not in {"seconds", "rounds"}}


def ready(run: PlanRun, found: dict[str, object], words: str = "") -> None:
    """The proposal stands, and earlier ones of its kind with it no longer."""
    with transaction.atomic():
        PlanRun.objects.filter(about=run.about_id, state=RunState.READY).exclude(pk=run.pk).update(
            state=RunState.LEFT
        )
        now = timezone.now()
        if not ours(run.pk).update(
            state=RunState.READY, found=found, ended_at=now, beat_at=now, trouble=words[:300]
        ):
            raise NoLongerOurs


def failed(run: PlanRun, words: str) -> None:
    ours(run.pk).update(state=RunState.FAILED, ended_at=timezone.now(), trouble=words[:300])
