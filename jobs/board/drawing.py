"""One job's line on the week: plain numbers and words, which the template turns into SVG.

Across, everything is in percent of the week; down, in pixels.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.utils import timezone

from jobs.board.labels import Label, Word, placed, screens_for
from jobs.board.tone import Band, bands, level_at
from jobs.board.week import Week
from jobs.board.words import clock_words, promise_words, step_words
from jobs.models import PromiseState
from jobs.services.outlook import JobOutlook, PieceOutlook, StepOutlook
from jobs.services.tone import colour
from shop.models import StepKind

FLAG_TOP, FLAG_HEIGHT = 2.0, 20.0
LINE_TOP, THICK, THIN = 30.0, 16.0, 5.0
LABELS_AT = 64.0
OTHERS_TOP, OTHERS_EVERY = 72.0, 12.0
SYMBOL, BOLD_LETTER = 19.0, 7.5
SOON = dt.timedelta(minutes=2)
# Past this the pennant flies to the left, so that its words stay inside a phone's width.
TURNS_AT = 56.0


@dataclass(frozen=True)
class StepMark:
    x: float
    symbol: str
    done: bool
    screens: str
    tip: str


@dataclass(frozen=True)
class PieceLine:
    piece: PieceOutlook
    top: float
    height: float
    bands: list[Band]
    x: float
    width: float
    cast: bool
    open_ended: bool
    marks: list[StepMark]
    name: str
    level_now: int | None  # percent from wet to dry

    @property
    def name_above(self) -> float:
        return self.top - 4

    @property
    def middle(self) -> float:
        return self.top + self.height / 2

    @property
    def ends(self) -> float:
        return self.x + self.width

    @property
    def name_down(self) -> float:
        return self.middle + 3.5

    @property
    def named_inside(self) -> bool:
        return self.ends > 92


@dataclass(frozen=True)
class Pennant:
    x: float
    state: str
    words: str
    turned: bool

    @property
    def length(self) -> float:
        return len(self.words) * BOLD_LETTER + 24

    @property
    def cloth(self) -> str:
        """Swallow-tailed, from the pole at 0 outwards."""
        way = -1 if self.turned else 1
        end, notch = way * self.length, way * (self.length - 7)
        top, bottom = FLAG_TOP, FLAG_TOP + FLAG_HEIGHT
        outline = ((0, top), (end, top), (notch, (top + bottom) / 2), (end, bottom), (0, bottom))
        return " ".join(f"{x:.1f},{y:.1f}" for x, y in outline)

    @property
    def text_at(self) -> float:
        return -7.0 if self.turned else 7.0

    @property
    def anchor(self) -> str:
        return "end" if self.turned else "start"


@dataclass(frozen=True)
class JobLine:
    outlook: JobOutlook
    height: float
    lines: list[PieceLine]
    labels: list[Label]
    pennant: Pennant | None
    ready: float | None
    late: float | None
    late_from: float | None  # of the line from the likely to the late time, as far as it is seen
    late_to: float | None
    install: float | None
    latest_cast: float | None
    spoken: str
    planned: float | None = None  # where the plan has it leave, if that decides


def job_line(outlook: JobOutlook, week: Week, now: dt.datetime) -> JobLine:
    pieces = slowest_first(outlook)
    lines = [
        piece_line(piece, week, outlook, now, place=place) for place, piece in enumerate(pieces)
    ]
    ready = _inside(outlook.ready_at, week)
    install = _inside(outlook.install_at, week)
    latest = _inside(outlook.latest_cast, week)
    late = late_line(outlook, week)
    return JobLine(
        outlook=outlook,
        height=OTHERS_TOP + OTHERS_EVERY * max(0, len(lines) - 1),
        lines=lines,
        labels=placed(list(_words(outlook, lines, week, now))),
        pennant=pennant(outlook, week),
        ready=ready if outlook.state != PromiseState.KEPT else None,
        late=late[0],
        late_from=late[1],
        late_to=late[2],
        install=install,
        latest_cast=latest,
        spoken=_spoken(outlook),
        planned=_inside(outlook.planned_at, week) if outlook.plan_decides else None,
    )


def late_line(outlook: JobOutlook, week: Week) -> tuple[float | None, float | None, float | None]:
    """The late time, and the line to it from the likely one, as far as the week shows them."""
    ready = outlook.ready_at
    if outlook.state == PromiseState.KEPT or ready is None or ready >= week.ends:
        return None, None, None
    ends = outlook.ready_late or week.ends
    if ends <= ready or ends < week.starts:
        return None, None, None
    return _inside(outlook.ready_late, week), week.clipped(ready), week.clipped(ends)


def slowest_first(outlook: JobOutlook) -> list[PieceOutlook]:
    return sorted(outlook.pieces, key=lambda piece: (piece.code != outlook.slowest, piece.code))


def piece_line(
    piece: PieceOutlook, week: Week, outlook: JobOutlook, now: dt.datetime, *, place: int
) -> PieceLine:
    thick = place == 0
    starts, ends = span_of(piece, week)
    top = LINE_TOP if thick else OTHERS_TOP + OTHERS_EVERY * (place - 1) + 3
    x = week.clipped(starts) if starts else 0.0
    return PieceLine(
        piece=piece,
        top=top,
        height=THICK if thick else THIN,
        bands=bands(piece.tones, week) if piece.cast_at else [],
        x=round(x, 3),
        width=round(max(0.0, week.clipped(ends) - x), 3) if starts and ends else 0.0,
        cast=piece.cast_at is not None,
        open_ended=starts is not None and piece.ready_at is None,
        marks=step_marks(piece, week, install_set=outlook.install_at is not None),
        name=piece.code.removeprefix(outlook.number).lstrip("-") if len(outlook.pieces) > 1 else "",
        level_now=_percent(level_at(piece.tones, now)) if piece.cast_at else None,
    )


def span_of(piece: PieceOutlook, week: Week) -> tuple[dt.datetime | None, dt.datetime | None]:
    """From casting to ready; a piece whose end nobody can see yet runs out of the week."""
    starts = piece.cast_at or piece.cast_assumed
    return starts, (piece.ready_at or max(week.ends, starts)) if starts else None


def shown_at(step: StepOutlook) -> dt.datetime | None:
    return step.done_at or step.workable


def drawn_steps(piece: PieceOutlook, *, install_set: bool) -> list[StepOutlook]:
    """Without the coming delivery, which is what `ready` marks, and the install that has a date."""
    left_out = {StepKind.DELIVER} | ({StepKind.INSTALL} if install_set else set())
    return [step for step in piece.steps if step.done or step.kind not in left_out]


def step_marks(piece: PieceOutlook, week: Week, *, install_set: bool) -> list[StepMark]:
    seen = [
        (step, at)
        for step in drawn_steps(piece, install_set=install_set)
        if (at := shown_at(step)) and week.holds(at)
    ]
    places = [week.place(at) for _, at in seen]
    return [
        StepMark(
            x=round(x, 3),
            symbol=step.kind,
            done=step.done,
            screens=screens,
            tip=f"{piece.code} {step.name}: {clock_words(at)}" + (", done" if step.done else ""),
        )
        for (step, at), x, screens in zip(seen, places, screens_for(places, SYMBOL), strict=True)
    ]


def pennant(outlook: JobOutlook, week: Week) -> Pennant | None:
    x = _inside(outlook.promised_at, week)
    if x is None:
        return None
    words = promise_words(outlook.state, outlook.spare_hours)
    return Pennant(x=x, state=outlook.state, words=words, turned=x > TURNS_AT)


def _words(
    outlook: JobOutlook, lines: Sequence[PieceLine], week: Week, now: dt.datetime
) -> Iterator[Word]:
    ready = _inside(outlook.ready_at, week)
    if ready is not None and outlook.state != PromiseState.KEPT:
        likely = "likely ready" if outlook.ranges else "ready"
        said = f"{likely} {_when(outlook.ready_at, now)}"
        yield Word(ready, (said, f"ready {_when(outlook.ready_at, now)}", "ready"), weight=9)
    late = late_line(outlook, week)[0]
    if late is not None:
        yield Word(late, (f"late {_clock(outlook.ready_late)}", "late"), weight=6)
    planned = _inside(outlook.planned_at, week) if outlook.plan_decides else None
    if planned is not None:
        yield Word(planned, (f"planned {_clock(outlook.planned_at)}", "planned"), weight=10)
    install = _inside(outlook.install_at, week)
    if install is not None:
        early = ("install before ready",) if outlook.install_too_early else ()
        at = f"install {_clock(outlook.install_at)}"
        yield Word(install, (*early, at, "install"), weight=8)
    latest = _inside(outlook.latest_cast, week)
    if latest is not None:
        yield Word(latest, (f"latest cast {_clock(outlook.latest_cast)}", "latest cast"), weight=7)
    if lines:
        install_set = outlook.install_at is not None
        steps = drawn_steps(lines[0].piece, install_set=install_set)
        yield from _step_words(lines[0].piece, steps, week, now)


def _step_words(
    piece: PieceOutlook, steps: Sequence[StepOutlook], week: Week, now: dt.datetime
) -> Iterator[Word]:
    for step in steps:
        at = shown_at(step)
        if at is None or not week.holds(at):
            continue
        short = step_words(step)
        texts = (short,) if step.done else (f"{short} {_when(at, now)}", short)
        if step.kind == StepKind.CAST and not step.done and not piece.cast_planned:
            texts = ("no cast set",)
        yield Word(round(week.place(at), 3), texts, weight=1 if step.done else 2)


def _spoken(outlook: JobOutlook) -> str:
    promise = promise_words(outlook.state, outlook.spare_hours)
    likely = "likely ready" if outlook.ranges else "ready"
    ready = f", {likely} {clock_words(outlook.ready_at)}" if outlook.ready_at else ""
    if ready and outlook.ranges and outlook.ready_late:
        ready += f", late {clock_words(outlook.ready_late)}"
    if outlook.plan_decides and outlook.planned_at:
        ready += f", leaves {clock_words(outlook.planned_at)} by the plan"
    return promise + ("" if outlook.state == PromiseState.KEPT else ready)


def _inside(moment: dt.datetime | None, week: Week) -> float | None:
    return round(week.place(moment), 3) if moment and week.holds(moment) else None


def _when(moment: dt.datetime | None, now: dt.datetime) -> str:
    """What may be done already waits at the present moment, whose clock time says nothing."""
    return "now" if moment and moment <= now + SOON else _clock(moment)


def _clock(moment: dt.datetime | None) -> str:
    return f"{timezone.localtime(moment):%H:%M}" if moment else ""


def _percent(level: float | None) -> int | None:
    return None if level is None else round(100 * level)


def touches(outlook: JobOutlook, week: Week) -> bool:
    """Whether anything of the job lies in this week."""
    moments = [outlook.promised_at, outlook.install_at, outlook.latest_cast]
    moments += [outlook.ready_at, outlook.ready_late]
    if outlook.plan_decides:
        moments.append(outlook.planned_at)
    if any(week.holds(moment) for moment in moments):
        return True
    spans = (span_of(piece, week) for piece in outlook.pieces)
    return any(
        starts and ends and starts < week.ends and ends >= week.starts for starts, ends in spans
    )


def swatches(count: int = 9) -> list[str]:
    """The tones from wet to dry, for the key under the drawing."""
    return [colour(number / (count - 1)) for number in range(count)]
