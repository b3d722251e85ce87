"""The floor's lists: what may be done now, what comes next and when, what is held, what is done."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.db.models import Max
from django.http import Http404
from django.utils import timezone
from django.utils.translation import gettext as _

from jobs.floor import wording
from jobs.floor.current import Current, current
from jobs.floor.entries import CastEntry, DoneLine, Entry, Looker
from jobs.floor.weights import record_on_page, records_of
from jobs.models import Mark, Piece
from jobs.services.corrections import TAKE_BACK
from jobs.services.evaporation import cast_airs
from jobs.services.readiness import outlook_of
from jobs.services.standing import standing_of
from shop.access import may
from shop.models import Person, Sealer, Shop

FAR = dt.datetime.max.replace(tzinfo=dt.UTC)


@dataclass(frozen=True)
class Day:
    label: str
    entries: tuple[Entry, ...]
    casts: tuple[CastEntry, ...] = ()

    @property
    def items(self) -> list[Entry | CastEntry]:
        return sorted([*self.entries, *self.casts], key=_begins)


@dataclass(frozen=True)
class FloorLists:
    now: tuple[Entry, ...]
    casts: tuple[CastEntry, ...]
    to_weigh: tuple[Entry, ...]
    not_yet: tuple[Entry, ...]
    days: tuple[Day, ...]
    on_hold: tuple[Entry, ...]
    unplanned: tuple[Entry, ...]
    done_today: tuple[DoneLine, ...]
    token: str

    @property
    def next_count(self) -> int:
        return sum(len(day.entries) + len(day.casts) for day in self.days)

    @property
    def empty(self) -> bool:
        lists = (self.now, self.casts, self.to_weigh, self.not_yet, self.days, self.on_hold)
        return not any(lists)


@dataclass(frozen=True)
class Narrowing:
    """A room, and what was typed into the one field."""

    room: int | None = None
    text: str = ""

    def takes(self, entry: Entry) -> bool:
        if self.room and entry.piece.room_id != self.room:
            return False
        return squeezed(entry.piece.code).startswith(squeezed(self.text))


def squeezed(code: str) -> str:
    """'217 b' and '217-B' are one code to somebody with gloves on."""
    return "".join(filter(str.isalnum, code)).upper()


def looker_for(person: Person, shop: Shop, now: dt.datetime | None = None) -> Looker:
    urethanes = Sealer.objects.filter(two_part_urethane=True).values_list("name", flat=True)
    return Looker(
        person=person,
        shop=shop,
        now=now or timezone.now(),
        may_mark=may(person, "floor.mark"),
        urethanes=frozenset(urethanes),
    )


def all_entries(looker: Looker, known: Current) -> list[Entry]:
    records = records_of(piece for _job, piece in known.pieces())
    return [
        Entry(
            looker,
            job,
            piece,
            known.standing(piece.piece_id),
            record=records.get(piece.piece_id),
        )
        for job, piece in known.pieces()
    ]


def floor_lists(looker: Looker, narrowing: Narrowing) -> FloorLists:
    known = current(looker.now)
    everything = all_entries(looker, known)
    entries = [entry for entry in everything if narrowing.takes(entry)]
    held = [entry for entry in entries if entry.hold]
    casts = cast_entries(looker, entries)
    open_entries = [e for e in entries if not e.hold and e.piece.cast_at and _shown(e)]
    now = [e for e in open_entries if e.open_now or _just_marked(e)]
    to_weigh = [e for e in open_entries if e not in now and e.weighing_due]
    later = [e for e in open_entries if e.step and e not in now and e not in to_weigh]
    not_yet = [e for e in later if _not_yet(e)]
    following = [e for e in later if e not in not_yet]
    near = [cast for cast in casts if cast.marks or _day_of(cast.planned_for) <= _tomorrow(looker)]
    far = [cast for cast in casts if cast not in near]
    return FloorLists(
        now=tuple(now),
        casts=tuple(near),
        to_weigh=tuple(to_weigh),
        not_yet=tuple(sorted(not_yet, key=_when)),
        days=tuple(_days(looker, following, far)),
        on_hold=tuple(held),
        unplanned=tuple(e for e in entries if _unplanned(e)),
        done_today=tuple(done_today(looker, entries)),
        token=token_of(looker, everything),
    )


def _shown(entry: Entry) -> bool:
    return entry.step is not None or _just_marked(entry)


def _just_marked(entry: Entry) -> bool:
    """It stays where it was while it can be taken back, or the list would move under a thumb."""
    fresh = entry.fresh
    first = entry.piece.steps[0].key if entry.piece.steps else ""
    return fresh is not None and fresh.step_key != first


def _unplanned(entry: Entry) -> bool:
    return entry.unplanned and entry.piece.batch_id is None and not entry.hold


def _not_yet(entry: Entry) -> bool:
    """Somebody will be there today, but the concrete is not."""
    step, now = entry.step, entry.looker.now
    if step is None or step.earliest is None or step.workable is None:
        return False
    return step.earliest > now and _day_of(step.workable) == _day_of(now)


def _begins(item: Entry | CastEntry) -> tuple[dt.datetime, str]:
    if isinstance(item, CastEntry):
        return item.planned_for, item.codes
    return _when(item)


def _when(entry: Entry) -> tuple[dt.datetime, str]:
    step = entry.step
    return (step.workable or FAR if step else FAR, entry.piece.code)


def _day_of(moment: dt.datetime) -> dt.date:
    return timezone.localdate(moment)


def _tomorrow(looker: Looker) -> dt.date:
    return _day_of(looker.now) + dt.timedelta(days=1)


def _days(looker: Looker, entries: Sequence[Entry], casts: Sequence[CastEntry]) -> Iterable[Day]:
    grouped: dict[int, list[Entry]] = defaultdict(list)
    for entry in sorted(entries, key=_when):
        grouped[_bucket(looker, entry.step.workable if entry.step else None)].append(entry)
    labels = [_("Today"), _("Tomorrow"), _("Later")]
    for bucket, label in enumerate(labels):
        batches = tuple(casts) if bucket == 2 else ()
        if grouped[bucket] or batches:
            yield Day(label, tuple(grouped[bucket]), batches)


def _bucket(looker: Looker, moment: dt.datetime | None) -> int:
    if moment is None:
        return 2
    return min(2, max(0, (_day_of(moment) - _day_of(looker.now)).days))


def cast_entries(looker: Looker, entries: Sequence[Entry]) -> list[CastEntry]:
    batches: dict[int, list[Entry]] = defaultdict(list)
    for entry in entries:
        if entry.piece.batch_id:
            batches[entry.piece.batch_id].append(entry)
    found = [_cast_entry(looker, pk, rows) for pk, rows in batches.items()]
    casts = _with_air(looker, [cast for cast in found if cast])
    return sorted(casts, key=lambda c: (c.planned_for, c.batch_id))


def _with_air(looker: Looker, casts: Sequence[CastEntry]) -> list[CastEntry]:
    """What the air will take from the pieces of each cast that is still to be made."""
    wanted = {c.batch_id: (c.first.room_id, c.planned_for) for c in casts if c.waiting}
    airs = cast_airs(wanted, looker.now, looker.shop)
    return [replace(cast, air=airs.get(cast.batch_id)) for cast in casts]


def _cast_entry(looker: Looker, batch_id: int, entries: Sequence[Entry]) -> CastEntry | None:
    marks = tuple(
        mark
        for entry in entries
        for mark in entry.standing.done.values()
        if mark.batch_id == batch_id and mark == entry.standing.last and entry.fresh == mark
    )
    waiting = [entry for entry in entries if entry.piece.cast_at is None]
    if not (waiting or marks):
        return None
    planned = next((e.piece.cast_planned for e in waiting if e.piece.cast_planned), None)
    when = planned or (marks[0].happened_at if marks else looker.now)
    return CastEntry(looker, batch_id, when, tuple(entries), marks)


def done_today(looker: Looker, entries: Sequence[Entry]) -> list[DoneLine]:
    today = _day_of(looker.now)
    lines = [
        _done_line(looker, entry, mark)
        for entry in entries
        for mark in entry.standing.done.values()
        if today in {_day_of(mark.happened_at), _day_of(mark.recorded_at)}
    ]
    return sorted(lines, key=lambda line: line.mark.pk, reverse=True)


def _done_line(looker: Looker, entry: Entry, mark: Mark) -> DoneLine:
    return DoneLine(
        mark=mark,
        code=entry.piece.code,
        step_name=wording.step_words(mark),
        when=wording.when(mark.happened_at, looker.now),
    )


def token_of(looker: Looker, entries: Sequence[Entry]) -> str:
    """Says until when, and until which change, a list that was sent still holds."""
    turns = [
        moment
        for entry in entries
        if entry.step
        for moment in (entry.step.earliest, entry.step.workable)
        if moment and moment > looker.now
    ]
    turns += [entry.fresh.recorded_at + TAKE_BACK for entry in entries if entry.fresh]
    midnight = dt.datetime.combine(_tomorrow(looker), dt.time(), looker.shop.zone)
    until = min([*turns, midnight])
    return f"{looker.shop.edition}.{latest_mark()}.{int(until.timestamp())}"


def latest_mark() -> int:
    return Mark.objects.aggregate(last=Max("pk"))["last"] or 0


def still_holds(token: str, looker_shop: Shop, now: dt.datetime) -> bool:
    edition, _, rest = token.partition(".")
    last, _, until = rest.partition(".")
    if not (edition.isdigit() and last.isdigit() and until.isdigit()):
        return False
    if int(edition) != looker_shop.edition or now.timestamp() >= int(until):
        return False
    return int(last) == latest_mark()


def entry_of(looker: Looker, piece: Piece, **changes: Any) -> Entry:
    """Derived at this moment, whatever state its job is in."""
    job = outlook_of(piece.job.number, looker.now)
    marks = Mark.objects.filter(piece=piece).select_related("by").order_by("pk")
    if job is None:
        raise Http404
    outlook = next(own for own in job.pieces if own.piece_id == piece.pk)
    record = record_on_page(piece, outlook)
    return Entry(looker, job, outlook, standing_of(marks), record=record, **changes)


def cast_of(looker: Looker, batch_id: int, **changes: Any) -> CastEntry | None:
    known = current(looker.now)
    casts = cast_entries(looker, all_entries(looker, known))
    found = next((cast for cast in casts if cast.batch_id == batch_id), None)
    return replace(found, **changes) if found else None
