"""One job opened: its pieces, its flags, its install date. Nothing of the customer, no price."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from jobs.models import Batch, Flag, InstallDate
from jobs.services.outlook import JobOutlook, PieceOutlook

FLAGS_SHOWN = 20


@dataclass(frozen=True)
class PieceDetail:
    outlook: PieceOutlook
    batch: Batch | None

    @property
    def measured_percent(self) -> int:
        return round(100 * self.outlook.measured_share)

    @property
    def cast_can_move(self) -> bool:
        return self.batch is not None and self.outlook.cast_at is None


@dataclass(frozen=True)
class Detail:
    job: JobOutlook
    pieces: list[PieceDetail]
    flags: list[Flag]
    install: InstallDate | None
    waiting: list[PieceOutlook]  # not cast, and no cast set

    @property
    def waiting_query(self) -> str:
        return "&".join(f"pieces={piece.piece_id}" for piece in self.waiting)

    @property
    def told_late(self) -> bool:
        return self.job.told_days_off > 0


def detail_of(job: JobOutlook) -> Detail:
    batch_ids = {piece.batch_id for piece in job.pieces if piece.batch_id}
    batches = Batch.objects.select_related("planned_by").in_bulk(batch_ids)
    return Detail(
        job=job,
        pieces=[PieceDetail(piece, batches.get(piece.batch_id or 0)) for piece in job.pieces],
        flags=list(Flag.objects.filter(job_id=job.job_id)[:FLAGS_SHOWN]),
        install=InstallDate.objects.filter(job_id=job.job_id).select_related("set_by").first(),
        waiting=[p for p in job.pieces if p.cast_at is None and p.cast_planned is None],
    )


def stood_for(flag: Flag, now: dt.datetime) -> float:
    """Hours the flag has stood, or stood."""
    return ((flag.cleared_at or now) - flag.raised_at).total_seconds() / 3600
