from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models


class CurveForm(models.TextChoices):
    HYPERBOLIC = "hyperbolic", "hyperbolic (ASTM C1074)"
    EXPONENTIAL = "exponential", "exponential"


class Mix(models.Model):
    """A recipe with what is known of how it gains strength. SI: MPa, 1/h, h at 20 °C, J/mol."""

    name = models.CharField(max_length=60, unique=True)
    colour = models.CharField(max_length=60, blank=True)
    in_use = models.BooleanField(default=True)
    curve = models.CharField(max_length=12, choices=CurveForm.choices, default=CurveForm.HYPERBOLIC)
    su_mpa = models.FloatField(
        "strength in the long run", default=62.05, validators=[MinValueValidator(1)]
    )
    rate_per_hour = models.FloatField(
        "rate k", default=0.0322, validators=[MinValueValidator(1e-5)]
    )
    setting_hours = models.FloatField(
        "setting time t0", default=6.0, validators=[MinValueValidator(0)]
    )
    tau_hours = models.FloatField(
        "time constant", default=20.0, validators=[MinValueValidator(0.1)]
    )
    alpha = models.FloatField("shape", default=0.8, validators=[MinValueValidator(0.05)])
    activation_energy = models.FloatField(
        default=41500.0, validators=[MinValueValidator(20000), MaxValueValidator(90000)]
    )
    # Default curves are nobody's concrete, and every date that rests on one says so.
    placeholder = models.BooleanField("curve is a placeholder, not this shop's tests", default=True)
    # Curves through the tests as they might have come out, from the fit that was taken: rows of
    # the curve's three numbers as `curing.fitting` gives them. Empty: typed, or a placeholder.
    curve_draws = models.JSONField(default=list, blank=True, editable=False)
    # Real drying time over what the model says, once the shop has weighed its pieces dry.
    drying_factor = models.FloatField(
        default=1.0, validators=[MinValueValidator(0.1), MaxValueValidator(10)]
    )
    drying_calibrated = models.BooleanField(default=False)
    density = models.FloatField(default=2080.0, validators=[MinValueValidator(500)])  # kg/m3
    # Of the finished piece in the air of a house; None: not weighed yet, the fresh one is taken.
    dry_density = models.FloatField(
        "dry unit weight", null=True, blank=True, validators=[MinValueValidator(500)]
    )
    notes = models.TextField(blank=True, max_length=1000)
    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "mixes"

    def __str__(self) -> str:
        return self.name


class Sealer(models.Model):
    """What the product's data sheet asks for, as this shop has entered it."""

    name = models.CharField(max_length=60, unique=True)
    in_use = models.BooleanField(default=True)
    coats = models.PositiveSmallIntegerField(
        default=2, validators=[MinValueValidator(1), MaxValueValidator(6)]
    )
    recoat_least_hours = models.FloatField(default=4.0, validators=[MinValueValidator(0)])
    recoat_greatest_hours = models.FloatField(
        null=True, blank=True, default=24.0, validators=[MinValueValidator(0)]
    )
    abrade_hours = models.FloatField(default=0.5, validators=[MinValueValidator(0)])
    # Hours after the last coat at 23 °C.
    handle_hours = models.FloatField(default=24.0, validators=[MinValueValidator(0)])
    light_use_hours = models.FloatField(default=72.0, validators=[MinValueValidator(0)])
    full_use_hours = models.FloatField(default=168.0, validators=[MinValueValidator(0)])
    least_age_hours = models.FloatField(default=48.0, validators=[MinValueValidator(0)])
    celsius_least = models.FloatField(default=15.6)
    celsius_greatest = models.FloatField(default=29.4)
    humidity_greatest = models.FloatField(
        default=0.80, validators=[MinValueValidator(0.0), MaxValueValidator(1.0)]
    )
    dew_margin = models.FloatField(default=3.0, validators=[MinValueValidator(0)])  # K
    two_part_urethane = models.BooleanField("two-part urethane (isocyanates)", default=False)
    notes = models.TextField(blank=True, max_length=1000)
    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(celsius_least__lt=models.F("celsius_greatest")),
                name="sealer_temperatures_in_order",
            ),
            models.CheckConstraint(
                condition=models.Q(recoat_greatest_hours__isnull=True)
                | models.Q(recoat_greatest_hours__gt=models.F("recoat_least_hours")),
                name="recoat_window_is_open",
            ),
        ]

    def __str__(self) -> str:
        return self.name
