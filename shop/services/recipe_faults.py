"""What a recipe cannot be, said at the part it concerns where that can be told."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import cast, get_args

from django.utils.translation import gettext as _

from curing import mixture
from curing.mixture import (
    CEMENTITIOUS,
    GRAINS,
    LIQUIDS,
    LOOSE,
    By,
    Component,
    Role,
    for_layer,
    normalise,
)
from shop.services.errors import Refused

MOST_PARTS = 24
LEAST_DENSITY, GREATEST_DENSITY = 50.0, 9000.0  # kg/m3, as `RecipePart` takes them
MOST_FIBRE = 0.199
MOST_AMOUNT = 1e6


@dataclass(frozen=True)
class Part:
    """One component as `RecipePart` keeps it: fractions and kg/m³."""

    name: str
    role: str
    amount: float
    by: str
    density: float
    solids: float = 1.0
    absorption: float = 0.0
    written_moisture: float | None = None


FIELDS = tuple(field.name for field in fields(Part))


@dataclass(frozen=True)
class Fibre:
    """Of the total weight of each layer's mix, 0 to below 0.2."""

    face: float = 0.0
    backer: float = 0.025
    rib: float = 0.035


@dataclass(frozen=True)
class Fault:
    """row : of the part it concerns, counted from 0; None for the recipe as a whole
    field : of that part, or 'fibre_backer' and so on of the recipe; empty where it is none's alone
    """

    words: str
    row: int | None = None
    field: str = ""


class RecipeRefused(Refused):
    """The parts cannot be mixed as they are written."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        super().__init__(" ".join(fault.words for fault in faults))
        self.faults = tuple(faults)


def component_of(part: Part) -> Component:
    """Raises ValueError as `Component` does."""
    return Component(
        name=part.name,
        role=cast(Role, part.role),
        amount=part.amount,
        by=cast(By, part.by),
        density=part.density,
        solids=part.solids,
        absorption=part.absorption,
        written_moisture=part.written_moisture,
    )


def check(parts: Sequence[Part], fibre: Fibre) -> None:
    """Raises RecipeRefused with all that can be told at once."""
    if found := faults_of(parts, fibre):
        raise RecipeRefused(found)


def faults_of(parts: Sequence[Part], fibre: Fibre) -> list[Fault]:
    found = [fault for row, part in enumerate(parts) for fault in _of_part(row, part)]
    found += _of_names(parts) + _of_cement(parts) + _of_whole(parts, fibre)
    return found or _of_engine(parts, fibre)


def _of_part(row: int, part: Part) -> list[Fault]:
    found = []

    def say(field: str, words: str) -> None:
        found.append(Fault(words, row, field))

    if not part.name.strip() or len(part.name) > 60:
        say("name", _("A name of 1 to 60 letters, please."))
    if part.role not in get_args(Role):
        say("role", _("Choose what it is."))
    if part.by not in get_args(By):
        say("by", _("Choose how its amount is written."))
    elif part.by.startswith("water-of") and part.role != "water":
        say("by", _("Only water is written by the ratio it is to reach."))
    if not 0 <= part.amount <= MOST_AMOUNT:
        say("amount", _("An amount from 0 to a million, please."))
    if not LEAST_DENSITY <= part.density <= GREATEST_DENSITY:
        say(
            "density",
            _("Between 0.05 and 9 times the weight of water: look at the unit beside the field."),
        )
    if not 0.001 <= part.solids <= 1:
        say("solids", _("Solids are above 0 and at most 100 %."))
    elif part.solids < 1 and part.role not in LIQUIDS:
        say("solids", _("Solids below 100 % are for a polymer, pigment or admixture."))
    for field, value in (
        ("absorption", part.absorption),
        ("written_moisture", part.written_moisture or 0.0),
    ):
        if not 0 <= value < 0.5:
            say(field, _("From 0 to below 50 % of its dry weight."))
        elif value and part.role not in GRAINS:
            say(field, _("Only sand and aggregate have this."))
    return found


def _of_names(parts: Sequence[Part]) -> list[Fault]:
    seen: dict[str, int] = {}
    found = []
    for row, part in enumerate(parts):
        if seen.setdefault(part.name.strip().casefold(), row) != row:
            found.append(Fault(_("Another part has this name already. Rename one."), row, "name"))
    return found


def _of_cement(parts: Sequence[Part]) -> list[Fault]:
    cements = [row for row, part in enumerate(parts) if part.role == "cement"]
    if cements and all(parts[row].by in {"cement", "solids-of-cement"} for row in cements):
        words = _("Cement cannot be written as a share of itself alone. Take parts by weight.")
        return [Fault(words, cements[0], "by")]
    binders = [part for part in parts if part.role in CEMENTITIOUS]
    whole = sum(part.amount for part in binders)
    if cements and all(part.by == "cementitious" for part in binders) and abs(whole - 1) > LOOSE:
        words = _(
            "The shares of cement and pozzolan come to %(percent)s %%, and must come to 100 %%."
        )
        return [Fault(words % {"percent": f"{100 * whole:.4g}"})]
    return []


def _of_whole(parts: Sequence[Part], fibre: Fibre) -> list[Fault]:
    if len(parts) > MOST_PARTS:
        return [Fault(_("A recipe has at most %(count)d parts.") % {"count": MOST_PARTS})]
    found = []
    if not any(part.role == "cement" and part.amount > 0 for part in parts):
        found.append(Fault(_("There is no cement with an amount in it. Add one.")))
    if not any(part.role == "water" for part in parts):
        found.append(
            Fault(
                _("There is no water in it. Add a part that is water, so that it can be weighed.")
            )
        )
    shares = sum(part.amount for part in parts if part.by == "total")
    if shares >= 1:
        found.append(
            Fault(
                _("The shares of the total come to %(percent)s %% and leave nothing for the rest.")
                % {"percent": f"{100 * shares:.4g}"}
            )
        )
    has_fibre = any(part.role == "fibre" for part in parts)
    for layer in ("face", "backer", "rib"):
        share = getattr(fibre, layer)
        if not 0 <= share <= MOST_FIBRE:
            found.append(
                Fault(_("From 0 to below 20 % of the total weight."), None, f"fibre_{layer}")
            )
        elif share > 0 and not has_fibre:
            found.append(
                Fault(
                    _("No part of the recipe is a fibre. Add one, or write 0 here."),
                    None,
                    f"fibre_{layer}",
                )
            )
    return found


def _of_engine(parts: Sequence[Part], fibre: Fibre) -> list[Fault]:
    """What only shows once the weights are worked out."""
    try:
        mix = normalise(mixture.Recipe(tuple(component_of(part) for part in parts)))
        for layer in ("face", "backer", "rib"):
            for_layer(mix, getattr(fibre, layer))
    except ValueError as error:
        return [_told(str(error), parts)]
    return []


def _told(text: str, parts: Sequence[Part]) -> Fault:
    """The engine's own sentence; one that begins with a part's name belongs to its row."""
    words = text[:1].upper() + text[1:] + "."
    for row, part in enumerate(parts):
        if text.startswith((f"{part.name} ", f"{part.name}:")):
            return Fault(words, row, "amount")
    return Fault(words)
