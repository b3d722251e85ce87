"""A request never waits for the queue, nor fails because the queue is down."""

from __future__ import annotations

import json
import socket
import subprocess
import sys
from collections.abc import Callable

import pytest

from tests import servers

Environment = Callable[..., dict[str, str]]

# In a process of its own, since a process has one broker. It tells how often the request's own
# thread spoke to the broker, and how long it took: twenty that each waited for a broker's two
# seconds would take forty.
REQUEST = """
import json, threading, time
import django
django.setup()
from django.db import transaction
from shop.celery import app
from shop.models import Change
from shop.services import changed
by_request, send_task = [], app.send_task
def note(*told, **more):
    by_request.append(threading.current_thread() is threading.main_thread())
    return send_task(*told, **more)
app.send_task = note
begun = time.monotonic()
for number in range(20):
    with transaction.atomic():
        changed.note_change(f"reading {number}")
asked = time.monotonic() - begun
changed._sender.shutdown(wait=True)
print(json.dumps({
    "asked": asked, "by_request": sum(by_request), "sent": len(by_request),
    "rows": Change.objects.count(),
}))
"""


def ask(environment: dict[str, str]) -> tuple[dict[str, float], str]:
    done = subprocess.run(
        [sys.executable, "-c", REQUEST],
        env=environment,
        capture_output=True,
        text=True,
        timeout=120,
        check=True,
    )
    return json.loads(done.stdout), done.stderr


def test_a_redis_that_refuses_costs_a_request_nothing(program_environment: Environment) -> None:
    environment = program_environment(REDIS_URL=f"redis://127.0.0.1:{servers.free_port()}/0")
    told, log = ask(environment)
    assert told["rows"] == 20
    assert told["by_request"] == 0
    assert told["sent"] >= 1
    assert "The queue did not take jobs.tasks.recompute" in log


def test_a_redis_that_hangs_costs_a_request_nothing(program_environment: Environment) -> None:
    with socket.create_server(("127.0.0.1", 0)) as mute:  # takes connections, never answers
        port = mute.getsockname()[1]
        told, log = ask(program_environment(REDIS_URL=f"redis://127.0.0.1:{port}/0"))
    assert told["rows"] == 20
    assert told["by_request"] == 0
    assert told["asked"] < 30
    # Twenty nudges ahead of a hung broker are two: the one being sent and the one that waits.
    assert 1 <= log.count("The queue did not take") == told["sent"] < 10


@pytest.mark.servers
def test_a_redis_that_is_there_takes_the_nudge(
    program_environment: Environment, redis_url: str
) -> None:
    told, log = ask(program_environment(REDIS_URL=redis_url))
    assert told["sent"] >= 1
    assert "did not take" not in log
