from __future__ import annotations

from typing import Any, ClassVar

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models.functions import Lower


class Role(models.TextChoices):
    OWNER = "owner", "Owner"
    OFFICE = "office", "Office"
    CREW = "crew", "Crew"


class People(BaseUserManager["Person"]):
    def create_user(self, email: str, password: str | None = None, **fields: Any) -> Person:
        person = self.model(email=email.strip().lower(), **fields)
        person.set_password(password)
        person.save(using=self._db)
        return person

    def get_by_natural_key(self, username: str | None) -> Person:
        return self.get(email__iexact=username or "")


class Person(AbstractBaseUser):
    """Somebody who works at the shop and signs in with an e-mail address."""

    email = models.EmailField(unique=True)
    name = models.CharField(max_length=60)
    role = models.CharField(max_length=6, choices=Role.choices)
    language = models.CharField(
        max_length=2, choices=[("en", "English"), ("es", "Español")], default="en"
    )
    is_active = models.BooleanField(default=True)
    warned = models.BooleanField("is mailed when a promise changes its state", default=False)
    joined_at = models.DateTimeField(auto_now_add=True)
    version = models.PositiveIntegerField(default=1, editable=False)

    USERNAME_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]

    objects: ClassVar[People] = People()

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(Lower("email"), name="one_person_an_address"),
        ]

    def __str__(self) -> str:
        return self.name


class Invitation(models.Model):
    """A link that lets somebody choose a password once. Only its hash is kept."""

    email = models.EmailField()
    name = models.CharField(max_length=60)
    role = models.CharField(max_length=6, choices=Role.choices)
    token_hash = models.CharField(max_length=64, unique=True)
    invited_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    invited_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-invited_at"]

    def __str__(self) -> str:
        return f"{self.name} as {self.get_role_display()}"
