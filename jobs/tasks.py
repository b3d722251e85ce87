"""Doors for the queue: each task calls one service, which may run at any time and again."""

from __future__ import annotations

from celery import shared_task

from jobs.services.exchange.keep import clear_old
from jobs.services.mail import send_waiting
from jobs.services.plan_runs import beating, remind
from jobs.services.readiness import rebuild
from shop.models import Change
from shop.services.changed import nudge


@shared_task(ignore_result=True)
def recompute() -> None:
    rebuild()
    clear_old()


@shared_task(ignore_result=True)
def send_mail() -> None:
    send_waiting()


@shared_task(ignore_result=True)
def pick_up() -> None:
    """By beat: what a lost nudge left behind."""
    if Change.objects.exists():
        rebuild()
    if send_waiting():
        nudge("jobs.tasks.send_mail")
    remind()


# Twice what a run may take by its own clock.
@shared_task(ignore_result=True, soft_time_limit=300, time_limit=330)
def plan_shop(run_id: int) -> None:
    # Here, because no other worker needs the solver.
    from jobs.services.plan_work import plan_shop as work

    with beating(run_id):
        work(run_id)


@shared_task(ignore_result=True)
def date_plan() -> None:
    """By beat: what the accepted plan says of dates follows marks, readings and absences."""
    from jobs.services.planned_dates import follow_plan

    follow_plan()


@shared_task(ignore_result=True, soft_time_limit=300, time_limit=330)
def rescue_job(run_id: int) -> None:
    """What would make a short promise hold, on the planner's queue."""
    from jobs.services.rescue_work import rescue_job as work

    with beating(run_id):
        work(run_id)
