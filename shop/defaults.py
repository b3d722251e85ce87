"""What a shop starts from until it has entered its own: ordinary figures of the trade.

Basis: common practice. The shop's own tests, the product's data sheet and local rules come first;
every figure is changed on the set-up screens.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from shop.models import StepKind

BASIS = (
    "Common practice, not this shop's tests. Your own cubes and coupons, the product's data sheet "
    "and local rules come first."
)

PSI = 0.006894757293168  # MPa
PER_SQUARE_FOOT = 10.763910416709722  # 1/m2 in 1/ft2

# A placeholder curve: no early strength curve of premix with polymer is published.
MIX: dict[str, Any] = {
    "name": "White premix",
    "colour": "white",
    "su_mpa": round(9000 * PSI, 4),
    "rate_per_hour": 0.0322,
    "setting_hours": 6.0,
    "activation_energy": 41500.0,
    "density": 2080.0,
    "placeholder": True,
    "notes": BASIS,
}

SEALERS: tuple[dict[str, Any], ...] = (
    {
        "name": "Waterborne acrylic",
        "coats": 2,
        "recoat_least_hours": 4.0,
        "recoat_greatest_hours": 24.0,
        "notes": BASIS,
    },
    {
        "name": "Two-part urethane",
        "coats": 3,
        "recoat_least_hours": 6.0,
        "recoat_greatest_hours": 24.0,
        "handle_hours": 36.0,
        "least_age_hours": 96.0,
        "humidity_greatest": 0.70,
        "two_part_urethane": True,
        "notes": BASIS,
    },
)


def _step(key: str, kind: StepKind, name: str, **waits_and_work: Any) -> dict[str, Any]:
    return {"key": key, "kind": kind, "name": name, **waits_and_work}


def _route(
    *, demold_psi: float, demold_age: float, demold_hours: float, coat_drying: float
) -> tuple[dict[str, Any], ...]:
    """Hours of work are those the clock runs while `people` do it together."""
    return (
        _step("cast", StepKind.CAST, "cast", labour_hours=0.5, labour_hours_m2=0.7, people=2),
        _step(
            "demold",
            StepKind.DEMOLD,
            "demold and flip",
            hours_after_cast=demold_hours,
            equivalent_hours=demold_age,
            strength_mpa=round(demold_psi * PSI, 4),
            by_section=True,
            labour_hours=0.75,
            people=2,
        ),
        _step(
            "grind",
            StepKind.GRIND,
            "grind",
            hours_after_cast=24.0,
            equivalent_hours=24.0,
            strength_mpa=round(3000 * PSI, 4),
            wets=True,
            labour_hours=0.25,
            labour_hours_m2=0.8,
        ),
        _step(
            "fill", StepKind.FILL, "slurry fill", wets=True, labour_hours=0.25, labour_hours_m2=0.4
        ),
        _step(
            "hone",
            StepKind.HONE,
            "last hone and wash",
            hours_after_previous=12.0,
            wets=True,
            labour_hours=0.25,
            labour_hours_m2=0.5,
        ),
        _step(
            "seal",
            StepKind.COAT,
            "seal coat",
            drying_hours=coat_drying,
            labour_hours=0.25,
            labour_hours_m2=0.3,
        ),
        _step(
            "crate",
            StepKind.CRATE,
            "check and crate",
            after_sealer_cure=True,
            by_section=True,
            labour_hours=0.5,
            people=2,
        ),
        _step(
            "deliver",
            StepKind.DELIVER,
            "deliver",
            equivalent_hours=120.0,
            strength_mpa=round(5000 * PSI, 4),
            by_section=True,
            labour_hours=1.0,
            people=2,
        ),
        _step(
            "install",
            StepKind.INSTALL,
            "install",
            labour_hours=1.0,
            labour_hours_m2=1.0,
            people=2,
        ),
    )


ROUTES: dict[str, tuple[dict[str, Any], ...]] = {
    "Counter, honed and sealed": _route(
        demold_psi=2500, demold_age=20.0, demold_hours=16.0, coat_drying=48.0
    ),
    "Sink or cutout, honed and sealed": _route(
        demold_psi=3000, demold_age=24.0, demold_hours=20.0, coat_drying=60.0
    ),
    "Small flat piece, honed and sealed": _route(
        demold_psi=1500, demold_age=16.0, demold_hours=12.0, coat_drying=36.0
    ),
}
ROUTE = "Counter, honed and sealed"

# Weekday (Monday is 0), from, to, people.
WORKING_WEEK: tuple[tuple[int, dt.time, dt.time, int], ...] = tuple(
    (weekday, start, end, people)
    for weekday in range(5)
    for start, end, people in (
        (dt.time(7, 0), dt.time(12, 0), 3),
        (dt.time(12, 30), dt.time(15, 30), 3),
    )
)

# Hour of the day and °C from then on: warm for the crew, set back for the night.
HEATING_WEEKDAY: tuple[tuple[int, float], ...] = ((5, 20.0), (18, 16.0))
HEATING_WEEKEND: tuple[tuple[int, float], ...] = ((0, 16.0),)
