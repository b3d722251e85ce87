"""One spelling of a phone number: its digits, without what people write around or before them."""

from __future__ import annotations

import re
import unicodedata

# A number's national part is what people say; a country's prefix comes and goes.
LONGEST = 20
PHONE = re.compile(r"[\d\s().+\-/‐-―]+(?:(?:x|ext\.?)\s*\d+)?", re.IGNORECASE)


def digits_of(text: str) -> str:
    """'+1 (555) 555-0142', '555.555.0142' and '001 555 5550142' are all '5555550142'."""
    digits = "".join(str(unicodedata.digit(char, "")) for char in text)
    digits = digits.removeprefix("00")
    if len(digits) == 11 and digits.startswith("1"):
        digits = digits[1:]
    return digits[:LONGEST]


def looks_like_phone(text: str) -> bool:
    """Nothing but digits and what goes between them, and enough of them to tell people apart."""
    return bool(PHONE.fullmatch(text.strip())) and len(digits_of(text)) >= 3
