"""Which words fit beside the symbols: the server knows no screen, so it reckons with two widths."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

# The narrowest the drawing gets on a desk and on a phone, and a letter's usual width there.
SCREENS = {"wide": 860.0, "narrow": 330.0}
LETTER, GAP = 6.4, 7.0


@dataclass(frozen=True)
class Word:
    """What should stand at `x` percent: the first of `texts` that fits."""

    x: float
    texts: tuple[str, ...]
    weight: int = 0  # the greatest is placed first


@dataclass(frozen=True)
class Label:
    x: float
    text: str
    anchor: str
    screen: str


Span = tuple[float, float]


def placed(words: Sequence[Word]) -> list[Label]:
    """Labels for both screens; a word that fits neither is told by the table alone."""
    return [label for screen in SCREENS for label in _on(screen, words)]


def _on(screen: str, words: Sequence[Word]) -> Iterable[Label]:
    taken: list[Span] = []
    for word in sorted(words, key=lambda word: (-word.weight, word.x)):
        for text in word.texts:
            anchor, span = _span(word.x, text, SCREENS[screen])
            if free(span, taken):
                taken.append(span)
                yield Label(word.x, text, anchor, screen)
                break


def _span(x: float, text: str, width: float) -> tuple[str, Span]:
    """Centred on its place, or kept inside the drawing at either end."""
    at, length = x / 100 * width, len(text) * LETTER
    if at < length / 2:
        return "start", (at, at + length)
    if at > width - length / 2:
        return "end", (at - length, at)
    return "middle", (at - length / 2, at + length / 2)


def free(span: Span, taken: Iterable[Span], gap: float = GAP) -> bool:
    return all(span[1] + gap <= left or span[0] >= right + gap for left, right in taken)


def room_for(places: Sequence[float], size: float, width: float) -> set[int]:
    """Which of these places (percent, in order) take a symbol `size` wide without touching."""
    taken: list[Span] = []
    fits: set[int] = set()
    for number, place in enumerate(places):
        at = place / 100 * width
        span = (at - size / 2, at + size / 2)
        if free(span, taken, gap=0.0):
            taken.append(span)
            fits.add(number)
    return fits


def screens_for(places: Sequence[float], size: float) -> list[str]:
    """For each place: 'both', 'wide', 'narrow' or 'none'."""
    wide, narrow = (room_for(places, size, SCREENS[screen]) for screen in ("wide", "narrow"))
    names = {(True, True): "both", (True, False): "wide", (False, True): "narrow"}
    return [names.get((number in wide, number in narrow), "none") for number in range(len(places))]
