"""The days ahead of a new job as a strip of concrete: wet today, pale when it may leave."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from dataclasses import dataclass

from jobs.services.new_date import Answer
from shop.localtime import settle
from shop.models import Shop

WIDE, NARROW = 680.0, 340.0  # a desk's and a phone's
EDGE = 8.0
BEYOND = 1.06  # of the way to what is farthest, so that its mark stands inside
DAY_NAME = 46.0  # room that a day's name needs
FLAG_ROOM = 76.0  # and a flag's word; where there is less it stands on the other side
EVENING, MORNING = dt.time(20), dt.time(6)
DAY = dt.timedelta(days=1)


@dataclass(frozen=True)
class Flag:
    x: float
    label: str
    turned: bool  # its words stand on the left


@dataclass(frozen=True)
class Night:
    x: float
    width: float


@dataclass(frozen=True)
class Midnight:
    x: float
    label: str


@dataclass(frozen=True)
class Strip:
    """From a moment to another over so much width, on the shop's clock."""

    since: dt.datetime
    until: dt.datetime
    width: float
    zone: zoneinfo.ZoneInfo

    def x(self, at: dt.datetime) -> float:
        share = (at - self.since) / (self.until - self.since)
        return round(EDGE + min(1.0, max(0.0, share)) * (self.width - 2 * EDGE), 1)

    def clock(self, day: dt.date, time: dt.time) -> dt.datetime:
        return settle(dt.datetime.combine(day, time), self.zone)

    @property
    def days(self) -> list[dt.date]:
        """From the day before it begins."""
        first, last = (at.astimezone(self.zone).date() for at in (self.since - DAY, self.until))
        return [first + number * DAY for number in range((last - first).days + 1)]

    @property
    def nights(self) -> list[Night]:
        spans = [
            (self.x(self.clock(day, EVENING)), self.x(self.clock(day + DAY, MORNING)))
            for day in self.days
        ]
        return [Night(begin, round(end - begin, 1)) for begin, end in spans if end > begin]

    @property
    def midnights(self) -> list[Midnight]:
        """Only as many are named as there is room for."""
        days = [day for day in self.days if self.since <= self.clock(day, dt.time()) <= self.until]
        fits = max(1.0, self.width / DAY_NAME)
        every = next((n for n in (1, 2, 7, 14) if len(days) / n <= fits), 28)
        marks = [(self.x(self.clock(day, dt.time())), day) for day in days]
        return [
            Midnight(
                x, f"{day:%b} {day.day}" if n % every == 0 and x + DAY_NAME < self.width else ""
            )
            for n, (x, day) in enumerate(marks)
        ]


@dataclass(frozen=True)
class DatePicture:
    strip: Strip
    since: float
    likely: float
    late: float | None
    say: Flag
    wish: Flag | None

    @property
    def wide(self) -> bool:
        return self.width == WIDE

    @property
    def width(self) -> float:
        return self.strip.width

    @property
    def doubt(self) -> float:
        """How wide the stretch from likely to late is; it runs off the edge where late is open."""
        return round((self.width - EDGE if self.late is None else self.late) - self.likely, 1)


def pictures(answer: Answer, shop: Shop) -> list[DatePicture]:
    return [drawn for width in (WIDE, NARROW) if (drawn := picture(answer, shop, width))]


def picture(answer: Answer, shop: Shop, width: float = WIDE) -> DatePicture | None:
    if answer.say_on is None or answer.likely is None:
        return None
    said = leaving(answer.say_on, shop)
    wished = leaving(answer.wish_on, shop) if answer.wish_on else None
    far = max(at for at in (said, wished, answer.late, answer.likely) if at is not None)
    strip = Strip(answer.now, answer.now + (far - answer.now) * BEYOND + DAY / 2, width, shop.zone)
    return DatePicture(
        strip=strip,
        since=strip.x(answer.now),
        likely=strip.x(answer.likely),
        late=strip.x(answer.late) if answer.late else None,
        say=flag(strip, said, "say"),
        wish=flag(strip, wished, "wished") if wished else None,
    )


def flag(strip: Strip, at: dt.datetime, word: str) -> Flag:
    x = strip.x(at)
    return Flag(x, word, x + FLAG_ROOM > strip.width)


def leaving(day: dt.date, shop: Shop) -> dt.datetime:
    return settle(dt.datetime.combine(day, shop.leave_by), shop.zone)
