"""Letters that no font here can draw: they would print as empty boxes, and nobody would be told.

WeasyPrint says of each such letter that it drew a box; it is heard here, by whoever asks.
"""

from __future__ import annotations

import logging
import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

SAID = re.compile(r"\.notdef glyph .*\(U\+([0-9A-F]{4,6})\)$")
_heard: ContextVar[dict[str, None] | None] = ContextVar("letters", default=None)


class _Ear(logging.Filter):
    """Keeps such a warning out of the log where somebody listens, who will say it on screen."""

    def filter(self, record: logging.LogRecord) -> bool:
        heard, said = _heard.get(), SAID.search(record.getMessage())
        if heard is None or said is None:
            return True
        heard[chr(int(said[1], 16))] = None
        return False


logging.getLogger("weasyprint").addFilter(_Ear())


@contextmanager
def boxes_heard() -> Iterator[dict[str, None]]:
    """Fills with the letters, in their order, that become boxes in PDFs written meanwhile."""
    heard: dict[str, None] = {}
    outer = _heard.set(heard)
    try:
        yield heard
    finally:
        _heard.reset(outer)
        tell(heard)


def tell(letters: Iterable[str]) -> None:
    """To who listens outside: of a PDF that was kept, its letters are not said again."""
    heard = _heard.get()
    if heard is not None:
        heard.update(dict.fromkeys(letters))
