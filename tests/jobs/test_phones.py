from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.services.phones import digits_of, looks_like_phone

BETWEEN = st.text(" -.()/", max_size=3)


@given(st.from_regex(r"[2-9][0-9]{9}", fullmatch=True), st.lists(BETWEEN, min_size=10, max_size=10))
def test_what_stands_between_the_digits_never_matters(number: str, between: list[str]) -> None:
    spelled = "".join(mark + digit for mark, digit in zip(between, number, strict=True))
    assert digits_of(spelled) == number
    for prefix in ("+1 ", "1-", "001 "):
        assert digits_of(prefix + spelled) == number
    assert looks_like_phone(spelled)


@given(st.text(max_size=60))
def test_any_text_gives_at_most_twenty_plain_digits(text: str) -> None:
    digits = digits_of(text)
    assert len(digits) <= 20
    assert digits == "" or (digits.isascii() and digits.isdigit())


@pytest.mark.parametrize("text", ["", "12", "217-B", "Ada 555", "--", "()"])
def test_what_is_no_phone_number_is_not_taken_for_one(text: str) -> None:
    assert not looks_like_phone(text)
