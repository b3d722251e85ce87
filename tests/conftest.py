from __future__ import annotations

import gc
import os
import shutil
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from email import message_from_bytes, policy
from email.message import EmailMessage
from typing import Any
from urllib.parse import quote

import pytest
from aiosmtpd.controller import Controller
from django.conf import settings as django_settings
from django.db import connection
from hypothesis import settings as hypothesis_settings
from playwright.sync_api import expect

from tests import servers
from tests.settings import HOME, POSTGRES_DIR, TEST_DATABASE, TEST_RUN

# A busy machine is not a fault: no test is judged by the clock.
hypothesis_settings.register_profile("untimed", deadline=None)
hypothesis_settings.load_profile("untimed")
expect.set_options(timeout=20_000)

# Files that take a minute or so come first: whoever of the processes has one left at the end would
# keep the others waiting.
LONG = (
    "tests/ground/test_demo.py",
    "tests/browser/test_plan.py",
    "tests/jobs/test_demo.py",
    "tests/test_access_table.py",
    "tests/browser/test_main_job.py",
    "tests/browser/test_what_is_cast.py",
    "tests/curing/test_order_property.py",
    "tests/ground/test_queue.py",
    "tests/ground/test_production.py",
)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The same order in each process; a file's tests stay in theirs."""
    places = {HOME / name: place for place, name in enumerate(LONG)}
    items.sort(key=lambda item: places.get(item.path, len(LONG)))


# Some hundred thousand objects stay to the end of the run. To look through them again and again
# took the garbage collector an eighth of the time.
gc.set_threshold(50_000, 10, 10)


def pytest_collection_finish() -> None:
    gc.collect()
    gc.freeze()


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[None]:
    with servers.postgresql(POSTGRES_DIR):
        yield


@pytest.fixture(scope="session")
def postgresql_url(postgresql_server: None) -> str:
    """A database on the run's server that no Django test uses, as DATABASE_URL takes it."""
    return f"postgresql://postgres@{quote(str(POSTGRES_DIR), safe='')}/curewright"


@pytest.fixture(scope="session")
def redis_url() -> Iterator[str]:
    with servers.redis(TEST_RUN / "redis") as url:
        yield url


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    request: pytest.FixtureRequest, django_db_modify_db_settings_parallel_suffix: None
) -> None:
    """Whoever asks for the database starts its server; who does not, does not wait for it."""
    if TEST_DATABASE == "postgresql":
        request.getfixturevalue("postgresql_server")


@pytest.fixture(scope="session")
def django_db_keepdb() -> bool:
    """No database has to be dropped from a server, or a folder, that goes with the run."""
    return True


@pytest.fixture
def program_environment(transactional_db: None) -> Callable[..., dict[str, str]]:
    """The environment in which a program of the app's works on this test's own database."""

    def build(**more: str) -> dict[str, str]:
        name = connection.settings_dict["NAME"]
        address = f"sqlite:///{name}"
        if TEST_DATABASE == "postgresql":
            address = f"postgresql://postgres@{quote(str(POSTGRES_DIR), safe='')}/{name}"
        return {
            **os.environ,
            "DJANGO_SETTINGS_MODULE": "shop.settings",
            "DATABASE_URL": address,
            "PYTHONPATH": str(HOME),
            **more,
        }

    return build


@dataclass
class Mailbox:
    """A mail server that keeps what it was sent; it refuses while `refusing` is set."""

    url: str = ""
    refusing: bool = False
    messages: list[EmailMessage] = field(default_factory=list)

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:
        if self.refusing:
            return "451 Try again later"
        message = message_from_bytes(envelope.content, policy=policy.default)
        assert isinstance(message, EmailMessage)
        self.messages.append(message)
        return "250 OK"


@pytest.fixture
def smtp(settings: Any) -> Iterator[Mailbox]:
    mailbox = Mailbox()
    controller = Controller(mailbox, hostname="127.0.0.1", port=servers.free_port())
    controller.start()
    mailbox.url = f"smtp://127.0.0.1:{controller.port}"
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", controller.port
    yield mailbox
    controller.stop()


@pytest.fixture(autouse=True)
def _empty_queue() -> Iterator[None]:
    """What one test left in the folder queue is not another test's."""
    yield
    for message in (django_settings.QUEUE_DIR / "messages").glob("*"):
        message.unlink(missing_ok=True)


@pytest.fixture(autouse=True)
def _no_shop_kept() -> Iterator[None]:
    """The shop that a process keeps filled is known by its name and edition, which tests share."""
    yield
    keeper = sys.modules.get("jobs.services.planned_shop")
    if keeper is not None:
        keeper.forget()


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    """Debian's own Chromium, and nothing that it would do by itself on the network.

    Where it is there, the one without windows: the other draws one with all its buttons for each
    person who comes in, which takes as long again as the page. The processor need not play a
    graphics card, as Debian's settings would have it.
    """
    found = shutil.which("chromium-headless-shell") or shutil.which("chromium")
    return {
        **browser_type_launch_args,
        "executable_path": found or "/usr/bin/chromium",
        "args": [
            "--no-sandbox",
            "--disable-gpu",
            "--disable-gpu-rasterization",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
        ],
    }
