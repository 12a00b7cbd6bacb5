"""One large number, drawn with text blocks so that it can be read from the other side of the kitchen."""

from typing import Literal

Size = Literal["small", "normal", "double"]

_FONT = {
    "0": "### #.# #.# #.# ###",
    "1": ".#. ##. .#. .#. ###",
    "2": "### ..# ### #.. ###",
    "3": "### ..# ### ..# ###",
    "4": "#.# #.# ### ..# ..#",
    "5": "### #.. ### ..# ###",
    "6": "### #.. ### #.# ###",
    "7": "### ..# ..# ..# ..#",
    "8": "### #.# ### #.# ###",
    "9": "### #.# ### ..# ###",
    "-": "... ... ### ... ...",
    ".": ". . . . #",
    " ": ".. .. .. .. ..",
}
_HALVES = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}


def large(text: str, size: Size = "normal", *, plain: bool = False) -> list[str]:
    """Return the rows of `text` (digits, minus, point, space; anything else is left out).

    `small` has 3 rows of half blocks, `normal` 5 rows, `double` 10. `plain` draws with `#`, and gives the bare
    text where only half blocks would do.
    """
    rows = _bitmap(text)
    if size == "small":
        return [text] if plain else _halved(rows)
    scale = 2 if size == "double" else 1
    ink = "#" if plain else "█"
    drawn = ["".join((ink if dot else " ") * (2 * scale) for dot in row) for row in rows]
    return [row for row in drawn for _ in range(scale)]


def _bitmap(text: str) -> list[list[bool]]:
    rows: list[list[bool]] = [[] for _ in range(5)]
    for glyph in (_FONT[char].split() for char in text if char in _FONT):
        for row, dots in zip(rows, glyph, strict=True):
            row.extend([False] * bool(row) + [dot == "#" for dot in dots])
    return rows


def _halved(rows: list[list[bool]]) -> list[str]:
    blank = [False] * len(rows[0])
    pairs = zip(rows[::2], [*rows[1::2], blank], strict=True)
    return ["".join(_HALVES[dots] for dots in zip(*pair, strict=True)) for pair in pairs]
