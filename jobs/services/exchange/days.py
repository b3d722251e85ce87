"""Days and clock times as tables have them, and which way round a column writes its days."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable
from contextlib import suppress

from jobs.services.exchange.units import shortened

DAY_FIRST, MONTH_FIRST = "day", "month"
EARLIEST, LATEST = 1950, 2199
MONTHS = {
    name: number
    for number, names in enumerate(
        (
            "january jan enero ene", "february feb febrero", "march mar marzo",
            "april apr abril abr", "may mayo", "june jun junio", "july jul julio",
            "august aug agosto ago", "september sep sept septiembre", "october oct octubre",
            "november nov noviembre", "december dec diciembre dic",
        ),
        1,
    )
    for name in names.split()
}  # fmt: skip

ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ]00:00(?::00(?:\.0+)?)?)?")
NUMBERS = re.compile(r"(\d{1,2})([/.\-])(\d{1,2})\2(\d{4}|\d{2})")
WORDS = re.compile(r"(?:[a-z]+,?\s+)??(\d{1,2})(?:st|nd|rd|th)?\.?[\s\-]+(?:de\s+)?([a-z]+)\.?,?"
                   r"[\s\-]+(?:de\s+)?(\d{4})", re.IGNORECASE)  # fmt: skip
MONTH_WORD = re.compile(
    r"(?:[a-z]+,\s+)?([a-z]+)\.?\s+(\d{1,2})(?:st|nd|rd|th)?,?\s+(\d{4})", re.IGNORECASE
)
CLOCK = re.compile(r"(\d{1,2})(?:[:.h](\d{2}))?(?::(\d{2})(\.\d{1,6})?)?\s*([ap])?\.?m?\.?",
                   re.IGNORECASE)  # fmt: skip


def order_of(texts: Iterable[str]) -> str | None:
    """Day or month first, where one of the days shows it; '' where no day asks for it at all;
    None where they could be read both ways."""
    pairs = [
        (int(match[1]), int(match[3]))
        for text in texts
        if (match := NUMBERS.fullmatch(text.strip())) and match[2] != "."
    ]
    if not pairs:
        return ""
    day_first = any(first > 12 for first, _ in pairs)
    month_first = any(second > 12 for _, second in pairs)
    if day_first == month_first:
        return "" if all(first == second for first, second in pairs) else None
    return DAY_FIRST if day_first else MONTH_FIRST


def read_day(text: str, order: str) -> dt.date:
    """Raises ValueError with what to write."""
    given = text.strip()
    if match := ISO.fullmatch(given):
        return _day(text, match[1], match[2], match[3])
    if match := NUMBERS.fullmatch(given):
        first, sign, second, year = match.groups()
        if sign != "." and order == MONTH_FIRST:
            first, second = second, first
        elif sign != "." and order != DAY_FIRST and first != second:
            raise ValueError(
                f"{shortened(text)} can be read two ways. Say above whether the day or the month "
                "comes first."
            )
        return _day(text, _century(year), second, first)
    if match := WORDS.fullmatch(given):
        return _day(text, match[3], MONTHS.get(match[2].lower()), match[1])
    if match := MONTH_WORD.fullmatch(given):
        return _day(text, match[3], MONTHS.get(match[1].lower()), match[2])
    raise _no_day(text)


def _day(text: str, year: str, month: str | int | None, day: str) -> dt.date:
    if month is None or not EARLIEST <= int(year) <= LATEST:
        raise _no_day(text)
    try:
        return dt.date(int(year), int(month), int(day))
    except ValueError:
        raise ValueError(
            f"{shortened(text)} is no day of the calendar. Look at the order of day and month."
        ) from None


def _century(year: str) -> str:
    return year if len(year) == 4 else f"20{year}"


def _no_day(text: str) -> ValueError:
    return ValueError(f"{shortened(text)} is not a day. Write it like 2026-03-18.")


def read_clock(text: str) -> dt.time:
    match = CLOCK.fullmatch(text.strip())
    if match and (match[2] or match[5]):
        hour, half = int(match[1]), (match[5] or "").lower()
        if half:
            hour = hour % 12 + (12 if half == "p" else 0) if 1 <= hour <= 12 else 99
        try:
            micro = round(float(match[4] or 0) * 1e6)
            return dt.time(hour, int(match[2] or 0), int(match[3] or 0), micro)
        except ValueError:
            pass
    raise ValueError(f"{shortened(text)} is not a time of day. Write it like 15:00 or 3 pm.")


def read_moment(text: str) -> dt.datetime:
    """With its offset from UTC, as our own table has it."""
    moment: dt.datetime | None = None
    with suppress(ValueError):
        moment = dt.datetime.fromisoformat(text.strip())
    if moment is None or moment.tzinfo is None or not EARLIEST <= moment.year <= LATEST:
        raise ValueError(
            f"{shortened(text)} is not a moment. Write it like 2026-03-18T14:00:00+00:00."
        )
    return moment.astimezone(dt.UTC)
