from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models

from shop.models import Mix, Room, Route, Sealer

JOB_NUMBER = RegexValidator(
    r"^[0-9A-Za-z]{1,10}$", "A job number is up to 10 letters and digits, without spaces."
)
LETTER = RegexValidator(r"^[A-Z]{1,2}$", "A piece has one or two capital letters, like B or AA.")


class Customer(models.Model):
    name = models.CharField(max_length=80)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=30, blank=True)
    phone_digits = models.CharField(max_length=20, blank=True, db_index=True, editable=False)
    address = models.TextField(blank=True, max_length=300)
    notes = models.TextField(blank=True, max_length=1000)
    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Job(models.Model):
    """One customer's order with one promised date."""

    number = models.CharField(max_length=10, unique=True, validators=[JOB_NUMBER])
    title = models.CharField(max_length=80)
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="jobs")
    site = models.CharField(max_length=200, blank=True)
    # For whoever drives there: who opens the door, and what must be ready before.
    site_contact = models.CharField(max_length=120, blank=True)
    site_ready = models.TextField(blank=True, max_length=1200)
    taken_on = models.DateField()
    promised_on = models.DateField(null=True, blank=True)
    # Empty: the shop's own time of day by which a promised piece leaves.
    promised_by = models.TimeField(null=True, blank=True)
    # How much this promise matters against others when not all can be kept.
    weight = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(5)]
    )
    price = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    notes = models.TextField(blank=True, max_length=2000)
    closed_at = models.DateTimeField(null=True, blank=True)
    called_off = models.BooleanField(default=False)
    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        ordering = ["promised_on", "number"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(promised_on__isnull=True)
                | models.Q(promised_on__gte=models.F("taken_on")),
                name="promised_after_taken",
            ),
        ]

    def __str__(self) -> str:
        return self.number


class Piece(models.Model):
    """One casting. Its code, job number and letter, is written on its form."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="pieces")
    letter = models.CharField(max_length=2, validators=[LETTER])
    code = models.CharField(max_length=13, unique=True, editable=False)
    name = models.CharField(max_length=60)
    room = models.ForeignKey(Room, on_delete=models.PROTECT, related_name="pieces")
    mix = models.ForeignKey(Mix, on_delete=models.PROTECT, related_name="pieces")
    route = models.ForeignKey(Route, on_delete=models.PROTECT, related_name="pieces")
    sealer = models.ForeignKey(Sealer, on_delete=models.PROTECT, related_name="pieces")
    batch = models.ForeignKey(
        "jobs.Batch", null=True, blank=True, on_delete=models.SET_NULL, related_name="pieces"
    )
    area_m2 = models.FloatField(validators=[MinValueValidator(0.001), MaxValueValidator(50)])
    thickness_m = models.FloatField(
        default=0.019, validators=[MinValueValidator(0.005), MaxValueValidator(0.5)]
    )
    # Of the thickness, the face coat.
    coat_m = models.FloatField(
        "face coat", default=0.004, validators=[MinValueValidator(0), MaxValueValidator(0.1)]
    )
    # Cast in one run with the job's other pieces of its mix, for their colour.
    matches_job = models.BooleanField("must match the job's other pieces", default=True)
    # Beyond what its form holds, of it; None: the shop's own share by layer.
    waste = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0), MaxValueValidator(1)]
    )
    # Its real section: length, width, edges, ribs, cutouts, strongbacks, in metres. None: a plain
    # slab of which only area and thickness are known. Read and checked by `jobs.services.shape`.
    shape = models.JSONField(null=True, blank=True, editable=False)
    notes = models.TextField(blank=True, max_length=1000)
    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        ordering = ["job", "letter"]
        constraints = [
            models.UniqueConstraint(fields=["job", "letter"], name="one_letter_a_job"),
        ]

    def __str__(self) -> str:
        return self.code
