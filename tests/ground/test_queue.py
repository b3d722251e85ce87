"""A worker and a clock of their own run a real task, over a folder and over Redis."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from celery import Celery
from redis import Redis

from shop.celery import folder_settings, redis_settings
from shop.models import Change
from tests import servers

Environment = Callable[..., dict[str, str]]
Run = Callable[..., Path]


@pytest.fixture(params=["folder", pytest.param("redis", marks=pytest.mark.servers)])
def queue(
    request: pytest.FixtureRequest, tmp_path: Path, program_environment: Environment
) -> tuple[dict[str, str], dict[str, Any]]:
    """The environment of the programs on this queue, and the settings of one who sends to it."""
    if request.param == "folder":
        return (
            program_environment(CUREWRIGHT_VAR=str(tmp_path)),
            folder_settings(tmp_path / "queue"),
        )
    url = request.getfixturevalue("redis_url")
    with Redis.from_url(url) as client:
        client.flushdb()  # what other tests nudged
    return program_environment(CUREWRIGHT_VAR=str(tmp_path), REDIS_URL=url), redis_settings(url)


@pytest.fixture
def run(queue: tuple[dict[str, str], Any], tmp_path: Path) -> Iterator[Run]:
    with ExitStack() as running:

        def start(name: str, *arguments: str) -> Path:
            log = tmp_path / f"{name}.log"
            command = [sys.executable, "-m", "celery", "-A", "shop", name, "-l", "INFO", *arguments]
            running.enter_context(servers.running(command, log, environment=queue[0]))
            return log

        yield start


def has_done(log: Path, count: int) -> bool:
    return log.read_text().count("succeeded") >= count


def all_taken() -> bool:
    return not Change.objects.exists()


def test_a_worker_runs_what_it_is_sent(
    queue: tuple[dict[str, str], dict[str, Any]], run: Run
) -> None:
    log = run("worker", "--pool", "solo")
    sender = Celery("sender")
    sender.conf.update(queue[1])
    for count in (1, 2):  # the second finds the worker idle, as it mostly is
        Change.objects.create(reason=f"reading {count}")
        sender.send_task("jobs.tasks.pick_up", ignore_result=True)
        servers.wait_for(all_taken, f"change that was followed: {log.read_text()}")
        servers.wait_for(partial(has_done, log, count), f"task that is done: {log.read_text()}")
    sender.close()
    assert "ERROR" not in log.read_text()
    assert "No hostname" not in log.read_text()


@pytest.mark.servers
@pytest.mark.parametrize("queue", ["redis"], indirect=True)  # over a folder: see test_demo.py
def test_the_clock_wakes_the_worker_for_what_no_nudge_told(
    queue: tuple[dict[str, str], dict[str, Any]], run: Run
) -> None:
    worker, beat = run("worker", "--pool", "solo"), run("beat", "--pidfile=")
    Change.objects.create(reason="a nudge that was lost")
    servers.wait_for(all_taken, "change that the clock brought up", seconds=60)
    assert "left-behind" in beat.read_text()
    assert "jobs.tasks.pick_up" in worker.read_text()
