from __future__ import annotations

import uuid

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from jobs.models.orders import Piece
from shop.models import Person


class Weighing(models.Model):
    """One weight of a piece, to see how it dries. Added, struck when wrong, never deleted."""

    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="weighings")
    at = models.DateTimeField()
    kg = models.FloatField(validators=[MinValueValidator(0.01)])
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField(auto_now_add=True)
    client_key = models.UUIDField(unique=True, default=uuid.uuid4)
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["piece", "at"]
        constraints = [
            models.CheckConstraint(condition=Q(kg__gt=0), name="a_piece_weighs_something"),
            models.CheckConstraint(
                condition=Q(struck_at__isnull=True, struck_by__isnull=True)
                | Q(struck_at__isnull=False, struck_by__isnull=False),
                name="a_struck_weighing_says_by_whom",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.piece_id} {self.kg:.2f} kg"
