"""What the crew reads at the mixer, in English or Spanish."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, gettext_noop

# As the engine writes them.
BASES = (
    gettext_noop("ASTM C94/C94M as revised in 2021: 1.5 % of the batch water"),
    gettext_noop("ASTM C94/C94M, from memory"),
    gettext_noop("common practice, no source"),
    gettext_noop("set by the shop"),
)
TOO_MUCH = gettext_lazy(
    "%(off)s too much; %(tolerance)s is allowed. Not in the mixer yet: take it out and weigh "
    "again. In already: leave it, it is on record, and tell who decides about this run."
)
TOO_LITTLE = gettext_lazy(
    "%(off)s too little; %(tolerance)s is allowed. Add it, and record what the scale shows in all."
)


def tolerance_basis(basis: str) -> str:
    return _(basis) if basis in BASES else basis
