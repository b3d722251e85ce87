"""Work that the plan gives to people who are not there: away, closed or gone since it was taken."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from jobs.services.plain_words import listed, short_day
from jobs.services.plan_shown import Work
from shop.models import Shop
from shop.services.calendar import working_windows
from shop.services.crew import not_there, planned_people

MOST_DAYS = 4  # named one by one


@dataclass(frozen=True)
class Missing:
    """Somebody, the days on which they are not there, and how much they would do on these."""

    name: str
    days: tuple[dt.date, ...]
    works: int

    @property
    def words(self) -> str:
        """'Ida Marsh is not there on Mon 1 Mar and Tue 2 Mar: 9 pieces of work.'"""
        days = [short_day(day) for day in self.days]
        said = listed(days) if len(days) <= MOST_DAYS else f"{len(days)} days from {days[0]} on"
        pieces = "1 piece of work" if self.works == 1 else f"{self.works} pieces of work"
        return f"{self.name} is not there on {said}: {pieces}."


def missing_in(works: Sequence[Work], shop: Shop, now: dt.datetime) -> tuple[Missing, ...]:
    """Of what is still to begin, by name. In as many queries for many weeks as for one."""
    ahead = [work for work in works if work.starts > now and work.people]
    if not ahead:
        return ()
    last = max(work.ends for work in ahead)
    windows = working_windows(shop, now, last + dt.timedelta(days=1))
    open_days = {begin.astimezone(shop.zone).date() for begin, _ in windows}
    hands = planned_people(since=now.astimezone(shop.zone).date()).hands
    names = {hand.name for hand in hands}
    found: dict[str, list[dt.date]] = defaultdict(list)
    for work in ahead:
        day = work.starts.astimezone(shop.zone).date()
        gone = not_there(hands, day)
        for name in work.people:
            if day not in open_days or name not in names or name in {*gone.away, *gone.not_in}:
                found[name].append(day)
    return tuple(
        Missing(name, tuple(sorted(set(days))), len(days)) for name, days in sorted(found.items())
    )
