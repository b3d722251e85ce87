from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from shop.models.materials import Mix
from shop.models.people import Person


class ComponentRole(models.TextChoices):
    """The values are those of `curing.mixture.Role`."""

    CEMENT = "cement", "cement"
    POZZOLAN = "pozzolan", "pozzolan"
    SAND = "sand", "sand"
    AGGREGATE = "aggregate", "aggregate"
    WATER = "water", "water"
    POLYMER = "polymer", "polymer"
    PIGMENT = "pigment", "pigment"
    ADMIXTURE = "admixture", "admixture"
    FIBRE = "fibre", "fibre"


class WrittenBy(models.TextChoices):
    """How an amount is written. The values are those of `curing.mixture.By`."""

    PARTS = "parts", "parts by weight"
    CEMENT = "cement", "% of cement"
    CEMENTITIOUS = "cementitious", "% of cement and pozzolan"
    TOTAL = "total", "% of the total"
    SOLIDS_OF_CEMENT = "solids-of-cement", "its solids, % of cement"
    SOLIDS_OF_CEMENTITIOUS = "solids-of-cementitious", "its solids, % of cement and pozzolan"
    WATER_OF_CEMENT = "water-of-cement", "water to cement"
    WATER_OF_CEMENTITIOUS = "water-of-cementitious", "water to cement and pozzolan"


def component_roles() -> list[tuple[str, str]]:
    return ComponentRole.choices


def written_by() -> list[tuple[str, str]]:
    return WrittenBy.choices


class Recipe(models.Model):
    """One version of a mix's recipe. Added, never edited: what was cast keeps the one it had.

    The version with the highest number is the one in use. Fibre is a share of the total weight of
    the layer's mix, 0 to below 0.2.
    """

    mix = models.ForeignKey(Mix, on_delete=models.PROTECT, related_name="recipes")
    number = models.PositiveIntegerField(default=1)
    fibre_face = models.FloatField(
        "fibre in the face coat",
        default=0.0,
        validators=[MinValueValidator(0), MaxValueValidator(0.199)],
    )
    fibre_backer = models.FloatField(
        "fibre in the backer",
        default=0.025,
        validators=[MinValueValidator(0), MaxValueValidator(0.199)],
    )
    fibre_rib = models.FloatField(
        "fibre in ribs and edges",
        default=0.035,
        validators=[MinValueValidator(0), MaxValueValidator(0.199)],
    )
    note = models.CharField("what is new in it", max_length=200, blank=True)
    made_at = models.DateTimeField(auto_now_add=True)
    made_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["mix", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["mix", "number"], name="one_number_a_recipe"),
        ]

    def __str__(self) -> str:
        return f"{self.mix}, version {self.number}"


class RecipePart(models.Model):
    """One component of a recipe, as `curing.mixture.Component` takes it: fractions and kg/m3.

    `amount` is parts, or a fraction (0.05 for 5 %) by `by`.
    """

    recipe = models.ForeignKey(Recipe, on_delete=models.CASCADE, related_name="parts")
    place = models.PositiveSmallIntegerField()  # also the order in which the crew adds
    name = models.CharField(max_length=60)
    role = models.CharField(max_length=10, choices=component_roles)
    amount = models.FloatField(validators=[MinValueValidator(0)])
    by = models.CharField("written", max_length=24, choices=written_by, default=WrittenBy.PARTS)
    density = models.FloatField(validators=[MinValueValidator(50), MaxValueValidator(9000)])
    solids = models.FloatField(
        default=1.0, validators=[MinValueValidator(0.001), MaxValueValidator(1)]
    )
    absorption = models.FloatField(
        default=0.0, validators=[MinValueValidator(0), MaxValueValidator(0.499)]
    )
    # None: the weight means the sand saturated and surface-dry.
    written_moisture = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0), MaxValueValidator(0.499)]
    )

    class Meta:
        ordering = ["recipe", "place"]
        constraints = [
            models.UniqueConstraint(fields=["recipe", "name"], name="one_name_a_recipe_part"),
        ]

    def __str__(self) -> str:
        return self.name
