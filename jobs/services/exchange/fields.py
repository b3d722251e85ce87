"""The fields that a table of jobs and pieces may have: one list, for bringing in and taking out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal[
    "text", "words", "choice", "day", "clock", "moment", "whole", "money", "length", "area",
    "share", "yes_no", "shape",
]  # fmt: skip
JOB, CUSTOMER, PIECE = "job", "customer", "piece"


@dataclass(frozen=True)
class Field:
    """`name` is the model's own field; `header` what our own table writes over the column."""

    key: str
    of: str
    name: str
    header: str
    kind: Kind = "text"
    also: tuple[str, ...] = ()  # what other tables call it


FIELDS: tuple[Field, ...] = (
    Field("number", JOB, "number", "Job number",
          also=("job", "job no", "job nr", "job #", "job id", "order", "order number", "order no",
                "order #", "no", "nr", "#", "number")),
    Field("title", JOB, "title", "What it is",
          also=("title", "job title", "job name", "project", "project name", "description",
                "work")),
    Field("customer", CUSTOMER, "name", "Customer",
          also=("customer name", "client", "client name", "sold to")),
    Field("email", CUSTOMER, "email", "Customer e-mail",
          also=("email", "e-mail", "customer email", "mail", "client email")),
    Field("phone", CUSTOMER, "phone", "Customer phone",
          also=("phone", "tel", "telephone", "mobile", "cell", "phone number", "client phone")),
    Field("address", CUSTOMER, "address", "Customer address", "words",
          also=("address", "billing address", "client address")),
    Field("site", JOB, "site", "Site",
          also=("site address", "install address", "job site", "delivery address")),
    Field("site_contact", JOB, "site_contact", "Site contact",
          also=("contact on site", "who opens", "contact")),
    Field("site_ready", JOB, "site_ready", "Ready on site before", "words",
          also=("site ready", "site readiness", "must be ready on site")),
    Field("taken_on", JOB, "taken_on", "Taken on", "day",
          also=("ordered", "order date", "date ordered", "sold", "date")),
    Field("promised_on", JOB, "promised_on", "Promised on", "day",
          also=("promised", "promise", "promise date", "due", "due date", "install date",
                "promised for", "delivery date")),
    Field("promised_by", JOB, "promised_by", "Promised by", "clock",
          also=("promised time", "due time", "by", "time")),
    Field("weight", JOB, "weight", "Matters (1 to 5)", "whole",
          also=("matters", "importance", "priority", "weight of promise")),
    Field("price", JOB, "price", "Price", "money", also=("amount", "total", "job price")),
    Field("job_notes", JOB, "notes", "Job notes", "words", also=("notes", "remarks", "comments")),
    Field("closed_at", JOB, "closed_at", "Closed at", "moment", also=("closed", "finished at")),
    Field("called_off", JOB, "called_off", "Called off", "yes_no",
          also=("cancelled", "canceled")),
    Field("code", PIECE, "code", "Piece code",
          also=("code", "piece id", "piece no", "piece number", "form code")),
    Field("letter", PIECE, "letter", "Piece letter", also=("letter", "piece")),
    Field("name", PIECE, "name", "Piece name",
          also=("piece description", "item", "part", "part name", "name")),
    Field("room", PIECE, "room", "Room", "choice", also=("cast in", "cast and cured in")),
    Field("mix", PIECE, "mix", "Mix", "choice", also=("mix design", "recipe", "colour", "color")),
    Field("route", PIECE, "route", "Route", "choice", also=("finish", "steps")),
    Field("sealer", PIECE, "sealer", "Sealer", "choice", also=("seal", "coating")),
    Field("area", PIECE, "area_m2", "Area", "area",
          also=("square feet", "sq ft", "sqft", "sf", "square metres", "square meters", "m2",
                "size")),
    Field("length", PIECE, "length", "Length", "length", also=("long", "l")),
    Field("width", PIECE, "width", "Width", "length", also=("depth", "w", "wide")),
    Field("thickness", PIECE, "thickness_m", "Thickness", "length",
          also=("thick", "t", "slab thickness")),
    Field("coat", PIECE, "coat_m", "Face coat", "length",
          also=("face coat thickness", "mist coat", "face")),
    Field("matches", PIECE, "matches_job", "Must match", "yes_no",
          also=("match", "matches", "must match the job's other pieces")),
    Field("waste", PIECE, "waste", "Waste", "share", also=("extra", "waste allowance")),
    Field("piece_notes", PIECE, "notes", "Piece notes", "words", also=("shop notes",)),
    Field("shape", PIECE, "shape", "Shape", "shape", also=("section", "outline")),
    Field("shape_more", PIECE, "shape_more", "Shape, continued", "text"),
)  # fmt: skip
BY_KEY: dict[str, Field] = {field.key: field for field in FIELDS}
CHOICES = ("room", "mix", "route", "sealer")
PRICES = frozenset({"price"})


def offered(*, prices: bool) -> tuple[Field, ...]:
    """For somebody who may, or may not, see prices."""
    return tuple(field for field in FIELDS if prices or field.key not in PRICES)
