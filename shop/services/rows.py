"""How a row of the set-up is written: one editor at a time, dates told that they depend on it."""

from __future__ import annotations

from typing import Any, TypeVar

from django.db import IntegrityError, models, transaction
from django.db.models import ProtectedError
from django.utils.translation import gettext as _

from shop.services.changed import note_change
from shop.services.errors import Conflict, Refused

Row = TypeVar("Row", bound=models.Model)


def add(model: type[Row], values: dict[str, Any]) -> Row:
    try:
        with transaction.atomic():
            row = model._default_manager.create(**values)
            note_change(f"{model._meta.verbose_name} added")
    except IntegrityError as error:
        raise _name_taken() from error
    return row


def change(model: type[Row], pk: int, version: int, values: dict[str, Any]) -> Row:
    try:
        with transaction.atomic():
            row = locked(model, pk, version, values)
            put(row, values)
            note_change(f"{model._meta.verbose_name} changed")
    except IntegrityError as error:
        raise _name_taken() from error
    return row


def locked(model: type[Row], pk: int, version: int, values: dict[str, Any]) -> Row:
    """The row, held until the transaction ends, if nobody has saved it since `version`."""
    row = model._default_manager.select_for_update().get(pk=pk)
    if row.version != version:  # type: ignore[attr-defined]
        now = {key: str(getattr(row, key)) for key in values if getattr(row, key) != values[key]}
        raise Conflict(
            _("Somebody else saved this while you were typing. Nothing of yours is saved yet."),
            version=row.version,  # type: ignore[attr-defined]
            theirs=now,
        )
    return row


def put(row: models.Model, values: dict[str, Any]) -> None:
    for key, value in values.items():
        setattr(row, key, value)
    row.version += 1  # type: ignore[attr-defined]
    row.save(update_fields=[*values, "version"])


def delete(model: type[Row], pk: int) -> str:
    """Only what nothing refers to; the rest is taken out of use."""
    try:
        with transaction.atomic():
            row = model._default_manager.select_for_update().get(pk=pk)
            name = str(row)
            row.delete()
            note_change(f"{model._meta.verbose_name} deleted")
    except ProtectedError as error:
        raise Refused(
            _("%(name)s is used by pieces, readings or casting tables, so it stays. Take it out "
              "of use instead: it is then no longer offered.") % {"name": name}
        ) from error  # fmt: skip
    return name


def _name_taken() -> Refused:
    return Refused(_("There is one of this name already. Choose another name."), field="name")
