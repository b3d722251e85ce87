"""The steps of a route, what each waits for, and the milestones that come of it."""

from __future__ import annotations

from dataclasses import dataclass

from curing.drying_rate import DryingRate

CRITERIA: dict[str, str] = {
    "cast": "casting",
    "strength": "strength for handling",
    "handling": "strength to be lifted and carried",
    "equivalent age": "equivalent age",
    "trusted age": "the age from which this shop demolds clean",
    "clock floor": "the least hours after casting",
    "step wait": "the wait after the step before",
    "drying": "drying since the last wetting",
    "moisture": "drying to the moisture target",
    "weighing": "weighing until it loses no more",
    "concrete age": "the sealer's least concrete age",
    "recoat wait": "the recoat wait",
    "sealer cure": "sealer cure before handling",
    "previous step": "the step before",
    "crew hours": "crew hours",
    "sealing air": "air that fits the sealer",
}


@dataclass(frozen=True)
class Weighed:
    """What weighing a piece day by day has shown since its last wetting.

    dry_at : when its loss over a day had fallen under the shop's limit [h], None while it has not
    next_at : a day after the last weighing, before which no other can show it dry [h]; None
        while it was not weighed
    likely : what the time from the wetting is expected to be until then [h]
    """

    dry_at: float | None
    next_at: float | None
    likely: float


@dataclass(frozen=True)
class Step:
    """One step of a route. Hours; strength in MPa. The first step is the casting itself.

    since_cast_hours : clock hours after casting, at the least
    since_previous_hours : clock hours after the step before is finished
    equivalent_hours : equivalent age after casting, at the least
    strength_mpa : strength by the mix's curve
    handling_mpa : strength that the piece's own section asks for to be lifted, see
        `curing.handling`
    trusted_hours : equivalent age from which this shop's demolds come out clean, see
        `curing.outcomes`
    drying_hours : after the last wetting, half counted while cold or humid
    dries : after the last wetting, to a moisture target in the air of the room
    weighed : after the last wetting, until weighing shows that it loses no more
    coat : which coat of the sealer this is, 0 for none
    film : waits until the sealer may be handled
    wets : finishing it starts the drying clock again
    """

    key: str
    name: str
    since_cast_hours: float = 0.0
    since_previous_hours: float = 0.0
    equivalent_hours: float | None = None
    strength_mpa: float | None = None
    handling_mpa: float | None = None
    trusted_hours: float | None = None
    drying_hours: float | None = None
    dries: DryingRate | None = None
    weighed: Weighed | None = None
    coat: int = 0
    film: bool = False
    wets: bool = False
    labour_hours: float = 0.0
    kind: str = ""


@dataclass(frozen=True)
class Wait:
    """One criterion of a step: when it is met [h], and the figure it asks for."""

    criterion: str
    until: float
    needed: float | None = None
    unit: str = ""


@dataclass(frozen=True)
class Milestone:
    """When a step may be done (earliest), can be (workable), and is finished.

    governs : the criterion that set `earliest`
    held_by : what moved `workable` past it: 'crew hours', 'sealing air', or nothing
    note : what else the crew should know, such as a coat that is held back or abraded
    """

    key: str
    name: str
    earliest: float
    workable: float
    finish: float
    governs: str
    detail: str
    waits: tuple[Wait, ...] = ()
    done: bool = False
    held_by: str = ""
    note: str = ""
