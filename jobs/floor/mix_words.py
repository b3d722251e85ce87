"""What the crew reads at the mixer, in English or Spanish."""

from __future__ import annotations

from django.utils.translation import gettext_lazy

TOO_MUCH = gettext_lazy(
    "%(off)s too much; %(tolerance)s is allowed. Not in the mixer yet: take it out and weigh "
    "again. In already: leave it, it is on record, and tell who decides about this run."
)
TOO_LITTLE = gettext_lazy(
    "%(off)s too little; %(tolerance)s is allowed. Add it, and record what the scale shows in all."
)
