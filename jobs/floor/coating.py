"""What the coat's card says of the air where the coat goes on, and of its recoat window."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from curing.timeline import ABRADE, HELD
from jobs.floor import wording
from jobs.services.coat_air import COLD, DEW, HOT, HUMID, Air, AirNow, Check, CoatingRooms
from jobs.services.coats import Window, window_after
from jobs.services.outlook import PieceOutlook, StepOutlook
from jobs.services.route_steps import engine_sealer
from shop import measures
from shop.models import Sealer, Shop, StepKind
from shop.templatetags.measures import hours

if TYPE_CHECKING:
    from jobs.floor.entries import Looker

MISSED = {
    COLD: gettext_lazy("too cold, %(value)s; at least %(limit)s"),
    HOT: gettext_lazy("too warm, %(value)s; at most %(limit)s"),
    HUMID: gettext_lazy("too humid, %(value)s; at most %(limit)s"),
    DEW: gettext_lazy("only %(value)s above the dew point; at least %(limit)s"),
}
KINDS = {COLD: "temperature", HOT: "temperature", DEW: "temperature_step"}


@dataclass(frozen=True)
class CoatingAir:
    """Read once for all cards of a page."""

    rooms: CoatingRooms
    sealers: dict[str, Sealer]

    @classmethod
    def read(cls) -> CoatingAir:
        return cls(CoatingRooms.read(), {row.name: row for row in Sealer.objects.all()})


@dataclass(frozen=True)
class CoatCard:
    """Lines of a card: the air now, what it lets be done, the window, and what moved the coat."""

    heading: str
    air: str
    verdict: str
    fits: bool
    window: str
    note: str


def coat_card(step: StepOutlook | None, piece: PieceOutlook, looker: Looker) -> CoatCard | None:
    """None where the next step is no coat, or its sealer was renamed this moment."""
    if step is None or step.kind != StepKind.COAT:
        return None
    known = looker.coating
    sealer = known.sealers.get(piece.sealer)
    if sealer is None or piece.room_id not in known.rooms.rooms:
        return None
    now = known.rooms.now(
        piece.room_id,
        engine_sealer(sealer).limits,
        now=looker.now,
        stale_after_hours=looker.shop.stale_after_hours,
    )
    window = _window(piece.steps, step, sealer)
    return CoatCard(
        heading=_heading(now),
        air=_air(now, looker),
        verdict=_verdict(now, window, looker),
        fits=not now.stale and now.air is not None and now.air.fits,
        window=_window_words(window, looker.now),
        note=_note(step, sealer),
    )


def _heading(now: AirNow) -> str:
    if now.at is None:
        return _("Nothing was read in %(room)s") % {"room": now.room}
    if now.stale:
        return _("Last read in %(room)s") % {"room": now.room}
    return _("Now in %(room)s") % {"room": now.room}


def _air(now: AirNow, looker: Looker) -> str:
    """'64 °F, 63 % humidity, dew point 51 °F, 13 °F above it (least 5 °F). Read 08:45.'"""
    if now.air is None or now.at is None:
        return ""
    air, shop = now.air, looker.shop
    celsius = measures.words(air.celsius, "temperature", shop)
    read = _("Read %(when)s.") % {"when": wording.when(now.at, looker.now)}
    if air.humidity is None or air.dew_point is None or air.above is None:
        known = _("%(celsius)s, humidity not read, so the dew point is not known.")
        return f"{known % {'celsius': celsius}} {read}"
    least = next(check.limit for check in air.checks if check.key == DEW)
    words = _(
        "%(celsius)s, %(humidity)s humidity, dew point %(dew)s, %(above)s above it (least "
        "%(least)s)."
    ) % {
        "celsius": celsius,
        "humidity": f"{100 * air.humidity:.0f} %",
        "dew": measures.words(air.dew_point, "temperature", shop),
        "above": measures.words(air.above, "temperature_step", shop),
        "least": measures.words(least, "temperature_step", shop),
    }
    return f"{words} {read}"


def _verdict(now: AirNow, window: Window | None, looker: Looker) -> str:
    if now.air is None or now.stale:
        return _("Too old to go by. Read the thermometer before the coat.")
    if now.air.missed:
        return _("Not yet: %(why)s.") % {"why": _missed(now.air, looker.shop)}
    if now.air.unknown:
        return _("Measure the humidity before the coat.")
    if window and looker.now < window.opens:
        return _("The air fits, but it is too early after the last coat.")
    if window and window.closes and looker.now > window.closes:
        return _("This air lets the coat go on once it is abraded.")
    return _("This air lets the coat go on.")


def _missed(air: Air, shop: Shop) -> str:
    return "; ".join(str(MISSED[check.key]) % _figures(check, shop) for check in air.missed)


def _figures(check: Check, shop: Shop) -> dict[str, str]:
    """Finer where value and limit would read the same."""
    pair = [_figure(check, value, shop) for value in (check.value, check.limit)]
    if pair[0] == pair[1]:
        pair = [_figure(check, value, shop, finer=True) for value in (check.value, check.limit)]
    return {"value": pair[0], "limit": pair[1]}


def _figure(check: Check, value: float | None, shop: Shop, *, finer: bool = False) -> str:
    if value is None:
        return "–"
    if check.key == HUMID:
        return f"{100 * value:.{1 if finer else 0}f} %"
    kind = KINDS[check.key]
    if finer:
        return f"{measures.shown(value, kind, shop):.1f} {measures.sign(kind, shop)}"
    return measures.words(value, kind, shop)


def _window(steps: Sequence[StepOutlook], step: StepOutlook, sealer: Sealer) -> Window | None:
    coats = [own for own in steps if own.kind == StepKind.COAT]
    place = coats.index(step)
    return window_after(coats[place - 1], sealer) if place else None


def _window_words(window: Window | None, now: dt.datetime) -> str:
    if window is None:
        return ""
    if window.closes is None:
        if now >= window.opens:
            return ""
        return _("Too early until %(opens)s.") % {"opens": wording.when(window.opens, now)}
    figures = {
        "opens": wording.when(window.opens, now),
        "closes": wording.when(window.closes, now),
    }
    if now < window.opens:
        said = _("Too early until %(opens)s. In its window to %(closes)s, then abrade first.")
    elif now <= window.closes:
        said = _("In its window to %(closes)s, then abrade first.")
    else:
        said = _("Its window closed: %(closes)s.")
    return said % figures


def _note(step: StepOutlook, sealer: Sealer) -> str:
    if step.note == HELD:
        return _("Held back so that the next coat falls in its window.")
    if step.note == ABRADE:
        return _("Abrade first (%(hours)s): its window is closed by then.") % {
            "hours": hours(sealer.abrade_hours)
        }
    return ""
