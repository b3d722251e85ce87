"""A QR code (ISO/IEC 18004) as one path, to be drawn inline and as large as there is room."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import segno
from django.conf import settings
from django.urls import reverse

QUIET = 4  # modules left white around it, ISO/IEC 18004
# A quarter of it may be lost to splashes and scratches and it still reads.
LEVEL = "q"


@dataclass(frozen=True)
class QrCode:
    """size : of the whole with its quiet zone, in modules; path : of the dark ones, to be filled"""

    address: str
    size: int
    path: str


def qr_of(address: str) -> QrCode:
    code = segno.make_qr(address, error=LEVEL, boost_error=False)
    rows = [[bool(module) for module in row] for row in code.matrix]
    path = "".join(
        f"M{x + QUIET} {y + QUIET}h{width}v1h-{width}z"
        for y, row in enumerate(rows)
        for x, width in _dark(row)
    )
    return QrCode(address, len(rows) + 2 * QUIET, path)


def _dark(row: Sequence[bool]) -> Iterator[tuple[int, int]]:
    """Where each run of dark modules begins, and how many they are."""
    start = None
    for place, dark in enumerate([*row, False]):
        if dark and start is None:
            start = place
        elif not dark and start is not None:
            yield start, place - start
            start = None


def floor_address(code: str) -> str:
    """Of a piece's page on the floor, as a phone opens it."""
    return settings.SITE_URL.rstrip("/") + reverse("piece", args=[code])
