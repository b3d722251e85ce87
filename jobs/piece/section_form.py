"""A piece's section as somebody types it: outline, edges, ribs, cutouts, strongbacks, inlays.

One form, so that a conflict with somebody else's save is met field by field as everywhere.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, ClassVar

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from jobs.models import Piece
from jobs.piece import section_fields as fields
from jobs.piece import section_outline as outlines
from jobs.piece.section_fields import FIELDS, KINDS, Rows, fields_of, row_values
from jobs.piece.section_outline import SIDES, key_of
from jobs.piece.section_places import field_of
from jobs.piece.section_rows import (
    Four,
    stored_bar,
    stored_cutout,
    stored_inlay,
    stored_ribs,
)
from jobs.piece.section_usual import USUAL
from jobs.services.section_faults import Fault
from jobs.services.sections import ImpossibleSection, possible_panel
from jobs.services.shape import RECTANGLE
from jobs.shapes.corners import Corner, Cornered
from jobs.shapes.faults import ShapeFault
from shop import measures
from shop.forms import ShopForm, prepare

MOST_LETTERS = 60_000  # of corners as lines


def _long(label: Any, least: float = outlines.LEAST, **given: Any) -> Any:
    return fields.long(label, least, **given)


class SectionForm(ShopForm):
    versioned: ClassVar[bool] = True

    outline = fields.choice(lazy("Outline"), outlines.OUTLINES, widget=forms.RadioSelect)
    length = _long(lazy("Length"))
    width = _long(lazy("Width"))
    diameter = _long(lazy("Diameter"))
    radius = _long(lazy("Corner radius"), 0.001)
    corner = fields.choice(lazy("Corner that is missing"), outlines.MISSING)
    side = fields.choice(lazy("Notch in"), outlines.NOTCHED)
    notch_x = _long(lazy("Notch, from the left end"), 0.001)
    notch_length = _long(lazy("Missing, lengthwise"), 0.001)
    notch_width = _long(lazy("Missing, across"), 0.001)
    lines = forms.CharField(
        label=lazy("Corners as lines"), required=False, widget=forms.Textarea(attrs={"rows": 4}),
        help_text=lazy(
            "One corner a line: along, across. What is pasted here takes the place of the rows."
        ),
    )  # fmt: skip

    def __init__(self, *args: Any, piece: Piece, rows: Rows, **kwargs: Any) -> None:
        self.piece, self.rows = piece, rows
        super().__init__(*args, **kwargs)
        for side in SIDES:
            self.fields |= fields_of("edge", key_of(side))
        for kind, count in rows.items():
            for place in range(count):
                self.fields |= fields_of(kind, place)
            counter = forms.IntegerField(required=False, widget=forms.HiddenInput)
            self.fields[f"{kind}s"] = counter
            self.initial[f"{kind}s"] = count
        self._offer_drawn()
        self._choose_first()
        prepare(self, self.shop)
        self.shape: dict[str, Any] = {}
        self.faults: list[Fault] = []  # of a shape that can be read, to be marked in its drawing
        self.undrawn = ""  # why what is stored cannot be drawn
        self.copied: dict[str, Any] | None = None  # from another piece, not saved here yet
        self.grown = False  # just now, by a row
        self._origins: dict[tuple[str, int], str] = {}

    def _offer_drawn(self) -> None:
        """A cutout that was drawn corner by corner stays one; none is made here."""
        for place in range(self.rows["cutout"]):
            drawn = f"cutout_{place}_drawn"
            if self.data.get(drawn) or self.initial.get(drawn):
                figure: Any = self.fields[f"cutout_{place}_figure"]
                figure.choices = [*fields.FIGURE, fields.DRAWN]

    def _choose_first(self) -> None:
        """A browser sends a list's first choice where none is made: so that is what was seen."""
        for name, field in self.fields.items():
            if isinstance(field, forms.ChoiceField) and not self.initial.get(name):
                self.initial[name] = field.choices[0][0]  # type: ignore[index]

    def standing_version(self) -> int | None:
        return self.piece.version

    # What the page shows.

    @property
    def edge_rows(self) -> list[dict[str, Any]]:
        return [
            self._row("edge", key_of(side)) | {"legend": words, "on": " ".join(on)}
            for side, (words, on) in SIDES.items()
        ]

    def _rows_of(self, kind: str) -> list[dict[str, Any]]:
        return [self._row(kind, place) for place in range(self.rows[kind])]

    @property
    def point_rows(self) -> list[dict[str, Any]]:
        return self._rows_of("point")

    @property
    def rim_rows(self) -> list[dict[str, Any]]:
        return self._rows_of("rim")

    @property
    def rib_rows(self) -> list[dict[str, Any]]:
        return self._rows_of("rib")

    @property
    def cutout_rows(self) -> list[dict[str, Any]]:
        return self._rows_of("cutout")

    @property
    def bar_rows(self) -> list[dict[str, Any]]:
        return self._rows_of("bar")

    @property
    def inlay_rows(self) -> list[dict[str, Any]]:
        return self._rows_of("inlay")

    def _row(self, kind: str, place: int | str) -> dict[str, Any]:
        row: dict[str, Any] = {name: self[f"{kind}_{place}_{name}"] for name in FIELDS[kind]}
        return row | {"number": place + 1 if isinstance(place, int) else 0}

    @property
    def usual(self) -> list[tuple[str, str]]:
        return [(usual.key, usual.label(self.shop)) for usual in USUAL]

    @property
    def full(self) -> dict[str, bool]:
        return {kind: count >= fields.MOST[kind] for kind, count in self.rows.items()}

    @property
    def filled(self) -> dict[str, bool]:
        """Kinds of which something is typed or wrong: those stand open."""
        return {
            kind: any(
                self[name].value() not in (None, "")
                for name in self.fields
                if name.startswith(f"{kind}_") and name.rpartition("_")[2] not in fields.CHOSEN
            )
            for kind in ("bar", "inlay")
        }

    @property
    def first_trouble(self) -> str:
        """What is wrong first, with the field it is at."""
        for name, errors in self.errors.items():
            label = self.fields[name].label if name in self.fields else ""
            words = str(errors[0])
            return f"{self._where(name)}{label}: {words}" if label else words
        return ""

    def _where(self, name: str) -> str:
        for side, (words, _on) in SIDES.items():
            if name in (f"edge_{key_of(side)}_width", f"edge_{key_of(side)}_depth"):
                return f"{words}, "
        kind, place = [*name.split("_"), ""][:2]
        return f"{KINDS[kind]} {int(place) + 1}, " if kind in KINDS and place.isdecimal() else ""

    # What it gives.

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        self._origins, self.faults = {}, []
        cleaned["outline"] = cleaned.get("outline") or RECTANGLE
        self._forget_hidden(cleaned)
        found = self._outline(cleaned)
        if found is None:
            return cleaned
        outline, made = found
        box = outlines.box_of(outline)
        shape = outline | {
            "edges": [*self._edges(cleaned), *self._rims(cleaned, made)],
            "ribs": self._ribs(cleaned, box),
            "cutouts": self._list("cutout", "cutouts", cleaned, stored_cutout),
            "strongbacks": self._list("bar", "strongbacks", cleaned, stored_bar),
        }
        if inlays := self._list("inlay", "inlays", cleaned, stored_inlay):
            shape["inlays"] = inlays
        if self.errors:
            return cleaned
        self.shape = shape
        try:
            possible_panel(shape, self.piece, self.shop)
        except ImpossibleSection as impossible:
            self.add_faults(impossible.faults)
        return cleaned

    def add_faults(self, faults: Sequence[Fault]) -> None:
        """Each at the field that cannot be, in the row where it was typed."""
        for fault in faults:
            origin = self._origins.get((fault.part, fault.place), "")
            place = origin.rpartition("_")[2]
            told = fault.numbered(int(place) + 1, self.shop) if place.isdecimal() else fault
            name = field_of(told, origin, self.cleaned_data, self.rows)
            self.faults.append(told)
            self.add_error(name if name in self.fields else None, told.message)

    def _forget_hidden(self, cleaned: dict[str, Any]) -> None:
        """Fields that this outline, or this row, does not show count for nothing."""
        kind = cleaned["outline"]
        hidden = {name for name in outlines.OWN if name not in outlines.SHOWN[kind]}
        for side, (_words, on) in SIDES.items():
            if kind not in on:
                hidden |= {f"edge_{key_of(side)}_{name}" for name in FIELDS["edge"]}
        for row, count in self.rows.items():
            for place in range(count):
                start = f"{row}_{place}_"
                wanted = fields.shown(row, row_values(row, start, cleaned))
                unused = row in ("point", "rim") and kind != outlines.FREE
                names = FIELDS[row] if unused else [n for n in FIELDS[row] if n not in wanted]
                hidden |= {start + name for name in names}
        for name in hidden:
            self._errors.pop(name, None)  # type: ignore[attr-defined]
            cleaned[name] = None

    def _outline(self, cleaned: dict[str, Any]) -> tuple[dict[str, Any], Cornered | None] | None:
        kind = cleaned["outline"]
        corners: list[Corner] = []
        if kind == outlines.FREE:
            corners = self._corners(cleaned)
        cleaned["corner"] = cleaned.get("corner") or outlines.MISSING[0][0]
        cleaned["side"] = cleaned.get("side") or outlines.NOTCHED[0][0]
        for name in outlines.SHOWN[kind]:
            if cleaned.get(name) is None and name not in self.errors:
                self.add_error(name, self.fields[name].error_messages["required"])
        if self._wrong(*outlines.SHOWN[kind], "point_"):
            return None
        try:
            return outlines.stored_outline(cleaned, corners)
        except ShapeFault as fault:
            said = Fault(fault.said(self._words), fault.part, fault.row, "", fault.place, fault)
            self.add_error(field_of(said, "", cleaned, self.rows), said.message)
            return None

    def _corners(self, cleaned: dict[str, Any]) -> list[Corner]:
        text = (cleaned.get("lines") or "").replace("\r\n", "\n").strip()
        if text:
            return self._pasted(text)
        found: list[Corner] = []
        for place in range(self.rows["point"]):
            if row := self._filled("point", place, cleaned):
                self._origins["outline", len(found)] = f"point_{place}"
                found.append(Corner(row["x"], row["y"], row["radius"] or 0.0, row["bow"] or 0.0))
        return found

    def _pasted(self, text: str) -> list[Corner]:
        stored = outlines.stored_corners(self.piece.shape)
        if text == str(self.initial.get("lines") or "").strip() and stored:
            return list(stored)  # not rounded by having been shown
        try:
            return outlines.read_lines(text, self.shop)
        except ShapeFault as fault:
            self.add_error("lines", fault.said(self._words))
        except ValueError as error:
            self.add_error("lines", str(error))
        return []

    def _edges(self, cleaned: dict[str, Any]) -> list[dict[str, Any]]:
        edges: list[dict[str, Any]] = []
        for side in SIDES:
            if row := self._filled("edge", key_of(side), cleaned):
                self._origins["edges", len(edges)] = f"edge_{key_of(side)}"
                edges.append({"side": side, **row})
        return edges

    def _rims(self, cleaned: dict[str, Any], made: Cornered | None) -> list[dict[str, Any]]:
        edges: list[dict[str, Any]] = []
        before = sum(part == "edges" for part, _place in self._origins)
        for place in range(self.rows["rim"] if made else 0):
            row = self._filled("rim", place, cleaned)
            if not row or made is None:
                continue
            size = {name: row[name] for name in ("width", "depth")}
            try:
                numbers = outlines.read_sides(row["sides"])
                stored = outlines.stored_rims(made, numbers, place, size)
            except ShapeFault as fault:
                self.add_error(f"rim_{place}_sides", fault.words)
                continue
            except ValueError as error:
                self.add_error(f"rim_{place}_sides", str(error))
                continue
            for edge in stored:
                self._origins["edges", before + len(edges)] = f"rim_{place}"
                edges.append(edge)
        return edges

    def _ribs(self, cleaned: dict[str, Any], box: Four) -> list[dict[str, Any]]:
        ribs: list[dict[str, Any]] = []
        for place in range(self.rows["rib"]):
            if row := self._filled("rib", place, cleaned):
                for rib in stored_ribs(row, box):
                    self._origins["ribs", len(ribs)] = f"rib_{place}"
                    ribs.append(rib | {"row": place})
        return ribs

    def _list(
        self,
        kind: str,
        part: str,
        cleaned: dict[str, Any],
        stored: Callable[[dict[str, Any]], dict[str, Any]],
    ) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = []
        for place in range(self.rows[kind]):
            if row := self._filled(kind, place, cleaned):
                try:
                    found.append(stored(row))
                except ShapeFault as fault:
                    self.add_error(None, fault.words)
                self._origins[part, len(found) - 1] = f"{kind}_{place}"
        return found

    def _filled(self, kind: str, place: int | str, cleaned: dict[str, Any]) -> dict[str, Any]:
        """The row's figures; empty for a row of which nothing is typed, or which is wrong."""
        start = f"{kind}_{place}_"
        if self._wrong(start):
            return {}
        row = row_values(kind, start, cleaned)
        counted = [name for name in fields.shown(kind, row) if name not in fields.CHOSEN]
        if all(row[name] in (None, "") for name in counted):
            return {}
        missing = [name for name in fields.needed(kind, row) if row[name] in (None, "")]
        for name in missing:
            self.add_error(start + name, _("Fill this in, too, or empty the whole row."))
        return {} if missing else row

    def _wrong(self, *starts: str) -> bool:
        return any(name.startswith(starts) for name in self.errors)

    def _words(self, metres: float) -> str:
        return measures.words(metres, "length", self.shop)
