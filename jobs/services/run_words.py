"""What is to be known of a cast's runs, in words and in the shop's own units."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import gettext as _

from curing.limits import Note
from curing.moist_sand import TooWet
from jobs.models import MixerRun
from jobs.services.mix_names import basis, component
from jobs.services.run_cover import Gap
from jobs.services.scales import Scale
from jobs.services.weigh_sheets import layer_words
from shop.limit_words import LimitNote
from shop.measures import words
from shop.models import Recipe, Shop

PRACTICE = "common practice, no source"


def plan_note(note: Note, shop: Shop) -> LimitNote:
    """A note of `curing.runs`; the engine's own words for one that is not known here."""
    name = note.text.partition(": ")[0]
    piece, _comma, layer = name.partition(", ")
    if "-" not in piece:  # a set goes by its job's number, a piece alone by its code
        piece = _("Job %(number)s") % {"number": piece}
    facts = {
        "name": piece,
        "layer": layer_words(layer) if layer else "",
        "load": words(note.figures.get("load"), "weight", shop),
        "mixer": words(note.figures.get("capacity"), "weight", shop),
        "runs": f"{note.figures.get('runs', 0):.0f}",
    }
    if note.key == "split-by-layer":
        said = _("%(name)s needs %(load)s and the mixer takes %(mixer)s: its layers come from "
                 "different runs, each layer of all pieces from one run if it can.")  # fmt: skip
        do = _("Weigh every run from the same lots.")
    elif note.key == "split-by-area":
        said = _("%(name)s needs %(load)s of %(layer)s and the mixer takes %(mixer)s: its pieces "
                 "get it from %(runs)s runs, and their colour may differ.")  # fmt: skip
        do = _("Weigh these runs alike, to the last digit and from the same lots.")
    elif note.key == "piece-over-mixer":
        said = _("%(name)s alone needs %(load)s of %(layer)s and the mixer takes %(mixer)s: it "
                 "comes from %(runs)s runs, and the join may show.")  # fmt: skip
        do = _("Place each run before the one before it stiffens.")
    else:
        return LimitNote(note.key, note.text, "", basis(note.basis))
    return LimitNote(note.key, said % facts, do, basis(note.basis))


def gap_note(gap: Gap, shop: Shop) -> LimitNote:
    facts = {
        "layer": layer_words(gap.layer),
        "volume": words(abs(gap.m3), "volume", shop),
        "weight": words(abs(gap.kg), "scale", shop),
        "pieces": ", ".join(gap.pieces),
    }
    if gap.short:
        said = _("The opened runs no longer cover the %(layer)s: %(volume)s (%(weight)s) are "
                 "missing for %(pieces)s, which changed since.")  # fmt: skip
        do = _("The runs to open below make it up; mix them from the same lots.")
    else:
        said = _("The opened runs make %(volume)s (%(weight)s) more %(layer)s than is needed now, "
                 "for %(pieces)s.")  # fmt: skip
        do = _("Use it where it fits, or strike a run that nobody has mixed yet.")
    return LimitNote(f"gap-{gap.layer}", said % facts, do, "")


def sheet_note(note: Note, scale: Scale) -> LimitNote:
    """A note of `curing.weigh_sheet`, in the unit of the line's scale."""
    name = note.text.partition(": ")[0]
    facts = {
        "name": component(name),
        "wanted": scale.words(note.figures.get("exact_kg", 0.0), more=2),
        "step": scale.words(note.figures.get("step_kg", 0.0)),
        "off": scale.words(note.figures.get("tolerance_kg", 0.0), more=1),
    }
    if note.key == "below-scale":
        said = _("%(name)s: %(wanted)s on a scale that shows %(step)s rounds to nothing.")
        do = _("Use a finer scale or a larger run.")
    elif note.key == "coarse-scale":
        said = _("%(name)s: %(wanted)s on a scale that shows %(step)s can be off by %(off)s, more "
                 "than its tolerance.")  # fmt: skip
        do = _("Use a finer scale.")
    else:
        return LimitNote(note.key, note.text, "", basis(note.basis))
    return LimitNote(note.key, said % facts, do, basis(note.basis))


def too_wet(number: int, error: TooWet, shop: Shop) -> str:
    return _(
        "The sheet of run %(number)d cannot be written: at this moisture the sand brings "
        "%(brings)s of water, and the recipe adds only %(adds)s. Look at the moisture again, or "
        "take a drier sand."
    ) % {
        "number": number,
        "brings": words(error.brings_kg, "scale", shop),
        "adds": words(error.adds_kg, "scale", shop),
    }


def opened_notes(opened: Sequence[MixerRun], recipe: Recipe | None, mix_id: int) -> list[LimitNote]:
    """Runs that were opened for another mix, or from an older version of the recipe."""
    found = []
    others = [run for run in opened if run.recipe.mix_id != mix_id]
    for run in others:
        facts = {"number": run.number, "mix": run.recipe.mix.name}
        said = _("Run %(number)d was opened for %(mix)s, another mix than the pieces' now: it "
                 "counts for nothing here.") % facts  # fmt: skip
        found.append(LimitNote("other-mix", said, _("Strike it if nobody mixed it."), ""))
    old = [run for run in opened if run not in others and recipe and run.recipe_id != recipe.pk]
    if old and recipe:
        facts = {
            "runs": ", ".join(str(run.number) for run in old),
            "old": ", ".join(str(n) for n in sorted({run.recipe.number for run in old})),
            "new": recipe.number,
        }
        said = _("Opened with version %(old)s of the recipe: run %(runs)s. Runs opened now are of "
                 "version %(new)d, and their colour may differ.") % facts  # fmt: skip
        do = _("What must match is mixed from one version.")
        found.append(LimitNote("other-version", said, do, basis(PRACTICE)))
    return found


def apart_note(codes: Sequence[str]) -> LimitNote:
    said = _("To match these in colour, and not in this cast: %(codes)s.")
    do = _("Cast them together where the tables allow it; else weigh from the same lots.")
    return LimitNote("apart", said % {"codes": ", ".join(codes)}, do, basis(PRACTICE))


def faulty_note(code: str, why: str) -> LimitNote:
    said = _("%(code)s is reckoned as a plain slab, without edges and ribs, since its section "
             "cannot be cast: %(why)s")  # fmt: skip
    do = _("Mend its section before a run is opened.")
    return LimitNote("faulty", said % {"code": code, "why": why}, do, "")
