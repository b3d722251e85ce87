from shop.models.air import PlannedAir, Reading, Room, Sensor
from shop.models.calendar import ClosedDay, ExtraHours, WorkingHours
from shop.models.crew import FORM, Absence, Stations, Worker, works
from shop.models.materials import Mix, Sealer
from shop.models.people import Invitation, Person, Role
from shop.models.recipes import ComponentRole, Recipe, RecipePart, WrittenBy
from shop.models.route import DryingRule, Route, RouteStep, StepKind
from shop.models.settings import Change, JudgedOn, ScaleUnit, Shop
from shop.models.strength_tests import FitTaken, SpecimenKind, StrengthTest
from shop.models.tables import CastingTable

__all__ = [
    "FORM",
    "Absence",
    "CastingTable",
    "Change",
    "ClosedDay",
    "ComponentRole",
    "DryingRule",
    "ExtraHours",
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
    "Stations",
    "StepKind",
    "StrengthTest",
    "Worker",
    "WorkingHours",
    "WrittenBy",
    "works",
]
