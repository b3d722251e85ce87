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
_waiting: set[tuple[str, tuple[int, ...]]] = set()
_lock = threading.Lock()


def note_change(reason: str) -> None:
    Change.objects.create(reason=reason[:80])
    nudge_after_commit("jobs.tasks.recompute")


def nudge_after_commit(task: str, *rows: int) -> None:
    transaction.on_commit(partial(nudge, task, *rows), robust=True)


def nudge(task: str, *rows: int) -> None:
    """Ask a worker to look, at these rows where the task takes some, without ever holding up or
    failing the request."""
    asked = (task, rows)
    with _lock:
        if asked in _waiting:  # a hung broker must not pile up nudges: the one ahead will do
            return
        _waiting.add(asked)
    _sender.submit(_send, task, *rows)


def _send(task: str, *rows: int) -> None:
    with _lock:
        _waiting.discard((task, rows))
    try:
        app.send_task(task, args=rows, ignore_result=True, expires=120)
    except Exception as error:  # any broker fault: beat picks the row up within half a minute
        log.warning("The queue did not take %s: %s", task, error)
