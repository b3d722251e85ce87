from shop.models.air import PlannedAir, Reading, Room, Sensor
from shop.models.calendar import ClosedDay, WorkingHours
from shop.models.materials import Mix, Sealer
from shop.models.people import Invitation, Person, Role
from shop.models.route import DryingRule, Route, RouteStep, StepKind
from shop.models.settings import Change, JudgedOn, Shop
from shop.models.strength_tests import FitTaken, SpecimenKind, StrengthTest

__all__ = [
    "Change",
    "ClosedDay",
    "DryingRule",
    "FitTaken",
    "Invitation",
    "JudgedOn",
    "Mix",
    "Person",
    "PlannedAir",
    "Reading",
    "Role",
    "Room",
    "Route",
    "RouteStep",
    "Sealer",
    "Sensor",
    "Shop",
    "SpecimenKind",
    "StepKind",
    "StrengthTest",
    "WorkingHours",
]
