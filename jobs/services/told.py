"""What customers were last told."""

from __future__ import annotations

from collections.abc import Collection

from django.db.models import Q, QuerySet

from jobs.models import Mail, Notice


def counting() -> QuerySet[Notice]:
    """Notices that reached somebody or still may: a mail that failed has told nobody."""
    return Notice.objects.filter(Q(mail=None) | ~Q(mail__state=Mail.State.FAILED))


def told_notices(job_ids: Collection[int]) -> dict[int, Notice]:
    """The latest notice of each job that counts, in one query."""
    notices = counting().filter(job_id__in=job_ids).select_related("mail").order_by("at", "pk")
    return {notice.job_id: notice for notice in notices}
