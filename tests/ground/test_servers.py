from __future__ import annotations

import os
import shutil
from typing import Any

import psycopg
import pytest
import redis
from django.db import connection

from shop.models import Change, Person
from tests import servers
from tests.settings import TEST_DATABASE, TEST_RUN


@pytest.mark.django_db
def test_the_suite_runs_on_the_database_that_was_asked_for() -> None:
    assert connection.vendor == TEST_DATABASE
    Change.objects.create(reason="a reading")
    assert Change.objects.count() == 1


@pytest.mark.servers
def test_the_throwaway_postgresql_is_of_this_run_and_only_on_a_socket(postgresql_url: str) -> None:
    with psycopg.connect(postgresql_url) as session:
        shown = {
            name: session.execute(f"SHOW {name}").fetchone()
            for name in ("fsync", "listen_addresses", "unix_socket_directories")
        }
    assert shown["fsync"] == ("off",)
    assert shown["listen_addresses"] == ("",)
    assert shown["unix_socket_directories"] == (str(TEST_RUN / "postgres"),)


@pytest.mark.servers
def test_the_throwaway_redis_keeps_nothing_on_disk(redis_url: str) -> None:
    client = redis.Redis.from_url(redis_url)
    assert client.ping()
    assert client.config_get("save") == {"save": ""}
    client.close()


@pytest.mark.servers
def test_a_server_ends_with_its_block_even_when_the_block_fails() -> None:
    folder = TEST_RUN / "short-lived"
    addresses = []

    def fail_while_it_runs() -> None:
        with servers.redis(folder) as address:
            addresses.append(address)
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail_while_it_runs()
    with pytest.raises(redis.ConnectionError):
        redis.Redis.from_url(addresses[0]).ping()
    shutil.rmtree(folder)


def test_a_wait_that_is_in_vain_says_what_for() -> None:
    with pytest.raises(AssertionError, match="no second moon"):
        servers.wait_for(lambda: False, "second moon", seconds=0.1)


def test_mail_arrives_in_the_mailbox(smtp: Any) -> None:
    from django.core.mail import send_mail

    send_mail("Ready", "Thursday.", "shop@example.com", ["ann@example.com"])
    (message,) = smtp.messages
    assert message["Subject"] == "Ready"
    assert smtp.url.startswith("smtp://127.0.0.1:")


def test_passwords_are_hashed_fast_here() -> None:
    person = Person(email="ana@example.com")
    person.set_password("wet concrete 41")
    assert person.password.startswith("md5$")


def test_no_real_installation_is_touched_by_a_test() -> None:
    assert os.environ["CUREWRIGHT_VAR"].startswith(str(TEST_RUN))
    assert "REDIS_URL" not in os.environ
