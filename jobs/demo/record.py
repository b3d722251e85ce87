"""What the crew put on record of the last days' casts: runs, specimens, measurements, photos."""

from __future__ import annotations

import datetime as dt
import random
import uuid
from collections.abc import Sequence
from io import BytesIO

from PIL import Image, ImageDraw, ImageOps

from jobs.models import Batch, Mark, Measured, MixerRun, Piece, Specimen
from jobs.services.photos import add_photo
from jobs.services.run_record import air_offered
from jobs.services.shape import weight_kg
from jobs.services.specimens import proposed_labels
from shop.models import Person

MINUTE = dt.timedelta(minutes=1)
MEASURED_AFTER = ("hone", "seal-1", "seal-2", "crate")
SHOWN = ("212-A", "217-A")
# Somebody poured a little in: what it did to the ratio stands beside it on the page.
ADDED_KG, ADDED_WHY = 0.45, "half a jug of water: the mix would not wet out the fibre"


def put_on_record(now: dt.datetime, crew: Sequence[Person], seed: int) -> None:
    chance = random.Random(seed)  # noqa: S311  made-up measurements
    runs = list(
        MixerRun.objects.select_related("batch__room", "batch__mix").order_by("opened_at", "pk")
    )
    for run in runs:
        _record(run, now, chance)
    MixerRun.objects.bulk_update(
        runs,
        ["added_water_kg", "added_why", "mix_celsius", "air_celsius", "form_celsius", "humidity",
         "spread_m", "unit_weight", "covered_at", "recorded_by", "note"],
    )  # fmt: skip
    _specimens(runs, chance)
    _measure(now, crew, chance)
    _photos(crew)


def _record(run: MixerRun, now: dt.datetime, chance: random.Random) -> None:
    water_in = run.water_in_at or run.opened_at
    air = air_offered(run.batch.room, water_in)
    if air is not None:
        run.air_celsius, run.humidity = round(air.celsius, 1), air.humidity
        run.form_celsius = round(air.celsius - chance.uniform(0.5, 1.5), 1)
    run.mix_celsius = round(chance.uniform(20.0, 22.5), 1)
    run.spread_m = round(chance.uniform(0.15, 0.19), 3)
    run.unit_weight = round(run.batch.mix.density * chance.uniform(0.987, 1.008), 0)
    covered = water_in + chance.randrange(50, 80) * MINUTE
    run.covered_at = covered if covered < now else None
    run.recorded_by = run.opened_by
    if chance.random() < 0.15:
        run.added_water_kg, run.added_why = ADDED_KG, ADDED_WHY


def _specimens(runs: Sequence[MixerRun], chance: random.Random) -> None:
    """Three cubes of the last runs, of which one got lost."""
    rows = []
    for run in runs[-2:]:
        made_at = (run.water_in_at or run.opened_at) + 20 * MINUTE
        rows += [
            Specimen(run=run, label=label, made_by=run.opened_by, made_at=made_at)
            for label in proposed_labels(run, 3, ())
        ]
    if rows:
        rows[0].lost_because = "stuck in its mold and broke"
    Specimen.objects.bulk_create(rows)


def _measure(now: dt.datetime, crew: Sequence[Person], chance: random.Random) -> None:
    done = Mark.objects.filter(step_key__in=MEASURED_AFTER, kind=Mark.Kind.DONE)
    last = {mark.piece_id: mark for mark in done.filter(struck_by__isnull=True).order_by("pk")}
    pieces = Piece.objects.filter(pk__in=last).select_related("mix").order_by("code")
    Measured.objects.bulk_create(
        Measured(
            piece=piece,
            thickness_m=round(piece.thickness_m * chance.uniform(0.97, 1.06), 4),
            kg=round(weight_kg(piece) * chance.uniform(0.955, 1.01), 1),
            at=min(last[piece.pk].happened_at + 10 * MINUTE, now),
            by=chance.choice(list(crew)),
        )
        for piece in pieces
    )


def _photos(crew: Sequence[Person]) -> None:
    for code in SHOWN:
        mark = Mark.objects.filter(piece__code=code, step_key="cast").last()
        if mark is None or mark.batch_id is None:
            continue
        batch = Batch.objects.get(pk=mark.batch_id)
        add_photo(
            sent=_drawn(code, covered=False),
            by=crew[0],
            client_key=uuid.uuid5(uuid.NAMESPACE_OID, f"{code} batch"),
            batch_id=batch.pk,
            words=f"{code} in its form, before it was covered",
            now=mark.happened_at + 45 * MINUTE,
        )
        add_photo(
            sent=_drawn(code, covered=True),
            by=crew[-1],
            client_key=uuid.uuid5(uuid.NAMESPACE_OID, f"{code} piece"),
            piece_id=mark.piece_id,
            words="Covered with plastic for the night",
            now=mark.happened_at + 70 * MINUTE,
        )


def _drawn(code: str, *, covered: bool) -> bytes:
    """A form on its table from above: no photograph, and nobody should take it for one."""
    size = (800, 600)
    grain = ImageOps.colorize(Image.effect_noise(size, 40), "#8d8c86", "#b4b1a8").convert("RGB")
    picture = Image.new("RGB", size, "#c9ab7c")
    ImageDraw.Draw(picture).rectangle((70, 130, 730, 470), fill="#7c6544")
    form = Image.new("L", size, 0)
    ImageDraw.Draw(form).rectangle((90, 150, 710, 450), fill=255)
    picture.paste(grain, mask=form)
    draw = ImageDraw.Draw(picture)
    for x in (250, 400, 550):
        draw.rectangle((x, 150, x + 26, 450), fill="#9a978e")
    draw.rectangle((90, 150, 710, 178), fill="#9a978e")
    if covered:
        sheet = Image.new("RGB", size, "#e8eef2")
        picture = Image.blend(picture, sheet, 0.55)
        for x in range(60, 780, 90):
            ImageDraw.Draw(picture).line((x, 110, x + 60, 490), fill="#f6fafc", width=5)
    ImageDraw.Draw(picture).text((96, 500), f"{code}, drawn for the demo", fill="black")
    out = BytesIO()
    picture.save(out, "JPEG", quality=80)
    return out.getvalue()
