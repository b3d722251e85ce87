"""The plan that was accepted, how it came about, and where forms stand."""

from __future__ import annotations

from django.db import models

from jobs.models.orders import Job, Piece
from shop.models import CastingTable, Person


class FormSetUp(models.Model):
    """A form stands on a table: marked by the crew, or by the owner when a plan begins."""

    piece = models.OneToOneField(Piece, on_delete=models.CASCADE, related_name="form")
    table = models.ForeignKey(CastingTable, on_delete=models.PROTECT, related_name="forms")
    set_up_at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"{self.piece_id} on {self.table_id}"


class RunState(models.TextChoices):
    ASKED = "asked", "waiting for the planner"
    RUNNING = "running", "planning"
    READY = "ready", "ready to look at"
    TAKEN = "taken", "taken"
    LEFT = "left", "not taken"
    FAILED = "failed", "failed"
    LOST = "lost", "broken off"


OPEN = (RunState.ASKED, RunState.RUNNING)


def run_states() -> list[tuple[str, str]]:
    return RunState.choices


class PlanRun(models.Model):
    """The planner at work, and what it proposes: never a fact until somebody accepts it.

    `about` is the job whose short promise is to be rescued; empty, the whole shop is planned.
    """

    about = models.ForeignKey(
        Job, null=True, blank=True, on_delete=models.CASCADE, related_name="rescue_runs"
    )
    state = models.CharField(max_length=8, choices=run_states, default=RunState.ASKED)
    asked_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    asked_at = models.DateTimeField(auto_now_add=True)
    started_at = models.DateTimeField(null=True, blank=True)
    # Of the worker, while it is at it: silence means that it was lost.
    beat_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    stop_asked = models.BooleanField(default=False)
    # The shop's edition, and the moment, that the facts were read at.
    edition = models.PositiveBigIntegerField(default=0)
    planned_from = models.DateTimeField(null=True, blank=True)
    progress = models.JSONField(default=list)
    found = models.JSONField(null=True, blank=True)
    trouble = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-id"]
        constraints = [
            # Two at once for the same shop are one, and so are two for the same job.
            models.UniqueConstraint(
                fields=["about"],
                condition=models.Q(state__in=OPEN, about__isnull=False),
                name="one_open_rescue_a_job",
            ),
            models.UniqueConstraint(
                fields=["state"],
                condition=models.Q(state="asked", about__isnull=True),
                name="one_plan_asked_for",
            ),
            models.UniqueConstraint(
                fields=["state"],
                condition=models.Q(state="running", about__isnull=True),
                name="one_plan_running",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.pk} {self.state}"


class PlanAccepted(models.Model):
    """Somebody took a proposal, or part of it. `before` is what undoing brings back."""

    run = models.ForeignKey(
        PlanRun, null=True, blank=True, on_delete=models.SET_NULL, related_name="accepted"
    )
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)
    words = models.CharField(max_length=300)
    before = models.JSONField(default=dict)
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["-id"]
        verbose_name_plural = "plans accepted"

    def __str__(self) -> str:
        return self.words


class PlannedStep(models.Model):
    """One step of a piece as the accepted plan has it: when, by whom, at which place."""

    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="planned")
    # A route's step key, or `form` for setting up its form.
    step_key = models.CharField(max_length=34)
    name = models.CharField(max_length=50)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    people = models.JSONField(default=list)  # names, as they were then
    # Of work that takes more than a shift, each part after the first: [start, names].
    parts = models.JSONField(default=list)
    place = models.CharField(max_length=40, blank=True)  # the table it stands on, the booth ...
    pinned = models.BooleanField(default=False)
    pinned_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["starts_at", "piece"]
        constraints = [
            models.UniqueConstraint(fields=["piece", "step_key"], name="one_plan_a_step"),
        ]
        indexes = [models.Index(fields=["starts_at"])]

    def __str__(self) -> str:
        return f"{self.piece_id} {self.step_key}"


class JobPlanned(models.Model):
    """What the accepted plan says of a job's date. A cache, as `JobReadiness` is."""

    job = models.OneToOneField(Job, on_delete=models.CASCADE, related_name="planned")
    leaves_at = models.DateTimeField()  # the last piece, as planned
    early = models.DateTimeField(null=True, blank=True)
    likely = models.DateTimeField(null=True, blank=True)
    late = models.DateTimeField(null=True, blank=True)  # None: beyond what is planned ahead
    chance = models.FloatField(null=True, blank=True)  # of leaving by the promise, 0 to 1
    held_by = models.CharField(max_length=12, blank=True)  # a key of `planning.holding`
    held_words = models.CharField(max_length=200, blank=True)
    derived_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.job_id} {self.leaves_at:%Y-%m-%d %H:%M}"
