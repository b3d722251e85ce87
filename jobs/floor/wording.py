"""What the crew reads, in English or Spanish. A step's own name is the shop's text; the usual
names that a route starts from are known here and translated."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, gettext_noop

from jobs.models import Mark, Outcome
from jobs.services.errors import AlreadyMarked, Refused, TooEarly
from jobs.services.outlook import TRUSTED, PieceOutlook, StepOutlook, WaitOutlook
from jobs.services.trust import round_up
from shop import measures
from shop.cautions import Caution
from shop.models import StepKind
from shop.templatetags.measures import clock, hours, moment

if TYPE_CHECKING:
    from jobs.floor.entries import Looker

USUAL_NAMES = (
    gettext_noop("cast"),
    gettext_noop("demold"),
    gettext_noop("demold and flip"),
    gettext_noop("grind"),
    gettext_noop("grind or hone"),
    gettext_noop("hone"),
    gettext_noop("polish"),
    gettext_noop("slurry fill"),
    gettext_noop("last hone and wash"),
    gettext_noop("seal"),
    gettext_noop("seal coat"),
    gettext_noop("check and crate"),
    gettext_noop("crate"),
    gettext_noop("deliver"),
    gettext_noop("install"),
    gettext_noop("other work"),
)

MARK_LABELS = {
    StepKind.CAST: gettext_lazy("Mark cast"),
    StepKind.DEMOLD: gettext_lazy("Mark demolded"),
    StepKind.GRIND: gettext_lazy("Mark ground"),
    StepKind.FILL: gettext_lazy("Mark filled"),
    StepKind.HONE: gettext_lazy("Mark honed and washed"),
    StepKind.COAT: gettext_lazy("Mark coated"),
    StepKind.CRATE: gettext_lazy("Mark crated"),
    StepKind.DELIVER: gettext_lazy("Mark delivered"),
    StepKind.INSTALL: gettext_lazy("Mark installed"),
}

CRITERION_WORDS = {
    "cast": gettext_lazy("Casting"),
    "strength": gettext_lazy("Strength"),
    "equivalent age": gettext_lazy("Equivalent age"),
    "clock floor": gettext_lazy("Hours after casting"),
    "step wait": gettext_lazy("Wait after the step before"),
    "drying": gettext_lazy("Drying"),
    "moisture": gettext_lazy("Drying to the moisture target"),
    "weighing": gettext_lazy("Weighing until it is dry"),
    "handling": gettext_lazy("Strength to be lifted"),
    "trusted age": gettext_lazy("Age this shop demolds clean from"),
    "concrete age": gettext_lazy("Concrete age for sealer"),
    "recoat wait": gettext_lazy("Wait between coats"),
    "sealer cure": gettext_lazy("Sealer cure"),
    "previous step": gettext_lazy("The step before"),
    "crew hours": gettext_lazy("Crew hours"),
    "install date": gettext_lazy("Install date"),
    "sealing air": gettext_lazy("Air that fits the sealer"),
}

OUTCOME_LABELS = {
    Outcome.CLEAN: gettext_lazy("Clean"),
    Outcome.SOFT: gettext_lazy("Soft"),
    Outcome.CHIPPED: gettext_lazy("Chipped"),
    Outcome.BROKEN: gettext_lazy("Broken"),
}
OUTCOME_WORDS = {
    Outcome.CLEAN: gettext_lazy("came out clean"),
    Outcome.SOFT: gettext_lazy("came out soft"),
    Outcome.CHIPPED: gettext_lazy("came out chipped"),
    Outcome.BROKEN: gettext_lazy("came out broken"),
}

# What the scale has just shown is no wait any more: moments are whole minutes, rounded up.
NONE = dt.timedelta(0)
SLACK = {"weighing": dt.timedelta(minutes=1)}

# A sealer's data sheet counts its hours at this warmth, equivalent age at 20 °C.
SEALER_CELSIUS = 23.0

BASIS_WORDS = {
    "equivalent age": gettext_lazy("Route says %(needed)s at %(warmth)s."),
    "clock floor": gettext_lazy("Route says %(needed)s after casting."),
    "step wait": gettext_lazy("Route says %(needed)s after the step before."),
    "drying": gettext_lazy(
        "Route says %(needed)s since the last wetting; cold or humid hours count half."
    ),
    "moisture": gettext_lazy(
        "Route says %(needed)s RH inside; reckoned from the room's air, an estimate."
    ),
    "weighing": gettext_lazy("Expected: the scale says when it is dry."),
    "trusted age": gettext_lazy("%(needed)s at %(warmth)s, from %(demolds)s demolds of this shop."),
    "concrete age": gettext_lazy("Sealer, as the shop entered it: %(needed)s after casting."),
    "recoat wait": gettext_lazy("Sealer, as the shop entered it: %(needed)s after the last coat."),
    "sealer cure": gettext_lazy("Sealer, as the shop entered it: %(needed)s at %(warmth)s."),
    "crew hours": gettext_lazy("Nobody is on shift before."),
    "install date": gettext_lazy("The day that is set with the site."),
    "sealing air": gettext_lazy("The room's air is expected to fit the sealer from then on."),
}


@dataclass(frozen=True)
class Wait:
    words: str
    until: str
    basis: str


@dataclass(frozen=True)
class Care:
    """A caution with its first sentence apart: that much is read with gloves on."""

    headline: str
    rest: str
    reference: str


def cares(cautions: Iterable[Caution]) -> list[Care]:
    return [_care(str(caution.text), str(caution.reference)) for caution in cautions]


def _care(text: str, reference: str) -> Care:
    headline, _dot, rest = text.partition(". ")
    return Care(headline.rstrip("."), rest, reference)


def translated(name: str) -> str:
    """A usual name in the person's language, the shop's own as it is; 'seal coat 2' keeps its 2."""
    base, _space, number = name.rpartition(" ")
    if base and number.isdigit():
        return f"{translated(base)} {number}"
    usual = next((known for known in USUAL_NAMES if known == name.lower()), None)
    if usual is None:
        return name
    words = _(usual)
    return words[:1].upper() + words[1:] if name[:1].isupper() else words


def step_name(step: StepOutlook) -> str:
    return translated(step.name)


def outcome_words(mark: Mark | None) -> str:
    """'came out soft' of a demold, where the crew said so."""
    return str(OUTCOME_WORDS[Outcome(mark.outcome)]) if mark and mark.outcome else ""


def step_words(mark: Mark) -> str:
    said = outcome_words(mark)
    return translated(mark.step_name) + (f", {said}" if said else "")


def mark_label(kind: str) -> str:
    label = MARK_LABELS.get(StepKind(kind)) if kind in StepKind.values else None
    return str(label) if label else _("Mark done")


def criterion(key: str) -> str:
    return str(CRITERION_WORDS.get(key, key))


def when(moment_: dt.datetime, now: dt.datetime) -> str:
    """'06:40' today, 'tomorrow 06:40', else with its day."""
    days = (timezone.localdate(moment_) - timezone.localdate(now)).days
    if days == 0:
        return clock(moment_)
    if days == 1:
        return _("tomorrow %(clock)s") % {"clock": clock(moment_)}
    return moment(moment_)


def about_strength(mpa: float | None, looker: Looker) -> str:
    """Rounded as coarsely as a curve deserves: to 50 psi or half an MPa."""
    if mpa is None:
        return "–"
    grain = 50 if looker.shop.us else 0.5
    number = round(measures.shown(mpa, "strength", looker.shop) / grain) * grain
    return f"{number:,.10g} {measures.sign('strength', looker.shop)}"


def waits(step: StepOutlook, piece: PieceOutlook, looker: Looker) -> list[Wait]:
    """What keeps the step from being done at this moment, the last to be met first."""
    own = [
        Wait(criterion(wait.criterion), when(wait.until, looker.now), basis(wait, piece, looker))
        for wait in step.waits
        if wait.until > looker.now + SLACK.get(wait.criterion, NONE)
        and wait.criterion not in {"previous step", "crew hours"}
    ]
    if step.held_by and step.workable and step.workable > looker.now:
        words = criterion(step.held_by)
        if words not in {wait.words for wait in own}:
            until = when(step.workable, looker.now)
            own.insert(0, Wait(words, until, str(BASIS_WORDS.get(step.held_by, ""))))
    return own or _waits_for_step_before(step, looker)


def _waits_for_step_before(step: StepOutlook, looker: Looker) -> list[Wait]:
    if step.earliest and step.earliest <= looker.now:
        return []
    return [Wait(criterion(step.governs), "", "")]


def basis(wait: WaitOutlook, piece: PieceOutlook, looker: Looker) -> str:
    if wait.criterion == "strength":
        return _strength_basis(wait, piece, looker)
    if wait.criterion == "handling":
        return _handling_basis(wait, piece, looker)
    if wait.criterion not in BASIS_WORDS:
        return ""
    needed = hours(wait.needed)
    if wait.criterion == "moisture":
        needed = f"{wait.needed:.0f} %"
    if wait.criterion == TRUSTED:
        needed = f"{round_up(wait.needed or 0.0):g} h"
    warmth = measures.warmth(looker.shop, SEALER_CELSIUS if wait.criterion == "sealer cure" else 20)
    return str(BASIS_WORDS[wait.criterion]) % {
        "needed": needed,
        "warmth": warmth,
        "demolds": wait.demolds,
    }


def _strength_basis(wait: WaitOutlook, piece: PieceOutlook, looker: Looker) -> str:
    limit = measures.words(wait.needed, "strength", looker.shop)
    sentence = (
        _("Route says %(limit)s; the curve is a placeholder, not this shop's tests.")
        if piece.placeholder
        else _("Route says %(limit)s, by the curve the shop entered for this mix.")
    )
    return sentence % {"limit": limit}


def _handling_basis(wait: WaitOutlook, piece: PieceOutlook, looker: Looker) -> str:
    limit = measures.words(wait.needed, "strength", looker.shop)
    sentence = (
        _("Its section asks for %(limit)s; the curve is a placeholder, not this shop's tests.")
        if piece.placeholder
        else _("Its section asks for %(limit)s, by the shop's factors and this mix's curve.")
    )
    return sentence % {"limit": limit}


def governed_by(step: StepOutlook) -> str:
    return _("Set by: %(criterion)s.") % {"criterion": criterion(step.governs).lower()}


def recorded(code: str, mark: Mark) -> str:
    facts = {"code": code, "step": step_words(mark), "when": moment(mark.happened_at)}
    if Mark.objects.filter(strikes=mark).exists():
        return _("%(code)s %(step)s (%(when)s) was taken back already. Mark it again.") % facts
    return _("Recorded: %(code)s %(step)s, %(when)s.") % facts


def taken_back(code: str, mark: Mark) -> str:
    facts = {"code": code, "step": translated(mark.step_name)}
    return _("Taken back: %(code)s %(step)s.") % facts


def refusal(error: Refused, step: StepOutlook | None = None) -> str:
    if isinstance(error, TooEarly):
        return _too_early(error, step)
    if isinstance(error, AlreadyMarked):
        return _("%(step)s: already marked by %(who)s, %(when)s.") % {
            "step": translated(error.mark.step_name),
            "who": error.mark.by.name,
            "when": moment(error.mark.happened_at),
        }
    return error.message


def _too_early(error: TooEarly, step: StepOutlook | None) -> str:
    by_air = step is not None and step.earliest != error.earliest and step.held_by == "sealing air"
    return _(
        "Not before %(when)s: %(criterion)s. If it is done all the same, write why; it is "
        "recorded with your name."
    ) % {
        "when": moment(error.earliest),
        "criterion": criterion("sealing air" if by_air else error.governs).lower(),
    }


def mark_words(mark: Mark) -> str:
    facts = {
        "what": _what_happened(mark),
        "when": moment(mark.happened_at),
        "who": mark.by.name,
    }
    words = _("%(when)s: %(what)s, %(who)s") % facts
    if mark.early_before:
        words += " " + _("(before its time, %(when)s)") % {"when": moment(mark.early_before)}
    if mark.recorded_at - mark.happened_at > dt.timedelta(minutes=5):
        words += " " + _("(entered %(when)s)") % {"when": moment(mark.recorded_at)}
    return f"{words}: {mark.reason}" if mark.reason else words


def _what_happened(mark: Mark) -> str:
    if mark.kind == Mark.Kind.DONE:
        return step_words(mark)
    return {
        Mark.Kind.HOLD: _("put on hold"),
        Mark.Kind.RELEASE: _("released"),
        Mark.Kind.RECAST: _("to be cast again"),
    }.get(Mark.Kind(mark.kind), mark.kind)
