"""What a run's record means: the mix that was made, how much of it, and if that is enough."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from jobs.services.batch_record import RunOn
from jobs.services.run_record import Made
from jobs.services.weigh_sheets import ShownLine
from shop import measures
from shop.models import Shop

__all__ = ["Sentence", "ShownLine", "sentences"]


@dataclass(frozen=True)
class Sentence:
    """warn : somebody should act on it"""

    text: str
    warn: bool = False


def sentences(on: RunOn, shop: Shop) -> list[Sentence]:
    if on.record is None or on.made is None:
        return []
    return [*_weighed(on), *_water(on, shop), *_yield(on.made, shop), *_density(on.made, shop)]


def _weighed(on: RunOn) -> Iterator[Sentence]:
    open_lines = [line.name for line in on.lines if line.weighed is None]
    if open_lines and len(open_lines) == len(on.lines):
        yield Sentence("Nothing of it is weighed yet: what follows counts the sheet's own weights.")
    elif open_lines:
        names = ", ".join(dict.fromkeys(open_lines))
        yield Sentence(f"Not written down, and counted as on the sheet: {names}.", warn=True)
    off = [line.name for line in on.lines if line.within is False]
    if off:
        names = ", ".join(dict.fromkeys(off))
        yield Sentence(f"Beyond its tolerance: {names}.", warn=True)


def _water(on: RunOn, shop: Shop) -> Iterator[Sentence]:
    if on.record is None:
        return
    ratio = on.record.ratios.get("water_cementitious")
    if ratio is None:
        return
    wanted = on.run.sheet.get("ratios", {}).get("water_cementitious", [None])[0]
    beside = f", {wanted:.3f} by the recipe" if wanted else ""
    added = on.run.added_water_kg
    with_it = f" with the {measures.words(added, 'scale', shop)} added" if added else ""
    yield Sentence(
        f"Water to cement and pozzolan{with_it}: {ratio:.3f} by weight{beside}.",
        warn=bool(added),
    )


def _yield(made: Made, shop: Shop) -> Iterator[Sentence]:
    if made.yield_m3 is None:
        yield Sentence("The unit weight was not measured, so how much was made is not known.")
        return
    volume = measures.words(made.yield_m3, "volume", shop)
    if made.net_m3 is None or made.needed_m3 is None:
        yield Sentence(f"By its weight and unit weight (ASTM C138) the run made {volume}.")
        return
    held = measures.words(made.net_m3, "volume", shop)
    needed = measures.words(made.needed_m3, "volume", shop)
    start = (
        f"By its weight and unit weight (ASTM C138) the run made {volume}; its forms hold {held}"
    )
    if made.with_waste:
        yield Sentence(f"{start}, {needed} with waste: it fills them.")
    elif made.fills:
        left = measures.words(made.yield_m3 - made.net_m3, "volume", shop)
        yield Sentence(
            f"{start}, {needed} with waste: it fills them if no more than {left} is left in the "
            "mixer and on tools.",
            warn=True,
        )
    else:
        short = measures.words(made.net_m3 - made.yield_m3, "volume", shop)
        yield Sentence(
            f"{start}: it is {short} short of filling them. Pieces come out thinner, or a run must "
            "make it up before this one stiffens.",
            warn=True,
        )


def _density(made: Made, shop: Shop) -> Iterator[Sentence]:
    check = made.density
    if check is None:
        return
    solid = measures.words(check.air_free, "density", shop)
    found = measures.words(check.measured, "density", shop)
    if any(note.key == "heavier-than-solid" for note in check.notes):
        yield Sentence(
            f"{found} is more than the {solid} that what was weighed has without any air: a "
            "density in the recipe, a weight, or what the cup holds is wrong.",
            warn=True,
        )
        return
    air = f"{max(check.air, 0.0):.1%}".replace("%", " %")
    yield Sentence(
        f"{found} measured, {solid} without air by what was weighed (ACI 211.1): air would be "
        f"{air}. Air itself was not measured."
    )
