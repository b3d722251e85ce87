from __future__ import annotations

from django.core.validators import MinValueValidator
from django.db import models

from jobs.models.orders import Job
from shop.models import Mix, Person, Room


class Batch(models.Model):
    """One run of the mixer of one mix, cast at one time into one or more pieces.

    `planned_for` is the owner's intention. The true casting time, water-in, is the `cast` mark
    of its pieces.
    """

    mix = models.ForeignKey(Mix, on_delete=models.PROTECT, related_name="batches")
    room = models.ForeignKey(Room, on_delete=models.PROTECT, related_name="batches")
    planned_for = models.DateTimeField()
    note = models.CharField(max_length=200, blank=True)
    # Set by somebody's hand: the planner leaves it where it is. One that the plan set may move.
    pinned = models.BooleanField(default=True)
    planned_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        ordering = ["planned_for"]
        verbose_name_plural = "batches"

    def __str__(self) -> str:
        return f"{self.mix} {self.planned_for:%Y-%m-%d %H:%M}"


class InstallDate(models.Model):
    job = models.OneToOneField(Job, on_delete=models.CASCADE, related_name="install")
    starts_at = models.DateTimeField()
    hours = models.FloatField(default=4.0, validators=[MinValueValidator(0.25)])
    people = models.PositiveSmallIntegerField(default=2, validators=[MinValueValidator(1)])
    note = models.CharField(max_length=200, blank=True)
    set_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        ordering = ["starts_at"]

    def __str__(self) -> str:
        return f"{self.job} {self.starts_at:%Y-%m-%d %H:%M}"
