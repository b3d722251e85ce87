"""Cells that a spreadsheet would take for a formula, kept text and read back the same.

A spreadsheet reckons what begins with =, +, -, @, a tab or a return, and may run what it finds
there (OWASP, 'CSV Injection'). In a CSV file such a cell is written with an apostrophe before it.
"""

from __future__ import annotations

import re

# The wide forms are the same signs to some spreadsheets.
RISKY = "=+\\-@\t\r\n＝＋－＠"
BEGINS = re.compile(f"'*[{RISKY}]")
BOUND = re.compile(f"'+[{RISKY}]")


def bound(text: str) -> str:
    """What to write. A text that begins with apostrophes and such a sign gets one more, so that
    `freed` gives back every text as it was."""
    return f"'{text}" if BEGINS.match(text) else text


def freed(text: str) -> str:
    return text[1:] if BOUND.match(text) else text


def risky(text: str) -> bool:
    return BEGINS.match(text) is not None
