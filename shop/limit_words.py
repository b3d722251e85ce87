"""What is said of a figure beyond its law's range, in the shop's own units, and what to do then.

The notes come from `curing.limits`; a key that is not known here keeps the engine's own words.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from curing.limits import Note
from shop import measures
from shop.models import Shop


@dataclass(frozen=True)
class LimitNote:
    key: str
    text: str
    do: str
    basis: str


@dataclass(frozen=True)
class _Figures:
    values: Mapping[str, float]
    shop: Shop

    def warm(self, name: str) -> str:
        return measures.words(self.values[name], "temperature", self.shop)

    def mpa(self, name: str) -> str:
        return measures.words(self.values[name], "strength", self.shop)

    def inches(self, name: str) -> str:
        return measures.words(self.values[name], "length", self.shop)

    def percent(self, name: str) -> str:
        return f"{100 * self.values[name]:.0f} %"

    def age(self, name: str) -> str:
        return f"{self.values[name]:.0f} h at {measures.warmth(self.shop)}"


Words = Callable[[_Figures], str]

WORDS: dict[str, tuple[Words, str]] = {
    "cold": (
        lambda f: (
            f"Air at {f.warm('celsius')} is below the {f.warm('celsius_least')} from which the "
            "maturity law was fitted: ages and dates that count those hours are an extrapolation. "
            "Concrete that freezes young may never recover."
        ),
        "Keep it covered and warm, and break a test specimen that lay with it before it is moved.",
    ),
    "hot": (
        lambda f: (
            f"Air at {f.warm('celsius')} is over the {f.warm('celsius_greatest')} up to which the "
            "maturity law was fitted: ages and dates that count those hours are an extrapolation. "
            "Concrete that is hot early may end weaker than its age says."
        ),
        "Check the thermometer; if it is right, break a specimen that lay with the piece before "
        "it is moved.",
    ),
    "untested": (
        lambda f: "No strength test of this mix stands behind its curve.",
        "Break cubes or coupons of it and enter them with the mix.",
    ),
    "before-setting": (
        lambda f: f"At {f.age('hours')} the mix has not set by its curve: it has no strength yet.",
        "Wait, and look at the mix's setting time.",
    ),
    "younger-than-tests": (
        lambda f: (
            f"Strength is asked for at {f.age('hours')}, before the mix's youngest test "
            f"({f.age('hours_tested')}): there its curve is an extrapolation."
        ),
        "Break specimens younger than that and enter them with the mix.",
    ),
    "older-than-tests": (
        lambda f: (
            f"Strength is asked for at {f.age('hours')}, after the mix's oldest test "
            f"({f.age('hours_tested')}): there its curve is an extrapolation."
        ),
        "Break older specimens and enter them with the mix.",
    ),
    "never-reached": (
        lambda f: (
            f"A step asks for {f.mpa('mpa')}; by its curve this mix never has it, however long it "
            f"waits: it ends at {f.mpa('mpa_greatest')}. So no date can be given."
        ),
        "Ask less in the route, take a stronger mix, or enter tests that show it stronger.",
    ),
    "stronger-than-tests": (
        lambda f: (
            f"A step asks for {f.mpa('mpa')}, more than any test of this mix has shown "
            f"({f.mpa('mpa_tested')}): when it gets there is an extrapolation."
        ),
        "Break specimens old enough to show it.",
    ),
    "drying-thickness": (
        lambda f: (
            f"At {f.inches('thickness_m')} the piece is outside the "
            f"{f.inches('thickness_least')} to {f.inches('thickness_greatest')} that the drying "
            "model takes. The route's hours of drying count instead."
        ),
        "Weigh it dry, or tape a sheet on it (ASTM D4263), before it is sealed.",
    ),
    "drying-frost": (
        lambda f: (
            f"Air at {f.warm('celsius')}: the drying model lets nothing dry at "
            f"{f.warm('celsius_least')} and below."
        ),
        "Warm the room while pieces dry.",
    ),
    "drying-temperature": (
        lambda f: (
            f"While it dries the air goes from {f.warm('celsius_coldest')} to "
            f"{f.warm('celsius_warmest')}; the drying model rests on tests at "
            f"{f.warm('celsius_least')} to {f.warm('celsius_greatest')}. Outside, its time is an "
            "extrapolation."
        ),
        "Weigh the piece dry before it is sealed.",
    ),
    "drying-arid": (
        lambda f: (
            f"Air at {f.percent('humidity')} is drier than the {f.percent('humidity_least')} from "
            "which the drying model was fitted: its time there is an extrapolation."
        ),
        "Check the humidity, and weigh the piece dry before it is sealed.",
    ),
    "drying-never": (
        lambda f: (
            f"The air is never drier than {f.percent('humidity')}: in it the piece does not come "
            f"down to {f.percent('humidity_target')}. So no date can be given."
        ),
        "Dry the room's air, or look at the route's moisture target.",
    ),
    "drying-rewetted": (
        lambda f: (
            f"Air at {f.percent('humidity')} is damper than the {f.percent('humidity_target')} "
            "waited for and wets the piece again: the time shown may come too soon."
        ),
        "Weigh the piece dry before it is sealed.",
    ),
    "humidity-unknown": (
        lambda f: (
            "The humidity where coats go on is not measured: the sealer's limits of humidity "
            f"({f.percent('humidity_greatest')}) and dew point are held against the room's usual "
            "humidity, not against its air."
        ),
        "Measure humidity and dew point before each coat, or put a sensor of humidity there.",
    ),
    "cure-temperature": (
        lambda f: (
            f"While the sealer cures the air goes from {f.warm('celsius_coldest')} to "
            f"{f.warm('celsius_warmest')}; its data sheet speaks of {f.warm('celsius_least')} to "
            f"{f.warm('celsius_greatest')}. Outside, its cure is reckoned by a rule of thumb."
        ),
        "Keep the piece in the sheet's range, or ask the sealer's maker.",
    ),
    "section": (
        lambda f: (
            "The section that is stored for this piece cannot be cast any more, since its "
            "thickness or its mix was changed. It is weighed as a plain slab, and steps that wait "
            "for its section's strength wait until it is right."
        ),
        "Enter its section anew.",
    ),
}


def in_words(notes: Iterable[Note], shop: Shop) -> list[LimitNote]:
    return [_in_words(note, shop) for note in notes]


def _in_words(note: Note, shop: Shop) -> LimitNote:
    if note.key not in WORDS:
        return LimitNote(note.key, note.text, "", note.basis)
    say, do = WORDS[note.key]
    try:
        text = say(_Figures(note.figures, shop))
    except KeyError:  # a figure by another name: the engine's own words then
        text = note.text
    return LimitNote(note.key, text, do, note.basis)
