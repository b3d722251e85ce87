"""Specimens cast from a run: labelled, broken later and then a strength test, or lost."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import islice
from string import ascii_uppercase

from django.db import transaction
from django.db.models import Prefetch, Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from jobs.models import Batch, Mark, MixerRun, Specimen
from jobs.services.errors import Refused
from shop.models import Person, Room, SpecimenKind, StrengthTest
from shop.services import strength_tests
from shop.services.strength_tests import Entry

AT_ONCE = 12
LONGEST_LABEL = 30
CLOCK_SKEW = dt.timedelta(minutes=5)
HOUR = dt.timedelta(hours=1)


@dataclass(frozen=True)
class Waiting:
    """A specimen that is not broken yet; water_in : age zero, None while nobody said when."""

    specimen: Specimen
    water_in: dt.datetime | None

    def age_hours(self, now: dt.datetime) -> float | None:
        return None if self.water_in is None else max((now - self.water_in) / HOUR, 0.0)


def proposed_labels(run: MixerRun, count: int, taken: Iterable[str]) -> list[str]:
    """C12-1A, C12-1B: cast 12, run 1. The next free ones: no two specimens of a shop share one."""
    have = set(taken)
    letters = [*ascii_uppercase, *(a + b for a in ascii_uppercase for b in ascii_uppercase)]
    free = (f"C{run.batch_id}-{run.number}{letter}" for letter in letters)
    return list(islice((label for label in free if label not in have), count))


@transaction.atomic
def make_specimens(
    *,
    run_id: int,
    kind: str,
    labels: Sequence[str],
    by: Person,
    made_at: dt.datetime | None = None,
    now: dt.datetime | None = None,
) -> list[Specimen]:
    """The same labels again give the same specimens: a button pressed twice makes them once.

    Raises
    ------
    Refused
        The run is struck; no labels, too many, one twice or already on another specimen.
    """
    now = now or timezone.now()
    run = MixerRun.objects.select_for_update().filter(pk=run_id).first()
    if run is None or run.struck_at:
        raise Refused(_("This run is struck or gone: nothing is cast from it any more."))
    wanted = [" ".join(label.split()) for label in labels if label.strip()]
    known = {row.label: row for row in run.specimens.all()}
    once = len(set(wanted)) == len(wanted)
    if wanted and once and all(label in known and known[label].kind == kind for label in wanted):
        return [known[label] for label in wanted]
    _refuse(wanted, kind, known)
    if made_at and made_at > now + CLOCK_SKEW:
        raise Refused(_("That time has not come yet."), field="made_at")
    return [
        Specimen.objects.create(run=run, kind=kind, label=label, made_by=by, made_at=made_at or now)
        for label in wanted
    ]


def _refuse(wanted: Sequence[str], kind: str, known: Iterable[str]) -> None:
    if kind not in SpecimenKind.values:
        raise Refused(_("A specimen is a cube, a cylinder or a coupon."), field="kind")
    if not 1 <= len(wanted) <= AT_ONCE:
        raise Refused(
            _("Give one label for each specimen, with commas between, %(most)s at the most.")
            % {"most": AT_ONCE},
            field="labels",
        )
    for label in wanted:
        if len(label) > LONGEST_LABEL:
            raise Refused(
                _("%(label)s is too long: %(most)s characters at the most.")
                % {"label": label, "most": LONGEST_LABEL},
                field="labels",
            )
        if wanted.count(label) > 1 or label in set(known):
            raise Refused(
                _("%(label)s would be on two specimens of this run. Give each its own label.")
                % {"label": label},
                field="labels",
            )


def standing_casts() -> Prefetch[str]:
    """Of batches: the cast marks that were not struck, earliest first, as `standing_casts`."""
    casts = Mark.objects.filter(kind=Mark.Kind.DONE, struck_by__isnull=True).order_by("happened_at")
    return Prefetch("marks", casts, to_attr="standing_casts")


def _with_causes() -> QuerySet[Specimen]:
    """What a specimen's age and mix need, in three queries however many there are."""
    batches = Batch.objects.select_related("mix", "room").prefetch_related(standing_casts())
    return Specimen.objects.select_related("run", "made_by", "test__by").prefetch_related(
        Prefetch("run__batch", batches)
    )


def water_in_of(run: MixerRun) -> dt.datetime | None:
    """As the run's record says; else the cast mark of its batch's pieces, the earliest.

    Needs the batch's `standing_casts`.
    """
    if run.water_in_at:
        return run.water_in_at
    casts: list[Mark] = run.batch.standing_casts  # type: ignore[attr-defined]
    return casts[0].happened_at if casts else None


def is_broken(specimen: Specimen) -> bool:
    """A test that was struck is no result: the specimen may be entered again."""
    return specimen.test is not None and specimen.test.struck_at is None


def waiting(mix_id: int | None = None) -> list[Waiting]:
    """Those that were neither broken nor lost, oldest first. Three queries."""
    rows = _with_causes().filter(
        Q(test__isnull=True) | Q(test__struck_at__isnull=False),
        lost_because="",
        run__struck_at__isnull=True,
    )
    if mix_id is not None:
        rows = rows.filter(run__batch__mix=mix_id)
    found = [Waiting(row, water_in_of(row.run)) for row in rows.order_by("made_at", "pk")]
    return sorted(found, key=lambda one: one.water_in or one.specimen.made_at)


def specimen_with_causes(specimen_id: int) -> Specimen | None:
    return _with_causes().filter(pk=specimen_id).first()


def break_specimen(
    *,
    specimen_id: int,
    strength_mpa: float,
    tested_at: dt.datetime,
    by: Person,
    client_key: uuid.UUID,
    celsius: float | None = None,
    room: Room | None = None,
    note: str = "",
    now: dt.datetime | None = None,
) -> StrengthTest:
    """A strength test of the mix, linked to its specimen; its age counts from water-in.

    It moves no date: the owner takes a fit, or leaves it.

    Raises
    ------
    Refused
        The specimen is lost or broken already, nobody said when its water went in, or what a
        strength test refuses.
    """
    now = now or timezone.now()
    with transaction.atomic():
        Specimen.objects.select_for_update(of=("self",)).get(pk=specimen_id)
        specimen = _with_causes().get(pk=specimen_id)
        if specimen.test is not None and specimen.test.client_key == client_key:
            return specimen.test
        water_in = _water_in_or_refuse(specimen, tested_at)
        entry = Entry(
            kind=specimen.kind,
            age_hours=(tested_at - water_in) / HOUR,
            tested_at=tested_at,
            strength_mpa=strength_mpa,
            celsius=celsius,
            room=room,
            note=f"{specimen.label}. {note}".strip(". ")[:200],
        )
        specimen.test = strength_tests.add_test(
            mix_id=specimen.run.batch.mix_id, entry=entry, by=by, client_key=client_key, now=now
        )
        specimen.save(update_fields=["test"])
    return specimen.test


def _water_in_or_refuse(specimen: Specimen, tested_at: dt.datetime) -> dt.datetime:
    if specimen.lost_because:
        raise Refused(_("%(label)s is written down as lost.") % {"label": specimen.label})
    if is_broken(specimen):
        raise Refused(
            _("%(label)s has its result already. If that is wrong, the owner strikes the test "
              "first.") % {"label": specimen.label}
        )  # fmt: skip
    water_in = water_in_of(specimen.run)
    if water_in is None:
        raise Refused(
            _("Nobody has said when water went into this run: write it in the run's record, or "
              "mark the cast.")
        )  # fmt: skip
    if tested_at <= water_in:
        raise Refused(_("It was broken before its water went in."), field="tested_at")
    return water_in


@transaction.atomic
def lose_specimen(*, specimen_id: int, because: str) -> Specimen:
    """Empty takes it back: it was found."""
    specimen = Specimen.objects.select_for_update(of=("self",)).get(pk=specimen_id)
    if specimen.test_id and because.strip():
        raise Refused(_("%(label)s was broken: it is not lost.") % {"label": specimen.label})
    specimen.lost_because = because.strip()[:200]
    specimen.save(update_fields=["lost_because"])
    return specimen
