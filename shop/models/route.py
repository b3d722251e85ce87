from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models


class StepKind(models.TextChoices):
    CAST = "cast", "cast"
    DEMOLD = "demold", "demold and flip"
    GRIND = "grind", "grind or hone"
    FILL = "fill", "slurry fill"
    HONE = "hone", "last hone and wash"
    COAT = "coat", "seal coat"
    CRATE = "crate", "check and crate"
    DELIVER = "deliver", "deliver"
    INSTALL = "install", "install"
    OTHER = "other", "other work"


def kind_choices() -> list[tuple[str, str]]:
    return StepKind.choices


class DryingRule(models.TextChoices):
    HOURS = "hours", "a number of hours, twice as many while it is cold or humid"
    MODEL = "model", "the moisture model, in the air of the room"
    WEIGHING = "weighing", "weighing, until the piece loses no more"


def drying_rules() -> list[tuple[str, str]]:
    return DryingRule.choices


class Route(models.Model):
    name = models.CharField(max_length=60, unique=True)
    in_use = models.BooleanField(default=True)
    # How the steps that wait for drying know that a piece is dry.
    drying_rule = models.CharField(
        "dry by", max_length=8, choices=drying_rules, default=DryingRule.HOURS
    )
    moisture_target = models.FloatField(
        "moisture target",
        default=0.85,
        validators=[MinValueValidator(0.5), MaxValueValidator(0.97)],
    )
    weigh_percent = models.FloatField(
        "dry when it loses less a day than",
        default=0.15,
        validators=[MinValueValidator(0.01), MaxValueValidator(2)],
    )  # percent of the piece's weight
    notes = models.TextField(blank=True, max_length=1000)
    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class RouteStep(models.Model):
    """One step, what it waits for, and the work it takes.

    A `coat` step stands for all coats of the piece's sealer: two coats become `seal-1`, `seal-2`.
    """

    route = models.ForeignKey(Route, on_delete=models.CASCADE, related_name="steps")
    place = models.PositiveSmallIntegerField()
    key = models.SlugField(max_length=30)  # marks hold on to it: it never changes
    kind = models.CharField(max_length=8, choices=kind_choices)
    name = models.CharField(max_length=40)
    # What it waits for; empty waits for nothing of the kind.
    hours_after_cast = models.FloatField(default=0.0, validators=[MinValueValidator(0)])
    hours_after_previous = models.FloatField(default=0.0, validators=[MinValueValidator(0)])
    equivalent_hours = models.FloatField(null=True, blank=True, validators=[MinValueValidator(0)])
    strength_mpa = models.FloatField(null=True, blank=True, validators=[MinValueValidator(0)])
    by_section = models.BooleanField(
        "as strong as lifting the piece asks, by its section", default=False
    )
    drying_hours = models.FloatField(null=True, blank=True, validators=[MinValueValidator(0)])
    after_sealer_cure = models.BooleanField(default=False)
    wets = models.BooleanField("wets the piece, so drying starts again", default=False)
    # What it takes.
    labour_hours = models.FloatField(
        "hours a piece", default=0.0, validators=[MinValueValidator(0)]
    )
    labour_hours_m2 = models.FloatField(
        "hours a square metre", default=0.0, validators=[MinValueValidator(0)]
    )
    people = models.PositiveSmallIntegerField(default=1)

    class Meta:
        ordering = ["route", "place"]
        constraints = [
            models.UniqueConstraint(fields=["route", "key"], name="one_key_a_route_step"),
        ]

    def __str__(self) -> str:
        return self.name
