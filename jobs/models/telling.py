from __future__ import annotations

from django.db import models

from jobs.models.orders import Job
from shop.models import Person


class Mail(models.Model):
    """An e-mail that must go out. Written with its cause; the queue only makes it go sooner."""

    class State(models.TextChoices):
        WAITING = "waiting", "waiting"
        SENDING = "sending", "being sent"
        SENT = "sent", "sent"
        FAILED = "failed", "failed"

    to = models.EmailField()
    subject = models.CharField(max_length=200)
    body = models.TextField()
    calendar = models.TextField(blank=True)  # an iCalendar file to go with it
    state = models.CharField(max_length=8, choices=State.choices, default=State.WAITING)
    tries = models.PositiveSmallIntegerField(default=0)
    try_after = models.DateTimeField()
    claimed_at = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    last_error = models.CharField(max_length=300, blank=True)
    message_id = models.CharField(max_length=120, unique=True)
    written_at = models.DateTimeField(auto_now_add=True)
    # A cause that happens once is mailed once, whichever worker gets there first.
    once_key = models.CharField(max_length=120, unique=True, null=True, blank=True)

    class Meta:
        ordering = ["-written_at"]
        indexes = [models.Index(fields=["state", "try_after"])]

    def __str__(self) -> str:
        return self.subject


class Notice(models.Model):
    """What a customer was told, when and by which means. The latest one is the told date."""

    class Means(models.TextChoices):
        EMAIL = "email", "e-mail"
        TEXT = "text", "phone message"
        CALL = "call", "phone call"
        LETTER = "letter", "letter"

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="notices")
    means = models.CharField(max_length=6, choices=Means.choices)
    told_on = models.DateField()  # the date that was told
    to = models.CharField(max_length=120, blank=True)
    subject = models.CharField(max_length=200, blank=True)
    body = models.TextField(blank=True)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    mail = models.OneToOneField(
        Mail, null=True, blank=True, on_delete=models.PROTECT, related_name="notice"
    )
    client_key = models.UUIDField(unique=True)

    class Meta:
        ordering = ["-at", "-id"]

    def __str__(self) -> str:
        return f"{self.job_id} {self.told_on}"


class CustomerLink(models.Model):
    """An unguessable link to one job's page. The token is made from `nonce` and the server's key,
    so the database alone does not open anything."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="links")
    nonce = models.CharField(max_length=64)
    token_hash = models.CharField(max_length=64, unique=True)
    made_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    made_at = models.DateTimeField(auto_now_add=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["job"],
                condition=models.Q(revoked_at__isnull=True),
                name="one_open_link_a_job",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.job_id} {self.made_at:%Y-%m-%d}"
