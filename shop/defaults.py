"""What a shop starts from until it has entered its own: ordinary figures of the trade.

Basis: common practice. The shop's own tests, the product's data sheet and local rules come first;
every figure is changed on the set-up screens.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from curing.mixture import WATER_DENSITY
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

# A recipe to start from. Common practice, no source, but for pigment: at most 10 % of cement
# (ASTM C979). Sand as much as cement and pozzolan, pozzolan 15 % of both, free water 0.34 of both,
# polymer solids 5 % of cement. Densities are the usual materials', from memory: data sheets first.
RECIPE_FIBRE: dict[str, float] = {"face": 0.0, "backer": 0.025, "rib": 0.035}
RECIPE_NOTE = "usual figures to start from: common practice, not this shop's own"
_PARTS: tuple[dict[str, Any], ...] = (
    {"name": "Water", "role": "water", "amount": 0.34, "by": "water-of-cementitious",
     "density": WATER_DENSITY},
    {"name": "Acrylic polymer", "role": "polymer", "amount": 0.05, "by": "solids-of-cement",
     "density": 1.06 * WATER_DENSITY, "solids": 0.50},
    {"name": "Plasticizer", "role": "admixture", "amount": 0.005, "by": "cement",
     "density": 1.08 * WATER_DENSITY, "solids": 0.40},
    {"name": "Silica sand", "role": "sand", "amount": 100.0, "by": "parts",
     "density": 2.65 * WATER_DENSITY, "absorption": 0.005},
    {"name": "White cement", "role": "cement", "amount": 85.0, "by": "parts",
     "density": 3.15 * WATER_DENSITY},
    {"name": "Metakaolin", "role": "pozzolan", "amount": 15.0, "by": "parts",
     "density": 2.6 * WATER_DENSITY},
    {"name": "AR glass fibre", "role": "fibre", "amount": 0.025, "by": "total",
     "density": 2.68 * WATER_DENSITY},
)  # fmt: skip


def usual_recipe(pigment: float = 0.0, colour: str = "Iron oxide") -> tuple[dict[str, Any], ...]:
    """Its parts in the order of adding, as `RecipePart` keeps them. pigment : of cement"""
    if not pigment:
        return _PARTS
    shade = {"name": colour, "role": "pigment", "amount": pigment, "by": "cement",
             "density": 4.9 * WATER_DENSITY}  # fmt: skip
    dry = next(place for place, part in enumerate(_PARTS) if part["role"] == "sand")
    return (*_PARTS[:dry], shade, *_PARTS[dry:])


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

# Casting tables of a new shop: 5 x 10 ft and 4 x 8 ft.
TABLES: tuple[dict[str, Any], ...] = (
    {"name": "Table 1", "length_m": 3.048, "width_m": 1.524},
    {"name": "Table 2", "length_m": 2.4384, "width_m": 1.2192},
)

# What customers are told while the shop has no words of its own. Common practice, no source.
ABOUT_WORDS = """\
Your piece is concrete with glass fibre in it, cast here in a form made for it. It is not solid \
all the way through. The face that you see and touch is cast first; behind it comes a body full \
of short glass fibres, and along the edges and underneath run ribs of the same concrete. So it \
is as thick as it looks only at its edge, and hollow behind. That keeps it light enough to carry \
in, and easy on your cabinets; the fibres and ribs give it its strength where the load is.
The underside is rough and shows the ribs. It is meant to be so.
Every casting comes out a little different. Small pinholes, soft clouds of lighter and darker \
colour and faint marks of the form belong to it."""

AGEING_WORDS = """\
In the first weeks it goes a little paler as it dries. Over the years it takes on a soft sheen \
where hands and cloths go.
The sealer slows stains down; it does not rule them out. Oil, wine, coffee or lemon left lying \
can leave a mark for good.
Cracks as fine as a hair can come as concrete dries or a house moves. Most stay as they are. If \
one opens, grows, or catches a fingernail, call us.
Strong sun can change some colours. The sealer wears with use, first around the sink and where \
you work most."""

CARE_WORDS = """\
Wipe spills up soon. Let no water stand, around the faucet, under a flower pot or a wet cloth.
Keep acid off: lemon, vinegar, wine, tomato, descaler, drain and toilet cleaner. If some gets on \
it, rinse at once with plenty of water.
Cut on a board. A knife goes through the sealer.
Put a trivet under pots, pans and whatever comes hot. Heat can whiten the sealer and crack \
concrete.
Clean with mild soap, lukewarm water and a soft cloth, and wipe dry. No scouring powder, rough \
pad, bleach or ammonia.
Don't stand or sit on it, and don't lean on the narrow strips beside a sink.
Lift what is heavy; don't push it across.
Go easy on it until the day we gave you, when its sealer has cured.
Reseal when the sealer's data sheet says so, and sooner where water darkens the surface. We can \
tell you which sealer it is and send you its sheet."""

SITE_READY_WORDS = """\
Cabinets are set, fastened, and level within 1/8 in (3 mm) over the whole run.
Brackets and supports are in place as drawn. Overhangs and anything that hangs on a wall have \
been looked at by somebody licensed to.
Sink, faucet and cooktop are on site, with their data sheets.
Water is off, and old tops, sinks and fixtures are out.
The way in is clear, dry and lit, from the truck to the room; doors that are too narrow are off.
There is power on a circuit with ground-fault protection, and water nearby.
Floors and finished walls are covered, and no other trade works in the room that day.
Somebody who may decide is there when we arrive, and again when we leave."""
