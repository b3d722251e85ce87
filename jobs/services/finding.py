"""Jobs as the office lists them: the day that holds, the day that was told, and the difference."""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from django.db.models import Count, F, QuerySet, TextField, Value
from django.db.models.fields.json import KeyTextTransform
from django.db.models.functions import NullIf

from jobs.models import Customer, Job, Mail, Notice, PromiseState
from jobs.services.derive import derive_jobs
from jobs.services.facts import load_facts, open_jobs
from jobs.services.outlook import PLAN, JobOutlook
from jobs.services.phones import digits_of, looks_like_phone
from jobs.services.plain_words import days_apart, short_day
from jobs.services.readiness import rebuild
from jobs.services.told import told_notices

FOUND_AT_MOST = 60
SURE_DIGITS = 7  # of a phone number: those before them are said by some and left out by others


@dataclass(frozen=True)
class JobRow:
    job: Job
    state: str
    spare_hours: float | None
    holding_on: dt.date | None
    reason: str
    notice: Notice | None  # the last one that counts
    ready_early: dt.datetime | None = None
    ready_late: dt.datetime | None = None
    chance: float | None = None  # of the promise
    planned_at: dt.datetime | None = None  # when the accepted plan has the last piece leave
    plan_decides: bool = False  # it, and not the concrete, says whether the promise holds

    @property
    def is_open(self) -> bool:
        return self.job.closed_at is None and not self.job.called_off

    @property
    def concrete_alone(self) -> bool:
        """It has pieces, and no plan has them."""
        known = self.ready_early is not None and self.state != PromiseState.KEPT
        return known and self.planned_at is None and self.is_open

    @property
    def told_on(self) -> dt.date | None:
        return self.notice.told_on if self.notice else None

    @property
    def mail_waits(self) -> bool:
        mail = self.notice.mail if self.notice else None
        return mail is not None and mail.state != Mail.State.SENT

    @property
    def must_be_told(self) -> bool:
        """A day was told, and it is not the one that now holds."""
        if not self.is_open or self.told_on is None or self.state == PromiseState.KEPT:
            return False
        return self.holding_on != self.told_on

    @property
    def later(self) -> bool:
        if not self.must_be_told or self.told_on is None:
            return False
        return self.holding_on is None or self.holding_on > self.told_on

    @property
    def difference(self) -> str:
        if not self.is_open:
            return ""
        if self.told_on is None:
            return "not told yet"
        told = f"told {short_day(self.told_on)}"
        if self.state == PromiseState.KEPT or not self.must_be_told:
            return f"{told}, as it stands"
        if self.holding_on is None:
            return f"{told}, now no day holds: must be told"
        apart = days_apart(self.told_on, self.holding_on)
        return f"{told}, now {short_day(self.holding_on)}: {apart}, must be told"


def open_rows() -> list[JobRow]:
    """Every open job, by promise. Two queries, unless a job's outlook has to be derived first."""
    jobs = list(_with_outlook(open_jobs()))
    if any(job.state is None for job in jobs):  # type: ignore[attr-defined]
        rebuild()
        jobs = list(_with_outlook(open_jobs()))
    return _rows(jobs)


def rows_of(job_ids: Collection[int]) -> list[JobRow]:
    """These jobs, in the order given."""
    jobs = {job.pk: job for job in _with_outlook(Job.objects.filter(pk__in=job_ids))}
    return _rows([jobs[pk] for pk in job_ids if pk in jobs])


def past_jobs(*, called_off: bool) -> QuerySet[Job]:
    past = Job.objects.filter(called_off=called_off)
    if not called_off:
        past = past.filter(closed_at__isnull=False)
    return past.order_by(F("closed_at").desc(nulls_last=True), "-pk")


def _stored(key: str) -> NullIf:
    """Of the stored outlook. SQLite gives a JSON null as the word."""
    return NullIf(
        KeyTextTransform(key, "readiness__outlook"), Value("null"), output_field=TextField()
    )


def _with_outlook(jobs: QuerySet[Job]) -> QuerySet[Job]:
    """Only what a list shows is taken out of the stored outlook, which is large."""
    return (
        jobs.select_related("customer")
        .annotate(
            state=F("readiness__state"),
            spare=_stored("spare_hours"),
            holding=_stored("holding_on"),
            stored_promise=_stored("promised_on"),
            reason=_stored("reason"),
            early=_stored("ready_early"),
            late=_stored("ready_late"),
            chance=_stored("chance"),
            by_plan=_stored("planned_at"),
            decided_by=_stored("decided_by"),
        )
        .order_by(F("promised_on").asc(nulls_last=True), "number")
    )


def _rows(jobs: list[Job]) -> list[JobRow]:
    told = told_notices([job.pk for job in jobs])
    fresh = _fresh([job for job in jobs if _behind(job)])
    return [
        row_of(job, fresh[job.pk], told.get(job.pk))
        if job.pk in fresh
        else _stored_row(job, told.get(job.pk))
        for job in jobs
    ]


def _behind(job: Job) -> bool:
    """The promise was moved a moment ago, and the stored outlook still tells of the old one."""
    promised_on = job.promised_on.isoformat() if job.promised_on else None
    return bool(job.state) and job.stored_promise != promised_on  # type: ignore[attr-defined]


def _fresh(jobs: list[Job]) -> dict[int, JobOutlook]:
    if not jobs:
        return {}
    facts = load_facts(numbers=[job.number for job in jobs])
    return {outlook.job_id: outlook for outlook in derive_jobs(facts)}


def row_of(job: Job, outlook: JobOutlook, notice: Notice | None) -> JobRow:
    return JobRow(
        job=job,
        state=outlook.state,
        spare_hours=outlook.spare_hours,
        holding_on=outlook.holding_on,
        reason=outlook.reason,
        notice=notice,
        ready_early=outlook.ready_early,
        ready_late=outlook.ready_late,
        planned_at=outlook.planned_at,
        plan_decides=outlook.plan_decides,
        chance=outlook.chance,
    )


def _stored_row(job: Job, notice: Notice | None) -> JobRow:
    spare, holding = job.spare, job.holding  # type: ignore[attr-defined]
    return JobRow(
        job=job,
        state=job.state or PromiseState.NONE,  # type: ignore[attr-defined]
        spare_hours=None if spare is None else float(spare),
        holding_on=dt.date.fromisoformat(holding) if holding else None,
        reason=job.reason or "",  # type: ignore[attr-defined]
        notice=notice,
        ready_early=_moment(job.early),  # type: ignore[attr-defined]
        ready_late=_moment(job.late),  # type: ignore[attr-defined]
        planned_at=_moment(job.by_plan),  # type: ignore[attr-defined]
        plan_decides=job.decided_by == PLAN,  # type: ignore[attr-defined]
        chance=None if job.chance is None else float(job.chance),  # type: ignore[attr-defined]
    )


def _moment(stored: str | None) -> dt.datetime | None:
    return dt.datetime.fromisoformat(stored) if stored else None


def find(text: str) -> list[JobRow]:
    """Jobs by number, piece code, customer, phone, title or site: open ones first."""
    wanted = Wanted.of(text)
    found = sorted(hit for entry in _index() if (hit := wanted.hit(entry)) is not None)
    return rows_of([pk for *_, pk in found[:FOUND_AT_MOST]])


@dataclass(frozen=True)
class Entry:
    pk: int
    number: str
    words: str
    digits: str
    past: bool
    promised_on: dt.date


def _index() -> Iterable[Entry]:
    rows = Job.objects.values_list(
        "pk", "number", "title", "site", "customer__name", "customer__phone_digits",
        "closed_at", "called_off", "promised_on",
    )  # fmt: skip
    for pk, number, title, site, customer, digits, closed_at, called_off, promised_on in rows:
        yield Entry(
            pk=pk,
            number=folded(number),
            words=folded(f"{number} {customer} {title} {site}"),
            digits=digits,
            past=bool(closed_at or called_off),
            promised_on=promised_on or dt.date.max,
        )


@dataclass(frozen=True)
class Wanted:
    number: str
    words: tuple[str, ...]
    digits: str

    @classmethod
    def of(cls, text: str) -> Wanted:
        plain = folded(text)
        code = re.fullmatch(r"([0-9a-z]{1,10})-[a-z]{1,2}", plain)
        digits = digits_of(text) if looks_like_phone(text) else ""
        return cls(code[1] if code else plain, tuple(plain.split()), digits)

    def hit(self, entry: Entry) -> tuple[int, bool, dt.date, int] | None:
        """Where the entry belongs among what is found; None if it does not."""
        rank = self._rank(entry)
        return None if rank is None else (rank, entry.past, entry.promised_on, entry.pk)

    def _rank(self, entry: Entry) -> int | None:
        if not self.number:
            return None
        if entry.number == self.number:
            return 0
        if entry.number.startswith(self.number):
            return 1
        if self.digits and self._same_phone(entry.digits):
            return 2
        return 3 if all(word in entry.words for word in self.words) else None

    def meets(self, customer: Customer) -> bool:
        words = folded(f"{customer.name} {customer.email}")
        if self.digits and self._same_phone(customer.phone_digits):
            return True
        return all(word in words for word in self.words)

    def _same_phone(self, digits: str) -> bool:
        if self.digits in digits:
            return True
        return len(self.digits) >= SURE_DIGITS and digits.endswith(self.digits[-SURE_DIGITS:])


def find_customers(text: str) -> list[Customer]:
    """By name, phone or e-mail; all of them for an empty text."""
    customers = Customer.objects.annotate(job_count=Count("jobs")).defer("notes", "address")
    if not text:
        return list(customers)
    wanted = Wanted.of(text)
    return [customer for customer in customers if wanted.meets(customer)]


def folded(text: str) -> str:
    """Without case and accents, so that 'ines' finds 'Inés'."""
    parts = unicodedata.normalize("NFKD", text.casefold())
    return " ".join("".join(char for char in parts if not unicodedata.combining(char)).split())


def failed_mails(since: dt.datetime) -> QuerySet[Mail]:
    """Mails that were given up: the last notice of a job, or a warning, written since then."""
    failed = Mail.objects.filter(state=Mail.State.FAILED, written_at__gte=since)
    superseded = Notice.objects.filter(mail__in=failed).filter(
        job__notices__pk__gt=F("pk"),
    )
    return (
        failed.exclude(notice__in=superseded)
        .select_related("notice__job__customer")
        .defer("body", "calendar")
    )
