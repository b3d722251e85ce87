from __future__ import annotations

import uuid

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from jobs.models.casting import Batch
from jobs.models.orders import Piece
from shop.models import Person, Recipe, SpecimenKind, StrengthTest
from shop.models.strength_tests import specimen_kinds


class MixerRun(models.Model):
    """One filling of the mixer for a batch: what it was to make, and what is on record of it.

    `parts` and `sheet` are kept as they were when the run was opened, so that a recipe, a shape or
    the mixer that changes later leaves it alone:
    parts  [{"piece": code, "layer", "m3", "kg"}], waste included
    sheet  what `jobs.services.weigh_sheets` writes: lines, loads, moisture, steps, tolerances
    Struck when it was wrong (spilled, thrown away), never deleted.
    """

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="runs")
    recipe = models.ForeignKey(Recipe, on_delete=models.PROTECT, related_name="runs")
    number = models.PositiveSmallIntegerField()
    parts = models.JSONField(default=list)
    sheet = models.JSONField(default=dict)
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    # The record; empty where nobody measured.
    water_in_at = models.DateTimeField(null=True, blank=True)
    added_water_kg = models.FloatField(
        default=0.0, validators=[MinValueValidator(0), MaxValueValidator(200)]
    )
    added_why = models.CharField("what was added, and why", max_length=200, blank=True)
    mix_celsius = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(-10), MaxValueValidator(60)]
    )
    air_celsius = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(-40), MaxValueValidator(60)]
    )
    form_celsius = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(-40), MaxValueValidator(80)]
    )
    humidity = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0), MaxValueValidator(1)]
    )
    spread_m = models.FloatField(
        "spread", null=True, blank=True, validators=[MinValueValidator(0.01), MaxValueValidator(2)]
    )
    unit_weight = models.FloatField(  # kg/m3, fresh, as measured
        null=True, blank=True, validators=[MinValueValidator(500), MaxValueValidator(4000)]
    )
    covered_at = models.DateTimeField(null=True, blank=True)
    note = models.CharField(max_length=300, blank=True)
    recorded_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    version = models.PositiveIntegerField(default=1, editable=False)
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    struck_because = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["batch", "number"]
        constraints = [
            models.UniqueConstraint(fields=["batch", "number"], name="one_number_a_run"),
            models.CheckConstraint(
                condition=Q(struck_at__isnull=True, struck_by__isnull=True)
                | Q(struck_at__isnull=False, struck_by__isnull=False),
                name="a_struck_run_says_by_whom",
            ),
        ]

    def __str__(self) -> str:
        return f"batch {self.batch_id}, run {self.number}"


class Weighed(models.Model):
    """One line of a run's weigh sheet, ticked off with what the scale showed and from which lot.

    The last one of a line that is not struck is the line's.
    """

    run = models.ForeignKey(MixerRun, on_delete=models.PROTECT, related_name="weighed")
    line = models.CharField(max_length=80)  # the line's key on the sheet
    kg = models.FloatField(validators=[MinValueValidator(0), MaxValueValidator(5000)])
    lot = models.CharField(max_length=60, blank=True)
    # The lot as it is searched: capitals and digits alone.
    lot_key = models.CharField(max_length=60, blank=True, db_index=True, editable=False)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField(auto_now_add=True)
    client_key = models.UUIDField(unique=True, default=uuid.uuid4)
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["run", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(struck_at__isnull=True, struck_by__isnull=True)
                | Q(struck_at__isnull=False, struck_by__isnull=False),
                name="a_struck_line_says_by_whom",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.line} {self.kg:.3f} kg"


class Specimen(models.Model):
    """A cube, cylinder or coupon cast from a run, to be broken later."""

    run = models.ForeignKey(MixerRun, on_delete=models.PROTECT, related_name="specimens")
    kind = models.CharField(max_length=8, choices=specimen_kinds, default=SpecimenKind.CUBE)
    label = models.CharField(max_length=30)
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    test = models.OneToOneField(
        StrengthTest, null=True, blank=True, on_delete=models.SET_NULL, related_name="specimen"
    )
    lost_because = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["run", "label"]
        constraints = [
            models.UniqueConstraint(fields=["run", "label"], name="one_label_a_specimen"),
        ]

    def __str__(self) -> str:
        return self.label


class Measured(models.Model):
    """A finished piece's thickness and weight as somebody measured them. Struck when wrong."""

    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="measured")
    thickness_m = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0.003), MaxValueValidator(1)]
    )
    kg = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0.01), MaxValueValidator(5000)]
    )
    at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    client_key = models.UUIDField(unique=True, default=uuid.uuid4)
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["piece", "at"]
        verbose_name_plural = "measured"

    def __str__(self) -> str:
        return f"{self.piece_id} measured"


class Photo(models.Model):
    """A picture of a batch or a piece, re-encoded when it came, without what the camera noted.

    `name` is the file's own name under the uploads folder, made by the app.
    """

    batch = models.ForeignKey(
        Batch, null=True, blank=True, on_delete=models.PROTECT, related_name="photos"
    )
    piece = models.ForeignKey(
        Piece, null=True, blank=True, on_delete=models.PROTECT, related_name="photos"
    )
    name = models.CharField(max_length=80, unique=True)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    size = models.PositiveIntegerField()  # bytes
    words = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    client_key = models.UUIDField(unique=True, default=uuid.uuid4)

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(batch__isnull=False, piece__isnull=True)
                | Q(batch__isnull=True, piece__isnull=False),
                name="a_photo_is_of_one_thing",
            ),
        ]

    def __str__(self) -> str:
        return self.name
