"""Which pieces a sheet is for, with what is derived of them: a number of queries that stays."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from django.db.models import QuerySet

from jobs.models import Batch, Job, JobReadiness, Piece
from jobs.services.derive import derive_jobs
from jobs.services.errors import Refused
from jobs.services.facts import load_facts
from jobs.services.outlook import JobOutlook, PieceOutlook, from_json

MOST = 120  # pieces in one file
CODE = re.compile(r"[0-9A-Za-z]{1,10}-[A-Za-z]{1,2}")


@dataclass(frozen=True)
class Chosen:
    piece: Piece
    job: JobOutlook
    outlook: PieceOutlook


def chosen(*, pieces: str = "", cast: str = "", job: str = "") -> list[Chosen]:
    """By codes with commas between, by the number of a cast, or by a job's number; in this order.

    Raises Refused where nothing is chosen, or something that is not there.
    """
    if pieces.strip():
        found = _by_codes([part for part in re.split(r"[,\s]+", pieces) if part])
    elif cast.strip():
        found = _of_cast(cast.strip())
    elif job.strip():
        found = _of_job(job.strip())
    else:
        raise Refused("Say which pieces: open this from a piece, from a cast or from a job.")
    if len(found) > MOST:
        raise Refused(f"These are {len(found)} pieces; {MOST} go into one file. Choose fewer.")
    return with_outlooks(found)


def _rows() -> QuerySet[Piece]:
    return Piece.objects.select_related("job", "room", "mix", "sealer", "route", "batch")


def _by_codes(codes: Sequence[str]) -> list[Piece]:
    for code in codes:
        if not CODE.fullmatch(code):
            raise Refused(f"{code[:20]!r} is no piece's code. One looks like 217-B.")
    written = [_written(code) for code in codes[: MOST + 1]]
    found = {piece.code: piece for piece in _rows().filter(code__in=written)}
    for code in written:
        if code not in found:
            raise Refused(f"There is no piece {code}. Look for it in the week or on the floor.")
    return [found[code] for code in dict.fromkeys(written)]


def _written(code: str) -> str:
    number, dash, letter = code.rpartition("-")
    return number + dash + letter.upper()


def _of_cast(number: str) -> list[Piece]:
    known = number.isascii() and number.isdigit() and len(number) < 12
    if not known or not Batch.objects.filter(pk=int(number)).exists():
        raise Refused("There is no such cast any more. Open it from the week.")
    found = list(_rows().filter(batch=int(number)).order_by("code")[: MOST + 1])
    if not found:
        raise Refused("No piece is set for this cast.")
    return found


def _of_job(number: str) -> list[Piece]:
    if not (number.isalnum() and len(number) <= 10):
        raise Refused(f"{number[:20]!r} is no job's number.")
    job = Job.objects.filter(number__iexact=number).first()
    if job is None:
        raise Refused(f"There is no job {number}.")
    found = list(_rows().filter(job=job)[: MOST + 1])
    if not found:
        raise Refused(f"Job {job.number} has no pieces yet. Add them in the office first.")
    return sorted(found, key=lambda piece: (len(piece.letter), piece.letter))


def with_outlooks(pieces: Sequence[Piece]) -> list[Chosen]:
    jobs = outlooks_of({piece.job_id: piece.job.number for piece in pieces}, pieces)
    found = []
    for piece in pieces:
        job = jobs[piece.job_id]
        outlook = next(known for known in job.pieces if known.piece_id == piece.pk)
        found.append(Chosen(piece, job, outlook))
    return found


def outlooks_of(numbers: dict[int, str], pieces: Iterable[Piece] = ()) -> dict[int, JobOutlook]:
    """By the job's key: as stored, and derived now where nothing is, or not of all these pieces.

    numbers : of the jobs, by their keys
    """
    stored = JobReadiness.objects.filter(job__in=numbers).values_list("job_id", "outlook")
    found = {job_id: from_json(outlook) for job_id, outlook in stored}
    known = {piece.piece_id for job in found.values() for piece in job.pieces}
    behind = {piece.job_id for piece in pieces if piece.pk not in known}
    missing = [number for key, number in numbers.items() if key not in found or key in behind]
    return found | {job.job_id: job for job in _derived(missing)}


def _derived(numbers: Collection[str]) -> list[JobOutlook]:
    return derive_jobs(load_facts(numbers=numbers)) if numbers else []
