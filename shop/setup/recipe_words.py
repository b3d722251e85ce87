"""A recipe, its checks and its changes in words, in the shop's units."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from curing import mixture
from curing.mix_checks import DEFAULT, LAYERS, Check
from curing.mixture import WATER_DENSITY, for_layer
from shop import measures
from shop.models import ComponentRole, Recipe, Shop, WrittenBy
from shop.services import recipes
from shop.services.recipe_changes import Changes, PartChange
from shop.services.recipe_faults import Fault, Fibre, Part

LAYER_WORDS: Mapping[str, Any] = {
    "face": lazy("face coat"),
    "backer": lazy("backer"),
    "rib": lazy("ribs and edges"),
}
CHECK_WORDS: Mapping[str, Any] = {
    "water": lazy("Free water over cement and pozzolan (w/cm)"),
    "polymer": lazy("Polymer solids over cement"),
    "pozzolan": lazy("Pozzolan over cement and pozzolan"),
    "pigment": lazy("Pigment over cement"),
    "fibre-face": lazy("Fibre in the face coat"),
    "fibre-backer": lazy("Fibre in the backer"),
    "fibre-rib": lazy("Fibre in ribs and edges"),
}
FIELD_WORDS: Mapping[str, Any] = {
    "role": lazy("what it is"),
    "amount": lazy("amount"),
    "by": lazy("how it is written"),
    "density": lazy("density"),
    "solids": lazy("solids"),
    "absorption": lazy("absorption"),
    "written_moisture": lazy("moisture as written"),
}
RATIOS = {WrittenBy.WATER_OF_CEMENT: "w/c", WrittenBy.WATER_OF_CEMENTITIOUS: "w/cm"}
WRITTEN: Mapping[str, Any] = {
    WrittenBy.PARTS: lazy("parts"),
    WrittenBy.CEMENT: lazy("of cement"),
    WrittenBy.CEMENTITIOUS: lazy("of cement and pozzolan"),
    WrittenBy.TOTAL: lazy("of the total"),
    WrittenBy.SOLIDS_OF_CEMENT: lazy("solids of cement"),
    WrittenBy.SOLIDS_OF_CEMENTITIOUS: lazy("solids of cement and pozzolan"),
}


def is_percent(by: str) -> bool:
    """Typed and shown as a percentage; parts and ratios are plain numbers."""
    return by not in {WrittenBy.PARTS, *RATIOS}


def percent_words(share: float, digits: int = 3) -> str:
    """0.0346 is '3.46 %'; never by a power of ten."""
    text = f"{100 * share:.{digits}g}"
    return f"{float(text):g} %" if "e" in text else f"{text} %"


def written_words(part: Part) -> str:
    """An amount as it is written: '5 % solids of cement', '100 parts', 'w/cm 0.34'."""
    if part.by in RATIOS:
        return f"{RATIOS[WrittenBy(part.by)]} {part.amount:.4g}"
    if is_percent(part.by):
        return f"{100 * part.amount:.4g} % {WRITTEN[part.by]}"
    return f"{part.amount:.6g} {WRITTEN[part.by]}"


def role_words(role: str) -> str:
    return str(dict(ComponentRole.choices).get(role, role))


def density_words(part: Part, shop: Shop) -> str:
    over_water = _("%(times)s times water") % {"times": f"{part.density / WATER_DENSITY:.3g}"}
    return f"{over_water} ({measures.words(part.density, 'density', shop)})"


def detail_words(part: Part, shop: Shop) -> str:
    """What else is known of it: density, solids, absorption, moisture."""
    plain_water = part.role == "water" and abs(part.density - WATER_DENSITY) < 5
    said = [] if plain_water else [density_words(part, shop)]
    if part.solids < 1:
        said.append(_("%(share)s solids") % {"share": percent_words(part.solids)})
    if part.absorption:
        said.append(_("absorbs %(share)s") % {"share": percent_words(part.absorption)})
    if part.role in mixture.GRAINS:
        said.append(_moisture_words(part))
    return ", ".join(said)


def _moisture_words(part: Part) -> str:
    if part.written_moisture is None:
        return _("weighed saturated and surface-dry")
    return _("weighed at %(share)s moisture") % {"share": percent_words(part.written_moisture)}


@dataclass(frozen=True)
class PartRow:
    name: str
    role: str
    written: str
    detail: str
    shares: list[tuple[str, str]]  # layer, share of the total weight


@dataclass(frozen=True)
class CheckRow:
    key: str
    what: str
    value: str
    usual: str
    within: bool
    consequence: str
    basis: str
    set_by: str


@dataclass(frozen=True)
class Shown:
    """A recipe as its page reads it; `faults` where the engine cannot make weights of it."""

    parts: list[PartRow]
    fibre: list[tuple[str, str]]
    checks: list[CheckRow]
    beyond: list[CheckRow]
    density: list[str]
    density_wrong: bool
    density_basis: str
    faults: list[str]


def shown(recipe: Recipe, shop: Shop) -> Shown:
    return shown_parts(recipes.parts_of(recipe), recipes.fibre_of(recipe), recipe.mix.density, shop)


def shown_parts(parts: Sequence[Part], fibre: Fibre, unit_weight: float, shop: Shop) -> Shown:
    layers = [(str(LAYER_WORDS[layer]), percent_words(getattr(fibre, layer))) for layer in LAYERS]
    try:
        notes = recipes.notes_of(parts, fibre, unit_weight)
        shares = _shares(parts, fibre)
    except ValueError as error:  # of rows that the app did not write
        bare = [_row(part, [], shop) for part in parts]
        return Shown(bare, layers, [], [], [], False, "", [str(error)])
    rows = [_row(part, shares[part.name], shop) for part in parts]
    checks = [_check_row(check) for check in notes.checks]
    density, wrong, basis = _density(notes, shop)
    beyond = [row for row in checks if not row.within]
    return Shown(rows, layers, checks, beyond, density, wrong, basis, [])


def _shares(parts: Sequence[Part], fibre: Fibre) -> dict[str, list[tuple[str, str]]]:
    mix = recipes.weights_of(parts)
    found: dict[str, list[tuple[str, str]]] = {part.name: [] for part in parts}
    for layer in LAYERS:
        loaded = for_layer(mix, getattr(fibre, layer))
        for component, kg in zip(loaded.components, loaded.kg, strict=True):
            share = f"{100 * kg:.2f} %"
            found[component.name].append((str(LAYER_WORDS[layer]), share))
    return found


def _row(part: Part, shares: list[tuple[str, str]], shop: Shop) -> PartRow:
    return PartRow(
        part.name,
        "" if part.name.casefold() == part.role else role_words(part.role),
        written_words(part),
        detail_words(part, shop),
        shares,
    )


def _check_row(check: Check) -> CheckRow:
    figure: Callable[[float], str] = percent_words
    if check.key == "water":
        figure = _ratio
    what = str(CHECK_WORDS.get(check.key, check.what))
    value = figure(check.value)
    if check.key == "water" and abs(check.figures["water_cement"] - check.value) > 5e-4:
        value = _("%(ratio)s, of cement alone (w/c) %(other)s") % {
            "ratio": value,
            "other": _ratio(check.figures["water_cement"]),
        }
    low = check.value < check.usual.least
    return CheckRow(
        key=check.key,
        what=what,
        value=value,
        usual=_usual(check, figure),
        within=check.within,
        consequence="" if check.within else check.consequence[0 if low else 1],
        basis=check.usual.basis,
        set_by=_("a default of this program")
        if check.usual.set_by == DEFAULT
        else check.usual.set_by,
    )


def _ratio(value: float) -> str:
    return f"{value:.3f}".rstrip("0").ljust(4, "0")


def _usual(check: Check, figure: Callable[[float], str]) -> str:
    least, greatest = check.usual.least, check.usual.greatest
    if least == greatest == 0:
        return _("none")
    if least == 0:
        return _("at most %(limit)s") % {"limit": figure(greatest)}
    return f"{figure(least).removesuffix(' %')} – {figure(greatest)}"


def _density(notes: recipes.RecipeNotes, shop: Shop) -> tuple[list[str], bool, str]:
    """Absolute volume beside the mix's unit weight."""

    def words(density: float) -> str:
        return measures.words(density, "unit_weight", shop)

    free = {str(LAYER_WORDS[layer]): words(notes.air_free[layer]) for layer in LAYERS}
    seen = notes.density
    said = [
        _("Without any air, by the absolute volumes of its parts: %(layers)s.")
        % {"layers": ", ".join(f"{layer} {density}" for layer, density in free.items())}
    ]
    wrong = any(note.key == "heavier-than-solid" for note in seen.notes)
    if wrong:
        said.append(
            _("The mix's stated unit weight of %(stated)s is over what the backer weighs without "
              "any air: a density or an amount here, or that unit weight, is wrong.")
            % {"stated": words(seen.measured)}
        )  # fmt: skip
    elif seen.air < 0:
        said.append(
            _("The mix's stated unit weight of %(stated)s is as good as that of the backer without "
              "any air.") % {"stated": words(seen.measured)}
        )  # fmt: skip
    else:
        said.append(
            _("The mix's stated unit weight of %(stated)s would mean %(air)s of air in the backer. "
              "Air was not measured.")
            % {"stated": words(seen.measured), "air": percent_words(seen.air, 2)}
        )  # fmt: skip
    return said, wrong, seen.notes[0].basis


def fault_words(faults: Sequence[Fault], parts: Sequence[Part]) -> list[str]:
    """Each with the part it is about."""
    said = []
    for fault in faults:
        layer = LAYER_WORDS.get(fault.field.removeprefix("fibre_"))
        who = parts[fault.row].name if fault.row is not None else layer
        said.append(f"{who}: {fault.words}" if who else fault.words)
    return said


def change_words(found: Changes, shop: Shop) -> list[str]:
    said = [_part_change(one, shop) for one in found.parts]
    said += [
        _("Fibre in %(layer)s: %(was)s, now %(now)s.")
        % {
            "layer": LAYER_WORDS[one.layer],
            "was": percent_words(one.was),
            "now": percent_words(one.now),
        }
        for one in found.fibre
    ]
    return said


def _part_change(one: PartChange, shop: Shop) -> str:
    if one.was is None and one.now is not None:
        return _("%(name)s is new: %(amount)s.") % {
            "name": one.name,
            "amount": written_words(one.now),
        }
    if one.was is None or one.now is None:
        return _("%(name)s is left out.") % {"name": one.name}
    said = []
    if {"amount", "by"} & set(one.fields):
        said.append(_was_now(written_words(one.was), written_words(one.now)))
    for field in one.fields:
        if field == "place":
            said.append(_("added at another place"))
        elif field not in {"amount", "by"}:
            was, now = (_value(field, part, shop) for part in (one.was, one.now))
            said.append(f"{FIELD_WORDS[field]} {_was_now(was, now)}")
    return f"{one.name}: {'; '.join(said)}."


def _was_now(was: str, now: str) -> str:
    return _("%(was)s, now %(now)s") % {"was": was, "now": now}


def _value(field: str, part: Part, shop: Shop) -> str:
    if field == "role":
        return role_words(part.role)
    if field == "density":
        return f"{part.density / WATER_DENSITY:.4g}"
    value = getattr(part, field)
    return _("surface-dry") if value is None else percent_words(value)


@dataclass(frozen=True)
class WeighRow:
    name: str
    weight: str
    small: str  # on the small scale, of what is weighed there; else empty


SMALL = ("pigment", "admixture")
DECIMALS = {"lb": 2, "oz": 1, "kg": 3, "g": 1}


def weigh_rows(mix: mixture.Mix, weights: Mapping[str, float], shop: Shop) -> list[WeighRow]:
    """In the order of adding, unrounded by any scale's step."""
    return [
        WeighRow(
            component.name,
            on_scale(weights[component.name], shop.scale_unit),
            on_scale(weights[component.name], shop.small_scale_unit)
            if component.role in SMALL
            else "",
        )
        for component in mix.components
        if weights[component.name] > 0
    ]


def on_scale(kg: float, unit: str) -> str:
    number = measures.registry().Quantity(kg, "kg").to(unit).magnitude
    return f"{number:,.{DECIMALS[unit]}f} {unit}"
