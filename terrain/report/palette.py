"""The colours of rows: walls in turn dark and light, so that a grey printer tells neighbours apart.

Hues of our own choice, apart to colour-blind eyes; names stand beside them everywhere.
"""

from collections.abc import Sequence

DARK = ("#98602f", "#44706e", "#6b4d74", "#5a5a35", "#2f4d63")
LIGHT = ("#ecc98d", "#b5d3c6", "#d9bfe0", "#d5d48a", "#a9c4dc")
EXTRA = ("#7d766d", "#b9b2a6")
GROUND = "#e4e6d6"
EARTH = "#dcc9ab"
HOUSE = "#fffdf8"


def row_colours(kinds: Sequence[str]) -> list[str]:
    """One colour a row, by its kind: walls by turns from `DARK` and `LIGHT`, extras grey.

    >>> row_colours(["wall", "wall", "ramp"])
    ['#98602f', '#ecc98d', '#7d766d']
    """
    colours, walls, extras = [], 0, 0
    for kind in kinds:
        if kind == "wall":
            shades = LIGHT if walls % 2 else DARK
            colours.append(shades[walls // 2 % len(shades)])
            walls += 1
        else:
            colours.append(EXTRA[extras % len(EXTRA)])
            extras += 1
    return colours


def channels(colour: str) -> tuple[float, float, float]:
    """Red, green and blue of a colour such as `#98602f`, each from 0 to 1."""
    red, green, blue = (int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5))
    return red, green, blue
