"""The pages of bringing in and taking out, as the office goes through them."""

from __future__ import annotations

import html
import re
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as django_settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from jobs.models import Job
from jobs.services import orders
from shop.models import Mix, Person, Role, Shop
from tests import factories
from tests.jobs.exchange.tables import HEADERS, ROW, csv_file, saved, table_of

pytestmark = pytest.mark.usefixtures("var")


def text_of(answer: Any) -> str:
    return html.unescape(re.sub(r"\s+", " ", answer.content.decode()))


def upload(office: Client, content: bytes, name: str = "jobs.csv") -> Any:
    return office.post(reverse("bring-in"), {"file": SimpleUploadedFile(name, content)})


def token_of(answer: Any) -> str:
    found = re.search(r"[0-9a-f]{32}", answer["Location"])
    assert found
    return found[0]


def chosen(office: Client, token: str, **other: Any) -> dict[str, Any]:
    """What the columns' page has in its controls, as a browser would send it."""
    page = office.get(reverse("bring-in-columns", args=[token])).content.decode()
    data: dict[str, Any] = {}
    for name, options in re.findall(r'<select name="([^"]+)"[^>]*>(.*?)</select>', page, re.DOTALL):
        selected = re.search(r'value="([^"]*)"[^>]* selected', options)
        data[name] = selected[1] if selected else ""
    for name in ("room", "mix", "route", "sealer", "thickness", "taken_on"):
        found = re.search(rf'name="{name}" value="([^"]*)"', page)
        if found:
            data[name] = html.unescape(found[1])
    return {**data, "existing": "leave", **other}


def seen_of(page: Any) -> str:
    found = re.search(r'name="seen" value="([0-9a-f]+)"', page.content.decode())
    assert found, text_of(page)
    return found[1]


def test_the_office_leads_to_both(office: Client) -> None:
    page = text_of(office.get(reverse("office")))

    assert reverse("bring-in") in page
    assert reverse("take-out") in page


def test_three_steps_bring_a_table_in(office: Client, shop: Shop) -> None:
    token = token_of(upload(office, csv_file(HEADERS, ROW)))
    data = chosen(office, token)
    assert data["field-0"] == "number"
    assert data["field-8"] == "area"
    assert data["unit-8"] == "ft²"
    assert data["thickness"] == "3/4"
    assert data["mix"] == str(Mix.objects.get().pk)

    to_rows = office.post(reverse("bring-in-columns", args=[token]), data)
    assert to_rows["Location"] == reverse("bring-in-rows", args=[token])
    rows = office.get(to_rows["Location"])
    assert "Save all of it" in text_of(rows)
    assert not Job.objects.exists()

    done = office.post(to_rows["Location"], {"seen": seen_of(rows)}, follow=True)

    assert "Brought in: 1 job, 1 piece and 1 customer are new." in text_of(done)
    assert Job.objects.get().number == "301"
    again = office.post(to_rows["Location"], {"seen": seen_of(rows)}, follow=True)
    assert "Brought in: 1 job, 1 piece and 1 customer are new." in text_of(again)
    assert Job.objects.count() == 1


def test_what_was_chosen_stays_when_one_goes_back(office: Client, shop: Shop) -> None:
    token = token_of(upload(office, csv_file(HEADERS, ROW)))
    data = chosen(office, token) | {"field-1": "", "thickness": "1 1/4", "existing": "change"}
    office.post(reverse("bring-in-columns", args=[token]), data)

    page = office.get(reverse("bring-in-columns", args=[token])).content.decode()

    back = chosen(office, token)
    assert back["field-1"] == ""
    assert back["field-2"] == "customer"
    assert back["thickness"] == "1 1/4"
    assert re.search(r'value="change"[^>]* checked', page)
    waiting = text_of(office.get(reverse("bring-in")))
    assert "Begun and not saved yet" in waiting
    assert token in waiting


def test_a_column_that_leaves_doubt_is_asked_for_and_the_rest_is_kept(
    office: Client, shop: Shop
) -> None:
    headers = [*HEADERS[:5], "Due", *HEADERS[6:8], "Area"]
    row = [*ROW[:5], "4/5/2026", *ROW[6:]]
    token = token_of(upload(office, csv_file(headers, row)))

    answer = office.post(
        reverse("bring-in-columns", args=[token]), chosen(office, token, thickness="1 in")
    )

    assert answer.status_code == 422
    page = text_of(answer)
    assert "These days can be read two ways. Say which part comes first." in page
    assert "Say which unit these figures are in." in page
    assert 'value="1 in"' in page
    data = chosen(office, token) | {"unit-8": "ft²", "order-5": "day"}
    assert office.post(reverse("bring-in-columns", args=[token]), data).status_code == 302
    rows = text_of(office.get(reverse("bring-in-rows", args=[token])))
    assert "Save all of it" in rows


def test_wrong_rows_are_named_by_row_and_column_and_can_be_taken_out_to_mend(
    office: Client, shop: Shop
) -> None:
    wrong = ["302", "=cmd|' /C calc'!A0", *ROW[2:8], "nine"]
    token = token_of(upload(office, csv_file(HEADERS, ROW, wrong)))
    office.post(reverse("bring-in-columns", args=[token]), chosen(office, token))

    page = text_of(office.get(reverse("bring-in-rows", args=[token])))
    assert "1 row cannot be saved, so nothing is" in page
    assert "Row 3</strong> Area [ft²]: ‘nine’ is not a number. Write it like 25.5." in page
    assert "Save all of it" not in page
    answer = office.post(reverse("bring-in-rows", args=[token]), {"seen": "x"})
    assert answer.status_code == 409
    assert not Job.objects.exists()

    for kind in ("csv", "xlsx"):
        address = reverse("bring-in-to-mend", args=[token, kind])
        only = table_of(office.get(address).content, f"m.{kind}")
        assert only.headers == ["Row in the file", "What is wrong", *HEADERS]
        assert [row[0] for row in only.rows] == ["3"]
        assert only.rows[0][2:] == wrong
        everything = table_of(office.get(address, {"rows": "all"}).content, f"m.{kind}")
        assert [row[0] for row in everything.rows] == ["2", "3"]
    raw = office.get(reverse("bring-in-to-mend", args=[token, "csv"])).content.decode("utf-8-sig")
    assert "'=cmd" in raw

    mended = [[*row[:10], "9.25"] if row[0] == "3" else row for row in everything.rows]
    second = token_of(upload(office, csv_file(everything.headers, *mended)))
    data = chosen(office, second)
    assert (data["field-0"], data["field-1"]) == ("", "")
    office.post(reverse("bring-in-columns", args=[second]), data)
    rows = office.get(reverse("bring-in-rows", args=[second]))
    office.post(reverse("bring-in-rows", args=[second]), {"seen": seen_of(rows)})
    assert {job.number for job in Job.objects.all()} == {"301", "302"}


def test_a_change_between_looking_and_saving_shows_the_rows_anew(
    office: Client, shop: Shop
) -> None:
    job = factories.make_job("301", title="One vanity")
    factories.make_piece(job, "A")
    token = token_of(upload(office, csv_file(HEADERS, ROW)))
    office.post(reverse("bring-in-columns", args=[token]), chosen(office, token, existing="change"))
    rows = office.get(reverse("bring-in-rows", args=[token]))
    assert "what it is: One vanity → Two vanities" in text_of(rows)
    orders.save_job(values={"title": "Bench"}, job_id=job.pk)

    answer = office.post(reverse("bring-in-rows", args=[token]), {"seen": seen_of(rows)})

    assert answer.status_code == 409
    page = text_of(answer)
    assert "Otherwise now: job 301." in page
    assert "what it is: Bench → Two vanities" in page
    job.refresh_from_db()
    assert job.title == "Bench"
    office.post(reverse("bring-in-rows", args=[token]), {"seen": seen_of(answer)})
    job.refresh_from_db()
    assert job.title == "Two vanities"


def test_a_sheet_is_chosen_where_there_are_several(office: Client, shop: Shop) -> None:
    from openpyxl import Workbook

    book = Workbook()
    book.active.title = "Prices"
    for row in (["Thing", "Cost"], ["Sand", 3]):
        book.active.append(row)
    jobs = book.create_sheet("Orders")
    jobs.append(HEADERS)
    jobs.append(ROW)
    answer = upload(office, saved(book), "book.xlsx")
    token = token_of(answer)
    assert answer["Location"] == reverse("bring-in-sheet", args=[token])
    for bad in ("", "7", "-1", "x"):
        assert office.post(answer["Location"], {"sheet": bad}).status_code == 422

    office.post(answer["Location"], {"sheet": "1"})

    assert chosen(office, token)["field-0"] == "number"
    office.post(answer["Location"], {"sheet": "0"})
    assert chosen(office, token)["field-0"] == ""


@pytest.mark.parametrize(
    ("content", "name", "said"),
    [(b"%PDF-1.7", "jobs.csv", "This is a PDF"), (b"", "jobs.xlsx", "The file is empty."),
     (b"\xd0\xcf\x11\xe0" + bytes(99), "jobs.xls", "old workbook")],
)  # fmt: skip
def test_another_file_is_answered_on_the_page_and_leaves_no_trace(
    office: Client, var: Path, content: bytes, name: str, said: str
) -> None:
    answer = upload(office, content, name)

    assert answer.status_code == 422
    assert said in text_of(answer)
    assert not var.exists() or not list(var.iterdir())


def test_a_file_too_large_is_refused_before_it_is_read(office: Client) -> None:
    limit = django_settings.CUREWRIGHT_UPLOAD_LIMIT
    for size in (limit + 1, limit + 200_000):
        answer = upload(office, b"x" * size)
        assert answer.status_code == 413
        assert "larger than 4 MB" in text_of(answer)


def test_a_forged_upload_is_refused(clerk: Person) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(clerk)

    assert upload(client, csv_file(HEADERS, ROW)).status_code == 403


def test_another_persons_table_is_not_there(office: Client, shop: Shop) -> None:
    token = token_of(upload(office, csv_file(HEADERS, ROW)))
    other = Client()
    other.force_login(factories.make_person(Role.OWNER))

    for name in ("sheet", "columns", "rows"):
        answer = other.get(reverse(f"bring-in-{name}", args=[token]), follow=True)
        assert "not waiting any more" in text_of(answer)
    other.post(reverse("bring-in-leave", args=[token]))
    assert office.get(reverse("bring-in-columns", args=[token])).status_code == 200
    office.post(reverse("bring-in-leave", args=[token]))
    assert office.get(reverse("bring-in-columns", args=[token])).status_code == 302


def test_hostile_words_stay_words_on_every_page(office: Client, shop: Shop) -> None:
    bad = "<script>alert(1)</script>"
    token = token_of(
        upload(office, csv_file([*HEADERS, bad], [*ROW[:1], bad, *ROW[2:], bad]), f"{bad}.csv")
    )
    pages = [office.get(reverse("bring-in-columns", args=[token]))]
    office.post(reverse("bring-in-columns", args=[token]), chosen(office, token))
    pages += [office.get(reverse("bring-in-rows", args=[token])), office.get(reverse("bring-in"))]

    assert all(b"<script>alert" not in page.content for page in pages)
    assert all(page.status_code == 200 for page in pages)


def test_many_rows_come_in_pages_and_can_be_narrowed(office: Client, shop: Shop) -> None:
    good = [[str(n), *ROW[1:]] for n in range(400, 470)]
    token = token_of(upload(office, csv_file(HEADERS, *good, ["999", *ROW[1:8], "nine"])))
    office.post(reverse("bring-in-columns", args=[token]), chosen(office, token))
    rows = reverse("bring-in-rows", args=[token])

    assert "Page 1 of 2" in text_of(office.get(rows))
    wrong = text_of(office.get(rows, {"show": "wrong"}))
    assert "999" in wrong
    assert "<bdi>400</bdi>" not in wrong
    assert office.get(rows, {"show": "x", "page": "zzz"}).status_code == 200


def test_the_rows_page_takes_as_many_queries_for_many_rows(
    office: Client, shop: Shop, django_assert_num_queries: Any
) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    def counted(count: int) -> int:
        rows = [[str(n), *ROW[1:]] for n in range(400, 400 + count)]
        token = token_of(upload(office, csv_file(HEADERS, *rows)))
        office.post(reverse("bring-in-columns", args=[token]), chosen(office, token))
        with CaptureQueriesContext(connection) as queries:
            office.get(reverse("bring-in-rows", args=[token]))
        return len(queries)

    assert counted(2) == counted(30)


def test_taking_out_gives_a_file_of_either_kind(office: Client, shop: Shop) -> None:
    job = factories.make_job("217", title="=1+1")
    factories.make_piece(job, "A")

    for kind, start in (("csv", b"\xef\xbb\xbf"), ("xlsx", b"PK")):
        answer = office.get(reverse("take-out-table"), {"which": "open", "kind": kind})
        assert answer.status_code == 200
        assert answer.content.startswith(start)
        assert answer["Content-Disposition"] == f'attachment; filename="jobs-2026-03-18.{kind}"'
        assert table_of(answer.content, f"a.{kind}").rows[0][:2] == ["217", "=1+1"]


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"which": "days", "kind": "csv"}, "Give the first day, the last, or both."),
        (
            {"which": "days", "kind": "csv", "since": "2026-04-02", "until": "2026-04-01"},
            "The last day is before the first.",
        ),
        ({"which": "days", "kind": "csv", "since": "soon"}, "Write a date like 2026-03-31."),
        ({"which": "some", "kind": "csv"}, "Choose another"),
        ({"which": "open", "kind": "pdf"}, "Choose another"),
    ],
)
def test_a_wrong_wish_comes_back_as_it_was_asked(
    office: Client, shop: Shop, asked: dict[str, str], said: str
) -> None:
    answer = office.get(reverse("take-out-table"), asked)

    assert answer.status_code == 422
    assert said in text_of(answer)


def test_the_crew_has_no_business_here(shop: Shop) -> None:
    crew = Client()
    crew.force_login(factories.make_person(Role.CREW))

    assert crew.get(reverse("bring-in")).status_code == 403
    assert crew.get(reverse("take-out-table"), {"which": "all", "kind": "csv"}).status_code == 403
