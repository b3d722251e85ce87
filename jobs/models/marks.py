from __future__ import annotations

import uuid

from django.db import models

from jobs.models.casting import Batch
from jobs.models.orders import Piece
from shop.models import Person


class Outcome(models.TextChoices):
    """How a piece came out of its form. The values are those of `curing.outcomes`."""

    CLEAN = "clean", "clean"
    SOFT = "soft", "soft"
    CHIPPED = "chipped", "chipped"
    BROKEN = "broken", "broken"


def outcome_choices() -> list[tuple[str, str]]:
    return Outcome.choices


class Mark(models.Model):
    """One person's record of what happened to a piece. Added, never edited or deleted."""

    class Kind(models.TextChoices):
        DONE = "done", "done"
        STRUCK = "struck", "struck out"  # takes back the mark it names
        HOLD = "hold", "on hold"
        RELEASE = "release", "released"
        RECAST = "recast", "to be cast again"  # what was marked before belongs to a lost casting

    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="marks")
    kind = models.CharField(max_length=8, choices=Kind.choices, default=Kind.DONE)
    step_key = models.CharField(max_length=34, blank=True)
    step_name = models.CharField(max_length=50, blank=True)
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="marks")
    reason = models.CharField(max_length=300, blank=True)
    # The moment the concrete would have allowed it, where the step was marked before that.
    early_before = models.DateTimeField(null=True, blank=True)
    # Of a demold: how the piece came out, where the crew said so.
    outcome = models.CharField(max_length=8, choices=outcome_choices, blank=True)
    strikes = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="struck_by"
    )
    batch = models.ForeignKey(
        Batch, null=True, blank=True, on_delete=models.PROTECT, related_name="marks"
    )
    # Phones send a mark twice when the signal drops: the second one must find the first.
    client_key = models.UUIDField(unique=True, default=uuid.uuid4)

    class Meta:
        ordering = ["piece", "id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(kind="struck", strikes__isnull=False)
                | (~models.Q(kind="struck") & models.Q(strikes__isnull=True)),
                name="striking_names_a_mark",
            ),
            models.CheckConstraint(
                condition=~models.Q(kind="done") | ~models.Q(step_key=""),
                name="done_names_a_step",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.piece_id} {self.kind} {self.step_key}"
