"""The colours of rows where faces are coloured by row: one dark, one light, in turn.

Neighbours differ in lightness first, so that they differ to every eye and in grey.
"""

from typing import TypeAlias

Colour: TypeAlias = tuple[int, int, int]

COLOURS: tuple[Colour, ...] = (
    (138, 74, 37),
    (226, 190, 143),
    (66, 88, 64),
    (182, 196, 164),
    (84, 68, 104),
    (198, 182, 208),
    (60, 84, 100),
    (176, 200, 206),
)


def colour_of(row: int) -> Colour:
    """The colour of a row as red, green and blue of 0 to 255 (sRGB)."""
    return COLOURS[row % len(COLOURS)]


def linear(colour: Colour) -> list[float]:
    """The colour as shares of light, 0 to 1: the sRGB curve of IEC 61966-2-1 undone."""
    shares = (value / 255 for value in colour)
    return [round(s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4, 6) for s in shares]
