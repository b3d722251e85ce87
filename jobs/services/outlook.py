"""What is known of each piece and job: plain objects that the doors draw and the cache stores."""

from __future__ import annotations

import dataclasses
import datetime as dt
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Any

from curing.timeline import CRITERIA
from jobs.models import PromiseState
from shop.models import JudgedOn, StepKind

# The engine's criteria, and one that only the calendar of sites knows.
WORDS = {**CRITERIA, "install date": "the install date"}
TRUSTED = "trusted age"
# What decides whether a promise holds, as `jobs.services.verdict` finds it.
CONCRETE, PLAN = "concrete", "plan"
# Of such jobs that are ready by the time that a promise is judged on.
JUDGED_SHARE: dict[str, float] = {JudgedOn.LATE: 0.9, JudgedOn.LIKELY: 0.5}


@dataclass(frozen=True)
class WaitOutlook:
    criterion: str
    until: dt.datetime
    needed: float | None
    unit: str
    demolds: int = 0  # of this shop, on which a trusted age rests

    @property
    def words(self) -> str:
        return WORDS.get(self.criterion, self.criterion)


@dataclass(frozen=True)
class StepOutlook:
    key: str
    name: str
    kind: str
    earliest: dt.datetime | None  # None: not within the time that is looked ahead
    workable: dt.datetime | None
    finish: dt.datetime | None
    governs: str
    held_by: str  # what moved workable past earliest: crew hours, sealing air, or nothing
    waits: tuple[WaitOutlook, ...]
    note: str
    people: int
    labour_hours: float
    wets: bool
    done_at: dt.datetime | None = None
    done_by: str = ""
    mark_id: int | None = None
    marked_early: bool = False
    outcome: str = ""  # of a demold, where the crew said how it came out

    # Workable by then in 10, 50 and 90 of 100 draws of what is not known; None once it is done.
    early: dt.datetime | None = None
    likely: dt.datetime | None = None
    late: dt.datetime | None = None  # None, too, where it is not within what is looked ahead

    @property
    def done(self) -> bool:
        return self.done_at is not None

    @property
    def governs_words(self) -> str:
        return WORDS.get(self.governs, self.governs)

    @property
    def held_by_words(self) -> str:
        return WORDS.get(self.held_by, self.held_by)


@dataclass(frozen=True)
class Tone:
    """How far the concrete is, from 0 (wet) to 1 (dry, cured), at one moment."""

    at: dt.datetime
    level: float


@dataclass(frozen=True)
class WayOutlook:
    """One way of lifting or carrying, by the piece's section: when the concrete has it."""

    name: str  # as `curing.handling` has it
    mpa: float  # compressive strength asked for
    at: dt.datetime | None  # None: not within sight
    bars: bool = False  # with its strongbacks on


@dataclass(frozen=True)
class PieceOutlook:
    piece_id: int
    code: str
    name: str
    job_number: str
    room_id: int
    room: str
    mix: str
    sealer: str
    area_m2: float
    weight_kg: float
    batch_id: int | None
    cast_at: dt.datetime | None  # water-in, as marked
    cast_planned: dt.datetime | None
    cast_assumed: dt.datetime | None  # what the dates below rest on while it is not cast
    steps: tuple[StepOutlook, ...]
    ready_at: dt.datetime | None  # may leave the shop
    latest_cast: dt.datetime | None  # while not cast: the last casting time that keeps the promise
    on_hold: str  # why, or empty
    equivalent_age: float | None  # hours, when this was derived
    strength_mpa: float | None
    placeholder: bool  # rests on a curve that is not this shop's concrete
    measured_until: dt.datetime | None
    air_stale: bool  # the room's readings have stopped
    air_gap_hours: float  # bridged by the expected curve since casting
    measured_share: float  # of the hours from casting to ready
    tones: tuple[Tone, ...]
    weight: int = 1
    handle_at: dt.datetime | None = None
    light_use_at: dt.datetime | None = None
    full_use_at: dt.datetime | None = None
    ways: tuple[WayOutlook, ...] = ()  # none where no section is known

    ready_early: dt.datetime | None = None  # 10 % of the draws
    ready_late: dt.datetime | None = None  # 90 %
    chance: float | None = None  # of being ready by the job's promise, 0 to 1
    # The dates after the last coat, that coat being late; None where no range is known.
    handle_late: dt.datetime | None = None
    light_use_late: dt.datetime | None = None
    full_use_late: dt.datetime | None = None

    @cached_property
    def next_step(self) -> StepOutlook | None:
        return next((step for step in self.steps if not step.done), None)

    @property
    def finished(self) -> bool:
        return self.next_step is None

    @cached_property
    def left_shop(self) -> bool:
        return any(s.done for s in self.steps if s.kind in {StepKind.DELIVER, StepKind.INSTALL})

    @cached_property
    def governing_step(self) -> StepOutlook | None:
        """The first step still waiting for something of its own, not just for the one before."""
        open_steps = [step for step in self.steps if not step.done]
        own = (s for s in open_steps if s.governs not in {"previous step", "cast"})
        return next(own, open_steps[0] if open_steps else None)


@dataclass(frozen=True)
class DayChance:
    """Of all pieces being ready in time on a day that is promised or told."""

    on: dt.date
    chance: float


@dataclass(frozen=True)
class JobOutlook:
    job_id: int
    number: str
    title: str
    state: str  # PromiseState, by the worse of concrete and plan
    spare_hours: float | None  # until the promise; negative when short
    promised_at: dt.datetime | None
    promised_on: dt.date | None
    ready_at: dt.datetime | None
    holding_on: dt.date | None  # the day that can be told: the promised one, or the first after it
    slowest: str  # code of the piece that sets ready_at
    governs: str  # criterion key of what the slowest piece waits for
    reason: str  # one sentence
    latest_cast: dt.datetime | None
    pieces: tuple[PieceOutlook, ...]
    install_at: dt.datetime | None
    install_too_early: bool  # set before the pieces can be ready
    told_on: dt.date | None
    derived_at: dt.datetime
    ready_early: dt.datetime | None = None
    ready_late: dt.datetime | None = None
    chance: float | None = None  # of the promise being kept, by concrete and plan, 0 to 1
    judged_on: str = JudgedOn.LIKELY  # which of the times decides whether the promise holds
    # The days on which the chance grows, from the first on which any draw is ready.
    days: tuple[DayChance, ...] = ()
    # By the accepted plan, with its tables, people and truck: when the last piece leaves.
    planned_at: dt.datetime | None = None
    planned_late: dt.datetime | None = None
    planned_chance: float | None = None  # of leaving by the promise, 0 to 1
    planned_held: str = ""  # what holds it, in words
    decided_by: str = CONCRETE  # or PLAN: what state, spare hours and the day that holds go by

    def chance_on(self, day: dt.date | None) -> float | None:
        """Of being ready in time on a day; None where nothing was drawn. Where the plan decides,
        what it says of the promise and of the day that holds is known, and of no other day."""
        if day is None or not self.days:
            return None
        own = max((entry.chance for entry in self.days if entry.on <= day), default=0.0)
        if not self.plan_decides:
            return own
        if day == self.promised_on and self.planned_chance is not None:
            return min(own, self.planned_chance)
        if self.holding_on is not None and day >= self.holding_on:
            return min(own, JUDGED_SHARE[self.judged_on])
        return None

    def kept_by(self, share: float) -> dt.date | None:
        """The first day on which so many of the draws are ready; None: not within sight."""
        return next((entry.on for entry in self.days if entry.chance >= share), None)

    @property
    def judged_late(self) -> bool:
        return self.judged_on == JudgedOn.LATE

    @property
    def ranges(self) -> bool:
        """Whether there is more than one time at which the job may be ready."""
        return self.ready_late != self.ready_early

    @property
    def install_doubtful(self) -> bool:
        """Set after the likely time, but before the one that is judged on."""
        if self.install_at is None or self.ready_at is None:
            return False
        return self.install_too_early and self.install_at >= self.ready_at

    @property
    def state_words(self) -> str:
        return str(PromiseState(self.state).label)

    @property
    def judged_at(self) -> dt.datetime | None:
        """The time of the concrete's that the promise is held against."""
        return self.ready_late if self.judged_on == JudgedOn.LATE else self.ready_at

    @property
    def plan_decides(self) -> bool:
        """Tables, people and truck take longer than the concrete."""
        return self.decided_by == PLAN

    @property
    def concrete_alone(self) -> bool:
        """No plan has this job, so nothing is said of tables, people and truck."""
        return bool(self.pieces) and self.planned_at is None and self.state != PromiseState.KEPT

    @property
    def governs_words(self) -> str:
        return WORDS.get(self.governs, self.governs)

    @property
    def area_m2(self) -> float:
        return sum(piece.area_m2 for piece in self.pieces)

    @property
    def weight_kg(self) -> float:
        return sum(piece.weight_kg for piece in self.pieces)

    @property
    def told_differs(self) -> bool:
        """The customer was told a day that is not the one that now holds."""
        return bool(self.told_on and self.holding_on and self.told_on != self.holding_on)

    @property
    def told_days_off(self) -> int:
        if not (self.told_on and self.holding_on):
            return 0
        return (self.holding_on - self.told_on).days


def as_json(outlook: JobOutlook) -> dict[str, Any]:
    plain: dict[str, Any] = _plain(outlook)
    return plain


def from_json(data: dict[str, Any]) -> JobOutlook:
    return JobOutlook(
        **_moments(data, "pieces", "days")
        | {"pieces": tuple(_piece(piece) for piece in data["pieces"])}
        | {"days": tuple(_day_chance(entry) for entry in data.get("days", ()))}
        | {key: _date(data[key]) for key in ("promised_on", "holding_on", "told_on")}
    )


def _day_chance(data: dict[str, Any]) -> DayChance:
    return DayChance(dt.date.fromisoformat(data["on"]), data["chance"])


def _piece(data: dict[str, Any]) -> PieceOutlook:
    return PieceOutlook(
        **_moments(data, "steps", "tones", "ways")
        | {"steps": tuple(_step(step) for step in data["steps"])}
        | {"tones": tuple(Tone(**_moments(tone)) for tone in data["tones"])}
        | {"ways": tuple(WayOutlook(**_moments(way)) for way in data.get("ways", ()))}
    )


def _step(data: dict[str, Any]) -> StepOutlook:
    waits = tuple(WaitOutlook(**_moments(wait)) for wait in data["waits"])
    return StepOutlook(**_moments(data, "waits") | {"waits": waits})


MOMENTS = {
    "at", "until", "earliest", "workable", "finish", "done_at", "cast_at", "cast_planned",
    "cast_assumed", "ready_at", "latest_cast", "measured_until", "handle_at", "light_use_at",
    "full_use_at", "promised_at", "install_at", "derived_at", "early", "likely", "late",
    "ready_early", "ready_late", "handle_late", "light_use_late", "full_use_late",
    "planned_at", "planned_late",
}  # fmt: skip


def _moments(data: dict[str, Any], *left_out: str) -> dict[str, Any]:
    return {
        key: dt.datetime.fromisoformat(value) if key in MOMENTS and value else value
        for key, value in data.items()
        if key not in left_out
    }


def _date(value: str | None) -> dt.date | None:
    return dt.date.fromisoformat(value) if value else None


def _plain(value: Any) -> Any:
    """As `dataclasses.asdict`, which copies each number and moment before it is looked at."""
    if value is None or isinstance(value, (str, float, int)):
        return value
    if isinstance(value, dt.date):  # a moment, too
        return value.isoformat()
    if isinstance(value, (list, tuple)):
        return [_plain(part) for part in value]
    if isinstance(value, dict):
        return {key: _plain(part) for key, part in value.items()}
    return {name: _plain(getattr(value, name)) for name in _fields_of(value.__class__)}


@cache
def _fields_of(kind: type[Any]) -> tuple[str, ...]:
    return tuple(field.name for field in dataclasses.fields(kind))
