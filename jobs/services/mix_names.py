"""Components of a mix by the names the crew reads, in English or Spanish."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from jobs.services.weigh_sheets import layer_words

# Of the usual recipe; the shop's own names stay as they are.
USUAL_COMPONENTS = (
    gettext_noop("Water"),
    gettext_noop("Acrylic polymer"),
    gettext_noop("Plasticizer"),
    gettext_noop("Silica sand"),
    gettext_noop("White cement"),
    gettext_noop("Metakaolin"),
    gettext_noop("AR glass fibre"),
    gettext_noop("Iron oxide"),
    gettext_noop("Black iron oxide"),
)


def component(name: str) -> str:
    return _(name) if name in USUAL_COMPONENTS else name


def line_name(name: str, layer: str | None) -> str:
    """Of a line of a weigh sheet: its component and, of fibre, the layer it is for."""
    return f"{component(name)}, {layer_words(layer)}" if layer else component(name)
