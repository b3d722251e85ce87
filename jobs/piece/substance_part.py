"""'What is cast' on a piece's page: its drawings, its layers' weights, what it must pass."""

from __future__ import annotations

from dataclasses import dataclass

from jobs.models import Piece
from jobs.services.drawings import PHONE, SCREEN, Titled, piece_drawings
from jobs.services.substance import Substance, substance_of
from jobs.shapes.sizes import Rail
from jobs.shapes.solid import Layer, Saved
from shop import measures
from shop.models import Shop

BOX_SIDES = ("front", "back", "left", "right")
LAYER_WORDS: dict[Layer, str] = {
    "face coat": "Face coat",
    "backer": "Backer",
    "edge": "Edges built down",
    "ribs": "Ribs",
}


@dataclass(frozen=True)
class Picture:
    """One drawing twice: for a wide screen and for a phone."""

    wide: Titled
    narrow: Titled


@dataclass(frozen=True)
class Row:
    layer: str
    volume: float
    fresh_kg: float
    dry_kg: float


@dataclass(frozen=True)
class Held:
    """Something the piece is held against. state : "fits", "not", or "" where there is no limit;
    basis : the limit and who set it"""

    name: str
    words: str
    basis: str
    state: str = ""


@dataclass(frozen=True)
class SubstancePart:
    substance: Substance
    pictures: tuple[Picture, ...]
    along: Picture | None
    shop: Shop

    @property
    def rows(self) -> list[Row]:
        return [
            Row(LAYER_WORDS[part.layer], part.volume, part.fresh_kg, part.dry_kg)
            for part in self.substance.parts
        ]

    @property
    def dxf_units(self) -> tuple[str, str]:
        """The shop's own first."""
        return ("in", "mm") if self.shop.us else ("mm", "in")

    @property
    def barred(self) -> bool:
        return bool(self.substance.shape and self.substance.shape.strongbacks)

    @property
    def dry_basis(self) -> str:
        found = self.substance
        density = measures.words(found.dry_density, "density", self.shop)
        if found.dry_weighed:
            return f"Dry by {density}, the mix's dry unit weight as the shop entered it."
        return (
            f"The mix's dry unit weight is not entered: dry is reckoned with the fresh one, "
            f"{density}, and is less than that by what water dries out."
        )

    @property
    def sizes(self) -> list[Held]:
        """What is measured, without a limit."""
        found = self.substance
        rows = [Held("Face without cutouts", self._words(found.area, "area"), "")]
        if sizes := found.sizes:
            x, y, depth = (self._long(value) for value in sizes.centre)
            rows += [
                Held("Longest side", self._long(sizes.longest_side), ""),
                Held("Corner to corner at most", self._long(sizes.diagonal), ""),
                Held("Greatest depth", self._long(found.depth), ""),
                Held(
                    "Centre of gravity",
                    f"{x} from the left end, {y} from the front edge, {depth} below the face",
                    "",
                ),
            ]
            if sizes.rail:
                rows.append(Held("Narrowest rail", self._rail(sizes.rail), ""))
        else:
            rows.append(Held("Thickness", self._long(found.depth), ""))
        return rows

    def _rail(self, rail: Rail) -> str:
        if rail.other is not None:
            end = f"cutout {rail.other + 1}"
        elif rail.side in BOX_SIDES:
            end = f"the {rail.side} edge"
        else:
            end = f"side {rail.side}"
        return f"{self._long(rail.width)}, from cutout {rail.cutout + 1} to {end}"

    @property
    def limits(self) -> list[Held]:
        return [*self._ways(), self._people()]

    def _ways(self) -> list[Held]:
        found, shop, sizes = self.substance, self.shop, self.substance.sizes
        if sizes is None:
            return []
        door = f"{self._long(shop.door_width_m)} × {self._long(shop.door_height_m)}"
        truck = " × ".join(
            self._long(size)
            for size in (shop.truck_length_m, shop.truck_width_m, shop.truck_height_m)
        )
        through = f"{self._long(sizes.least_width)} × {self._long(found.depth)}"
        box = f"{self._long(sizes.length)} × {self._long(sizes.width)}"
        return [
            Held(
                "Door",
                f"{'Passes' if found.passes_door else 'Does not pass'}: asks for {through}",
                f"{door} clear, as the shop has set it; turning behind it and room for hands are "
                "not looked at",
                "fits" if found.passes_door else "not",
            ),
            Held(
                "Truck",
                f"{'Stands' if found.stands_in_truck else 'Does not stand'} on edge in it: {box}, "
                f"{self._long(found.depth)} deep",
                f"{truck} inside, as the shop has set it; the frame is not looked at",
                "fits" if found.stands_in_truck else "not",
            ),
        ]

    def _people(self) -> Held:
        people = self.substance.people
        each = self._words(people.each_kg, "weight")
        words = f"{people.people} people, {each} each" if people.people > 1 else f"1 person, {each}"
        limit = self._words(self.shop.carry_limit_kg, "weight")
        return Held("To carry it", words, f"{limit} a person, as the shop has set it; no rule does")

    @property
    def against(self) -> list[Held]:
        return [self._against(saved) for saved in self.substance.saved]

    def _against(self, saved: Saved) -> Held:
        solid, density = (
            self._words(saved.solid_kg, "weight"),
            self._words(saved.density, "density"),
        )
        much = self._words(abs(saved.saved_kg), "weight")
        way, share = ("lighter", "less") if saved.saved_kg >= 0 else ("heavier", "more")
        words = f"{much} {way} than {solid}, {abs(saved.share) * 100:.0f} % {share}"
        deep = self._long(self.substance.edge_depth)
        return Held(
            f"Against {saved.against}",
            words,
            f"The same face poured solid {deep} deep, {density}, {saved.basis}",
        )

    def _long(self, metres: float) -> str:
        return self._words(metres, "length")

    def _words(self, value: float, kind: str) -> str:
        return measures.words(value, kind, self.shop)


def substance_part(piece: Piece, shop: Shop) -> SubstancePart:
    wide, narrow = piece_drawings(piece, shop, SCREEN), piece_drawings(piece, shop, PHONE)
    pictures: tuple[Picture, ...] = ()
    along = None
    if wide and narrow:
        pictures = tuple(map(Picture, wide.titled, narrow.titled))
        along = Picture(wide.along, narrow.along) if wide.along and narrow.along else None
    return SubstancePart(substance_of(piece, shop), pictures, along, shop)
