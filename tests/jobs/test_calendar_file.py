from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar, Event

from jobs.models import Job
from jobs.services.calendar_file import date_file
from shop.models import Shop
from tests.factories import NOW

DAY = dt.date(2026, 11, 27)


def written(**fields: Any) -> str:
    job = Job(pk=7, number="217", title=fields.pop("title", "Kitchen island"))
    job.site = fields.pop("site", "4 Quay Lane, Ferrow Bend")
    shop = Shop(name=fields.pop("shop", "Ferrow Bend Thin Concrete"), phone="(555) 555-0100")
    values = {"told_on": DAY, "sequence": 2, "at": NOW, "firm": False, "address": ""}
    return date_file(job=job, shop=shop, **values | fields)


def read(text: str) -> Event:
    (event,) = Calendar.from_ical(text).walk("VEVENT")
    assert isinstance(event, Event)
    return event


def test_it_is_one_whole_day_that_ends_before_the_next() -> None:
    text = written()
    assert "DTSTART;VALUE=DATE:20261127\r\n" in text
    assert "DTEND;VALUE=DATE:20261128\r\n" in text
    event = read(text)
    assert event["DTSTAMP"].dt == NOW
    assert event["SUMMARY"] == "Kitchen island ready, Ferrow Bend Thin Concrete"
    assert event["LOCATION"] == "4 Quay Lane, Ferrow Bend"
    assert (event["SEQUENCE"], event["STATUS"]) == (2, "TENTATIVE")
    assert Calendar.from_ical(text)["METHOD"] == "PUBLISH"


def test_a_firm_day_is_confirmed() -> None:
    assert read(written(firm=True))["STATUS"] == "CONFIRMED"


def test_the_entry_keeps_its_name_whatever_day_is_told() -> None:
    assert read(written())["UID"] == read(written(told_on=DAY + dt.timedelta(days=3)))["UID"]


@pytest.mark.parametrize("title", ["x" * 79, "Küche mit Spüle " * 4, "מטבח גדול " * 7])
def test_lines_are_folded_at_75_octets_and_end_in_cr_lf(title: str) -> None:
    text = written(title=title, address="https://example.com/p/" + "x" * 90)
    lines = text.encode().split(b"\r\n")
    assert lines[-1] == b""
    assert max(map(len, lines)) <= 75
    assert b"\n" not in b"".join(lines)
    assert title.strip() in read(text)["SUMMARY"]


@given(st.text(max_size=80), st.text(max_size=120))
def test_no_title_or_site_breaks_out_of_its_line(title: str, site: str) -> None:
    event = read(written(title=title, site=site))
    assert set(event) <= {
        "UID", "SEQUENCE", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY", "STATUS", "TRANSP",
        "LOCATION", "CONTACT",
    }  # fmt: skip
    assert event["DTSTART"].dt == DAY
