"""What would become of a row's piece, by the same rules as the office's form."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from jobs.models import Job, Piece
from jobs.services.exchange.columns import CHANGE, Choices
from jobs.services.exchange.fields import BY_KEY, CHOICES
from jobs.services.exchange.rows import Row, fault_at
from jobs.services.exchange.said import differences
from jobs.services.exchange.shapes import area_of, check_coat, plain_rectangle
from shop import measures
from shop.models import Shop

PLAIN = ("name", "room", "mix", "route", "sealer", "thickness", "coat", "matches", "waste",
         "piece_notes")  # fmt: skip
FIXED = {
    "route": "its steps are marked by this route",
    "mix": "it was cast in this mix",
}
BOX_NEAR = 0.0005  # m: a side of the box that the shape has, too
AREA_NEAR = 0.005  # of the area that follows from the shape
USUAL_COAT = 0.004  # m, as a piece is made without one being given


@dataclass
class PiecePlan:
    row: Row
    code: str
    piece: Piece | None
    act: str
    values: dict[str, Any] = field(default_factory=dict)


def judge_piece(
    row: Row,
    number: str,
    job: Job | None,
    piece: Piece | None,
    *,
    choices: Choices,
    defaults: Mapping[str, Any],
    shop: Shop,
) -> PiecePlan:
    letter = row.values["letter"]
    plan = PiecePlan(row, f"{number}-{letter}", piece, "new" if piece is None else "same")
    judge = _Judge(row, piece, choices, defaults, shop)
    values = judge.values()
    if piece is None:
        plan.values = {"letter": letter, **values}
        _refuse_closed(job, row, choices)
        return plan
    changed = {k: v for k, v in values.items() if differences({k: v}, piece, shop)}
    changes = choices.existing == CHANGE
    for words in differences(changed, piece, shop):
        row.notes.append(words if changes else f"{words} (left)")
    if not changed:
        return plan
    if not changes:
        plan.act = "left"
        return plan
    plan.act, plan.values = "changed", changed
    _refuse_closed(job, row, choices)
    judge.marks(changed)
    return plan


def _refuse_closed(job: Job | None, row: Row, choices: Choices) -> None:
    if job and (job.closed_at or job.called_off):
        how = "called off" if job.called_off else "closed"
        words = f"Job {job.number} is {how}. Open it again first, or leave its pieces out."
        fault_at(row, choices, "number", words)


@dataclass
class _Judge:
    row: Row
    piece: Piece | None
    choices: Choices
    defaults: Mapping[str, Any]
    shop: Shop

    def fault(self, key: str, words: str) -> None:
        fault_at(self.row, self.choices, key, words)

    def values(self) -> dict[str, Any]:
        """By the model's names: what the row says, and of a new piece what it must have."""
        given = self.row.values
        values = {BY_KEY[key].name: given[key] for key in PLAIN if key in given}
        if self.piece is None:
            for key in (*CHOICES, "thickness"):
                name = BY_KEY[key].name
                if name not in values and key in self.defaults:
                    values[name] = self.defaults[key]
            self._needed(values)
        self._in_use(values)
        return values | self._figure(values)

    def _needed(self, values: dict[str, Any]) -> None:
        for key in ("name", *CHOICES, "thickness"):
            about = BY_KEY[key]
            if values.get(about.name) is None and not self._faulty(key):
                words = (
                    "Say what the piece is, like Island left."
                    if key == "name"
                    else "Not given. Write it here, or choose one beside the columns."
                )
                self.fault(key, words)

    def _in_use(self, values: dict[str, Any]) -> None:
        for key in CHOICES:
            chosen = values.get(key)
            stays = self.piece is not None and chosen == getattr(self.piece, key)
            if chosen is not None and not chosen.in_use and not stays:
                self.fault(
                    key,
                    f"{chosen.name} is no longer in use. Take it up again in the shop's set-up, or "
                    "name another.",
                )

    def _figure(self, values: dict[str, Any]) -> dict[str, Any]:
        """Its area, and its shape where the row has one."""
        given, piece = self.row.values, self.piece
        face = values.get("thickness_m", piece.thickness_m if piece else None)
        mix = values.get("mix", piece.mix if piece else None)
        new = given.get("shape", self._rectangle())
        shape = new or (piece.shape if piece else None)
        if face is None or mix is None or any(self._faulty(key) for key in ("shape", "mix")):
            return {}
        coat = values.get("coat_m", piece.coat_m if piece else USUAL_COAT)
        try:
            check_coat(face, coat)
        except ValueError as error:
            self.fault("coat" if "coat" in given else "thickness", str(error))
            return {}
        if shape is None:
            return self._plain_area()
        try:
            area = area_of(shape, face=face, coat=coat, density=mix.density)
        except ValueError as error:
            key = "shape" if "shape" in given else "length" if new else "thickness"
            self.fault(key, str(error))
            return {}
        self._agree(shape, area)
        return {"shape": shape, "area_m2": given.get("area", area)} if new else {}

    def _plain_area(self) -> dict[str, Any]:
        if "area" in self.row.values:
            return {"area_m2": self.row.values["area"]}
        faulty = any(self._faulty(key) for key in ("area", "length", "width"))
        if self.piece is None and not faulty:
            self.fault("area", "A piece needs its area, or its length and width.")
        return {}

    def _rectangle(self) -> dict[str, Any] | None:
        """Of length and width, unless the piece has a section of that size already."""
        given = self.row.values
        if ("length" in given) != ("width" in given):
            missing = "width" if "length" in given else "length"
            if not self._faulty(missing):
                self.fault(missing, "Length and width go together. Give both, or the area alone.")
            return None
        if "length" not in given or "shape" in given:
            return None
        there = self.piece.shape if self.piece else None
        if there:
            parts = ("edges", "ribs", "cutouts", "inlays", "strongbacks")
            own = there.get("outline", "rectangle") != "rectangle" or any(map(there.get, parts))
            if own or self._same_box(there):
                if not self._same_box(there):
                    self.fault("length", "The piece has a section of its own. Change it on the "
                                         "piece's page.")  # fmt: skip
                return None
        return plain_rectangle(given["length"], given["width"])

    def _same_box(self, shape: Mapping[str, Any]) -> bool:
        given = self.row.values
        return all(abs(shape[side] - given[side]) <= BOX_NEAR for side in ("length", "width"))

    def _agree(self, shape: Mapping[str, Any], area: float) -> None:
        """Columns that say the same thing twice must not say two things."""
        given = self.row.values
        if "shape" in given and "length" in given and not self._same_box(shape):
            self.fault(
                "length",
                "Length and width are not those of the shape in this row. Correct them, or empty "
                "the shape.",
            )
        if "area" in given:
            self._area_agrees(area)

    def _area_agrees(self, area: float) -> None:
        if not math.isclose(self.row.values["area"], area, rel_tol=AREA_NEAR):
            shown = measures.words(area, "area", self.shop)
            self.fault(
                "area", f"From its shape the area is {shown}. Correct it, or empty the cell."
            )

    def _faulty(self, key: str) -> bool:
        place = self.choices.place_of(key)
        return place is not None and place in self.row.faults

    def marks(self, changed: dict[str, Any]) -> None:
        """What marks hold on to stays, see `orders.save_piece`."""
        assert self.piece is not None
        if not self.piece.marks.all():
            return
        for name, reason in FIXED.items():
            if name in changed:
                self.fault(name, f"{self.piece.code} has marks already: {reason}.")
