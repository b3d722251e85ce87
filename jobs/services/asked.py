"""What somebody asks a day for: pieces that are no job's yet, and how they become a job's."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.db import transaction

from jobs.models import Job
from jobs.services.orders import save_job
from jobs.services.orders_at_once import Pieces
from shop.models import Mix, Room, Route, Sealer


@dataclass(frozen=True)
class Materials:
    """What is in use, by key: read once for all lines."""

    mixes: dict[int, Mix]
    routes: dict[int, Route]
    sealers: dict[int, Sealer]
    rooms: dict[int, Room]

    @property
    def missing(self) -> list[str]:
        """What the shop has none of yet, and no piece can do without."""
        kinds = {
            "a mix": self.mixes,
            "a route": self.routes,
            "a sealer": self.sealers,
            "a room to cast in": self.rooms,
        }
        return [words for words, rows in kinds.items() if not rows]


def materials() -> Materials:
    routes = Route.objects.filter(in_use=True).prefetch_related("steps")
    return Materials(
        mixes={row.pk: row for row in Mix.objects.filter(in_use=True)},
        routes={row.pk: row for row in routes},
        sealers={row.pk: row for row in Sealer.objects.filter(in_use=True)},
        rooms={row.pk: row for row in Room.objects.filter(in_use=True, is_booth=False)},
    )


@dataclass(frozen=True)
class AskedPiece:
    """So many alike."""

    name: str
    area_m2: float
    thickness_m: float
    count: int
    mix: Mix
    route: Route
    sealer: Sealer
    room: Room
    coat_m: float = 0.0
    sides_m: tuple[float, float] | None = None  # where length and width were typed


@dataclass(frozen=True)
class Asked:
    pieces: tuple[AskedPiece, ...]
    wish: dt.date | None = None
    matches: bool = True

    @property
    def count(self) -> int:
        return sum(piece.count for piece in self.pieces)

    @property
    def area_m2(self) -> float:
        return sum(piece.count * piece.area_m2 for piece in self.pieces)


def take_on(
    *,
    values: dict[str, Any],
    asked: Asked,
    new_customer: dict[str, Any] | None = None,
) -> Job:
    """The job with its pieces, lettered in the order they were asked for; all of it or nothing."""
    with transaction.atomic():
        job = save_job(values=values, new_customer=new_customer)
        pieces = Pieces([job.pk], [])
        letters = iter(LETTERS)
        for line in asked.pieces:
            for _ in range(line.count):
                pieces.add(job.pk, _values(line, next(letters), asked.matches))
        pieces.save()
    return job


ALPHABET = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
LETTERS = (*ALPHABET, *(first + second for first in ALPHABET for second in ALPHABET))


def _values(line: AskedPiece, letter: str, matches: bool) -> dict[str, Any]:
    return {
        "letter": letter,
        "name": line.name,
        "area_m2": line.area_m2,
        "thickness_m": line.thickness_m,
        "coat_m": min(line.coat_m, line.thickness_m),
        "mix": line.mix,
        "route": line.route,
        "sealer": line.sealer,
        "room": line.room,
        "matches_job": matches,
    }
