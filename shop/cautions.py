"""What can hurt somebody at a step. Shown at the step, in the words of somebody standing there.

General knowledge with its reference, never a judgement about this piece: local rules, the
product's data sheet and licensed practice come first, and each text ends by saying so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.utils.translation import gettext_lazy as _

from shop.models import StepKind

if TYPE_CHECKING:
    from django_stubs_ext import StrPromise


@dataclass(frozen=True)
class Caution:
    text: StrPromise
    reference: StrPromise


WET_CEMENT = Caution(
    _(
        "Wet cement burns before it hurts (pH 12 to 13). Waterproof gloves and eye protection; "
        "wash skin at once, change soaked clothes. The cement's safety data sheet and local rules "
        "come first."
    ),
    _("Safety data sheet of the cement"),
)
DUST_WEIGHING = Caution(
    _(
        "Weighing and tipping sand, cement and pozzolan raises silica and fibre dust. Draw it off "
        "or keep it down, wear the respirator your program asks for. Follow the data sheets and "
        "local rules."
    ),
    _("29 CFR 1910.1053: limit 50 µg/m³, action level 25 µg/m³, 8-hour mean"),
)
GLASS_FIBRE = Caution(
    _(
        "Chopped glass fibre flies and pricks eyes, skin and throat. Gloves, closed sleeves, eye "
        "protection; tip it in slowly and low. The fibre's safety data sheet and local rules come "
        "first."
    ),
    _("Safety data sheet of the fibre"),
)
BAGS = Caution(
    _(
        "Bags and buckets are heavy: a full cement bag weighs 94 lb (43 kg). Split it, lift it in "
        "pairs or wheel it. No rule gives one weight that suits everybody; local rules come first."
    ),
    _("NIOSH lifting equation: 51 lb (23 kg) at best, less with reach, height and turning"),
)
MIXER = Caution(
    _(
        "A turning mixer takes hold of sleeves and fingers. Stop it and cut its power before "
        "anything reaches in. Its manual and local rules come first."
    ),
    _("Manual of the mixer; 29 CFR 1910.147 where it applies"),
)
COVER_AT_ONCE = Caution(
    _(
        "Cover at once, no moving air. Fresh concrete that dries at its face shrinks and cracks "
        "before it is strong: plastic down to the edges as each piece is done, fans off, doors "
        "shut. The cement's and the polymer's data sheets and local rules come first."
    ),
    _("ACI 305R: precautions from 0.2 lb/ft²/h (1.0 kg/m²/h) of evaporation"),
)
EARLY_DEMOLD = Caution(
    _(
        "A piece taken out early can break and fall. Support narrow rails at cutouts before you "
        "pull, break the bond evenly, keep feet and hands out from under it. The date here is a "
        "reckoning: the shop's own tests and a licensed engineer decide where it matters."
    ),
    _("The shop's own cubes and coupons (ASTM C109, C947)"),
)
LIFTING = Caution(
    _(
        "Agree who calls the lift before anybody lifts. Enough people for the weight, load close, "
        "no twisting. No rule gives one weight that suits everybody: the shop sets its own, and "
        "local rules come first."
    ),
    _("NIOSH lifting equation: 51 lb (23 kg) at best, less with reach, height and turning"),
)
SILICA_SHOP = Caution(
    _(
        "Grinding cured concrete frees silica that scars the lungs. Grind wet or with the dust "
        "drawn off at the tool, and wear the respirator your program asks for. Your exposure plan "
        "and local rules come first."
    ),
    _("29 CFR 1910.1053: limit 50 µg/m³, action level 25 µg/m³, 8-hour mean"),
)
WET_TOOLS = Caution(
    _(
        "Water and current: plug wet tools into a GFCI, test it first, keep cords off the wet "
        "floor. The tool's manual and a licensed electrician come first."
    ),
    _("Manual of the tool; local electrical code"),
)
SEALER_SHEET = Caution(
    _(
        "Solvent and mist: run the booth's exhaust, keep flames and sparks out, wear gloves and "
        "the cartridge the sealer's data sheet names. Its limits and local rules govern."
    ),
    _("Technical and safety data sheets of the sealer"),
)
ISOCYANATES = Caution(
    _(
        "Two-part urethane: isocyanates can sensitise for life, after which any trace sets off "
        "asthma. Supplied air or what the data sheet asks for, no bare skin, nobody else in the "
        "booth. The data sheet, local rules and an occupational physician come first."
    ),
    _("NIOSH and OSHA limits on the sealer's safety data sheet"),
)
UNVENTED_HEATERS = Caution(
    _(
        "A heater that burns inside without a flue fills a closed room with carbon monoxide, which "
        "nobody smells. Heat by electricity or through a flue, with an alarm in the room and fresh "
        "air, and nobody sleeps there. The heater's manual and local rules come first."
    ),
    _("29 CFR 1910.1000, Table Z-1: limit 50 ppm, 8-hour mean; manual of the heater"),
)
ON_EDGE = Caution(
    _(
        "Carry and crate thin pieces on edge, tied to an A-frame leaning about 10°, and stay out "
        "of the shadow it would fall in. Never free one side alone. Carrier's rules and local "
        "rules come first."
    ),
    _("Common practice"),
)
SILICA_SITE = Caution(
    _(
        "Cutting or drilling on site: use the water or dust control listed for that tool, and "
        "keep others away. Site rules, local rules and the listed control come first."
    ),
    _("29 CFR 1926.1153, Table 1"),
)
SUPPORTS = Caution(
    _(
        "Overhangs, wall panels and supports: a licensed engineer says what holds them, before "
        "the piece is set. Local building rules come first."
    ),
    _("Local building code"),
)

AT_STEP: dict[str, tuple[Caution, ...]] = {
    StepKind.CAST: (WET_CEMENT, DUST_WEIGHING),
    StepKind.DEMOLD: (EARLY_DEMOLD, LIFTING),
    StepKind.GRIND: (SILICA_SHOP, WET_TOOLS),
    StepKind.HONE: (SILICA_SHOP, WET_TOOLS),
    StepKind.FILL: (WET_CEMENT,),
    StepKind.COAT: (SEALER_SHEET,),
    StepKind.CRATE: (LIFTING, ON_EDGE),
    StepKind.DELIVER: (LIFTING, ON_EDGE),
    StepKind.INSTALL: (LIFTING, ON_EDGE, SILICA_SITE, SUPPORTS),
    StepKind.OTHER: (),
}

# Where a run is weighed and mixed.
AT_MIXER = (WET_CEMENT, DUST_WEIGHING, GLASS_FIBRE, BAGS, MIXER)


def for_step(kind: str, isocyanates: bool = False) -> list[Caution]:
    """What to show at a step of this kind; `isocyanates` when its sealer is a two-part urethane."""
    cautions = list(AT_STEP.get(kind, ()))
    if kind == StepKind.COAT and isocyanates:
        cautions.insert(0, ISOCYANATES)
    return cautions
