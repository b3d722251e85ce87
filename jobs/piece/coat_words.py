"""What the seal coats' part says: each coat's air, its recoat window, and why it goes on then."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from jobs.piece.words import when
from jobs.services.coat_air import (
    COLD,
    DEW,
    HOT,
    HUMID,
    STANDARD_MARGIN,
    Air,
    Check,
)
from jobs.services.coats import (
    BY_ABRADING,
    BY_AIR,
    BY_CREW,
    BY_WINDOW,
    Coat,
    SealCoats,
    Window,
)
from shop import measures
from shop.measures import hours_words
from shop.models import Shop
from shop.templatetags.measures import moment

SHEET_BASIS = "data sheet, as the shop entered it"
MISSED = {COLD: "too cold", HOT: "too warm", HUMID: "too humid", DEW: "too near the dew point"}
FALLS = {
    "too early": "too early",
    "in the window": "inside it",
    "abrade first": "after it has closed",
}
KINDS = {COLD: "temperature", HOT: "temperature", DEW: "temperature_step"}


@dataclass(frozen=True)
class CoatRow:
    coat: Coat
    name: str
    when: str
    air: str
    above: str
    verdict: str
    fits: bool
    window: str
    why: str
    air_shortly: str  # for paper
    window_shortly: str


@dataclass(frozen=True)
class LimitRow:
    name: str
    limit: str
    basis: str


@dataclass(frozen=True)
class NowWords:
    air: str
    verdict: str
    fits: bool


def figure_of(check: Check, value: float | None, shop: Shop, *, finer: bool = False) -> str:
    if value is None:
        return "not known"
    if check.key == HUMID:
        return f"{100 * value:.1f} %" if finer else f"{100 * value:.0f} %"
    kind = KINDS[check.key]
    if not finer:
        return measures.words(value, kind, shop)
    return f"{measures.shown(value, kind, shop):.1f} {measures.sign(kind, shop)}"


def missed_words(check: Check, shop: Shop) -> str:
    """'too cold: 55 °F, at least 60 °F', finer where both would read the same."""
    plain = figure_of(check, check.value, shop), figure_of(check, check.limit, shop)
    if plain[0] == plain[1]:
        plain = (
            figure_of(check, check.value, shop, finer=True),
            figure_of(check, check.limit, shop, finer=True),
        )
    bound = "at least" if check.key in {COLD, DEW} else "at most"
    return f"{MISSED[check.key]}: {plain[0]}, {bound} {plain[1]}"


def air_words(air: Air, shop: Shop) -> str:
    humidity = (
        "humidity not known" if air.humidity is None else f"{100 * air.humidity:.0f} % humidity"
    )
    return f"{measures.words(air.celsius, 'temperature', shop)}, {humidity}"


def above_words(air: Air, shop: Shop) -> str:
    """'dew point 51 °F, 13 °F above it'."""
    if air.dew_point is None or air.above is None:
        return "dew point not known"
    dew = measures.words(air.dew_point, "temperature", shop)
    return f"dew point {dew}, {measures.words(air.above, 'temperature_step', shop)} above it"


def verdict_words(air: Air, shop: Shop) -> str:
    if air.missed:
        return "; ".join(missed_words(check, shop) for check in air.missed)
    if air.unknown:
        return "within what is known; humidity and dew point are not"
    return "within every limit"


def now_words(seal: SealCoats, shop: Shop) -> NowWords | None:
    """None where nothing was ever read."""
    air = seal.now.air
    if air is None:
        return None
    least = next(check.limit for check in air.checks if check.key == DEW)
    margin = measures.words(least, "temperature_step", shop)
    words = f"{air_words(air, shop)}, {above_words(air, shop)} (least {margin})"
    if seal.now.stale:
        verdict = "too old to go by: read the thermometer before a coat goes on"
    elif air.missed:
        verdict = f"a coat may not go on, {verdict_words(air, shop)}"
    elif air.unknown:
        verdict = "measure the humidity before a coat goes on"
    else:
        verdict = "this air lets a coat go on"
    return NowWords(words, verdict, air.fits and not seal.now.stale)


def limit_rows(seal: SealCoats, shop: Shop) -> list[LimitRow]:
    sealer = seal.sealer

    def warm(celsius: float) -> str:
        return measures.words(celsius, "temperature", shop)

    standard = measures.words(STANDARD_MARGIN, "temperature_step", shop)
    margin = measures.words(sealer.dew_margin, "temperature_step", shop)
    under = ", more than is entered here" if sealer.dew_margin < STANDARD_MARGIN else ""
    return [
        LimitRow(
            "Air and surface",
            f"{warm(sealer.celsius_least)} to {warm(sealer.celsius_greatest)}",
            SHEET_BASIS,
        ),
        LimitRow("Humidity", f"at most {100 * sealer.humidity_greatest:.0f} %", SHEET_BASIS),
        LimitRow(
            "Above the dew point",
            f"at least {margin}",
            f"{SHEET_BASIS}; ISO 8502-4 asks for {standard}{under}",
        ),
        LimitRow("Between coats", _recoat(seal), SHEET_BASIS),
    ]


def _recoat(seal: SealCoats) -> str:
    least = hours_words(seal.sealer.recoat_least_hours)
    if seal.sealer.recoat_greatest_hours is None:
        return f"from {least} on"
    greatest = hours_words(seal.sealer.recoat_greatest_hours)
    return f"from {least} to {greatest}, later only abraded"


def coat_rows(seal: SealCoats, shop: Shop) -> list[CoatRow]:
    return list(_coat_rows(seal, shop))


def _coat_rows(seal: SealCoats, shop: Shop) -> Iterator[CoatRow]:
    for coat in seal.coats:
        air = coat.air
        basis = "measured" if coat.measured else "expected"
        yield CoatRow(
            coat=coat,
            name=coat.step.name,
            when=moment(coat.at) if coat.at else "not within sight",
            air=f"{air_words(air, shop)}, {basis}" if air else "–",
            above=above_words(air, shop) if air else "–",
            verdict=verdict_words(air, shop) if air else "–",
            fits=bool(air and air.fits),
            window=window_words(coat),
            why=why_words(coat, seal),
            air_shortly=_air_shortly(air, shop) if air else "–",
            window_shortly=_window_shortly(coat.window),
        )


def window_words(coat: Coat) -> str:
    window = coat.window
    if window is None:
        return "–"
    if window.closes is None:
        stretch = f"too early until {moment(window.opens)}, then open"
    else:
        stretch = (
            f"too early until {moment(window.opens)}, in the window to {moment(window.closes)}, "
            "abrade first after that"
        )
    falls = FALLS.get(coat.state)
    if falls is None:
        return f"{stretch}."
    return f"{stretch}. It {'went' if coat.done else 'goes'} on {falls}."


def _air_shortly(air: Air, shop: Shop) -> str:
    if air.humidity is None or air.dew_point is None or air.above is None:
        return air_words(air, shop)
    celsius, dew = (
        measures.words(value, "temperature", shop) for value in (air.celsius, air.dew_point)
    )
    above = measures.words(air.above, "temperature_step", shop)
    return f"{celsius}, {100 * air.humidity:.0f} %, dew point {dew} ({above} above)"


def _window_shortly(window: Window | None) -> str:
    if window is None:
        return "–"
    if window.closes is None:
        return f"from {when(window.opens)}"
    return f"{when(window.opens)} to {when(window.closes)}"


def why_words(coat: Coat, seal: SealCoats) -> str:
    """Why it goes on then and not when the concrete allows it."""
    moved = coat.moved
    if coat.done:
        return f"put on by {coat.step.done_by}" if coat.step.done_by else "put on"
    if moved is None:
        return f"as soon as it may: {coat.step.governs_words}" if coat.at else ""
    soonest, taken = moment(moved.soonest), moment(moved.taken)
    if moved.by == BY_AIR:
        return (
            f"allowed from {soonest}, but the air of {seal.room} fits the sealer in working hours "
            f"only from {taken}"
        )
    if moved.by == BY_CREW:
        return f"allowed from {soonest}, but nobody with time for it is on shift before {taken}"
    if moved.by == BY_ABRADING:
        hours = hours_words(seal.sealer.abrade_hours)
        return (
            "no working hours with air that fits lie in its window: abrade first, "
            f"{hours}, from {taken}"
        )
    assert moved.by == BY_WINDOW
    return _held_back(coat, soonest, taken)


def _held_back(coat: Coat, soonest: str, taken: str) -> str:
    said = f"held back from {soonest} to {taken}, so that the next coat falls in its window"
    missed = coat.moved.missed if coat.moved else None
    if missed is None or missed.closes is None:
        return said
    return (
        f"{said}: put on at once, it would leave the next one {moment(missed.opens)} to "
        f"{moment(missed.closes)}, when nobody is on shift in air that fits"
    )
