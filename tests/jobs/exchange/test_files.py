"""Files as people have them, and as nobody should send them. All are made here."""

from __future__ import annotations

import datetime as dt
import io
import re
import struct
import zipfile
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook

from jobs.services.exchange import table as limits
from jobs.services.exchange import workbook
from jobs.services.exchange.files import read_file
from jobs.services.exchange.table import BadFile, letters_of
from jobs.services.exchange.writing import as_csv, as_xlsx
from tests.jobs.exchange.tables import HEADERS, ROW, csv_file, saved, table_of, xlsx_file


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"]
)
def test_text_is_read_whatever_the_spreadsheet_wrote(separator: str, encoding: str) -> None:
    row = [*ROW[:2], "Inés Möller", *ROW[3:]]

    table = table_of(csv_file(HEADERS, row, separator=separator, encoding=encoding))

    assert table.headers == HEADERS
    assert table.rows == [row]
    assert table.lines == [2]


def test_right_to_left_names_stay_as_they_are() -> None:
    name = "רות בן־דוד \u200f(חולון)"
    for file, called in (
        (csv_file(["Customer"], [name]), "a.csv"),
        (xlsx_file(["Customer"], [name]), "a.xlsx"),
    ):
        assert table_of(file, called).rows == [[name]]


def test_a_separators_hint_and_empty_lines_keep_the_row_numbers() -> None:
    content = b'sep=;\r\nJob;Price\r\n\r\n301;12,5\r\n;;\r\n302;"two\nlines"\r\n'

    table = table_of(content)

    assert table.headers == ["Job", "Price"]
    assert table.rows == [["301", "12,5"], ["302", "two\nlines"]]
    assert table.lines == [4, 6]


def test_a_workbooks_cells_come_as_they_would_be_typed() -> None:
    book = Workbook()
    sheet = book.active
    sheet.append(["Job", "Taken", "By", "Area", "Waste", "Match", "Bare", "Long"])
    sheet.append([217, dt.date(2026, 3, 2), dt.time(15, 30), 1 / 3, 0.15, True, None, 25.5])
    sheet["E2"].number_format = "0%"
    sheet["H4"] = "x"

    table = table_of(saved(book), "a.xlsx")

    assert table.rows[0] == [
        "217",
        "2026-03-02",
        "15:30:00",
        "0.3333333333333333",
        "15 %",
        "yes",
        "",
        "25.5",
    ]
    assert table.lines == [2, 4]


def test_a_workbook_with_several_sheets_offers_those_with_something_in_them() -> None:
    book = Workbook()
    book.active.title = "Notes"
    book.active.append(["only one row"])
    book.create_sheet("Empty")
    jobs = book.create_sheet("Jobs")
    jobs.append(HEADERS)
    jobs.append(ROW)
    hidden = book.create_sheet("Hidden")
    hidden.append(HEADERS)
    hidden.sheet_state = "hidden"

    sheets = read_file(saved(book), "a.xlsx").sheets

    assert [sheet.name for sheet in sheets] == ["Notes", "Jobs"]
    assert sheets[0].table is None
    assert "none below" in sheets[0].trouble
    assert sheets[1].table is not None
    assert sheets[1].table.rows == [ROW]


# Formulas.


def _with_formula(cached: str) -> bytes:
    """A workbook as a spreadsheet saves it: the formula, and beside it what it last came to."""
    plain = xlsx_file(["Job", "Price"], ["301", 7])
    return _rewritten(
        plain,
        "xl/worksheets/sheet1.xml",
        lambda xml: re.sub(r'<c r="B2"[^>]*><v>7</v></c>', f'<c r="B2">{cached}</c>', xml),
    )


def _rewritten(content: bytes, part: str, change: object) -> bytes:
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for info in old.infolist():
            data = old.read(info)
            if info.filename == part:
                changed = change(data.decode())  # type: ignore[operator]
                assert changed != data.decode()
                data = changed.encode()
            new.writestr(info.filename, data)
    return out.getvalue()


def test_a_formula_counts_as_what_it_last_came_to() -> None:
    assert table_of(_with_formula("<f>3*4</f><v>12</v>"), "a.xlsx").rows == [["301", "12"]]


def test_a_formula_without_a_result_and_one_that_failed_are_named_by_their_cell() -> None:
    table = table_of(_with_formula("<f>3*4</f>"), "a.xlsx")
    assert table.faults == {
        (0, 1): "B2: A formula without a result. Reckon the sheet and save it, or type it."
    }

    failed = _with_formula("<f>A1/0</f><v>#DIV/0!</v>")
    failed = _rewritten(
        failed,
        "xl/worksheets/sheet1.xml",
        lambda xml: xml.replace('<c r="B2">', '<c r="B2" t="e">'),
    )
    table = table_of(failed, "a.xlsx")
    assert table.faults[0, 1].startswith("B2: The sheet shows #DIV/0! here.")


RISKY = [
    "=cmd|' /C calc'!A0",
    "=1+1",
    "+1 555 0100",
    "-5",
    "@SUM(A1:A9)",
    "\tx",
    "\rx",
    "'=x",
    "''+y",
    "＝1",
    "plain",
    "'quoted",
    "",
]


@pytest.mark.parametrize("text", RISKY)
def test_no_cell_that_is_written_is_reckoned_and_each_reads_back_the_same(text: str) -> None:
    written = as_csv(["Notes", "Job"], [[text, "1"]])
    raw = written.decode("utf-8-sig").split("\r\n", 1)[1]
    assert raw.lstrip('"')[:1] not in set("=+-@\t\r＝")
    assert table_of(written).rows == [[text.strip(), "1"]]

    book = as_xlsx(["Notes", "Job"], [[text, "1"]], "Out")
    cell = load_workbook(io.BytesIO(book)).active["A2"]
    assert cell.data_type != "f"
    if text and not text.startswith(("\t", "\r")):
        assert table_of(book, "a.xlsx").rows == [[text, "1"]]
        assert bool(cell.quotePrefix) == (text not in {"plain", "'quoted"})


# What must not be opened.


def _zip(*parts: tuple[str, bytes], level: int = 9) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=level) as packed:
        for name, data in parts:
            packed.writestr(name, data)
    return out.getvalue()


def _never(*_: object, **__: object) -> None:
    raise AssertionError("the workbook was opened")


def test_a_zip_bomb_is_seen_in_its_directory_and_never_unpacked(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    bomb = _zip(
        ("xl/workbook.xml", b"<workbook/>"), ("xl/worksheets/sheet1.xml", b" " * 60_000_000)
    )
    assert len(bomb) < 100_000
    monkeypatch.setattr(workbook, "load_workbook", _never)
    monkeypatch.setattr(workbook, "_look_into", _never)

    with pytest.raises(BadFile, match="unpacks to 57 MB"):
        read_file(bomb, "jobs.xlsx")


def test_a_bomb_that_lies_about_its_size_is_read_no_further_than_it_says(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    honest = _zip(
        ("xl/workbook.xml", b"<workbook/>"), ("xl/worksheets/sheet1.xml", b" " * 30_000_000)
    )
    size = struct.pack("<I", 30_000_000)
    assert honest.count(size) == 2
    lying = honest.replace(size, struct.pack("<I", 1000))
    monkeypatch.setattr(workbook, "load_workbook", _never)

    with pytest.raises(BadFile, match="damaged"):
        read_file(lying, "jobs.xlsx")


def test_a_workbook_with_a_locked_part_is_told_from_one_that_is_packed_in_an_unknown_way() -> None:
    content = xlsx_file(HEADERS, ROW)
    entry = content.rindex(b"PK\x01\x02")  # the last part's row in the directory
    locked, strange = bytearray(content), bytearray(content)
    locked[entry + 8] |= 0x1
    strange[entry + 10 : entry + 12] = struct.pack("<H", 6)  # 'imploding', of old
    with pytest.raises(BadFile, match="locked with a password"):
        read_file(bytes(locked), "jobs.xlsx")
    with pytest.raises(BadFile, match="damaged"):
        read_file(bytes(strange), "jobs.xlsx")


def test_too_many_parts_or_a_part_twice_or_a_huge_style_sheet_are_refused(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(workbook, "load_workbook", _never)
    many = _zip(("xl/workbook.xml", b"x"), *((f"xl/p{n}.xml", b"x") for n in range(workbook.PARTS)))
    with pytest.raises(BadFile, match="more than 400 parts"):
        read_file(many, "a.xlsx")
    with pytest.warns(UserWarning, match="Duplicate"):
        twice = _zip(("xl/workbook.xml", b"x"), ("xl/styles.xml", b"x"), ("xl/styles.xml", b"y"))
    with pytest.raises(BadFile, match="twice"):
        read_file(twice, "a.xlsx")
    noise = bytes(range(256)) * 20_000
    with pytest.raises(BadFile, match="out of proportion"):
        read_file(_zip(("xl/workbook.xml", b"x"), ("xl/styles.xml", noise), level=1), "a.xlsx")


@pytest.mark.parametrize(
    "part", ["_rels/.rels", "xl/worksheets/sheet1.xml", "xl/workbook.xml", "xl/styles.xml"]
)
def test_entities_are_refused_and_no_file_is_fetched(part: str, tmp_path: Path) -> None:
    secret = tmp_path / "secret.txt"
    secret.write_text("the secret")
    doctype = f'<!DOCTYPE x [<!ENTITY e SYSTEM "file://{secret}">]>'
    book = xlsx_file(["Job", "Title"], ["301", "t"])
    with zipfile.ZipFile(io.BytesIO(book)) as packed:
        assert part in packed.namelist()
    hostile = _rewritten(
        book,
        part,
        lambda xml: xml.replace("?>", "?>" + doctype, 1) if "?>" in xml else doctype + xml,
    )

    with pytest.raises(BadFile, match="entities of its own") as refused:
        read_file(hostile, "jobs.xlsx")
    assert "secret" not in refused.value.message.replace(str(secret), "")


def test_entities_in_utf_16_are_refused_too() -> None:
    hostile = _rewritten(xlsx_file(["Job"], ["301"]), "xl/workbook.xml", lambda xml: xml + " ")
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(hostile)) as old, zipfile.ZipFile(out, "w") as new:
        for info in old.infolist():
            data = old.read(info)
            if info.filename == "xl/workbook.xml":
                text = (
                    data.decode().partition("?>")[2] if data.startswith(b"<?xml") else data.decode()
                )
                data = (
                    '<?xml version="1.0" encoding="UTF-16"?><!DOCTYPE x [<!ENTITY e "boom">]>'
                    + text
                ).encode("utf-16")
            new.writestr(info.filename, data)

    with pytest.raises(BadFile):
        read_file(out.getvalue(), "jobs.xlsx")


def test_a_million_rows_stop_at_the_limit_that_is_named() -> None:
    content = b"Job,Title\n" + b"301,x\n" * 400_000
    with pytest.raises(BadFile, match=r"More than 5,000 rows"):
        read_file(content, "a.csv")


def test_rows_and_columns_up_to_the_limit_are_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(limits, "MOST_ROWS", 3)
    assert len(table_of(csv_file(["Job"], ["1"], ["2"], ["3"])).rows) == 3
    with pytest.raises(BadFile, match="More than 3 rows"):
        table_of(csv_file(["Job"], ["1"], ["2"], ["3"], ["4"]))
    wide = [f"c{n}" for n in range(200)]
    assert len(table_of(csv_file(wide, wide)).headers) == 200
    for file, name in (
        (csv_file([*wide, "x"], ["1"]), "a.csv"),
        (xlsx_file([*wide, "x"], ["1"]), "a.xlsx"),
    ):
        with pytest.raises(BadFile, match="past column 200"):
            read_file(file, name)


def test_a_cell_at_the_far_end_of_the_sheet_does_not_fill_the_memory() -> None:
    book = Workbook()
    book.active.append(["Job"])
    book.active["A1048576"] = "far"
    with pytest.raises(BadFile, match="reaches further than row 20,000"):
        read_file(saved(book), "a.xlsx")
    book = Workbook()
    book.active.append(["Job"])
    book.active["XFD2"] = "far"
    with pytest.raises(BadFile, match="past column 200"):
        read_file(saved(book), "a.xlsx")


def test_a_cell_too_long_and_a_quote_left_open_are_named() -> None:
    with pytest.raises(BadFile, match="longer than 32,767"):
        read_file(csv_file(["Job"], ["x" * 40_000]), "a.csv")
    points = ",".join(f"[{n},{n * n}]" for n in range(10_000))
    with pytest.raises(BadFile, match=r"row 2 is longer than 32,767 .* too many corners"):
        read_file(csv_file(["Shape"], [f'{{"outline":"polygon","points":[{points}]}}']), "a.csv")
    with pytest.raises(BadFile, match="cannot be split into columns"):
        read_file(b'Job,Title\n301,"open\n302,x\n', "a.csv")


# What is called a table and is none.


@pytest.mark.parametrize(
    ("content", "name", "said"),
    [
        (b"", "a.csv", "The file is empty"),
        (b"  \r\n \r\n", "a.csv", "The file is empty"),
        (b"\xef\xbb\xbf", "a.csv", "The file is empty"),
        (b"Job,Title\r\n", "a.csv", "none below"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), "a.xlsx", "old workbook"),
        (b"%PDF-1.7\n%\xe2\xe3", "a.csv", "This is a PDF"),
        (b"<html><table><tr><td>Job</td></tr></table>", "a.xls", "web page"),
        (b"\x1f\x8b\x08abc", "a.csv", "packed file"),
        (b"\x89PNG\r\n", "a.csv", "picture"),
        (b"PK\x03\x04 and then nothing", "a.xlsx", "breaks off"),
        (b"Job,Ti\x00tle\r\n301,x\r\n", "a.csv", "bytes of nought"),
        (bytes(range(1, 256)) * 20, "a.csv", "no text and no workbook"),
        (b"\xff\xfeJ\x00o\x00b\x00", "a.csv", "none below"),
        (b"\xff\xfeJ\x00o\x00b\x00,\x00\n", "a.csv", "UTF-16"),
    ],
)  # fmt: skip
def test_another_kind_of_file_is_told_what_to_do(content: bytes, name: str, said: str) -> None:
    with pytest.raises(BadFile, match=said):
        read_file(content, name)


@pytest.mark.parametrize(
    ("parts", "said"),
    [
        (
            {"mimetype": b"application/vnd.oasis.opendocument.spreadsheet", "content.xml": b"<x/>"},
            "OpenDocument",
        ),
        ({"xl/workbook.bin": b"\x01"}, "XLSB"),
        ({"word/document.xml": b"<x/>"}, "text document"),
        ({"photo.jpg": b"\xff\xd8"}, "no workbook"),
        ({"xl/workbook.xml": b"<workbook/>"}, "cannot be read"),
        ({"xl/workbook.xml": b"not xml"}, "cannot be read"),
    ],
)
def test_another_kind_of_package_is_told_what_to_do(parts: dict[str, bytes], said: str) -> None:
    with pytest.raises(BadFile, match=said):
        read_file(_zip(*parts.items()), "a.xlsx")


def test_a_file_under_a_wrong_name_is_read_as_what_it_is_and_said_so() -> None:
    read = read_file(csv_file(HEADERS, ROW), "jobs.xlsx")
    assert read.sheets[0].table.rows == [ROW]
    assert "ends with .xlsx, but it is text (CSV)" in read.note
    read = read_file(xlsx_file(HEADERS, ROW), "jobs.csv")
    assert read.sheets[0].table.rows == [ROW]
    assert "ends with .csv, but it is a workbook" in read.note
    assert read_file(csv_file(HEADERS, ROW), "jobs.csv").note == ""


def test_a_sign_that_cannot_be_shown_is_a_fault_of_its_cell() -> None:
    table = table_of(b"Job,Title\n301,bell\x07\n302,ok\n")
    assert list(table.faults) == [(0, 1)]
    assert "U+0007" in table.faults[0, 1]


def test_columns_are_lettered_as_in_a_spreadsheet() -> None:
    assert [letters_of(place) for place in (0, 25, 26, 51, 52, 701, 702)] == [
        "A",
        "Z",
        "AA",
        "AZ",
        "BA",
        "ZZ",
        "AAA",
    ]
