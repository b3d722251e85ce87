"""Flags: raised when a promise stops holding, cleared when it holds; one warning a change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.conf import settings

from jobs.models import Flag, PromiseState
from jobs.services.facts import Facts
from jobs.services.mail import queue_mail
from jobs.services.outlook import JobOutlook
from jobs.services.reasons import chance_words, clock, ready_words
from shop.measures import hours_words
from shop.models import Person
from shop.services.changed import nudge_after_commit

FLAGGED = {PromiseState.TIGHT, PromiseState.SHORT}
# A promise must hold by this much before its flag goes down, or a room that sways about one
# temperature would send the owner a mail every few minutes.
SWAY_HOURS = 0.5


@dataclass(frozen=True)
class Turn:
    """A job whose flag changed in this run."""

    outlook: JobOutlook
    before: str
    state: str
    flag: Flag


def follow_flags(facts: Facts, outlooks: Sequence[JobOutlook]) -> bool:
    standing = {flag.job_id: flag for flag in Flag.objects.filter(cleared_at__isnull=True)}
    turns = []
    for outlook in outlooks:
        turn = _follow(facts, outlook, standing.pop(outlook.job_id, None))
        if turn:
            turns.append(turn)
    for flag in standing.values():
        _clear(facts, flag, "The job is no longer open.")
    if turns:
        _warn(facts, turns)
    return bool(turns or standing)


def _follow(facts: Facts, outlook: JobOutlook, flag: Flag | None) -> Turn | None:
    before = flag.state if flag else PromiseState.HOLDS
    state = _settled(facts, outlook, flag)
    if state == before:
        if flag:
            _refresh(flag, outlook)
        return None
    if flag:
        _clear(facts, flag, outlook.reason)
    raised = flag
    if state in FLAGGED:
        raised = Flag.objects.create(
            job_id=outlook.job_id,
            state=state,
            hours=abs(outlook.spare_hours or 0.0),
            reason=outlook.reason[:300],
            raised_at=facts.now,
        )
    if raised is None:
        return None
    return Turn(outlook=outlook, before=before, state=state, flag=raised)


def _settled(facts: Facts, outlook: JobOutlook, flag: Flag | None) -> str:
    """The state a flag follows: the job's own, unless it only just left the flagged one."""
    if outlook.state not in FLAGGED | {PromiseState.HOLDS}:
        return PromiseState.HOLDS
    spare = outlook.spare_hours or 0.0
    if flag and flag.state == PromiseState.SHORT and 0 <= spare < SWAY_HOURS:
        return flag.state
    margin = facts.shop.margin_hours
    if flag and outlook.state == PromiseState.HOLDS and spare < margin + SWAY_HOURS:
        return flag.state if flag.state == PromiseState.TIGHT else PromiseState.TIGHT
    return outlook.state


def _refresh(flag: Flag, outlook: JobOutlook) -> None:
    hours, reason = abs(outlook.spare_hours or 0.0), outlook.reason[:300]
    if abs(flag.hours - hours) > 0.01 or flag.reason != reason:
        flag.hours, flag.reason = hours, reason
        flag.save(update_fields=["hours", "reason"])


def _clear(facts: Facts, flag: Flag, reason: str) -> None:
    flag.cleared_at, flag.cleared_reason = facts.now, reason[:300]
    flag.save(update_fields=["cleared_at", "cleared_reason"])


def _warn(facts: Facts, turns: Sequence[Turn]) -> None:
    """One mail a run to each person who asked to be warned, with every promise that turned."""
    subject, body = warning(facts, turns)
    key = "-".join(sorted(f"{turn.flag.pk}{turn.state[0]}" for turn in turns))[:80]
    for person in Person.objects.filter(is_active=True, warned=True):
        queue_mail(
            to=person.email,
            subject=subject,
            body=body,
            once_key=f"turn:{person.pk}:{key}",
            now=facts.now,
        )
    nudge_after_commit("jobs.tasks.send_mail")


def warning(facts: Facts, turns: Sequence[Turn]) -> tuple[str, str]:
    ordered = sorted(turns, key=lambda turn: (_urgency(turn), turn.outlook.number))
    headline = _headline(ordered[0])
    more = f", and {len(ordered) - 1} more" if len(ordered) > 1 else ""
    paragraphs = [_paragraph(facts, turn) for turn in ordered]
    link = f"{settings.SITE_URL}/board/"
    closing = f"The week: {link}\n\nYou get this once for each change of a promise's state."
    return headline + more, "\n\n".join([*paragraphs, closing])


def _urgency(turn: Turn) -> int:
    return [PromiseState.SHORT, PromiseState.TIGHT, PromiseState.HOLDS].index(
        PromiseState(turn.state)
    )


def _headline(turn: Turn) -> str:
    number, hours = turn.outlook.number, hours_words(turn.outlook.spare_hours or 0.0)
    if turn.state == PromiseState.SHORT:
        return f"Job {number} is short by {hours}"
    if turn.state == PromiseState.TIGHT:
        return f"Job {number} is tight: {hours} to spare"
    return f"Job {number} holds again"


def _paragraph(facts: Facts, turn: Turn) -> str:
    outlook = turn.outlook
    judged = "late" if outlook.judged_late else "likely"
    chance = chance_words(outlook)
    return "\n".join(
        [
            f"{_headline(turn)} ({outlook.title}).",
            f"Promised: {clock(outlook.promised_at, facts)}. "
            f"Ready: {ready_words(outlook, facts)}. "
            f"{f'{chance}, judged on the {judged} time. '.capitalize() if chance else ''}"
            f"It was: {PromiseState(turn.before).label}.",
            outlook.reason,
        ]
    )
