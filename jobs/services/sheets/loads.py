"""Load lists for the truck: what goes on in which order, how heavy, where to, and who opens."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Prefetch, Q, QuerySet
from django.utils import timezone, translation

from jobs.models import Job, Piece
from jobs.services.errors import Refused
from jobs.services.outlook import JobOutlook, PieceOutlook
from jobs.services.shape import weighed_kg
from jobs.services.sheets.cautions import Cared, cared, in_columns
from jobs.services.sheets.chosen import outlooks_of
from jobs.services.sheets.paper import fitted, written
from jobs.services.sheets.size import size_words
from jobs.services.sheets.words import people_words, step_of
from jobs.services.substance import substance_of
from shop import cautions, defaults, measures
from shop.localtime import settle
from shop.models import Shop, StepKind
from shop.templatetags.measures import day as day_words
from shop.templatetags.measures import moment

MOST = 40  # jobs on one list
CAUTIONS = (cautions.ON_EDGE, cautions.LIFTING, cautions.SILICA_SITE, cautions.SUPPORTS)
NUMBER = re.compile(r"[0-9A-Za-z]{1,10}")


@dataclass(frozen=True)
class LoadPiece:
    on: int  # its place in the order of loading
    code: str
    name: str
    size: str
    weight_kg: float
    weight: str
    people: str
    lifted_by: int  # people that its step asks for, 0 where it has none
    warning: str  # empty where nothing speaks against taking it


@dataclass(frozen=True)
class Stop:
    """One site. number : in the order of unloading"""

    number: int
    job: str
    title: str
    site: str
    contact: str
    ready: tuple[str, ...]  # what must be ready there, a line each
    starts: str
    starts_at: dt.datetime | None
    crew: str
    note: str
    too_few: str  # where a piece asks for more people than are set, else empty
    pieces: tuple[LoadPiece, ...]
    weight_kg: float


@dataclass(frozen=True)
class Load:
    """stops : in the order of loading, the last to be unloaded first; gone : pieces that have left
    the shop by their marks"""

    title: str
    stops: tuple[Stop, ...]
    gone: tuple[str, ...]
    weight_kg: float
    count: int
    columns: tuple[tuple[Cared, ...], ...]
    as_of: dt.datetime

    @property
    def warnings(self) -> int:
        return sum(bool(piece.warning) for stop in self.stops for piece in stop.pieces)


@dataclass(frozen=True)
class LoadDay:
    on: dt.date
    jobs: tuple[Job, ...]


def load_days(shop: Shop, today: dt.date, *, most: int = 60) -> list[LoadDay]:
    """Days from today on that a job is to be installed or delivered on, in two queries."""
    since = _midnight(today, shop)
    rows = (
        _open()
        .filter(Q(install__starts_at__gte=since) | Q(install=None, promised_on__gte=today))
        .select_related("install")
        .prefetch_related("pieces")
        .order_by("number")
    )
    days: dict[dt.date, list[Job]] = {}
    for job in rows:
        days.setdefault(_day_of(job, shop), []).append(job)
    return [LoadDay(on, tuple(sorted(days[on], key=_by_start))) for on in sorted(days)[:most]]


def jobs_of_day(on: dt.date, shop: Shop) -> list[Job]:
    """Installed that day, or promised for it while no install is set."""
    start, end = _midnight(on, shop), _midnight(on + dt.timedelta(days=1), shop)
    chosen = Q(install__starts_at__gte=start, install__starts_at__lt=end)
    return list(_loaded(_open().filter(chosen | Q(install=None, promised_on=on))))


def jobs_by_number(text: str) -> list[Job]:
    """By numbers with commas between. Raises Refused for one that is not there."""
    numbers = [part.upper() for part in re.split(r"[,\s]+", text) if part]
    for number in numbers:
        if not NUMBER.fullmatch(number):
            raise Refused(f"{number[:20]!r} is no job's number.")
    found = {job.number: job for job in _loaded(Job.objects.filter(number__in=numbers[:MOST]))}
    for number in numbers[:MOST]:
        if number not in found:
            raise Refused(f"There is no job {number}.")
    return list(found.values())


def _open() -> QuerySet[Job]:
    return Job.objects.filter(closed_at__isnull=True, called_off=False)


def _loaded(jobs: QuerySet[Job]) -> QuerySet[Job]:
    pieces = Piece.objects.select_related("mix").order_by("letter")
    return jobs.select_related("install").prefetch_related(
        Prefetch("pieces", pieces), "pieces__measured"
    )[:MOST]


def load_pdf(title: str, jobs: Sequence[Job], shop: Shop, paper: str) -> bytes:
    with translation.override("en"), timezone.override(shop.zone):
        load = load_of(title, jobs, shop)
    return written(
        [fitted("sheets/load.html", {"load": load, "title": f"Load list, {title}"}, shop, paper)]
    )


def load_of(title: str, jobs: Sequence[Job], shop: Shop) -> Load:
    """The last stop's pieces go on first; of one job the heaviest, to stand against the frame.

    Moments are written by the active time zone.
    """
    if not jobs:
        raise Refused("Nothing is to be delivered then. Set an install date, or choose jobs.")
    outlooks = outlooks_of({job.pk: job.number for job in jobs}, _pieces(jobs))
    order = sorted(jobs, key=_by_start)
    stops: list[Stop] = []
    count = 0
    for number, job in reversed(list(enumerate(order, 1))):
        stop = _stop(number, job, outlooks[job.pk], count, shop)
        count += len(stop.pieces)
        stops.append(stop)
    known = [piece for outlook in outlooks.values() for piece in outlook.pieces]
    return Load(
        title=title,
        stops=tuple(stops),
        gone=tuple(sorted(piece.code for piece in known if piece.left_shop)),
        weight_kg=sum(stop.weight_kg for stop in stops),
        count=count,
        columns=in_columns([cared(caution) for caution in CAUTIONS]),
        as_of=min(outlook.derived_at for outlook in outlooks.values()),
    )


def _pieces(jobs: Iterable[Job]) -> list[Piece]:
    return [piece for job in jobs for piece in job.pieces.all()]


def _stop(number: int, job: Job, outlook: JobOutlook, before: int, shop: Shop) -> Stop:
    install = getattr(job, "install", None)
    known = {piece.piece_id: piece for piece in outlook.pieces}
    laid = sorted(
        (
            _laid(piece, known[piece.pk])
            for piece in job.pieces.all()
            if not known[piece.pk].left_shop
        ),
        key=lambda one: (-one.kg, one.piece.code),
    )
    starts_at = install.starts_at if install else None
    pieces = tuple(
        _load_piece(before + place, one, starts_at, shop) for place, one in enumerate(laid, 1)
    )
    promised = f"promised {day_words(job.promised_on)}" if job.promised_on else "nothing promised"
    return Stop(
        number=number,
        job=job.number,
        title=job.title,
        site=job.site,
        contact=job.site_contact,
        ready=site_ready(job, shop),
        starts=moment(starts_at) if starts_at else f"no install is set; {promised}",
        starts_at=starts_at,
        crew=f"{people_words(install.people)}, {install.hours:g} h" if install else "",
        note=install.note if install else "",
        too_few=too_few(pieces, install.people) if install else "",
        pieces=pieces,
        weight_kg=sum(piece.weight_kg for piece in pieces),
    )


def too_few(pieces: Sequence[LoadPiece], crew: int) -> str:
    """Which pieces ask for more people than go along; nothing where none does."""
    heavy = [piece for piece in pieces if piece.lifted_by > crew]
    if not heavy:
        return ""
    most = max(piece.lifted_by for piece in heavy)
    verb = "asks" if len(heavy) == 1 else "ask"
    codes = ", ".join(piece.code for piece in heavy)
    return f"{codes} {verb} for {people_words(most)}, {people_words(crew)} set: take more hands."


def site_ready(job: Job, shop: Shop) -> tuple[str, ...]:
    """The job's own words, else the shop's, else the usual ones: a line each."""
    said = job.site_ready or shop.site_ready_words or defaults.SITE_READY_WORDS
    return tuple(line.strip() for line in said.splitlines() if line.strip())


@dataclass(frozen=True)
class _Laid:
    """A piece with its weight: as it was weighed last, else as reckoned [kg]."""

    piece: Piece
    outlook: PieceOutlook
    kg: float
    weighed: bool


def _laid(piece: Piece, outlook: PieceOutlook) -> _Laid:
    weighed = weighed_kg(piece)
    kg = outlook.weight_kg if weighed is None else weighed
    return _Laid(piece, outlook, kg, weighed is not None)


def _load_piece(on: int, laid: _Laid, starts_at: dt.datetime | None, shop: Shop) -> LoadPiece:
    piece, weight = laid.piece, measures.words(laid.kg, "weight", shop)
    step = step_of(laid.outlook, StepKind.DELIVER)
    return LoadPiece(
        on=on,
        code=piece.code,
        name=piece.name,
        size=size_words(piece, shop),
        weight_kg=laid.kg,
        weight=weight if laid.weighed else f"about {weight}",
        people=str(step.people) if step else "",
        lifted_by=step.people if step else 0,
        warning="; ".join(_warnings(piece, laid.outlook, starts_at, shop)),
    )


def _warnings(
    piece: Piece, outlook: PieceOutlook, starts_at: dt.datetime | None, shop: Shop
) -> list[str]:
    found = [f"on hold: {outlook.on_hold}"] if outlook.on_hold else []
    if outlook.ready_at is None:
        found.append("ready: not within sight")
    elif starts_at and outlook.ready_at > starts_at:
        found.append(f"not ready before {moment(outlook.ready_at)} (likely)")
    elif starts_at and (outlook.ready_late is None or outlook.ready_late > starts_at):
        late = moment(outlook.ready_late) if outlook.ready_late else "not within sight"
        found.append(f"may not be ready: late {late}")
    if substance_of(piece, shop).stands_in_truck is False:
        found.append("does not stand in the truck as its inside is set")
    return found


def _by_start(job: Job) -> tuple[dt.datetime, str]:
    install = getattr(job, "install", None)
    return (install.starts_at if install else dt.datetime.max.replace(tzinfo=dt.UTC)), job.number


def _day_of(job: Job, shop: Shop) -> dt.date:
    install = getattr(job, "install", None)
    if install:
        local: dt.datetime = install.starts_at.astimezone(shop.zone)
        return local.date()
    assert job.promised_on is not None
    return job.promised_on


def _midnight(on: dt.date, shop: Shop) -> dt.datetime:
    return settle(dt.datetime.combine(on, dt.time()), shop.zone)
