"""Where a law is used beyond what it was made from: said in plain words, beside the result.

A law refuses (`ValueError`) where it has no meaning. Between there and what its data show it still
gives a figure, which is an extrapolation; these functions say so. Each returns the notes that
apply, none when all is within. Keys are stable; `figures` holds the numbers of the text by the
names and units of the engine, for a reader who says them in other units or another language.

Notes are values and not Python warnings: a rebuild asks each law some thousand times, and a warning
in a server's log reaches nobody who could act on it.

References
----------
ASTM C1074, appendix X1, and CEB-FIP Model Code 1990, 2.1.6.4 (ranges from memory: check your
edition). ACI 306R for frost, from memory.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from curing.diffusivity import DRYING_RANGE
from curing.moisture import DRY_HUMIDITY, THICKNESS_RANGE
from curing.sealing import CoatLimits
from curing.strength import Curve

__all__ = [
    "Note",
    "Reach",
    "age_notes",
    "drying_notes",
    "maturity_notes",
    "sealing_notes",
    "strength_notes",
    "together",
]

# What the usual constants of the age law were fitted to, type I cement cured at 0 to 40 °C: ASTM
# C1074, appendix X1, from memory.
MATURITY_CELSIUS = (0.0, 40.0)
# The Model Code's own range for what goes on in time (creep, shrinkage, drying), from memory.
MODEL_CODE_CELSIUS = (5.0, 30.0)
MODEL_CODE_DRIEST = 0.40


@dataclass(frozen=True)
class Note:
    """What a reader should know of a figure.

    key : stable, for a screen or a translation; text : plain English, SI units
    basis : where the range comes from
    figures : the numbers of the text, such as celsius [°C], hours [h at the reference], mpa [MPa],
        humidity [0..1], thickness_m [m]
    """

    key: str
    text: str
    basis: str
    figures: Mapping[str, float] = field(default_factory=dict, hash=False)


@dataclass(frozen=True)
class Reach:
    """What a mix's strength tests reach: ages [h at the reference temperature], strength [MPa]."""

    youngest: float
    oldest: float
    strongest: float

    def __post_init__(self) -> None:
        if not 0 < self.youngest <= self.oldest < math.inf:
            raise ValueError("tested ages must be finite, above 0, the youngest first")
        if not 0 < self.strongest < math.inf:
            raise ValueError(f"the strongest test must be above 0 MPa, got {self.strongest}")

    @classmethod
    def of(cls, ages: ArrayLike, strengths: ArrayLike) -> Reach | None:
        """From (n,) equivalent ages [h] and (n,) strengths [MPa]; None when there are none.

        Raises
        ------
        ValueError
            Lengths that differ, or values that are not finite and above 0.
        """
        times, values = np.asarray(ages, dtype=float), np.asarray(strengths, dtype=float)
        if times.shape != values.shape or times.ndim != 1:
            raise ValueError("ages and strengths must be of one length")
        if not times.size:
            return None
        if not (np.isfinite(times + values).all() and (values > 0).all()):
            raise ValueError("ages and strengths must be finite and above 0")
        return cls(float(times.min()), float(times.max()), float(values.max()))


def maturity_notes(coldest: float, warmest: float) -> tuple[Note, ...]:
    """Keys 'cold' and 'hot': air during a stretch of curing outside what the age law was made for.

    Parameters
    ----------
    coldest, warmest : of the air from casting on [°C]

    Raises
    ------
    ValueError
        Not finite, or the coldest above the warmest.

    Reference: ASTM C1074, appendix X1: type I cement cured at 0 to 40 °C, from memory.
    """
    _in_order("coldest and warmest", coldest, warmest)
    low, high = MATURITY_CELSIUS
    notes = []
    if coldest < low:
        notes.append(
            Note(
                "cold",
                f"Air at {_plain(coldest)} °C is below the {low:g} °C from which the maturity law "
                "was fitted: the age counted there is an extrapolation. Water freezes; concrete "
                "that freezes before it has about 3.5 MPa (500 psi) may never recover.",
                "ASTM C1074, appendix X1, and ACI 306R, from memory",
                {"celsius": coldest, "celsius_least": low},
            )
        )
    if warmest > high:
        notes.append(
            Note(
                "hot",
                f"Air at {_plain(warmest)} °C is over the {high:g} °C up to which the maturity law "
                "was fitted: the age counted there is an extrapolation. Concrete that is hot early "
                "may end weaker than its age says.",
                "ASTM C1074, appendix X1 and its limitations, from memory",
                {"celsius": warmest, "celsius_greatest": high},
            )
        )
    return tuple(notes)


def age_notes(
    age_hours: float, tests: Reach | None, curve: Curve | None = None
) -> tuple[Note, ...]:
    """Keys 'untested', 'before-setting', 'younger-than-tests', 'older-than-tests'.

    Parameters
    ----------
    age_hours : equivalent age at which the curve is read [h], 0 or above; inf says nothing
    tests : what the mix's tests reach, None when there are none
    curve : if given, its setting time is looked at, too

    Raises
    ------
    ValueError
        An age below 0 or not a number.

    Reference: ASTM C1074: the strength-maturity relation holds over the ages it was tested at.
    """
    if not age_hours >= 0:
        raise ValueError(f"an age is 0 h or more, got {age_hours}")
    if curve is not None and float(curve.at(age_hours)) <= 0:
        return (
            Note(
                "before-setting",
                f"At {_plain(age_hours)} h the mix has not set by its curve: no strength can be "
                "read there.",
                "the mix's own curve",
                {"hours": age_hours},
            ),
        )
    basis = "ASTM C1074: a relation holds over the ages it was tested at"
    if tests is None:
        return (
            Note(
                "untested",
                "No strength test of this mix stands behind its curve.",
                "ASTM C1074: the relation is to be tested for each mix",
            ),
        )
    if age_hours < tests.youngest:
        return (
            Note(
                "younger-than-tests",
                f"At {_plain(age_hours)} h the mix is younger than its youngest test "
                f"({_plain(tests.youngest)} h): the curve is an extrapolation there.",
                basis,
                {"hours": age_hours, "hours_tested": tests.youngest},
            ),
        )
    if tests.oldest < age_hours < math.inf:
        return (
            Note(
                "older-than-tests",
                f"At {_plain(age_hours)} h the mix is older than its oldest test "
                f"({_plain(tests.oldest)} h): the curve is an extrapolation there.",
                basis,
                {"hours": age_hours, "hours_tested": tests.oldest},
            ),
        )
    return ()


def strength_notes(mpa: float, curve: Curve, tests: Reach | None) -> tuple[Note, ...]:
    """Keys 'never-reached', 'stronger-than-tests', and those of `age_notes` where it is reached.

    Parameters
    ----------
    mpa : strength asked for [MPa], 0 or above
    curve : the mix's
    tests : what the mix's tests reach, None when there are none

    Raises
    ------
    ValueError
        A strength below 0 or not finite.
    """
    if not 0 <= mpa < math.inf:
        raise ValueError(f"a strength is finite, 0 MPa or more, got {mpa}")
    if mpa == 0:
        return ()
    age = curve.age_at(mpa)
    notes = []
    if math.isinf(age):
        most = float(curve.at(math.inf))
        notes.append(
            Note(
                "never-reached",
                f"{_plain(mpa)} MPa is asked for; by its curve this mix never has it, however long "
                f"it waits (it ends at {_plain(most)} MPa).",
                "the mix's own curve",
                {"mpa": mpa, "mpa_greatest": most},
            )
        )
    if tests is not None and mpa > tests.strongest:
        notes.append(
            Note(
                "stronger-than-tests",
                f"{_plain(mpa)} MPa is more than any test of this mix has shown "
                f"({_plain(tests.strongest)} MPa): when it gets there is an extrapolation.",
                "ASTM C1074: a relation holds over the range it was tested in",
                {"mpa": mpa, "mpa_tested": tests.strongest},
            )
        )
    return together(notes, age_notes(age, tests))


def drying_notes(
    thickness: float,
    *,
    coldest: float,
    warmest: float,
    driest: float,
    dampest: float,
    target: float = DRY_HUMIDITY,
    marched: bool = False,
) -> tuple[Note, ...]:
    """Keys 'drying-thickness', 'drying-frost', 'drying-temperature', 'drying-arid',
    'drying-never', 'drying-rewetted': the drying model beyond what its law shows.

    Parameters
    ----------
    thickness : of the piece [m]
    coldest, warmest : of the air since the last wetting [°C]
    driest, dampest : its relative humidity [0..1]; both NaN when it is not known
    target : pore humidity waited for [0..1]
    marched : the time comes from a march through the air, which sees a piece wetted again, and not
        from the sum of `curing.drying_rate`, which cannot

    Raises
    ------
    ValueError
        A thickness not above 0, temperatures or humidities not in order, humidity outside 0 to 1.

    References: CEB-FIP MC90, 2.1.6.4 (5 to 30 °C, 40 to 100 % RH), from memory, since 2.1.8.4
    states no range of its own; `curing.drying_rate` for its own error in damp air.
    """
    if not (math.isfinite(thickness) and thickness > 0):
        raise ValueError(f"thickness must be above 0 m, got {thickness}")
    if not 0 < target <= 1:
        raise ValueError(f"a drying target is a fraction above 0, up to 1, got {target}")
    _in_order("coldest and warmest", coldest, warmest)
    notes = [*_thickness_notes(thickness), *_drying_air_notes(coldest, warmest)]
    if not (math.isnan(driest) and math.isnan(dampest)):
        _in_order("driest and dampest", driest, dampest)
        if not 0 <= driest <= dampest <= 1:
            raise ValueError("humidity is a fraction from 0 to 1")
        notes += _drying_humidity_notes(driest, dampest, target, marched)
    return tuple(notes)


def sealing_notes(
    humidity_known: bool, coldest: float, warmest: float, limits: CoatLimits
) -> tuple[Note, ...]:
    """Keys 'humidity-unknown' and 'cure-temperature'.

    Parameters
    ----------
    humidity_known : whether the humidity was measured or planned while coats go on
    coldest, warmest : of the air while the sealer cures [°C]
    limits : the sealer's data sheet, as entered

    Raises
    ------
    ValueError
        Temperatures that are not finite or not in order.

    Reference: the sealer's data sheet; ISO 8502-4 for the dew point. That a sealer cures twice as
    fast for 10 K is common practice, without a source.
    """
    _in_order("coldest and warmest", coldest, warmest)
    notes = []
    if not humidity_known:
        notes.append(
            Note(
                "humidity-unknown",
                "The humidity of the room is not known: neither the dew point nor the sealer's "
                "humidity limit is held against the hours shown. Measure both before a coat.",
                "ISO 8502-4 asks for the surface and the dew point to be measured",
                {"humidity_greatest": limits.humidity_greatest, "dew_margin": limits.dew_margin},
            )
        )
    if coldest < limits.celsius_least or warmest > limits.celsius_greatest:
        notes.append(
            Note(
                "cure-temperature",
                f"While the sealer cures, air goes from {_plain(coldest)} to {_plain(warmest)} °C; "
                f"its data sheet speaks of {_plain(limits.celsius_least)} to "
                f"{_plain(limits.celsius_greatest)} °C. Outside, its cure is reckoned by a rule of "
                "thumb (twice as fast for 10 K).",
                "data sheet as entered; the rule is common practice, no source",
                {
                    "celsius_coldest": coldest,
                    "celsius_warmest": warmest,
                    "celsius_least": limits.celsius_least,
                    "celsius_greatest": limits.celsius_greatest,
                },
            )
        )
    return tuple(notes)


def together(*groups: Sequence[Note]) -> tuple[Note, ...]:
    """Notes of several questions in their order, each key once, as it came first."""
    found: dict[str, Note] = {}
    for group in groups:
        for note in group:
            found.setdefault(note.key, note)
    return tuple(found.values())


def _thickness_notes(thickness: float) -> list[Note]:
    least, greatest = THICKNESS_RANGE
    if least <= thickness <= greatest:
        return []
    return [
        Note(
            "drying-thickness",
            f"At {_plain(1000 * thickness)} mm the piece is outside the {1000 * least:g} to "
            f"{1000 * greatest:g} mm that the drying model takes: it gives no time here.",
            "our own limit, no source",
            {"thickness_m": thickness, "thickness_least": least, "thickness_greatest": greatest},
        )
    ]


def _drying_air_notes(coldest: float, warmest: float) -> list[Note]:
    low, high = MODEL_CODE_CELSIUS
    frost = DRYING_RANGE[0]
    notes = []
    if coldest <= frost:
        notes.append(
            Note(
                "drying-frost",
                f"Air at {_plain(coldest)} °C: the drying model lets nothing dry at {frost:g} °C "
                "and below.",
                "common practice, no source",
                {"celsius": coldest, "celsius_least": frost},
            )
        )
    if frost < coldest < low or warmest > high:
        notes.append(
            Note(
                "drying-temperature",
                f"The air goes from {_plain(coldest)} to {_plain(warmest)} °C; the drying model "
                f"rests on tests at {low:g} to {high:g} °C. Outside, its time is an extrapolation.",
                "CEB-FIP MC90, 2.1.6.4, from memory",
                {
                    "celsius_coldest": coldest,
                    "celsius_warmest": warmest,
                    "celsius_least": low,
                    "celsius_greatest": high,
                },
            )
        )
    return notes


def _drying_humidity_notes(
    driest: float, dampest: float, target: float, marched: bool
) -> list[Note]:
    notes = []
    if driest < MODEL_CODE_DRIEST:
        notes.append(
            Note(
                "drying-arid",
                f"Air at {_plain(100 * driest)} % is drier than the {100 * MODEL_CODE_DRIEST:g} % "
                "from which the drying model was fitted: its time there is an extrapolation.",
                "CEB-FIP MC90, 2.1.6.4, from memory",
                {"humidity": driest, "humidity_least": MODEL_CODE_DRIEST},
            )
        )
    if driest >= target:
        notes.append(
            Note(
                "drying-never",
                f"The air is never drier than {_plain(100 * driest)} %: in it the piece does not "
                f"come down to {_plain(100 * target)} %.",
                "a body dries no further than its air",
                {"humidity": driest, "humidity_target": target},
            )
        )
    elif dampest > target and not marched:
        notes.append(
            Note(
                "drying-rewetted",
                f"Air at {_plain(100 * dampest)} % is damper than the {_plain(100 * target)} % "
                "waited for and wets the piece again. The time shown leaves that out: it may come "
                "up to 40 % too soon.",
                "our own comparison with a full march, published by nobody",
                {"humidity": dampest, "humidity_target": target},
            )
        )
    return notes


def _plain(figure: float) -> str:
    """To a tenth, which tells 40.4 from 40; never -0."""
    return f"{round(figure, 1) + 0.0:.10g}"


def _in_order(name: str, least: float, greatest: float) -> None:
    if not (math.isfinite(least) and math.isfinite(greatest) and least <= greatest):
        raise ValueError(f"{name} must be finite and in order, got {least} and {greatest}")
