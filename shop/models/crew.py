from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from shop.models.people import Person
from shop.models.route import StepKind

# Setting up a form comes before a route's first step, which is the cast.
FORM = "form"


def works() -> list[tuple[str, str]]:
    """What somebody can be put to: setting up forms, and every kind of step."""
    return [(FORM, "set up forms"), *StepKind.choices]


def every_work() -> list[str]:
    return [key for key, _ in works()]


def every_weekday() -> list[int]:
    return list(range(7))


def known_works(value: Any) -> None:
    if not isinstance(value, list) or not set(value) <= set(every_work()):
        raise ValidationError("That is not a list of kinds of work.")


def known_weekdays(value: Any) -> None:
    if not isinstance(value, list) or not all(
        isinstance(day, int) and 0 <= day <= 6 for day in value
    ):
        raise ValidationError("That is not a list of weekdays, Monday being 0.")


class Worker(models.Model):
    """Somebody whom the plan can put to work, with an account or without one."""

    name = models.CharField(max_length=60, unique=True)
    account = models.OneToOneField(
        Person, null=True, blank=True, on_delete=models.SET_NULL, related_name="worker"
    )
    works = models.JSONField("can do", default=every_work, validators=[known_works])
    weekdays = models.JSONField(default=every_weekday, validators=[known_weekdays], blank=True)
    in_use = models.BooleanField(default=True)
    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Absence(models.Model):
    """Days on which somebody is away, the last one included."""

    worker = models.ForeignKey(Worker, on_delete=models.CASCADE, related_name="absences")
    first_day = models.DateField()
    last_day = models.DateField()
    reason = models.CharField(max_length=80, blank=True)

    class Meta:
        ordering = ["first_day"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(last_day__gte=models.F("first_day")),
                name="an_absence_ends_after_it_begins",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.worker_id} {self.first_day} to {self.last_day}"


class Stations(models.Model):
    """How many pieces each part of the shop takes at once, and what the plan goes by.

    The one row of this installation, with key 1, as `Shop` is.
    """

    rack_places = models.PositiveSmallIntegerField(
        default=40, validators=[MinValueValidator(1), MaxValueValidator(2000)]
    )
    wet_bays = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(50)]
    )
    booth_places = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(50)]
    )
    mixers = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(20)]
    )
    trucks = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(50)]
    )
    # Mixing and dry sanding dust the air that coats are put on in.
    shared_air = models.BooleanField("the booth shares the shop's air", default=True)
    settle_hours = models.FloatField(
        "dust settles in", default=3.0, validators=[MinValueValidator(0), MaxValueValidator(24)]
    )
    # Setting up a form: its building, knockouts, caulk and release.
    form_hours = models.FloatField(
        "setting up a form, hours a piece",
        default=1.0,
        validators=[MinValueValidator(0), MaxValueValidator(80)],
    )
    form_hours_m2 = models.FloatField(
        "and hours a square metre",
        default=2.0,
        validators=[MinValueValidator(0), MaxValueValidator(40)],
    )
    form_people = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(10)]
    )
    form_wait_hours = models.FloatField(
        "caulk sets before the cast",
        default=8.0,
        validators=[MinValueValidator(0), MaxValueValidator(72)],
    )
    # Hours of work really taken over those planned: one standard deviation of their logarithm.
    labour_spread = models.FloatField(
        default=0.25, validators=[MinValueValidator(0), MaxValueValidator(1)]
    )
    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        verbose_name_plural = "stations"
        constraints = [
            models.CheckConstraint(condition=models.Q(pk=1), name="one_row_of_stations"),
        ]

    def __str__(self) -> str:
        return "stations"
