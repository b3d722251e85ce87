from __future__ import annotations

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from jobs.models.marks import Mark
from shop.models import Mix, Person, Route


class PieceKind(models.TextChoices):
    """Kinds of pieces whose demolds are looked at together."""

    PLAIN = "plain", "small and flat"
    HEAVY = "heavy", "over 10 ft², or with a cutout"


def piece_kinds() -> list[tuple[str, str]]:
    return PieceKind.choices


class Demold(models.Model):
    """What stood when a demold was marked: its mark says how the piece came out.

    Kept with the mark, so that a piece cast again with another mix, or a reading that is gone,
    changes nothing of what was seen. age_hours : equivalent age [h at 20 °C] in the room's air
    """

    mark = models.OneToOneField(Mark, on_delete=models.CASCADE, related_name="demold")
    mix = models.ForeignKey(Mix, on_delete=models.PROTECT, related_name="demolds")
    route = models.ForeignKey(Route, on_delete=models.PROTECT, related_name="demolds")
    kind = models.CharField(max_length=6, choices=piece_kinds)
    age_hours = models.FloatField()

    class Meta:
        ordering = ["mark"]
        constraints = [
            models.CheckConstraint(condition=Q(age_hours__gt=0), name="a_demold_follows_a_cast"),
        ]

    def __str__(self) -> str:
        return f"{self.mark_id} {self.age_hours:.1f} h"


class TrustedAge(models.Model):
    """From which age pieces of this mix, route and kind may be demolded. The latest counts.

    Earlier than the route's own gate only by the owner's yes; later ones the shop's outcomes set
    by themselves, and then `by` is empty and `mark` names the demold that did it.

    hours : equivalent age [h at 20 °C]; None takes an earlier yes back
    outcomes : how many demolds it rested on
    """

    mix = models.ForeignKey(Mix, on_delete=models.CASCADE, related_name="trusted_ages")
    route = models.ForeignKey(Route, on_delete=models.CASCADE, related_name="trusted_ages")
    kind = models.CharField(max_length=6, choices=piece_kinds)
    hours = models.FloatField(null=True, blank=True, validators=[MinValueValidator(0.1)])
    outcomes = models.PositiveIntegerField()
    by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    mark = models.ForeignKey(
        Mark, null=True, blank=True, on_delete=models.PROTECT, related_name="trusted_ages"
    )
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(by__isnull=False, mark__isnull=True)
                | Q(by__isnull=True, mark__isnull=False),
                name="an_age_is_set_by_somebody_or_a_demold",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.mix_id} {self.route_id} {self.kind} {self.hours}"
