from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models


class WorkingHours(models.Model):
    """One stretch of a weekday in which somebody is on shift."""

    weekday = models.PositiveSmallIntegerField(validators=[MaxValueValidator(6)])  # Monday is 0
    starts = models.TimeField()
    ends = models.TimeField()
    people = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1)])

    class Meta:
        ordering = ["weekday", "starts"]
        verbose_name_plural = "working hours"
        constraints = [
            models.CheckConstraint(
                condition=models.Q(ends__gt=models.F("starts")), name="a_shift_ends_after_it_starts"
            ),
            models.UniqueConstraint(fields=["weekday", "starts"], name="one_shift_a_start"),
        ]

    def __str__(self) -> str:
        return f"{self.weekday} {self.starts:%H:%M}-{self.ends:%H:%M}"


class ClosedDay(models.Model):
    """A day nobody works, or, with `open_anyway`, a proposed holiday the shop works through."""

    day = models.DateField(unique=True)
    name = models.CharField(max_length=80)
    open_anyway = models.BooleanField(default=False)

    class Meta:
        ordering = ["day"]

    def __str__(self) -> str:
        return f"{self.day} {self.name}"


class ExtraHours(models.Model):
    """Hours worked on one day beside the usual ones: a Saturday, a long evening."""

    day = models.DateField()
    starts = models.TimeField()
    ends = models.TimeField()
    reason = models.CharField(max_length=80, blank=True)

    class Meta:
        ordering = ["day", "starts"]
        verbose_name_plural = "extra hours"
        constraints = [
            models.CheckConstraint(
                condition=models.Q(ends__gt=models.F("starts")),
                name="extra_hours_end_after_they_start",
            ),
            models.UniqueConstraint(fields=["day", "starts"], name="one_extra_stretch_a_start"),
        ]

    def __str__(self) -> str:
        return f"{self.day} {self.starts:%H:%M}-{self.ends:%H:%M}"
