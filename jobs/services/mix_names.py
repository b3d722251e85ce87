"""Components of a mix, and what a rule rests on, as the crew reads them, in English or Spanish."""

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
# What the engine's figures and rules at the mixer rest on, as it writes them.
BASES = (
    gettext_noop("ASTM C94/C94M as revised in 2021: 1.5 % of the batch water"),
    gettext_noop("ASTM C94/C94M, from memory"),
    gettext_noop("common practice, no source"),
    gettext_noop("common practice, no source: one run for what must match, else by layer"),
    gettext_noop("set by the shop"),
)


def basis(words: str) -> str:
    return _(words) if words in BASES else words


def component(name: str) -> str:
    return _(name) if name in USUAL_COMPONENTS else name


def line_name(name: str, layer: str | None) -> str:
    """Of a line of a weigh sheet: its component and, of fibre, the layer it is for."""
    return f"{component(name)}, {layer_words(layer)}" if layer else component(name)
