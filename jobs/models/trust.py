from __future__ import annotations

from django.core.validators import MinValueValidator
from django.db import models

from shop.models import Mix, Person


class PieceKind(models.TextChoices):
    """Kinds of pieces whose demolds are looked at together."""

    PLAIN = "plain", "small and flat"
    HEAVY = "heavy", "over 10 ft², or with a cutout"


def piece_kinds() -> list[tuple[str, str]]:
    return PieceKind.choices


class TrustedAge(models.Model):
    """The owner's yes to an age from which this kind of piece may be demolded. The latest counts.

    hours : equivalent age [h at 20 °C]; None takes an earlier yes back
    outcomes : how many demolds it rested on
    """

    mix = models.ForeignKey(Mix, on_delete=models.CASCADE, related_name="trusted_ages")
    kind = models.CharField(max_length=6, choices=piece_kinds)
    hours = models.FloatField(null=True, blank=True, validators=[MinValueValidator(0.1)])
    outcomes = models.PositiveIntegerField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.mix_id} {self.kind} {self.hours}"
