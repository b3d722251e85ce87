"""A run on its way, in words: how good the best plan so far is, and whether it is proved."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from jobs.models import PlanRun, RunState
from jobs.services.plan_words import found_by, proof_words
from shop.measures import hours_words


@dataclass(frozen=True)
class Best:
    """The best plan so far."""

    headline: str
    told: str
    by: str
    proof: str
    planned: int


@dataclass(frozen=True)
class Progress:
    run: PlanRun
    open: bool
    seconds: int
    best: Best | None
    first_hours: str
    points: str  # hours late over the seconds, in a box of 200 by 40

    @property
    def tellable(self) -> bool:
        """Whether a page has something to say of it."""
        return (
            self.open
            or self.run.state in {RunState.FAILED, RunState.LOST}
            or bool(self.run.state == RunState.LEFT and self.run.trouble)
        )


def progress_of(run: PlanRun, now: dt.datetime) -> Progress:
    entries: list[dict[str, Any]] = run.progress
    began = run.started_at or run.asked_at
    until = run.ended_at or now
    return Progress(
        run=run,
        open=run.state in {RunState.ASKED, RunState.RUNNING},
        seconds=max(0, round((until - began).total_seconds())),
        best=best_of(entries[-1]) if entries else None,
        first_hours=hours_words(hours_late(entries[0])) if entries else "",
        points=curve(entries),
    )


def best_of(entry: dict[str, Any]) -> Best:
    told = ""
    if entry["moved"]:
        many = entry["moved"]
        told = f"{'One' if many == 1 else many} later than the customer was told."
    proof = proof_words(entry["proved"], entry["late"] + entry.get("installs", 0))
    return Best(headline_of(entry), told, found_by(entry["by"]), proof, entry["planned"])


def headline_of(entry: dict[str, Any]) -> str:
    said = []
    if entry["late"]:
        said.append(late_words("job", entry["late"], entry["late_hours"]))
    if installs := entry.get("installs", 0):
        said.append(late_words("agreed install", installs, entry["install_hours"]))
    return " ".join(said) or "No job is late."


def late_words(what: str, many: int, hours: float) -> str:
    if many == 1:
        return f"One {what} is late, by {hours_words(hours)}."
    return f"{many} {what}s are late, by {hours_words(hours)} in all."


def hours_late(entry: dict[str, Any]) -> float:
    """Of jobs and of installs; runs of before installs were told say nothing of them."""
    return float(entry["late_hours"] + entry.get("install_hours", 0.0))


def curve(entries: Sequence[dict[str, Any]]) -> str:
    """Steps down, from the first plan to the best so far."""
    if len(entries) < 2:
        return ""
    most = max(map(hours_late, entries)) or 1.0
    end = entries[-1]["seconds"] or 1.0
    points: list[str] = []
    for n, entry in enumerate(entries):
        x, y = 200 * entry["seconds"] / end, 38 - 36 * hours_late(entry) / most
        if n:
            points.append(f"{x:.1f},{38 - 36 * hours_late(entries[n - 1]) / most:.1f}")
        points.append(f"{x:.1f},{y:.1f}")
    return " ".join(points)
