"""The demo's people, customers and jobs. All of them are invented, and so is the town."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from shop.models import Role

SHOP_NAME = "Ferrow Bend Thin Concrete"
TOWN = "Ferrow Bend"
PASSWORD = "cast-then-cure"  # noqa: S105  printed for everybody to see


@dataclass(frozen=True)
class DemoPerson:
    email: str
    name: str
    role: str
    language: str = "en"


OWNER = DemoPerson("owner@example.com", "Maren Oduya-Pike", Role.OWNER)
OFFICE = DemoPerson("office@example.com", "Tobias Wrenfield", Role.OFFICE)
CREW = DemoPerson("crew@example.com", "Dell Harkaway", Role.CREW)
CREW_SPANISH = DemoPerson("cuadrilla@example.com", "Inés Calvarra", Role.CREW, "es")
PEOPLE = (OWNER, OFFICE, CREW, CREW_SPANISH)

# Name, e-mail, phone, address in the invented town.
CUSTOMERS: dict[str, tuple[str, str, str]] = {
    "Philippa Strand-Oakes": ("philippa@example.com", "(555) 555-0112", "8 Tannery Rise"),
    "Nils Abernoth": ("nils@example.com", "(555) 555-0117", "31 Sluice Street"),
    "Thessaly Interiors": ("studio@example.com", "(555) 555-0121", "2 Weavers' Yard"),
    "Cora Windlass": ("cora@example.com", "(555) 555-0126", "77 Upper Kiln Road"),
    "The Copper Teasel café": ("teasel@example.com", "(555) 555-0133", "1 Old Ferry Steps"),
    "Jonah Brackwater": ("jonah@example.com", "(555) 555-0138", "19 Larch Terrace"),
    "Ottoline Fairmile": ("ottoline@example.com", "(555) 555-0144", "5 Meadow Lock"),
    "Ruben Castellane": ("ruben@example.com", "(555) 555-0149", "40 Sluice Street"),
    "Marguerite Tolliver-Aske": ("marguerite@example.com", "(555) 555-0155", "12 Orchard Row"),
    "Gable & Finch Builders": ("yard@example.com", "(555) 555-0160", "63 Quarry Road"),
    "Esme Holloway-Drift": ("esme@example.com", "(555) 555-0168", "9 Mill Pond Lane"),
}


class Promise(Enum):
    HOLDS = "holds"
    TIGHT = "tight"
    SHORT = "short"


COUNTER, CUTOUT, SMALL = 0, 1, 2  # places in shop.defaults.ROUTES
ACRYLIC, URETHANE = 0, 1  # places in shop.defaults.SEALERS
WHITE, CHARCOAL = "White premix", "Charcoal premix"


@dataclass(frozen=True)
class DemoPiece:
    letter: str
    name: str
    square_feet: float
    done: str = ""  # the last step that is marked; empty is not cast
    route: int = COUNTER
    notes: str = ""


@dataclass(frozen=True)
class DemoJob:
    number: str
    title: str
    customer: str
    pieces: tuple[DemoPiece, ...]
    price: int
    promise: Promise = Promise.HOLDS
    spare_days: int = 2  # beyond the first day that holds
    mix: str = WHITE
    sealer: int = ACRYLIC
    rested_days: int = 0  # working days it has waited since its last mark
    cast_in_days: int | None = None  # working days until the cast that is set
    told: bool = False
    told_by: str = "email"  # a Notice.Means
    link: bool = False
    install_in_days: int | None = None  # working days after the promised one
    cast_before_heater_failed: bool = False
    demolded_early: bool = False
    mistaken_mark: bool = False
    hold: str = ""
    recast: str = ""
    weight: int = 1
    notes: str = ""


JOBS: tuple[DemoJob, ...] = (
    DemoJob(
        "204", "Hearth and mantel shelf", "Nils Abernoth",
        (DemoPiece("A", "Hearth slab", 14, "install"),
         DemoPiece("B", "Mantel shelf", 6, "install", SMALL)),
        price=3400, rested_days=6, told=True,
    ),
    DemoJob(
        "208", "Café counter, front", "The Copper Teasel café",
        (DemoPiece("A", "Counter, left", 18, "deliver"),
         DemoPiece("B", "Counter, right", 15, "deliver")),
        price=7900, mix=CHARCOAL, told=True, link=True, install_in_days=1, weight=3,
    ),
    DemoJob(
        "209", "Powder-room vanity", "Cora Windlass",
        (DemoPiece("A", "Vanity with basin", 9, "crate", CUTOUT),),
        price=2600, mistaken_mark=True, told=True, link=True, install_in_days=1,
    ),
    DemoJob(
        "211", "Window seats", "Marguerite Tolliver-Aske",
        (DemoPiece("A", "Seat, bay", 12, "seal-2"), DemoPiece("B", "Seat, landing", 8, "seal-2")),
        price=3100, told=True, spare_days=3,
    ),
    DemoJob(
        "212", "Kitchen island", "Philippa Strand-Oakes",
        (DemoPiece("A", "Island top", 18, "seal-1", CUTOUT, "Prep sink cutout: strongback on."),
         DemoPiece("B", "Waterfall end", 11, "seal-1")),
        price=9800, promise=Promise.SHORT, cast_before_heater_failed=True, told=True, link=True,
        install_in_days=1, weight=4, notes="Movers come the week after the install.",
    ),
    DemoJob(
        "213", "Desk top", "Esme Holloway-Drift",
        (DemoPiece("A", "Desk", 15, "seal-1"),),
        price=2900, mix=CHARCOAL, spare_days=4,
    ),
    DemoJob(
        "214", "Bath surround", "Ottoline Fairmile",
        (DemoPiece("A", "Deck", 18, "hone", CUTOUT), DemoPiece("B", "Apron", 11, "hone"),
         DemoPiece("C", "Ledge", 4, "grind", SMALL)),
        price=6200, spare_days=3, told=True, told_by="text", link=True, demolded_early=True,
    ),
    DemoJob(
        "215", "Reception desk panels", "Gable & Finch Builders",
        (DemoPiece("A", "Front panel", 17, "grind"), DemoPiece("B", "Return panel", 13, "grind")),
        price=5400, mix=CHARCOAL, spare_days=5,
    ),
    DemoJob(
        "216", "Laundry counter", "Jonah Brackwater",
        (DemoPiece("A", "Counter", 17, "demold"), DemoPiece("B", "Splash", 5, "demold", SMALL)),
        price=3700, spare_days=4, told=True, told_by="call",
    ),
    DemoJob(
        "217", "Kitchen counters, L-shape", "Thessaly Interiors",
        (DemoPiece("A", "Long leg, sink cutout", 18, "cast", CUTOUT, "Two people flip, on edge."),
         DemoPiece("B", "Short leg", 12, "cast"), DemoPiece("C", "Sill", 4, "cast", SMALL)),
        price=8600, promise=Promise.TIGHT, told=True, link=True, install_in_days=2, weight=3,
    ),
    DemoJob(
        "218", "Garden bench and table", "Ruben Castellane",
        (DemoPiece("A", "Bench, long", 16), DemoPiece("B", "Table, round", 10)),
        price=2800, cast_in_days=2, promise=Promise.TIGHT, told=True,
    ),
    DemoJob(
        "219", "Studio shelves", "Thessaly Interiors",
        (DemoPiece("A", "Shelf, upper", 7, "", SMALL), DemoPiece("B", "Shelf, lower", 7, "", SMALL),
         DemoPiece("C", "Shelf, corner", 5, "", SMALL)),
        price=2200, mix=CHARCOAL, cast_in_days=3, spare_days=3,
    ),
    DemoJob(
        "220", "Outdoor kitchen top", "Marguerite Tolliver-Aske",
        (DemoPiece("A", "Grill surround", 17, "", CUTOUT), DemoPiece("B", "Side top, L", 14)),
        price=6900, sealer=URETHANE, spare_days=6,
    ),
    DemoJob(
        "221", "Stair treads", "Gable & Finch Builders",
        (DemoPiece("A", "Tread, first five", 15, "demold", SMALL),),
        price=3300, rested_days=1, spare_days=6,
        hold="Hairline at the nosing of the third tread: owner to look before it is ground.",
    ),
    DemoJob(
        "222", "Vanity, hall bath", "Jonah Brackwater",
        (DemoPiece("A", "Vanity", 10, "demold", CUTOUT),),
        price=2400, rested_days=1, spare_days=5, cast_in_days=1,
        recast="Corner broke off at the inside of the basin cutout on flipping.",
    ),
)  # fmt: skip
CLOSED = {"204"}
