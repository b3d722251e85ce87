"""Which kind of file this really is, by its content, whatever it is called."""

from __future__ import annotations

import io
import zipfile
from dataclasses import dataclass, replace
from pathlib import PurePath

from jobs.services.exchange.columns import well_headed
from jobs.services.exchange.table import BadFile
from jobs.services.exchange.text_file import read_text
from jobs.services.exchange.workbook import Sheet, read_workbook

ZIP = b"PK\x03\x04"
# What else people have at hand, by how it begins.
OTHERS: tuple[tuple[bytes, str], ...] = (
    (
        b"\xd0\xcf\x11\xe0",
        "This is an old workbook (XLS), or one that is locked with a password. Open it and save "
        "it as XLSX without a password, or as CSV.",
    ),
    (b"%PDF", "This is a PDF, a picture of a table. Ask for the table itself as XLSX or CSV."),
    (b"{\\rtf", "This is a text document. Copy its table into a sheet and save that as XLSX."),
    (b"\x1f\x8b", "This is a packed file. Unpack it and bring in the XLSX or CSV inside."),
    (b"Rar!", "This is a packed file. Unpack it and bring in the XLSX or CSV inside."),
    (b"7z\xbc\xaf", "This is a packed file. Unpack it and bring in the XLSX or CSV inside."),
    (b"\x89PNG", "This is a picture. Ask for the table itself as XLSX or CSV."),
    (b"\xff\xd8\xff", "This is a picture. Ask for the table itself as XLSX or CSV."),
)
PAGES = (b"<!doctype", b"<html", b"<?xml")


@dataclass(frozen=True)
class Read:
    sheets: list[Sheet]
    note: str = ""  # where the name says another kind than the content


def read_file(content: bytes, name: str) -> Read:
    """Raises BadFile with what to do instead. Nothing of the file is written anywhere."""
    if not content:
        raise BadFile("The file is empty.")
    ending = PurePath(name).suffix.lower()
    for start, words in OTHERS:
        if content.startswith(start):
            raise BadFile(words)
    if content[:512].lstrip(b"\xef\xbb\xbf \r\n\t").lower().startswith(PAGES):
        raise BadFile("This is a web page or XML. Save the sheet as XLSX or CSV.")
    if content.startswith(ZIP):
        _check_workbook(content)
        note = "" if ending in {".xlsx", ".xlsm"} else _misnamed(ending, "a workbook (XLSX)")
        sheets = read_workbook(content)
        return Read(
            [replace(s, table=well_headed(s.table)) if s.table else s for s in sheets], note
        )
    note = _misnamed(ending, "text (CSV)") if ending in {".xlsx", ".xlsm", ".xls", ".ods"} else ""
    return Read([Sheet("", well_headed(read_text(content)))], note)


def _misnamed(ending: str, kind: str) -> str:
    if not ending:
        return ""
    return f"The file's name ends with {ending[:8]}, but it is {kind}, and was read as that."


def _check_workbook(content: bytes) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            names = set(packed.namelist())
    except (zipfile.BadZipFile, OSError, ValueError, RuntimeError):
        raise BadFile(
            "This begins like a workbook and then breaks off: it was damaged on its way. Send it "
            "again, or save it as XLSX once more."
        ) from None
    if "xl/workbook.xml" in names:
        return
    if "mimetype" in names and "content.xml" in names:
        raise BadFile("This is an OpenDocument file. Open it and save it as XLSX or CSV.")
    if "xl/workbook.bin" in names:
        raise BadFile("This is a binary workbook (XLSB). Open it and save it as XLSX.")
    if "word/document.xml" in names:
        raise BadFile("This is a text document. Copy its table into a sheet and save that as XLSX.")
    raise BadFile("This is a packed file, no workbook. Unpack it and bring in the XLSX or CSV.")
