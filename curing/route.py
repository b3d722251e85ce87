"""The steps of a route, what each waits for, and the milestones that come of it."""

from __future__ import annotations

from dataclasses import dataclass

CRITERIA: dict[str, str] = {
    "cast": "casting",
    "strength": "strength for handling",
    "equivalent age": "equivalent age",
    "clock floor": "the least hours after casting",
    "step wait": "the wait after the step before",
    "drying": "drying since the last wetting",
    "concrete age": "the sealer's least concrete age",
    "recoat wait": "the recoat wait",
    "sealer cure": "sealer cure before handling",
    "previous step": "the step before",
    "crew hours": "crew hours",
    "sealing air": "air that fits the sealer",
}


@dataclass(frozen=True)
class Step:
    """One step of a route. Hours; strength in MPa. The first step is the casting itself.

    since_cast_hours : clock hours after casting, at the least
    since_previous_hours : clock hours after the step before is finished
    equivalent_hours : equivalent age after casting, at the least
    strength_mpa : strength by the mix's curve
    drying_hours : after the last wetting, half counted while cold or humid
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
    drying_hours: float | None = None
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
