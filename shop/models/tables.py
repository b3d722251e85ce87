from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from shop.models.air import Room


class CastingTable(models.Model):
    """Where forms stand from set-up to demold. Metres."""

    name = models.CharField(max_length=40, unique=True)
    room = models.ForeignKey(Room, on_delete=models.PROTECT, related_name="tables")
    length_m = models.FloatField(
        "length", default=3.048, validators=[MinValueValidator(0.3), MaxValueValidator(20)]
    )
    width_m = models.FloatField(
        "width", default=1.524, validators=[MinValueValidator(0.3), MaxValueValidator(20)]
    )
    in_use = models.BooleanField(default=True)
    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name
