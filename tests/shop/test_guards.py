"""What stands around every page: huge bodies, shared tablets, addresses behind proxies, logs."""

from __future__ import annotations

import logging
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client, RequestFactory
from django.urls import reverse

from shop.http import client_address
from shop.logs import WithoutTokens, masked
from shop.models import Person, Role
from tests.factories import PASSWORD, make_job, make_person, make_piece, make_shop
from tests.settings import HOME

TOKEN = "Zp3xq_7Lw0-aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa"


@pytest.fixture
def person(db: None) -> Person:
    make_shop()
    return make_person(Role.OWNER, email="rosa@example.com")


@pytest.fixture
def signed_in(client: Client, person: Person) -> Client:
    client.force_login(person, "django.contrib.auth.backends.ModelBackend")
    return client


class Unreadable:
    def read(self, *_: int) -> bytes:
        raise AssertionError("the body was read")

    readline = read


def huge(client: Client, path: str) -> HttpResponse:
    client.cookies["csrftoken"] = "a" * 32
    return client.generic(  # type: ignore[return-value]
        "POST", path, b"x", content_type="multipart/form-data; boundary=x",
        CONTENT_LENGTH=str(50 * 1024 * 1024), **{"wsgi.input": Unreadable()},
    )  # fmt: skip


@pytest.mark.parametrize("path", ["/sign-in/", "/office/new-job/", "/floor/pieces/217-A/mark/"])
def test_fifty_megabytes_are_refused_unread_by_any_page(person: Person, path: str) -> None:
    answer = huge(Client(enforce_csrf_checks=True), path)
    assert answer.status_code == 413
    assert "not read" in answer.content.decode()


@pytest.mark.parametrize("name", ["office", "floor", "readings", "setup", "own-account", "people"])
def test_no_page_of_a_signed_in_person_stays_in_the_browser(signed_in: Client, name: str) -> None:
    assert "no-store" in signed_in.get(reverse(name))["Cache-Control"]


def test_nor_does_what_is_not_there(signed_in: Client) -> None:
    assert "no-store" in signed_in.get("/office/jobs/999/")["Cache-Control"]


@pytest.mark.parametrize("path", ["/floor/pieces/217%00A/", "/office/jobs/2%0017/", "/join/%00/"])
def test_a_zero_byte_in_an_address_is_just_not_there(signed_in: Client, path: str) -> None:
    make_piece(make_job("217"), "A")
    assert signed_in.get(path).status_code in {404, 410}


@pytest.mark.parametrize(
    ("proxies", "forwarded", "address"),
    [
        (0, "", "192.0.2.1"),
        (0, "203.0.113.9", "192.0.2.1"),
        (1, "203.0.113.9", "203.0.113.9"),
        (1, "198.51.100.7, 203.0.113.9", "203.0.113.9"),
        (2, "198.51.100.7, 203.0.113.9, 192.0.2.8", "203.0.113.9"),
        (2, "203.0.113.9", "192.0.2.1"),
        (1, "'; drop table", "192.0.2.1"),
        (1, "", "192.0.2.1"),
        (1, "2001:db8::1", "2001:db8::1"),
    ],
)
def test_the_address_is_what_ones_own_proxy_wrote(
    settings: Any, proxies: int, forwarded: str, address: str
) -> None:
    settings.CUREWRIGHT_PROXIES = proxies
    more = {"HTTP_X_FORWARDED_FOR": forwarded} if forwarded else {}
    request = RequestFactory().get("/", REMOTE_ADDR="192.0.2.1", **more)
    assert client_address(request) == address


def test_a_socket_has_no_address() -> None:
    assert client_address(RequestFactory().get("/", REMOTE_ADDR="")) is None


def fail(tries: int, forwarded: str) -> list[int]:
    form = {"email": "rosa@example.com", "password": "wrong"}
    return [
        Client().post("/sign-in/", form, HTTP_X_FORWARDED_FOR=forwarded.format(n)).status_code
        for n in range(tries)
    ]


def test_an_invented_address_does_not_go_around_the_lock(person: Person) -> None:
    assert fail(7, "203.0.113.{}")[-1] == 429


def test_behind_a_proxy_only_the_one_who_fails_is_locked(person: Person, settings: Any) -> None:
    settings.CUREWRIGHT_PROXIES = 1
    assert fail(7, "198.51.100.{}, 203.0.113.9")[-1] == 429
    form = {"email": "rosa@example.com", "password": PASSWORD}
    elsewhere = Client().post("/sign-in/", form, HTTP_X_FORWARDED_FOR="203.0.113.10")
    assert elsewhere.status_code == 302


@pytest.mark.parametrize(
    ("written", "kept"),
    [
        (f"Not Found: /p/{TOKEN}/date.ics", "Not Found: /p/***/date.ics"),
        (f'"GET /join/{TOKEN}/ HTTP/1.1" 200', '"GET /join/***/ HTTP/1.1" 200'),
        (f'"https://dates.example.com/p/{TOKEN}"', '"https://dates.example.com/p/***"'),
        ("GET /office/jobs/217/ 200", "GET /office/jobs/217/ 200"),
    ],
)
def test_a_log_names_no_link_that_opens_anything(written: str, kept: str) -> None:
    assert masked(written) == kept


def test_a_line_is_masked_however_it_is_put_together() -> None:
    parts = {"r": f"GET /p/{TOKEN}/ HTTP/1.1", "s": 200}
    record = logging.LogRecord(
        "gunicorn.access", logging.INFO, "", 0, '"%(r)s" %(s)s', (parts,), None
    )
    assert WithoutTokens().filter(record)
    assert record.getMessage() == '"GET /p/***/ HTTP/1.1" 200'


def test_a_line_that_cannot_be_put_together_is_left_to_its_writer() -> None:
    assert WithoutTokens().filter(logging.makeLogRecord({"msg": "%d", "args": ("x",)}))


def test_the_servers_own_log_goes_through_the_filter() -> None:
    from shop.settings import LOGGING

    assert LOGGING["loggers"]["gunicorn.access"]["handlers"] == ["console"]
    assert LOGGING["handlers"]["console"]["filters"] == ["no-tokens"]


def test_scripts_write_no_markup_of_their_own() -> None:
    for script in (HOME / "static/js").glob("*.js"):
        text = script.read_text(encoding="utf-8")
        assert not any(way in text for way in ("innerHTML", "insertAdjacentHTML", "document.write"))
