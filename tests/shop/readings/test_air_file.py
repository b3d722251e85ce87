from __future__ import annotations

import datetime as dt
import zoneinfo

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from shop.models import Room
from shop.services.air_file import FileRow, Wording, read_file
from shop.services.errors import Refused

NOW = dt.datetime(2026, 11, 25, 20, 0, tzinfo=dt.UTC)
ROOM = Room(pk=1, name="Casting room", usual_celsius=18.0)
CHICAGO = zoneinfo.ZoneInfo("America/Chicago")


def rows_of(
    text: str | bytes, *, fraction: bool = False, zone: str = "America/Chicago"
) -> list[FileRow]:
    content = text if isinstance(text, bytes) else text.encode()
    wording = Wording(zone=zoneinfo.ZoneInfo(zone), humidity_is_fraction=fraction)
    return read_file(content, room=ROOM, wording=wording, now=NOW)


def only(text: str | bytes, **wording: bool) -> FileRow:
    (row,) = rows_of(text, **wording)  # type: ignore[arg-type]
    return row


def refused(content: str | bytes) -> str:
    with pytest.raises(Refused) as caught:
        rows_of(content)
    assert caught.value.field == "file"
    return caught.value.message


def utc(*parts: int) -> dt.datetime:
    return dt.datetime(*parts, tzinfo=dt.UTC)


def test_a_time_without_offset_is_on_the_chosen_clock() -> None:
    assert only("time,celsius\n2026-11-24 06:40,14.5\n").at == utc(2026, 11, 24, 12, 40)
    (row,) = rows_of("time,celsius\n2026-11-24 06:40,14.5\n", zone="UTC")
    assert row.at == utc(2026, 11, 24, 6, 40)


@pytest.mark.parametrize(
    "written",
    [
        "2026-11-24T06:40:00-06:00",
        "2026-11-24 12:40Z",
        "2026-11-24 07:40 -0500",
        "2026-11-24 6:40",
        "2026-11-24T06:40:00.000",
    ],
)
def test_the_same_moment_in_other_words(written: str) -> None:
    assert only(f"time,celsius\n{written},14.5\n").at == utc(2026, 11, 24, 12, 40)


def test_fahrenheit_is_converted() -> None:
    assert only("time,fahrenheit\n2026-11-24 06:40,58\n").celsius == pytest.approx(14.444, abs=1e-3)


@pytest.mark.parametrize("text", [
    "time;celsius;humidity\n2026-11-24 06:40;14,5;55,5\n",
    "time\tcelsius\thumidity\n2026-11-24 06:40\t14.5\t55.5\n",
    "\ufefftime,celsius,humidity\r\n2026-11-24 06:40,14.5,55.5%\r\n",
    'time,celsius,humidity\n"2026-11-24 06:40","14,5","55,5"\n',
    " Time , CELSIUS , Humidity \n\n2026-11-24 06:40, 14.5 , 55.5 %\n",
])  # fmt: skip
def test_separators_decimal_commas_and_byte_order_marks(text: str) -> None:
    row = only(text)
    assert (row.celsius, row.fraction) == (14.5, pytest.approx(0.555))


def test_a_spreadsheets_unicode_text_is_read() -> None:
    assert only("time\tcelsius\n2026-11-24 06:40\t14.5\n".encode("utf-16")).celsius == 14.5


def test_humidity_is_percent_or_fraction_as_chosen_and_never_guessed() -> None:
    text = "time,celsius,humidity\n2026-11-24 06:40,14.5,{}\n"
    assert only(text.format("55")).fraction == 0.55
    assert only(text.format("0.55"), fraction=True).fraction == 0.55
    assert "looks like a fraction" in only(text.format("0.55")).fault
    assert "looks like percent" in only(text.format("55"), fraction=True).fault
    assert "0 to 100" in only(text.format("130")).fault
    assert only(text.format("")).fraction is None


def test_a_time_the_clocks_jump_over_is_refused_at_its_row() -> None:
    row = only("time,celsius\n2026-03-08 02:30,14.5\n")
    assert row.at is None
    assert "does not exist" in row.fault


def test_a_time_shown_twice_says_how_to_write_each_of_the_two() -> None:
    row = only("time,celsius\n2026-11-01 01:30,14.5\n")
    assert "Write 2026-11-01T01:30:00-05:00 or 2026-11-01T01:30:00-06:00" in row.fault
    assert only("time,celsius\n2026-11-01T01:30:00-06:00,14.5\n").at == utc(2026, 11, 1, 7, 30)


@pytest.mark.parametrize(
    ("written", "fault"),
    [
        ("11/24/2026 06:40,14.5", "Write the time like"),
        ("2026-11-24,14.5", "Write the time like"),
        ("2026-02-30 06:40,14.5", "No such time"),
        ("2026-11-24 25:40,14.5", "No such time"),
        ("0001-01-01 00:00+14:00,14.5", "No such time"),
        (",14.5", "No time"),
        ("2026-11-25 14:03,14.5", "in the future"),
        ("2011-11-25 14:03,14.5", "days ago"),
        ("2026-11-24 06:40,", "No temperature"),
        ("2026-11-24 06:40,warm", "not a number"),
        ("2026-11-24 06:40,1e9", "not a number"),
        ("2026-11-24 06:40,-52", "outside -40 to 60"),
        ("2026-11-24 06:40,14,5", "separate the columns by semicolons"),
        ("2026-11-24 06:40", "No temperature"),
    ],
)
def test_a_row_that_cannot_be_taken_says_why(written: str, fault: str) -> None:
    first, row = rows_of(f"time,celsius\n2026-11-24 05:00,14\n{written}\n")
    assert first.fault == ""
    assert (row.line, row.at, row.celsius) == (3, None, None)
    assert fault in row.fault


def test_a_minute_ahead_is_a_clock_that_runs_fast_and_passes() -> None:
    assert only("time,celsius\n2026-11-25 14:01,14.5\n").fault == ""


def test_fahrenheit_in_a_celsius_column_refuses_every_row() -> None:
    rows = rows_of(
        "time,celsius\n" + "".join(f"2026-11-24 {hour:02}:00,{36 + hour}\n" for hour in range(20))
    )
    assert all("looks like Fahrenheit" in row.fault for row in rows)
    assert all(row.celsius is None for row in rows)


def test_one_wild_value_does_not_refuse_the_others() -> None:
    rows = rows_of("time,celsius\n2026-11-24 01:00,14\n2026-11-24 02:00,85\n2026-11-24 03:00,15\n")
    assert [bool(row.fault) for row in rows] == [False, True, False]


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "empty"),
        (b" \n \n", "empty"),
        (b"\xef\xbb\xbf", "no column 'time'"),
        ("time,celsius\n", "no readings"),
        ("time,celsius,battery\n2026-11-24 06:40,14,3.1\n", "'battery'"),
        ("when,celsius\n2026-11-24 06:40,14\n", "'when'"),
        ("celsius\n14\n", "no column 'time'"),
        ("time,humidity\n2026-11-24 06:40,55\n", "one temperature column"),
        ("time,celsius,fahrenheit\n2026-11-24 06:40,14,58\n", "one temperature column"),
        ("time,celsius,celsius\n2026-11-24 06:40,14,14\n", "there twice"),
        (b"time,celsius\n2026-11-24 06:40,14\x00\n", "not a text file"),
        (b"PK\x03\x04\x14\x00\x06\x00\x08\x00" + bytes(range(256)) * 20, "not a text file"),
        (bytes(range(1, 32)) * 50, "not a text file"),
        ('time,celsius\n"' + "x" * 140_000 + '",14\n', "cannot be split"),
    ],
)
def test_a_file_that_is_no_table_of_readings_is_refused_whole(
    content: str | bytes, message: str
) -> None:
    assert message in refused(content)


def test_a_file_of_too_many_rows_is_refused() -> None:
    assert "split the file" in refused("time,celsius\n" + "2026-11-24 06:40,14\n" * 200_001)


@given(
    st.binary(max_size=400)
    | st.text(max_size=300).map(lambda text: ("time,celsius\n" + text).encode("utf-8", "replace"))
)
@example(b"time,celsius\n2026-11-24 06:40,14\r2026-11-24 06:41,14")
@example(b'time,celsius\n"2026-11-24 06:40')
def test_any_bytes_are_read_or_refused_with_a_reason(content: bytes) -> None:
    try:
        rows = rows_of(content)
    except Refused as refusal:
        rows = [FileRow(0, "", "", "", fault=refusal.message)]
    assert all(bool(row.fault) == (row.at is None) for row in rows)
