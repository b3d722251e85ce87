"""PDFs read back: their words, where these stand, and the QR codes drawn in them.

The reading of the code follows ISO/IEC 18004:2015, 7.3 to 7.9, from memory of it: format bits,
mask, the order of modules, blocks, byte mode. Errors are not corrected: a module that is wrong
makes another text.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator

from pypdf import PageObject, PdfReader

Matrix = list[list[bool]]
QUIET = 4
ALIGNMENT = {1: 0, 2: 18, 3: 22, 4: 26, 5: 30, 6: 34}
# Data codewords of each block at level Q (Table 9 of the standard).
BLOCKS_Q = {1: [13], 2: [22], 3: [17, 17], 4: [24, 24], 5: [15, 15, 16, 16], 6: [19] * 4}
LEVEL_Q = 0b11
MASKS: list[Callable[[int, int], bool]] = [
    lambda y, x: (y + x) % 2 == 0,
    lambda y, x: y % 2 == 0,
    lambda y, x: x % 3 == 0,
    lambda y, x: (y + x) % 3 == 0,
    lambda y, x: (y // 2 + x // 3) % 2 == 0,
    lambda y, x: (y * x) % 2 + (y * x) % 3 == 0,
    lambda y, x: ((y * x) % 2 + (y * x) % 3) % 2 == 0,
    lambda y, x: ((y + x) % 2 + (y * x) % 3) % 2 == 0,
]


def read(pdf: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(pdf))


def words(pdf: bytes | PageObject) -> str:
    pages = [pdf] if isinstance(pdf, PageObject) else read(pdf).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def size_mm(page: PageObject) -> tuple[float, float]:
    return tuple(round(float(side) / 72 * 25.4, 1) for side in page.mediabox[2:])  # type: ignore[return-value]


def addresses(page: PageObject) -> list[str]:
    """What a phone reads on this page, in the order drawn."""
    return [address_of(matrix) for matrix in matrices(page)]


def matrices(page: PageObject) -> Iterator[Matrix]:
    """Of each QR code: one filled path of boxes a module high, in modules, its quiet zone too."""
    boxes: list[tuple[int, int, int]] = []
    start, far = (0.0, 0.0), 0.0
    contents = page.get_contents()
    assert contents is not None
    for operands, operator in contents.operations:
        if operator == b"m":
            start = (float(operands[0]), float(operands[1]))
            far = start[0]
        elif operator == b"l":
            far = max(far, float(operands[0]))
        elif operator == b"h" and start[0] >= QUIET and start[1] >= QUIET:
            boxes.append((int(start[0]), int(start[1]), round(far - start[0])))
        elif operator in {b"f", b"f*", b"B"}:
            if len(boxes) > 50:
                yield _matrix(boxes)
            boxes = []


def _matrix(boxes: list[tuple[int, int, int]]) -> Matrix:
    side = max(max(x + wide, y + 1) for x, y, wide in boxes) - QUIET
    rows = [[False] * side for _ in range(side)]
    for x, y, wide in boxes:
        for place in range(x, x + wide):
            rows[y - QUIET][place - QUIET] = True
    return rows


def address_of(matrix: Matrix) -> str:
    side = len(matrix)
    version, rest = divmod(side - 17, 4)
    assert rest == 0
    level, mask = _format(matrix)
    assert level == LEVEL_Q
    bits = [
        matrix[y][x] ^ MASKS[mask](y, x)
        for y, x in _order(side)
        if not _is_function(y, x, side, ALIGNMENT[version])
    ]
    codewords = [_number(bits[n : n + 8]) for n in range(0, len(bits) - 7, 8)]
    return _text(_data(codewords, BLOCKS_Q[version]))


def _format(matrix: Matrix) -> tuple[int, int]:
    places = [(8, x) for x in (0, 1, 2, 3, 4, 5, 7, 8)] + [(y, 8) for y in (7, 5, 4, 3, 2, 1, 0)]
    found = _number([matrix[y][x] for y, x in places]) ^ 0b101010000010010
    return found >> 13, found >> 10 & 0b111


def _is_function(y: int, x: int, side: int, align: int) -> bool:
    finder = (y < 9 and x < 9) or (y < 9 and x >= side - 8) or (y >= side - 8 and x < 9)
    aligned = bool(align) and abs(y - align) <= 2 and abs(x - align) <= 2
    return finder or aligned or 6 in (y, x)


def _order(side: int) -> Iterator[tuple[int, int]]:
    """Two columns at a time from the right, up and down in turns, past the timing column."""
    up = True
    for right in [*range(side - 1, 6, -2), 5, 3, 1]:
        for y in range(side - 1, -1, -1) if up else range(side):
            yield from ((y, right), (y, right - 1))
        up = not up


def _data(codewords: list[int], blocks: list[int]) -> list[int]:
    """The blocks' data, taken apart again."""
    parts: list[list[int]] = [[] for _ in blocks]
    stream = iter(codewords)
    for place in range(max(blocks)):
        for part, length in zip(parts, blocks, strict=True):
            if place < length:
                part.append(next(stream))
    return [word for part in parts for word in part]


def _text(data: list[int]) -> str:
    bits = [bool(word >> place & 1) for word in data for place in range(7, -1, -1)]
    assert _number(bits[:4]) == 0b0100, "byte mode"
    count = _number(bits[4:12])
    return bytes(_number(bits[12 + 8 * n : 20 + 8 * n]) for n in range(count)).decode()


def _number(bits: list[bool]) -> int:
    return int("".join("1" if bit else "0" for bit in bits), 2)


def y_of(page: PageObject, *sought: str) -> list[float]:
    """How far above the page's foot each line stands that has one of these words, from the top
    down [mm]."""
    found: list[float] = []

    def visit(text: str, cm: list[float], tm: list[float], font: object, size: float) -> None:
        if any(words in text for words in sought):
            found.append((cm[1] * tm[4] + cm[3] * tm[5] + cm[5]) / 72 * 25.4)

    page.extract_text(visitor_text=visit)
    return sorted(found, reverse=True)
