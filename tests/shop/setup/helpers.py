from __future__ import annotations

import datetime as dt
from html.parser import HTMLParser
from typing import Any

from django.http import HttpResponse
from django.utils import timezone

from shop.models import Shop


def today() -> dt.date:
    """On the shop's clock, which is hours behind or ahead of the tests' own."""
    return timezone.localdate(timezone=Shop.objects.get().zone)


class Controls(HTMLParser):
    """What a browser would send for the form with this action, if its button were pressed."""

    def __init__(self, action: str | None) -> None:
        super().__init__()
        self.action, self.inside = action, False
        self.values: dict[str, Any] = {}
        self._select: str | None = None
        self._textarea: str | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        at = dict(attrs)
        if tag == "form":
            self.inside = self.action is None or at.get("action") == self.action
        if not self.inside:
            return
        name = at.get("name")
        if tag == "input" and name:
            self._input(name, at)
        elif tag == "select" and name:
            self._select = name
        elif tag == "option" and self._select and "selected" in at:
            self.values[self._select] = at.get("value") or ""
        elif tag == "textarea" and name:
            self._textarea = name
            self.values[name] = ""

    def _input(self, name: str, at: dict[str, str | None]) -> None:
        if at.get("type") == "checkbox":
            if "checked" in at:
                self.values.setdefault(name, []).append(at.get("value") or "on")
            return
        if at.get("type") != "radio" or "checked" in at:
            self.values[name] = at.get("value") or ""

    def handle_data(self, data: str) -> None:
        if self._textarea:
            self.values[self._textarea] += data.removeprefix("\n")

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.inside = False
        elif tag == "select":
            self._select = None
        elif tag == "textarea":
            self._textarea = None


def typed(response: HttpResponse, action: str | None = None, **changes: Any) -> dict[str, Any]:
    """The form's values as shown on the page, with these typed over; None unticks or empties."""
    page = response.content.decode()
    start = page.index('<main id="main"')
    controls = Controls(action)
    controls.feed(page[start:])
    controls.values.update(changes)
    return {name: value for name, value in controls.values.items() if value is not None}


def text(response: HttpResponse) -> str:
    """The page's words, without tags."""
    words: list[str] = []

    class Words(HTMLParser):
        def handle_data(self, data: str) -> None:
            words.append(data)

    Words().feed(response.content.decode())
    return " ".join(" ".join(words).split())
