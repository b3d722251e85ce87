"""Doors for the queue: each task calls one service, which may run at any time and again."""

from __future__ import annotations

from celery import shared_task

from jobs.services.exchange.keep import clear_old
from jobs.services.mail import send_waiting
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
