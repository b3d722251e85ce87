"""'Lifting and carrying' on a piece's page: each way, what it asks, when the concrete has it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from curing.handling import Need
from jobs.piece.section_look import weak_at
from jobs.services.course import OpenPiece
from jobs.services.lifting import Lifting, WayNeed, lifting_of
from jobs.services.shape import panel_from
from shop import cautions, measures
from shop.localtime import to_hours
from shop.models import Mix, Shop
from shop.services.materials import curve_of
from shop.templatetags.measures import moment

# In the order of a piece's life; the sentence on top names these.
TOLD = ("flipped", "on edge", "flat on two supports", "flat by its ends")
CAUTIONS = (cautions.EARLY_DEMOLD, cautions.LIFTING, cautions.ON_EDGE)


@dataclass(frozen=True)
class WayRow:
    way: WayNeed
    mix: Mix
    shop: Shop

    @property
    def name(self) -> str:
        return capital(self.way.words)

    @property
    def state(self) -> str:
        return "now" if self.way.passed else "never" if self.way.never else "later"

    @property
    def when(self) -> str:
        return when(self.way)

    @property
    def without(self) -> WayRow | None:
        return WayRow(self.way.plain, self.mix, self.shop) if self.way.plain else None

    @property
    def asked(self) -> str:
        """The strength asked for; past all that the mix gains, that much says enough."""
        most = curve_of(self.mix).su
        if self.way.need.strength >= most:
            return f"over {measures.words(most, 'strength', self.shop)}, all this mix gains"
        return measures.words(self.way.need.strength, "strength", self.shop)

    @property
    def stress_mpa(self) -> float:
        return self.way.need.peak.stress

    @property
    def where(self) -> str:
        """In which attitude the tension is greatest, and at which cut."""
        carry, peak = self.way.need.carry, self.way.need.peak
        side = "front edge" if carry.along == "width" else "left end"
        held = carry.name if carry.name in ("face up", "face down") else ""
        held = held or {"front": "front edge down", "back": "back edge down"}.get(carry.down, "")
        at = f"{measures.words(peak.at, 'length', self.shop)} from the {side}"
        return ", ".join(part for part in (held, at) if part)

    @property
    def load(self) -> str:
        return load_words(self.way.need, self.shop)


@dataclass(frozen=True)
class LiftingPart:
    """weak_at : from the left end [m]; None where every cut is the same"""

    lifting: Lifting
    shop: Shop
    mix: Mix
    weak_at: float | None

    @cached_property
    def rows(self) -> list[WayRow]:
        return [WayRow(way, self.mix, self.shop) for way in self.lifting.ways]

    @property
    def cautions(self) -> tuple[cautions.Caution, ...]:
        return CAUTIONS

    @property
    def with_bars(self) -> bool:
        return self.lifting.bars_kg > 0

    @property
    def summary(self) -> str:
        """What is had now, what comes when, what never; then the people."""
        ways = [self.lifting.strip, *(self.lifting.way(name) for name in TOLD)]
        now = [way.words for way in ways if way.passed]
        later = [f"{way.words} {when(way)}" for way in ways if not (way.passed or way.never)]
        never = [way.words for way in ways if way.never]
        parts = [f"now: {', '.join(now)}" if now else "", "; ".join(later)]
        parts += [f"never by this mix's curve: {', '.join(never)}" if never else ""]
        return " ".join(f"{capital(part)}." for part in (*parts, self.people_words) if part)

    @property
    def people_words(self) -> str:
        lift = self.lifting.people
        each = measures.words(lift.each_kg, "weight", self.shop)
        return f"{lift.people} people, {each} each" if lift.people > 1 else f"1 person, {each}"

    @property
    def team_words(self) -> str:
        """Where a team is said to lift less than this together, though nobody's own is passed."""
        lift, mass = self.lifting.people, self.lifting.weight_kg + self.lifting.bars_kg
        if lift.team_kg is None or lift.people == 1 or lift.team_kg >= mass:
            return ""
        share = {2: "two thirds", 3: "half"}[lift.people]
        team = measures.words(lift.team_kg, "weight", self.shop)
        return (
            f"Trade texts on team lifting count {share} of what each of {lift.people} people "
            f"lifts alone, {team} here: under this weight. More hands or a lifting aid."
        )

    @property
    def strip_load(self) -> str:
        return load_words(self.lifting.strip.need, self.shop)


def lifting_part(opened: OpenPiece) -> LiftingPart | None:
    """None without a section, or without a casting time in sight."""
    outlook, piece, facts = opened.outlook, opened.piece, opened.facts
    cast = outlook.cast_at or outlook.cast_assumed
    if cast is None:
        return None
    lifting = lifting_of(
        piece,
        facts.shop,
        facts.climate_of(piece.room_id),
        to_hours(cast),
        to_hours(facts.now),
        cast_known=outlook.cast_at is not None,
    )
    if lifting is None:
        return None
    panel = panel_from(piece.shape or {}, face=piece.thickness_m, density=piece.mix.density)
    return LiftingPart(lifting, facts.shop, piece.mix, weak_at(panel, piece.shape or {}))


def load_words(need: Need, shop: Shop) -> str:
    """The load that counts, in the shop's units."""
    load = need.way.load
    if not load.bond:
        return f"{load.factor:g} × weight"
    return f"weight and {measures.words(load.bond, 'pressure', shop)} of bond to the form"


def when(way: WayNeed) -> str:
    if way.passed:
        return "now"
    return "never by this mix's curve" if way.at is None else f"not before {moment(way.at)}"


def capital(words: str) -> str:
    return words[:1].upper() + words[1:]
