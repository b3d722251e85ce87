"""A piece's section as somebody types it: outline, edges, ribs, cutouts, strongbacks.

One form, so that a conflict with somebody else's save is met field by field as everywhere.
"""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from jobs.models import Piece
from jobs.piece.section_rows import (
    EDGES,
    FIELDS,
    KINDS,
    LEAST,
    MOST_ROWS,
    NEEDED,
    Rows,
    fields_of,
    row_values,
    stored_bar,
    stored_cutout,
    stored_ribs,
)
from jobs.services.section_faults import Fault
from jobs.services.sections import ImpossibleSection, possible_panel
from jobs.services.shape import RECTANGLE
from shop.forms import MeasureField, ShopForm, prepare

LONGEST = 8.0  # m, past any form


class SectionForm(ShopForm):
    versioned: ClassVar[bool] = True

    length = MeasureField("length", least=LEAST, greatest=LONGEST, label=lazy("Length"))
    width = MeasureField("length", least=LEAST, greatest=LONGEST, label=lazy("Width"))

    def __init__(self, *args: Any, piece: Piece, rows: Rows, **kwargs: Any) -> None:
        self.piece, self.rows = piece, rows
        super().__init__(*args, **kwargs)
        for side in EDGES:
            self.fields |= fields_of("edge", side)
        for kind, count in rows.items():
            for place in range(count):
                self.fields |= fields_of(kind, place)
            counter = forms.IntegerField(required=False, widget=forms.HiddenInput)
            self.fields[f"{kind}s"] = counter
            self.initial[f"{kind}s"] = count
        prepare(self, self.shop)
        self.shape: dict[str, Any] = {}
        self.undrawn = ""  # why what is stored cannot be drawn
        self.copied: dict[str, Any] | None = None  # from another piece, not saved here yet
        self._origins: dict[tuple[str, int], str] = {}

    def standing_version(self) -> int | None:
        return self.piece.version

    # What the page shows.

    @property
    def edge_rows(self) -> list[dict[str, Any]]:
        return [self._row("edge", side) for side in EDGES]

    @property
    def rib_rows(self) -> list[dict[str, Any]]:
        return [self._row("rib", place) for place in range(self.rows["rib"])]

    @property
    def cutout_rows(self) -> list[dict[str, Any]]:
        return [self._row("cutout", place) for place in range(self.rows["cutout"])]

    @property
    def bar_rows(self) -> list[dict[str, Any]]:
        return [self._row("bar", place) for place in range(self.rows["bar"])]

    def _row(self, kind: str, place: int | str) -> dict[str, Any]:
        row: dict[str, Any] = {name: self[f"{kind}_{place}_{name}"] for name in FIELDS[kind]}
        number = place + 1 if isinstance(place, int) else 0
        return row | {"legend": EDGES.get(str(place), ""), "number": number}

    @property
    def full(self) -> dict[str, bool]:
        return {kind: count >= MOST_ROWS for kind, count in self.rows.items()}

    @property
    def first_trouble(self) -> str:
        """What is wrong first, with the field it is at."""
        for name, errors in self.errors.items():
            label = self.fields[name].label if name in self.fields else ""
            words = str(errors[0])
            return f"{self._where(name)}{label}: {words}" if label else words
        return ""

    def _where(self, name: str) -> str:
        kind, _dash, rest = name.partition("_")
        place = rest.partition("_")[0]
        if kind == "edge":
            return f"{EDGES[place]}, "
        return f"{KINDS[kind]} {int(place) + 1}, " if kind in KINDS else ""

    # What it gives.

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        self._origins = {}
        edges, ribs = self._edges(cleaned), self._ribs(cleaned)
        cutouts = self._list("cutout", "cutouts", cleaned, stored_cutout)
        bars = self._list("bar", "strongbacks", cleaned, stored_bar)
        if self.errors:
            return cleaned
        self.shape = {
            "outline": RECTANGLE,
            "length": cleaned["length"],
            "width": cleaned["width"],
            "edges": edges,
            "ribs": ribs,
            "cutouts": cutouts,
            "strongbacks": bars,
        }
        try:
            possible_panel(self.shape, self.piece, self.shop)
        except ImpossibleSection as impossible:
            self.add_fault(impossible.fault)
        return cleaned

    def add_fault(self, fault: Fault) -> None:
        """At the field that the engine could not take, in the row it was typed."""
        origin = self._origins.get((fault.part, fault.place), "")
        name = f"{origin}_{fault.name}" if origin else fault.name
        self.add_error(name if name in self.fields else None, fault.message)

    def _edges(self, cleaned: dict[str, Any]) -> list[dict[str, Any]]:
        edges: list[dict[str, Any]] = []
        for side in EDGES:
            if row := self._filled("edge", side, cleaned):
                self._origins["edges", len(edges)] = f"edge_{side}"
                edges.append({"side": side, **row})
        return edges

    def _ribs(self, cleaned: dict[str, Any]) -> list[dict[str, Any]]:
        ribs: list[dict[str, Any]] = []
        length, width = cleaned.get("length"), cleaned.get("width")
        for place in range(self.rows["rib"]):
            row = self._filled("rib", place, cleaned)
            if not row or length is None or width is None:
                continue
            if row["at"] is not None and (row["count"] or 1) > 1:
                words = _("Where is for one rib. Leave it empty to space several evenly.")
                self.add_error(f"rib_{place}_at", words)
                continue
            for rib in stored_ribs(row, length, width):
                self._origins["ribs", len(ribs)] = f"rib_{place}"
                ribs.append(rib | {"row": place})
        return ribs

    def _list(
        self, kind: str, part: str, cleaned: dict[str, Any], stored: Any
    ) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = []
        for place in range(self.rows[kind]):
            if row := self._filled(kind, place, cleaned):
                self._origins[part, len(found)] = f"{kind}_{place}"
                found.append(stored(row))
        return found

    def _filled(self, kind: str, place: int | str, cleaned: dict[str, Any]) -> dict[str, Any]:
        """The row's figures; empty for a row of which nothing is typed, or which is wrong."""
        start = f"{kind}_{place}_"
        if any(name.startswith(start) for name in self.errors):
            return {}
        row = row_values(kind, start, cleaned)
        needed = NEEDED[kind]
        typed = [name for name in row if name not in ("along", "around", "material", "bonded")]
        if all(row[name] is None for name in typed):
            return {}
        missing = [name for name in needed if row[name] is None]
        for name in missing:
            self.add_error(start + name, _("Fill this in, too, or empty the whole row."))
        return {} if missing else row
