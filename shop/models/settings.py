from __future__ import annotations

import datetime as dt
import zoneinfo

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models


class Units(models.TextChoices):
    US = "us", "inches, pounds, °F, psi"
    SI = "si", "millimetres, kilograms, °C, MPa"


def known_zone(name: str) -> None:
    if name not in zoneinfo.available_timezones():
        raise ValidationError(f"There is no time zone {name!r}. Write one like America/Chicago.")


class Shop(models.Model):
    """The one shop of this installation: always the row with key 1."""

    name = models.CharField(max_length=80)
    time_zone = models.CharField(max_length=60, default="America/Chicago", validators=[known_zone])
    units = models.CharField(max_length=2, choices=Units.choices, default=Units.US)
    country = models.CharField("holidays of", max_length=2, default="US")
    region = models.CharField("state or province", max_length=6, blank=True)
    # A promise is tight when the pieces are ready, but with less than this to spare.
    margin_hours = models.FloatField(
        default=12.0, validators=[MinValueValidator(0), MaxValueValidator(240)]
    )
    # A promised day is kept when the last piece can leave the shop by this time of that day.
    leave_by = models.TimeField(default=dt.time(15, 0))
    stale_after_hours = models.FloatField(
        default=3.0, validators=[MinValueValidator(0.25), MaxValueValidator(72)]
    )
    carry_limit_kg = models.FloatField("weight one person carries", default=22.7)
    phone = models.CharField(max_length=30, blank=True)
    address = models.TextField(max_length=300, blank=True)
    reply_to = models.EmailField(blank=True)
    version = models.PositiveIntegerField(default=1, editable=False)
    # Bumped by every rebuild that changed something: open pages ask whether they are behind.
    edition = models.PositiveBigIntegerField(default=0, editable=False)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(pk=1), name="one_shop"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> zoneinfo.ZoneInfo:
        return zoneinfo.ZoneInfo(self.time_zone)

    @property
    def us(self) -> bool:
        return self.units == Units.US


class Change(models.Model):
    """Something a date depends on has changed. Written with its cause, gone once dates follow."""

    reason = models.CharField(max_length=80)
    at = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return self.reason
