"""Caches and the log of flags. Whatever stands in the caches can be thrown away and rebuilt."""

from __future__ import annotations

from django.db import models

from jobs.models.orders import Job


class PromiseState(models.TextChoices):
    HOLDS = "holds", "holds"
    TIGHT = "tight", "tight"
    SHORT = "short", "short"
    NONE = "none", "no promise"
    KEPT = "kept", "delivered"


class JobReadiness(models.Model):
    job = models.OneToOneField(Job, on_delete=models.CASCADE, related_name="readiness")
    state = models.CharField(max_length=6, choices=PromiseState.choices)
    ready_at = models.DateTimeField(null=True, blank=True)
    outlook = models.JSONField()

    def __str__(self) -> str:
        return f"{self.job_id} {self.state}"


class Flag(models.Model):
    """A promise that stopped holding: raised, and cleared when it holds again."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="flags")
    state = models.CharField(max_length=6, choices=PromiseState.choices)
    hours = models.FloatField()  # short by, or still to spare
    reason = models.CharField(max_length=300)
    raised_at = models.DateTimeField()
    cleared_at = models.DateTimeField(null=True, blank=True)
    cleared_reason = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-raised_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["job"],
                condition=models.Q(cleared_at__isnull=True),
                name="one_standing_flag_a_job",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.job_id} {self.state}"
