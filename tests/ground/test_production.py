"""The app as a real shop runs it: real settings, PostgreSQL, Redis, gathered static files."""

from __future__ import annotations

import http.client
import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from shop import health
from tests import servers
from tests.settings import HOME

pytestmark = pytest.mark.servers
HOST = "dates.example.com"


@pytest.fixture(scope="module")
def environment(
    postgresql_url: str, redis_url: str, tmp_path_factory: pytest.TempPathFactory
) -> dict[str, str]:
    var = tmp_path_factory.mktemp("real")
    return {
        "PATH": str(Path(sys.executable).parent),
        "CUREWRIGHT_VAR": str(var),
        "CUREWRIGHT_STATIC": str(var / "collected"),
        "CUREWRIGHT_SECRET_KEY": "only-for-this-run-" + "x" * 32,
        "CUREWRIGHT_HOSTS": HOST,
        "CUREWRIGHT_URL": f"https://{HOST}",
        "CUREWRIGHT_PROXIES": "1",
        "CUREWRIGHT_SMTP": "smtp://127.0.0.1:1",
        "DATABASE_URL": postgresql_url,
        "REDIS_URL": redis_url,
    }


@pytest.fixture(scope="module")
def port(environment: dict[str, str], tmp_path_factory: pytest.TempPathFactory) -> Iterator[int]:
    for step in (["migrate", "--noinput"], ["collectstatic", "--noinput"]):
        done = subprocess.run(
            [sys.executable, "manage.py", *step],
            cwd=HOME,
            env=environment,
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr
    number = servers.free_port()
    log = tmp_path_factory.mktemp("web") / "log"
    command = [sys.executable, "-m", "gunicorn", "shop.wsgi", "--no-control-socket"]
    command += ["--bind", f"127.0.0.1:{number}"]
    with servers.running(command, log, environment=environment):
        servers.wait_for(lambda: health.web_answers(number, HOST), "web server that is well")
        yield number


def ask(port: int, path: str, **headers: str) -> tuple[int, dict[str, str], str]:
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=90)) as connection:
        connection.request("GET", path, headers={"Host": HOST, **headers})
        reply = connection.getresponse()
        return reply.status, dict(reply.getheaders()), reply.read().decode()


def by_tls(port: int, path: str) -> tuple[int, dict[str, str], str]:
    """As the proxy in front hands it on."""
    return ask(port, path, **{"X-Forwarded-Proto": "https", "X-Forwarded-For": "192.0.2.7"})


def test_it_is_well_by_its_own_name_only(port: int) -> None:
    assert health.web_answers(port, HOST)
    assert not health.web_answers(port, "elsewhere.example.com")


def test_a_plain_request_is_sent_to_the_https_address(port: int) -> None:
    status, headers, _ = ask(port, "/")
    assert (status, headers["Location"]) == (301, f"https://{HOST}/")


def test_the_first_page_comes_with_its_guards(port: int) -> None:
    status, headers, _ = by_tls(port, "/")
    assert status == 302
    status, headers, page = by_tls(port, headers["Location"])
    assert status == 200
    assert "default-src 'self'" in headers["Content-Security-Policy"]
    assert int(re.findall(r"max-age=(\d+)", headers["Strict-Transport-Security"])[0]) > 0
    assert headers["X-Frame-Options"] == "DENY"
    assert "Secure" in headers["Set-Cookie"]
    assert "csrfmiddlewaretoken" in page


def test_static_files_carry_their_contents_hash_and_are_kept(port: int) -> None:
    _, _, page = by_tls(port, by_tls(port, "/")[1]["Location"])
    (sheet, *_) = re.findall(r'href="(/static/css/[^"]+\.css)"', page)
    assert re.search(r"\.[0-9a-f]{12}\.css$", sheet)
    status, headers, _ = by_tls(port, sheet)
    assert status == 200
    assert "immutable" in headers["Cache-Control"]


def test_an_unknown_page_says_so_without_the_insides(port: int) -> None:
    status, _, page = by_tls(port, "/no/such/page")
    assert status == 404
    assert "Traceback" not in page
    assert "urlpatterns" not in page
