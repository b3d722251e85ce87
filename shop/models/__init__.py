from shop.models.air import PlannedAir, Reading, Room, Sensor
from shop.models.calendar import ClosedDay, WorkingHours
from shop.models.materials import Mix, Sealer
from shop.models.people import Invitation, Person, Role
from shop.models.recipes import ComponentRole, Recipe, RecipePart, WrittenBy
from shop.models.route import DryingRule, Route, RouteStep, StepKind
from shop.models.settings import Change, JudgedOn, ScaleUnit, Shop
from shop.models.strength_tests import FitTaken, SpecimenKind, StrengthTest
from shop.models.tables import CastingTable

__all__ = [
    "CastingTable",
    "Change",
    "ClosedDay",
    "ComponentRole",
    "DryingRule",
    "FitTaken",
    "Invitation",
    "JudgedOn",
    "Mix",
    "Person",
    "PlannedAir",
    "Reading",
    "Recipe",
    "RecipePart",
    "Role",
    "Room",
    "Route",
    "RouteStep",
    "ScaleUnit",
    "Sealer",
    "Sensor",
    "Shop",
    "SpecimenKind",
    "StepKind",
    "StrengthTest",
    "WorkingHours",
    "WrittenBy",
]
