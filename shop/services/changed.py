"""Tell the readiness of all pieces that a fact has changed.

The row is written in the transaction of its cause and is the order; the task is only a nudge.
"""

from __future__ import annotations

import logging
import threading
from concurrent.futures import ThreadPoolExecutor
from functools import partial

from django.db import transaction

from shop.celery import app
from shop.models import Change

log = logging.getLogger("curewright.queue")
_sender = ThreadPoolExecutor(max_workers=1, thread_name_prefix="nudge")
_waiting: set[str] = set()
_lock = threading.Lock()


def note_change(reason: str) -> None:
    Change.objects.create(reason=reason[:80])
    nudge_after_commit("jobs.tasks.recompute")


def nudge_after_commit(task: str) -> None:
    transaction.on_commit(partial(nudge, task), robust=True)


def nudge(task: str) -> None:
    """Ask a worker to look, without ever holding up or failing the request."""
    with _lock:
        if task in _waiting:  # a hung broker must not pile up nudges: the one ahead will do
            return
        _waiting.add(task)
    _sender.submit(_send, task)


def _send(task: str) -> None:
    with _lock:
        _waiting.discard(task)
    try:
        app.send_task(task, ignore_result=True, expires=120)
    except Exception as error:  # any broker fault: beat picks the row up within half a minute
        log.warning("The queue did not take %s: %s", task, error)
