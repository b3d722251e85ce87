from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from jobs.services.finding import find, find_customers
from jobs.services.orders import close_job, save_customer
from tests.factories import make_customer, make_job
from tests.jobs.office.conftest import PROMISE, text_of

SWAP = {"HX-Request": "true"}


@pytest.fixture(autouse=True)
def _jobs(_shop: None) -> None:
    for number, name, phone, title in [
        ("217", "Inés Calvarra", "+1 (555) 555-0142", "Kitchen island"),
        ("21", "Nils Abernoth", "555.555.0117", "Hearth"),
        ("301", "Straße & Söhne", "020 7946 0958", "Bench"),
        ("A5", "Gable & Finch Builders", "", "Stair treads"),
    ]:
        customer = save_customer(values={"name": name, "phone": phone})
        make_job(number, PROMISE, customer=customer, title=title, site=f"{number} Quay Lane")


def numbers(text: str) -> list[str]:
    return [row.job.number for row in find(text)]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("217", ["217"]),
        ("217-B", ["217"]),
        ("217-b", ["217"]),
        ("21", ["21", "217"]),  # the very number first, then those that begin so
        ("a5", ["A5"]),
        ("ines", ["217"]),
        ("CALVARRA inés", ["217"]),
        ("finch", ["A5"]),
        ("strasse", ["301"]),
        ("kitchen", ["217"]),
        ("301 quay", ["301"]),
        ("nobody", []),
        ("%", []),
        ("_", []),
        ("' OR 1=1 --", []),
    ],
)
def test_by_number_code_name_title_or_site(text: str, found: list[str]) -> None:
    assert numbers(text) == found


@pytest.mark.parametrize(
    "spelling",
    [
        "555 0142",
        "5550142",
        "555-555-0142",
        "(555) 555 0142",
        "+1 555 555 0142",
        "001-555-555-0142",
        "1.555.555.0142",
        "٥٥٥٥٥٥٠١٤٢",
        "0142",
    ],
)
def test_by_phone_in_any_spelling(spelling: str) -> None:
    assert numbers(spelling) == ["217"]


@pytest.mark.parametrize("spelling", ["+44 20 7946 0958", "7946 0958", "0207 946 0958"])
def test_by_a_phone_of_another_country_with_and_without_its_prefix(spelling: str) -> None:
    assert numbers(spelling) == ["301"]


def test_a_closed_job_is_found_after_the_open_ones() -> None:
    customer = make_customer("Nils Abernoth")
    closed = make_job("20", PROMISE, customer=customer)
    close_job(job_id=closed.pk)
    assert numbers("nils") == ["21", "20"]


def test_enter_on_a_single_hit_opens_the_job(office: Client) -> None:
    answer = office.get(reverse("office"), {"q": "555 0142"})
    assert answer.status_code == 302
    assert answer["Location"] == reverse("job", args=["217"])


def test_several_hits_are_listed_without_scripts(office: Client) -> None:
    text = text_of(office.get(reverse("office"), {"q": "21"}))
    assert "2 jobs found" in text
    assert "Nils Abernoth" in text
    assert "<html" in text


def test_typing_swaps_the_list_only(office: Client) -> None:
    text = text_of(office.get(reverse("office"), {"q": "ines"}, headers=SWAP))
    assert text.startswith('<div id="jobs">')
    assert "Inés Calvarra" in text
    assert "Nils" not in text


def test_nothing_found_says_so_and_escapes_what_was_typed(office: Client) -> None:
    text = text_of(office.get(reverse("office"), {"q": "<script>alert(1)</script>"}))
    assert "No job, customer, phone number or site matches" in text
    assert "<script>alert" not in text


@pytest.mark.parametrize("text", ["\x00", "x" * 5000, "\u202eabc", "  ", "\ud7ff", "%00"])
def test_hostile_searches_are_answered(office: Client, text: str) -> None:
    assert office.get(reverse("office"), {"q": text}).status_code == 200


def test_customers_by_name_mail_or_phone() -> None:
    def names(text: str) -> list[str]:
        return [customer.name for customer in find_customers(text)]

    assert names("ines") == ["Inés Calvarra"]
    assert names("555 0117") == ["Nils Abernoth"]
    assert len(names("")) == 4
