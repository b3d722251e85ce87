"""The demo's database: many processes write to one SQLite file, as in production to a server."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from tests.settings import HOME

WRITERS, TIMES = 4, 25


@pytest.fixture
def environment(tmp_path: Path) -> dict[str, str]:
    (tmp_path / "static").mkdir()
    return {
        "PATH": os.environ["PATH"],
        "PYTHONPATH": str(HOME),
        "DJANGO_SETTINGS_MODULE": "shop.settings",
        "CUREWRIGHT_DEMO": "yes",
        "CUREWRIGHT_VAR": str(tmp_path),
    }


@pytest.fixture
def database(tmp_path: Path, environment: dict[str, str]) -> Path:
    make = (
        "import django; django.setup()\n"
        "from django.db import connection\n"
        "from shop.models import Shop\n"
        "with connection.schema_editor() as tables: tables.create_model(Shop)\n"
        "Shop.objects.create(pk=1, name='Our shop')\n"
    )
    subprocess.run([sys.executable, "-c", make], env=environment, check=True, timeout=120)
    return tmp_path / "curewright.sqlite3"


def test_processes_and_threads_that_write_at_once_lose_nothing(
    database: Path, environment: dict[str, str]
) -> None:
    command = [sys.executable, "-m", "tests.ground.writer", str(TIMES)]
    writers = [
        subprocess.Popen(
            command, env=environment, stdin=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        for _ in range(WRITERS)
    ]
    for writer in writers:
        assert writer.stdin
        writer.stdin.write("go\n")
        writer.stdin.flush()
    said = [writer.communicate(timeout=120)[1] for writer in writers]
    assert [writer.returncode for writer in writers] == [0] * WRITERS, said
    with sqlite3.connect(database) as look:
        (edition,) = look.execute("SELECT edition FROM shop_shop").fetchone()
    look.close()
    assert edition == WRITERS * 4 * TIMES


def test_readers_are_not_held_up_by_a_writer(database: Path) -> None:
    writer = sqlite3.connect(database, isolation_level=None)
    writer.execute("BEGIN IMMEDIATE")
    writer.execute("UPDATE shop_shop SET edition = 7")
    reader = sqlite3.connect(database, timeout=0)
    assert reader.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    assert reader.execute("SELECT edition FROM shop_shop").fetchone() == (0,)
    writer.execute("COMMIT")
    assert reader.execute("SELECT edition FROM shop_shop").fetchone() == (7,)
    reader.close()
    writer.close()
