"""Which jobs the board shows: by state, room and person, as the address says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from django.http import QueryDict

from jobs.models import Batch, InstallDate, Mark, PromiseState
from jobs.services.outlook import JobOutlook


@dataclass(frozen=True)
class Filters:
    states: tuple[str, ...] = ()
    room: int | None = None
    person: int | None = None
    week: str = ""
    opened: str = ""

    @property
    def narrowing(self) -> bool:
        return bool(self.states or self.room or self.person)

    def query(self, **changes: str | int | tuple[str, ...] | None) -> str:
        """The address's query with these changes: `query(week="2026-W48")`."""
        fields: dict[str, object] = {
            "week": self.week,
            "state": self.states,
            "room": self.room,
            "person": self.person,
            "open": self.opened,
        }
        fields.update(changes)
        written = urlencode({key: value for key, value in fields.items() if value}, doseq=True)
        return f"?{written}" if written else ""


def read_filters(query: QueryDict) -> Filters:
    """What is not understood is left out, so an old or mistyped address still shows the board."""
    known = set(PromiseState.values)
    return Filters(
        states=tuple(dict.fromkeys(s for s in query.getlist("state") if s in known)),
        room=_key(query.get("room", "")),
        person=_key(query.get("person", "")),
        week=query.get("week", "")[:8],
        opened=query.get("open", "")[:10],
    )


def _key(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else None


def chosen(outlooks: Sequence[JobOutlook], filters: Filters) -> list[JobOutlook]:
    theirs = jobs_of(filters.person) if filters.person else None
    return [
        outlook
        for outlook in outlooks
        if (not filters.states or outlook.state in filters.states)
        and (not filters.room or any(p.room_id == filters.room for p in outlook.pieces))
        and (theirs is None or outlook.job_id in theirs)
    ]


def jobs_of(person: int) -> set[int]:
    """Jobs with a step this person marked, a cast they set or an install they set."""
    marked = Mark.objects.filter(by=person, kind=Mark.Kind.DONE, struck_by=None)
    cast = Batch.objects.filter(planned_by=person, pieces__isnull=False)
    installs = InstallDate.objects.filter(set_by=person)
    return {
        *marked.values_list("piece__job_id", flat=True).distinct(),
        *cast.values_list("pieces__job_id", flat=True).distinct(),
        *installs.values_list("job_id", flat=True),
    }
