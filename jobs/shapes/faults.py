"""What is wrong with a shape, with the place where a drawing can mark it."""

from __future__ import annotations

from collections.abc import Callable

Point = tuple[float, float]
Long = Callable[[float], str]

FARTHEST = 1e6  # m: squares and cubes of more are no numbers any more


def in_millimetres(metres: float) -> str:
    return f"{round(1000 * metres, 1):g} mm"


class ShapeFault(ValueError):
    """A shape that cannot be.

    key : stable, for a screen's own words or translation
    place : one point, or the two ends of a segment [m]; empty where there is none to show
    part, row : which list of the shape ("outline", "edges", "ribs", "cutouts", "inlays",
        "strongbacks") and which of its rows
    figures : the lengths in the words [m]; facts : what else the words name
    """

    def __init__(
        self,
        key: str,
        template: str,
        *,
        place: tuple[Point, ...] = (),
        part: str = "outline",
        row: int = 0,
        figures: dict[str, float] | None = None,
        facts: dict[str, str] | None = None,
    ) -> None:
        self.key, self.template, self.place, self.part, self.row = key, template, place, part, row
        self.figures, self.facts = figures or {}, facts or {}
        super().__init__(self.words)

    @property
    def words(self) -> str:
        return self.said(in_millimetres)

    def said(self, long: Long) -> str:
        """Its words, with lengths as `long` writes them."""
        return self.template.format(
            **{name: long(value) for name, value in self.figures.items()}, **self.facts
        )

    def at(self, part: str, row: int) -> ShapeFault:
        """The same fault, of that row of a shape."""
        return ShapeFault(
            self.key,
            self.template,
            place=self.place,
            part=part,
            row=row,
            figures=self.figures,
            facts=self.facts,
        )


def above_nought(part: str = "outline", row: int = 0, **sizes: float) -> None:
    """Refuse, by its name, a size that is not above 0 or past `FARTHEST`."""
    for name, size in sizes.items():
        facts = {"name": name.replace("_", " ")}
        finite(part, row, **{name: size})
        if size <= 0:
            raise ShapeFault(
                "not-above-zero",
                "The {name} must be above nought. Type it again.",
                part=part,
                row=row,
                facts=facts,
            )


def finite(part: str = "outline", row: int = 0, **values: float) -> None:
    for name, value in values.items():
        number = isinstance(value, int | float) and not isinstance(value, bool)
        if not (number and abs(value) < FARTHEST):
            raise ShapeFault(
                "not-finite",
                "The {name} is not a number that can be measured. Type it again.",
                part=part,
                row=row,
                facts={"name": name.replace("_", " ")},
            )
