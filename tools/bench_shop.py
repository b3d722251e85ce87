"""A demo shop in a folder of its own, for what `tools.bench` measures of the app; thrown away."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

OF_A_REAL_SHOP = ("DATABASE_URL", "REDIS_URL")


@contextmanager
def throwaway_shop() -> Iterator[None]:
    """Django is set up for it: once in a process, before anything else sets it up."""
    with tempfile.TemporaryDirectory() as folder:
        for name in OF_A_REAL_SHOP:
            os.environ.pop(name, None)
        os.environ |= {
            "CUREWRIGHT_DEMO": "yes",
            "CUREWRIGHT_VAR": str(Path(folder)),
            "DJANGO_SETTINGS_MODULE": "shop.settings",
        }
        import django

        django.setup()
        from django.core.management import call_command
        from django.db import connections

        call_command("migrate", verbosity=0)
        call_command("load_demo", verbosity=0)
        try:
            yield
        finally:
            connections.close_all()


def job_of(count: int) -> str:
    """The number of a job with so many pieces, copies of one that has a section, not cast yet."""
    from django.utils import timezone

    from jobs.models import Job, Piece
    from jobs.services.readiness import rebuild

    one = Piece.objects.exclude(shape=None).select_related("job").order_by("code")[0]
    job = Job.objects.create(
        number="9999", title="Thirty alike", customer=one.job.customer, taken_on=one.job.taken_on
    )
    pieces = []
    for number in range(count):
        letter = f"{chr(65 + number // 26)}{chr(65 + number % 26)}"
        copy = Piece.objects.get(pk=one.pk)
        copy.pk, copy.job, copy.letter, copy.batch = None, job, letter, None
        copy.code = f"{job.number}-{letter}"
        pieces.append(copy)
    Piece.objects.bulk_create(pieces)
    rebuild(timezone.now())
    return job.number
