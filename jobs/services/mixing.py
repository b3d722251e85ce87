"""A cast's runs of the mixer: what its pieces need, planned into runs, opened, struck.

A run is planned anew each time it is looked at until it is opened. Opening freezes its parts, its
recipe's version and its weigh sheet; see `weigh_sheets`. A run is struck with a reason, never
deleted, and what it gave is planned again.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django.db import transaction
from django.db.models import Prefetch, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from curing.mix_checks import LAYERS, Layer
from curing.mixture import GRAINS
from curing.moist_sand import TooWet
from curing.runs import Mixer, Part, Run
from jobs.models import Batch, MixerRun, Piece, Weighed
from jobs.services import run_words
from jobs.services.errors import Conflict, Refused
from jobs.services.locking import lock_batches
from jobs.services.pours import Needs, needs_of, pours_of
from jobs.services.run_cover import Cover, cover, needed
from jobs.services.weigh_sheets import Frozen, ShownLine, freeze, layer_words, lines_of
from shop.limit_words import LimitNote
from shop.localtime import settle
from shop.models import Person, Recipe, Shop
from shop.services.recipes import current_recipes
from shop.services.settings import the_shop
from shop.templatetags.measures import clock

__all__ = [
    "AlreadyOpen",
    "Amount",
    "CastRuns",
    "Planned",
    "cast_runs",
    "casts_runs",
    "frozen_run",
    "moisture_of_day",
    "open_run",
    "pours_of",
    "strike_run",
    "with_runs",
]

Moisture = Mapping[str, float]


class AlreadyOpen(Refused):
    def __init__(self, message: str, *, run: MixerRun) -> None:
        super().__init__(message)
        self.run = run


@dataclass(frozen=True)
class Amount:
    """What a cast needs of one layer: net_m3 in the forms; m3 [m³] and kg [kg] with waste."""

    layer: Layer
    net_m3: float
    m3: float
    kg: float

    @property
    def words(self) -> str:
        return layer_words(self.layer)

    @property
    def waste(self) -> float:
        return self.m3 / self.net_m3 - 1


@dataclass(frozen=True)
class Planned:
    """A run that is not opened yet. sheet : as it would be kept now, {} where it can't be written;
    trouble : why; seal : to be sent back on opening, so that nobody opens what they did not see"""

    number: int
    run: Run
    sheet: Frozen
    trouble: str
    seal: str


@dataclass(frozen=True)
class CastRuns:
    """batch : as `with_runs` loads it
    recipe : the version in use; None while its mix has none
    planned : runs to open, in the order of mixing; opened : those that stand; struck : those not
    apart : pieces to match these in colour that are in no cast, or another
    """

    batch: Batch
    shop: Shop
    pieces: tuple[Piece, ...]
    recipe: Recipe | None
    needs: Needs
    cover: Cover
    planned: tuple[Planned, ...]
    opened: tuple[MixerRun, ...]
    struck: tuple[MixerRun, ...]
    apart: tuple[str, ...] = ()

    @property
    def runs_needed(self) -> int:
        return len(self.opened) + len(self.planned)

    @property
    def fewest(self) -> int:
        return self.cover.plan.fewest

    @cached_property
    def amounts(self) -> tuple[Amount, ...]:
        found = []
        for layer in LAYERS:
            these = [p for p in self.needs.pours if p.layer == layer]
            if these:
                net = sum(p.volume_m3 for p in these)
                whole = [p.volume_m3 * (1 + p.waste) for p in these]
                kg = sum(m3 * p.density for m3, p in zip(whole, these, strict=True))
                found.append(Amount(layer, net, sum(whole), kg))
        return tuple(found)

    @property
    def kg(self) -> float:
        return sum(amount.kg for amount in self.amounts)

    @property
    def m3(self) -> float:
        return sum(amount.m3 for amount in self.amounts)

    @cached_property
    def notes(self) -> tuple[LimitNote, ...]:
        found = [run_words.faulty_note(code, why) for code, why in self.needs.faulty.items()]
        found += [run_words.gap_note(gap, self.shop) for gap in self.cover.gaps]
        found += run_words.opened_notes(self.opened, self.recipe, self.batch.mix_id)
        found += [run_words.plan_note(note, self.shop) for note in self.cover.plan.notes]
        if self.apart:
            found.append(run_words.apart_note(self.apart))
        return tuple(found)

    @property
    def together(self) -> str:
        """Whether what must match stays so: 'one run', 'by layer', 'by area' or 'apart'."""
        keys = {note.key for note in self.cover.plan.notes}
        if self.apart:
            return "apart"
        if keys & {"split-by-area", "piece-over-mixer"}:
            return "by area"
        return "by layer" if "split-by-layer" in keys else "one run"

    @property
    def grains(self) -> list[str]:
        """Sands and aggregates whose moisture is asked for."""
        parts = self.recipe.parts.all() if self.recipe else ()
        return [part.name for part in parts if part.role in GRAINS]

    def shown(self, planned: Planned) -> list[ShownLine]:
        return lines_of(planned.sheet, self.shop)


def with_runs(batches: QuerySet[Batch]) -> QuerySet[Batch]:
    """All that `casts_runs` reads of batches, in a fixed number of queries."""
    weighed = Weighed.objects.select_related("by").order_by("pk")
    runs = MixerRun.objects.select_related("recipe__mix", "opened_by", "struck_by").order_by(
        "number"
    )
    pieces = Piece.objects.select_related("job", "mix").order_by("code")
    return batches.select_related("mix", "room").prefetch_related(
        Prefetch("pieces", pieces.prefetch_related("marks")),
        Prefetch("runs", runs.prefetch_related(Prefetch("weighed", weighed))),
    )


def cast_runs(batch: Batch, moisture: Moisture | None = None) -> CastRuns:
    """One cast's. moisture : of sands by name, of dry weight; None is what was typed today."""
    loaded = with_runs(Batch.objects.filter(pk=batch.pk)).get()
    return casts_runs([loaded], moisture)[0]


def casts_runs(batches: Sequence[Batch], moisture: Moisture | None = None) -> list[CastRuns]:
    """Of batches that `with_runs` has loaded; queries do not grow with them."""
    shop = the_shop()
    wet = moisture_of_day(timezone.now(), shop) if moisture is None else moisture
    recipes = current_recipes({batch.mix for batch in batches})
    apart = _apart(batches)
    return [
        _runs_of(batch, shop, recipes.get(batch.mix_id), wet, apart.get(batch.pk, ()))
        for batch in batches
    ]


def moisture_of_day(now: dt.datetime, shop: Shop) -> dict[str, float]:
    """What was typed for runs opened today, by the sand's name: the last of each."""
    day = now.astimezone(shop.zone).date()
    since = settle(dt.datetime.combine(day, dt.time()), shop.zone)
    sheets = MixerRun.objects.filter(opened_at__gte=since, opened_at__lte=now)
    found: dict[str, float] = {}
    for sheet in sheets.order_by("opened_at", "pk").values_list("sheet", flat=True):
        found |= sheet.get("moisture", {})
    return found


@transaction.atomic
def open_run(
    *,
    batch_id: int,
    number: int,
    moisture: Moisture | None,
    by: Person,
    client_key: uuid.UUID | None = None,
    seal: str = "",
    now: dt.datetime | None = None,
) -> MixerRun:
    """Freeze a planned run. moisture, seal : as in `cast_runs` and `Planned`

    The same client key again gives the run it opened.

    Raises
    ------
    AlreadyOpen
        Somebody opened it; it is in `run`.
    Conflict
        The run is not what the seal stands for any more.
    Refused
        No such run, no recipe, or a sheet that cannot be written.
    """
    now = now or timezone.now()
    lock_batches([batch_id])
    batch = with_runs(Batch.objects.filter(pk=batch_id)).first()
    if batch is None:
        raise Refused(_("This cast was called off meanwhile. Look at the list again."))
    if known := _known(batch, number, client_key):
        return known
    shop = the_shop()
    wet = moisture_of_day(now, shop) if moisture is None else moisture
    recipe = current_recipes([batch.mix]).get(batch.mix_id)
    runs = _runs_of(batch, shop, recipe, wet, ())
    if recipe is None:
        raise Refused(
            _("%(mix)s has no recipe yet, so nothing can be weighed. Write its recipe first.")
            % {"mix": batch.mix.name}
        )
    planned = next((one for one in runs.planned if one.number == number), None)
    if planned is None:
        raise Refused(_("There is no run %(number)d to open in this cast any more.")
                      % {"number": number})  # fmt: skip
    if seal and seal != planned.seal:
        raise Conflict(
            _("The pieces of this cast, its recipe or the mixer changed while you looked: run "
              "%(number)d is another one now. Look at it again.") % {"number": number},
            version=batch.version,
            theirs={},
        )  # fmt: skip
    if planned.trouble:
        raise Refused(planned.trouble, field="moisture")
    run = frozen_run(runs, planned, by=by, at=now, client_key=client_key)
    run.save()
    return run


def frozen_run(
    runs: CastRuns,
    planned: Planned,
    *,
    by: Person,
    at: dt.datetime,
    client_key: uuid.UUID | None = None,
) -> MixerRun:
    """The row that opening makes, not saved yet, without the rules that `open_run` keeps."""
    assert runs.recipe is not None
    needs = [[piece, layer, m3] for (piece, layer), m3 in needed(runs.needs.pours).items()]
    return MixerRun(
        batch=runs.batch,
        recipe=runs.recipe,
        number=planned.number,
        parts=[
            {"piece": part.piece, "layer": part.layer, "m3": part.m3, "kg": part.kg}
            for part in planned.run.parts
        ],
        sheet=planned.sheet | {"needed": needs, "client_key": str(client_key or "")},
        opened_at=at,
        opened_by=by,
    )


@transaction.atomic
def strike_run(
    *, run_id: int, because: str, by: Person, now: dt.datetime | None = None
) -> MixerRun:
    """What it gave is planned again. Raises Refused without a reason."""
    run = MixerRun.objects.select_for_update().filter(pk=run_id).first()
    if run is None:
        raise Refused(_("There is no such run."))
    if run.struck_at:
        return run
    if not because.strip():
        raise Refused(_("Write why this run is struck."), field="because")
    run.struck_at, run.struck_by = now or timezone.now(), by
    run.struck_because = because.strip()[:200]
    run.version += 1
    run.save(update_fields=["struck_at", "struck_by", "struck_because", "version"])
    return run


def _known(batch: Batch, number: int, client_key: uuid.UUID | None) -> MixerRun | None:
    for run in batch.runs.all():
        if client_key and run.sheet.get("client_key") == str(client_key):
            return run
    for run in batch.runs.all():
        if run.number == number and run.struck_at is None:
            raise AlreadyOpen(
                _("%(who)s opened run %(number)d at %(when)s. Its sheet is on the page.")
                % {"who": run.opened_by.name, "number": number, "when": clock(run.opened_at)},
                run=run,
            )
    return None


def _runs_of(
    batch: Batch, shop: Shop, recipe: Recipe | None, wet: Moisture, apart: Sequence[str]
) -> CastRuns:
    pieces = tuple(batch.pieces.all())
    every = tuple(batch.runs.all())
    opened = tuple(run for run in every if run.struck_at is None)
    counting = [run for run in opened if run.recipe.mix_id == batch.mix_id]
    needs = needs_of(pieces, shop)
    last = max(counting, key=lambda run: run.opened_at, default=None)
    found = cover(
        needs.pours,
        Mixer(kg=shop.mixer_kg),
        [[Part(**part) for part in run.parts] for run in counting],
        _needed_then(last),
    )
    planned = tuple(
        _planned(number, run, recipe, wet, shop)
        for number, run in _numbered(found, {run.number for run in every})
    )
    struck = tuple(run for run in every if run.struck_at is not None)
    return CastRuns(
        batch, shop, pieces, recipe, needs, found, planned, opened, struck, tuple(apart)
    )


def _needed_then(run: MixerRun | None) -> dict[tuple[str, Layer], float] | None:
    rows = run.sheet.get("needed", ()) if run else ()
    return {(piece, layer): m3 for piece, layer, m3 in rows} or None


def _numbered(found: Cover, taken: set[int]) -> list[tuple[int, Run]]:
    """A run has its place in the plan for its number, where no other has it; a struck one keeps
    its own."""
    places = {place + 1 for place, _run in found.to_open if place is not None} - taken
    ahead = max([*taken, *places, 0]) + 1
    numbered = []
    for place, run in found.to_open:
        if place is not None and place + 1 in places:
            numbered.append((place + 1, run))
        else:
            numbered.append((ahead, run))
            ahead += 1
    return numbered


def _planned(number: int, run: Run, recipe: Recipe | None, wet: Moisture, shop: Shop) -> Planned:
    sheet: Frozen = {}
    trouble = ""
    if recipe is not None:
        try:
            sheet = freeze(run=run, recipe=recipe, moisture=wet, shop=shop)
        except TooWet as error:
            trouble = run_words.too_wet(number, error, shop)
        except ValueError as error:
            trouble = _("The sheet of run %(number)d cannot be written: %(why)s.") % {
                "number": number,
                "why": str(error),
            }
    return Planned(number, run, sheet, trouble, _seal(run, recipe))


def _seal(run: Run, recipe: Recipe | None) -> str:
    parts: list[Any] = [[p.piece, p.layer, round(p.m3, 7), round(p.kg, 4)] for p in run.parts]
    whole = json.dumps([recipe.pk if recipe else None, parts])
    return hashlib.sha256(whole.encode()).hexdigest()[:16]


def _apart(batches: Iterable[Batch]) -> dict[int, list[str]]:
    """Pieces not in a cast that are to match its own, by batch: one query for all."""
    wanted: dict[tuple[int, int], set[int]] = {}
    for batch in batches:
        for piece in batch.pieces.all():
            if piece.matches_job:
                wanted.setdefault((piece.job_id, piece.mix_id), set()).add(batch.pk)
    if not wanted:
        return {}
    jobs = {job for job, _mix in wanted}
    rows = Piece.objects.filter(job__in=jobs, matches_job=True).order_by("code")
    found: dict[int, list[str]] = {}
    for code, job, mix, held in rows.values_list("code", "job_id", "mix_id", "batch_id"):
        for batch_id in wanted.get((job, mix), ()):
            if held != batch_id:
                found.setdefault(batch_id, []).append(code)
    return found
