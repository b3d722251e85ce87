from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from shop.models.people import Person

# Air that a shop can have. What lies outside is a wrong unit or a broken sensor.
COLDEST, HOTTEST = -40.0, 60.0


class Room(models.Model):
    name = models.CharField(max_length=40, unique=True)
    is_booth = models.BooleanField("sealer is sprayed here", default=False)
    in_use = models.BooleanField(default=True)
    # Planned air where a weekday and hour has none of its own.
    usual_celsius = models.FloatField(
        default=18.0, validators=[MinValueValidator(COLDEST), MaxValueValidator(HOTTEST)]
    )
    usual_humidity = models.FloatField(
        default=0.5, validators=[MinValueValidator(0.0), MaxValueValidator(1.0)]
    )
    # Over fresh concrete, for early evaporation [m/s].
    air_speed = models.FloatField(
        "air moving over fresh concrete",
        default=0.3,
        validators=[MinValueValidator(0), MaxValueValidator(20)],
    )
    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class PlannedAir(models.Model):
    """What the heating is set to from this weekday and hour (shop time) on, until the next row."""

    room = models.ForeignKey(Room, on_delete=models.CASCADE, related_name="planned")
    weekday = models.PositiveSmallIntegerField(validators=[MaxValueValidator(6)])  # Monday is 0
    hour = models.PositiveSmallIntegerField(validators=[MaxValueValidator(23)])
    celsius = models.FloatField(validators=[MinValueValidator(COLDEST), MaxValueValidator(HOTTEST)])
    humidity = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0.0), MaxValueValidator(1.0)]
    )

    class Meta:
        ordering = ["room", "weekday", "hour"]
        constraints = [
            models.UniqueConstraint(
                fields=["room", "weekday", "hour"], name="one_plan_a_room_and_hour"
            ),
            models.CheckConstraint(
                condition=models.Q(weekday__lte=6, hour__lte=23), name="an_hour_of_a_week"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.room_id} {self.weekday} {self.hour}:00 {self.celsius:.1f} °C"


class Sensor(models.Model):
    """A thermometer that posts by itself, with one secret token. Only the token's hash is kept."""

    name = models.CharField(max_length=60, unique=True)
    room = models.ForeignKey(Room, on_delete=models.PROTECT, related_name="sensors")
    token_hash = models.CharField(max_length=64, unique=True)
    token_hint = models.CharField(max_length=4)
    in_use = models.BooleanField(default=True)
    last_heard = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Reading(models.Model):
    class Source(models.TextChoices):
        SENSOR = "sensor", "sensor"
        FILE = "file", "file"
        HAND = "hand", "by hand"

    room = models.ForeignKey(Room, on_delete=models.PROTECT, related_name="readings")
    at = models.DateTimeField()
    celsius = models.FloatField()
    humidity = models.FloatField(null=True, blank=True)  # fraction, 0 to 1
    source = models.CharField(max_length=6, choices=Source.choices)
    sensor = models.ForeignKey(
        Sensor, null=True, blank=True, on_delete=models.SET_NULL, related_name="readings"
    )
    by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    received_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["room", "at"]
        constraints = [
            models.UniqueConstraint(fields=["room", "at"], name="one_reading_a_room_and_time"),
            models.CheckConstraint(
                condition=models.Q(celsius__gte=COLDEST, celsius__lte=HOTTEST),
                name="air_a_shop_can_have",
            ),
            models.CheckConstraint(
                condition=models.Q(humidity__isnull=True)
                | models.Q(humidity__gte=0, humidity__lte=1),
                name="humidity_is_a_fraction",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.celsius:.1f} °C"
