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

# In a process of its own, since a process has one broker. It tells how long the request's side
# took, and how long the sender behind it was busy with a broker that gives no answer.
REQUEST = """
import json, time
import django
django.setup()
from django.db import transaction
from shop.models import Change
from shop.services import changed
begun = time.monotonic()
for number in range(20):
    with transaction.atomic():
        changed.note_change(f"reading {number}")
asked = time.monotonic() - begun
changed._sender.shutdown(wait=True)
sent = time.monotonic() - begun
print(json.dumps({"asked": asked, "sent": sent, "rows": Change.objects.count()}))
"""


def ask(environment: dict[str, str]) -> tuple[dict[str, float], str]:
    done = subprocess.run(
        [sys.executable, "-c", REQUEST],
        env=environment,
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    return json.loads(done.stdout), done.stderr


def test_a_redis_that_refuses_costs_a_request_nothing(program_environment: Environment) -> None:
    environment = program_environment(REDIS_URL=f"redis://127.0.0.1:{servers.free_port()}/0")
    took, log = ask(environment)
    assert took["rows"] == 20
    assert took["asked"] < 2
    assert took["sent"] < 5
    assert "The queue did not take jobs.tasks.recompute" in log


def test_a_redis_that_hangs_costs_a_request_nothing(program_environment: Environment) -> None:
    with socket.create_server(("127.0.0.1", 0)) as mute:  # takes connections, never answers
        port = mute.getsockname()[1]
        took, log = ask(program_environment(REDIS_URL=f"redis://127.0.0.1:{port}/0"))
    assert took["rows"] == 20
    assert took["asked"] < 2
    # Twenty nudges ahead of a hung broker are two: the one being sent and the one that waits.
    assert took["sent"] < 15
    assert 1 <= log.count("The queue did not take") <= 2


@pytest.mark.servers
def test_a_redis_that_is_there_takes_the_nudge(
    program_environment: Environment, redis_url: str
) -> None:
    took, log = ask(program_environment(REDIS_URL=redis_url))
    assert took["sent"] < 5
    assert "did not take" not in log
