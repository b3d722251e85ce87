"""Where a mix's curve is asked beyond its tests, for the mix's page."""

from __future__ import annotations

import datetime as dt

from curing.limits import Note, strength_notes, together
from shop.models import Mix, Shop
from shop.services.calibration import gates_of_routes
from shop.services.materials import curve_of
from shop.services.reach import reach_of


def notes_of_mix(mix: Mix, *, now: dt.datetime, shop: Shop) -> tuple[Note, ...]:
    """Of the strengths that routes in use ask for."""
    reach, curve = reach_of(mix, now=now, shop=shop), curve_of(mix)
    return together(*(strength_notes(mpa, curve, reach) for mpa, _ in gates_of_routes()))
