"""What the planner finds, in the shop's words."""

from __future__ import annotations

import datetime as dt

from jobs.planning.problem import Fault
from shop.services.settings import the_shop

# By the keys of `planning.holding`.
HELD_BY = {
    "table": "no casting table is free sooner",
    "rack": "the racks are full",
    "people": "nobody is free sooner",
    "booth": "the booth is taken",
    "wet bay": "the wet bay is taken",
    "truck": "the truck is out",
    "mixer": "the mixer is taken",
    "cure": "the concrete has to cure",
    "drying": "the piece has to dry",
    "recoat": "the wait between coats",
    "strength": "strength for the next step",
    "site": "the site's day",
    "caulk": "the form's caulk has to set",
    "sealer cure": "the sealer has to cure",
    "sealing air": "air that fits the sealer",
    "wait": "the wait after the step before",
    "pin": "a step that somebody pinned",
    "hours": "working hours",
    "none": "nothing: it is through as soon as its steps take",
}

FOUND_BY = {
    "aimed": "aimed at the late dates, on which promises are judged",
    "list": "listed by due date",
    "adapted": "the plan that stands, brought up to date",
    "shaken": "jobs taken out and put back in other orders",  # of runs kept from before
    "rearranged": "pieces taken at the same places in other orders",
    "whole": "solved as a whole",
    "neighbourhood": "late jobs and their neighbours solved together",
}


def fault_words(fault: Fault) -> str:
    return fault.words


def found_by(key: str) -> str:
    return FOUND_BY.get(key, key)


def proof_words(proved: bool, late: int) -> str:
    if proved and not late:
        return "No plan is better: nothing is late."
    if proved:
        return "Proved: no plan of these facts has less lateness."
    return "No proof that there is none better."


def clock_words(moment: dt.datetime) -> str:
    local = moment.astimezone(the_shop().zone)
    return f"{local:%a} {local.day} {local:%b} {local:%H:%M}"
