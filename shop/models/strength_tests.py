from __future__ import annotations

import datetime as dt
import uuid

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from shop.models.air import Room
from shop.models.materials import Mix
from shop.models.people import Person


class SpecimenKind(models.TextChoices):
    """The values are those of `curing.specimens.Kind`."""

    CUBE = "cube", "2 in cube (ASTM C109)"
    CYLINDER = "cylinder", "cylinder (ASTM C39)"
    COUPON = "coupon", "flexural coupon (ASTM C947)"


def specimen_kinds() -> list[tuple[str, str]]:
    return SpecimenKind.choices


class StrengthTest(models.Model):
    """One specimen that was broken. Struck when it was wrong, never deleted.

    It cured at a steady temperature, or with the pieces in a room whose air tells its age.
    """

    mix = models.ForeignKey(Mix, on_delete=models.PROTECT, related_name="tests")
    kind = models.CharField(max_length=8, choices=specimen_kinds, default=SpecimenKind.CUBE)
    age_hours = models.FloatField(validators=[MinValueValidator(0.1)])  # since water-in, by clock
    tested_at = models.DateTimeField()
    celsius = models.FloatField(null=True, blank=True)
    room = models.ForeignKey(
        Room, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    strength_mpa = models.FloatField(validators=[MinValueValidator(0.01)])
    note = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField(auto_now_add=True)
    client_key = models.UUIDField(unique=True, default=uuid.uuid4)
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    struck_because = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["age_hours", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(age_hours__gt=0, strength_mpa__gt=0), name="a_test_has_age_and_strength"
            ),
            models.CheckConstraint(
                condition=Q(celsius__isnull=False, room__isnull=True)
                | Q(celsius__isnull=True, room__isnull=False),
                name="a_test_cured_at_one_place",
            ),
            models.CheckConstraint(
                condition=Q(struck_at__isnull=True, struck_by__isnull=True)
                | Q(struck_at__isnull=False, struck_by__isnull=False),
                name="a_struck_test_says_by_whom",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.age_hours:.1f} h {self.strength_mpa:.1f} MPa"

    @property
    def cast_at(self) -> dt.datetime:
        return self.tested_at - dt.timedelta(hours=self.age_hours)


class TakenFigure(models.TextChoices):
    HYPERBOLIC = "hyperbolic", "hyperbolic curve"
    EXPONENTIAL = "exponential", "exponential curve"
    ENERGY = "energy", "activation energy"
    DRYING = "drying", "drying factor"


def taken_figures() -> list[tuple[str, str]]:
    return TakenFigure.choices


class FitTaken(models.Model):
    """The owner took what the tests show for the mix: what, from how many tests, who and when."""

    mix = models.ForeignKey(Mix, on_delete=models.CASCADE, related_name="fits_taken")
    what = models.CharField(max_length=12, choices=taken_figures)
    figures = models.JSONField()  # the mix's fields as they were set
    tests = models.PositiveIntegerField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.what} from {self.tests} tests"

    def stands_in(self, mix: Mix) -> bool:
        """Whether the mix still has these figures: somebody may have typed others since."""
        return all(getattr(mix, name) == value for name, value in self.figures.items())
