from __future__ import annotations

import datetime as dt
import zoneinfo

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models


class Units(models.TextChoices):
    US = "us", "inches, pounds, °F, psi"
    SI = "si", "millimetres, kilograms, °C, MPa"


class ScaleUnit(models.TextChoices):
    POUND = "lb", "pounds"
    OUNCE = "oz", "ounces"
    KILOGRAM = "kg", "kilograms"
    GRAM = "g", "grams"


def scale_units() -> list[tuple[str, str]]:
    return ScaleUnit.choices


class JudgedOn(models.TextChoices):
    LATE = "late", "the late time (9 in 10)"
    LIKELY = "likely", "the likely time (5 in 10)"


def judged_on_choices() -> list[tuple[str, str]]:
    return JudgedOn.choices


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
    # Which of the times that a piece may be ready by decides whether a promise holds.
    judged_on = models.CharField(
        "a promise is judged on", max_length=6, choices=judged_on_choices, default=JudgedOn.LATE
    )
    carry_limit_kg = models.FloatField("weight one person carries", default=22.7)
    # Handling: see `curing.handling.Rules`, which has the source of each.
    strip_multiplier = models.FloatField(
        default=1.3, validators=[MinValueValidator(1), MaxValueValidator(3)]
    )
    form_bond_pa = models.FloatField(
        default=1000.0, validators=[MinValueValidator(0), MaxValueValidator(20_000)]
    )
    yard_multiplier = models.FloatField(
        default=1.2, validators=[MinValueValidator(1), MaxValueValidator(3)]
    )
    travel_multiplier = models.FloatField(
        default=1.5, validators=[MinValueValidator(1), MaxValueValidator(3)]
    )
    support_share = models.FloatField(
        default=0.21, validators=[MinValueValidator(0), MaxValueValidator(0.49)]
    )
    rupture_factor = models.FloatField(
        default=1.5, validators=[MinValueValidator(1), MaxValueValidator(10)]
    )
    # No demold outcome lets a piece be trusted earlier than this [h at 20 °C].
    demold_floor_hours = models.FloatField(
        "no demold before", default=12.0, validators=[MinValueValidator(0), MaxValueValidator(336)]
    )
    # Ways that a piece must pass, clear opening [m].
    door_width_m = models.FloatField(
        "door, clear width",
        default=0.8128,
        validators=[MinValueValidator(0.3), MaxValueValidator(10)],
    )
    door_height_m = models.FloatField(
        "door, clear height",
        default=2.032,
        validators=[MinValueValidator(0.5), MaxValueValidator(10)],
    )
    # Inside the truck, where pieces stand on edge [m].
    truck_length_m = models.FloatField(
        "truck, length inside",
        default=3.048,
        validators=[MinValueValidator(0.5), MaxValueValidator(20)],
    )
    truck_width_m = models.FloatField(
        "truck, width inside",
        default=1.524,
        validators=[MinValueValidator(0.5), MaxValueValidator(5)],
    )
    truck_height_m = models.FloatField(
        "truck, height inside",
        default=1.8288,
        validators=[MinValueValidator(0.3), MaxValueValidator(5)],
    )
    # What a piece's weight is held against [kg/m3].
    concrete_density = models.FloatField(
        "unit weight of ordinary concrete",
        default=2403.0,
        validators=[MinValueValidator(1000), MaxValueValidator(3500)],
    )
    stone_density = models.FloatField(
        "unit weight of natural stone",
        default=2700.0,
        validators=[MinValueValidator(1000), MaxValueValidator(3500)],
    )
    # The mixer takes this much at once [kg].
    mixer_kg = models.FloatField(
        "the mixer takes", default=68.0, validators=[MinValueValidator(1), MaxValueValidator(5000)]
    )
    # Beyond what the form holds, of it.
    waste_face = models.FloatField(
        "waste of face coat", default=0.20, validators=[MinValueValidator(0), MaxValueValidator(1)]
    )
    waste_backer = models.FloatField(
        "waste of backer and ribs",
        default=0.10,
        validators=[MinValueValidator(0), MaxValueValidator(1)],
    )
    # Steps are stored in kg whatever the scale shows.
    scale_unit = models.CharField(
        "the large scale shows", max_length=2, choices=scale_units, default=ScaleUnit.POUND
    )
    scale_step_kg = models.FloatField(
        "in steps of",
        default=0.0226796185,
        validators=[MinValueValidator(1e-5), MaxValueValidator(5)],
    )
    small_scale_unit = models.CharField(
        "the small scale shows", max_length=2, choices=scale_units, default=ScaleUnit.GRAM
    )
    small_scale_step_kg = models.FloatField(
        "in small steps of",
        default=0.001,
        validators=[MinValueValidator(1e-6), MaxValueValidator(1)],
    )
    # On the customer's sheet; empty: the words of `shop.defaults`.
    about_words = models.TextField("what a piece is", blank=True, max_length=1200)
    ageing_words = models.TextField("how it will age", blank=True, max_length=1200)
    care_words = models.TextField("care", blank=True, max_length=1600)
    # On the load list, of a job that has no words of its own.
    site_ready_words = models.TextField("what must be ready on site", blank=True, max_length=1200)
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
