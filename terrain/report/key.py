"""What stands under a plan drawing: scale bar, depth bands, kinds of line, unit and date."""

from collections.abc import Sequence
from dataclasses import dataclass

from terrain.base.arrays import FloatArray
from terrain.report import inks
from terrain.report.svg import Attribute, element, text, text_width

ROW = 20.0
SAMPLE = 24.0
NICE_LENGTHS = tuple(m * 10.0**k for k in range(-1, 5) for m in (1, 2, 5))


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyItem:
    """A sample drawn in a box 24 by 10 pixels, and what it means."""

    sample: str
    words: str


def line_item(words: str, style: dict[str, Attribute]) -> KeyItem:
    """A kind of line."""
    return KeyItem(sample=element("path", d="M0 5H24", **style), words=words)


def area_item(words: str, fill: str, **style: Attribute) -> KeyItem:
    """A kind of area."""
    return KeyItem(
        sample=element("rect", width=SAMPLE, height=10.0, fill=fill, **style), words=words
    )


def flow(items: Sequence[KeyItem], width: float, top: float, size: float) -> tuple[str, float]:
    """The items side by side in rows of `width` pixels, and where the next row begins."""
    drawn, left = [], 0.0
    for item in items:
        room = SAMPLE + 6 + text_width(item.words, size) + 14
        if left > 0 and left + room > width:
            left, top = 0.0, top + ROW
        words = text(item.words, x=SAMPLE + 6, y=9.0, font_size=size, fill=inks.INK)
        drawn.append(element("g", item.sample, words, transform=f"translate({left:g} {top:g})"))
        left += room
    return "".join(drawn), top + ROW


def scale_bar(scale: float, unit: str, top: float, size: float) -> str:
    """A bar of two round lengths, alternately filled; `scale` is pixels a length unit."""
    half = max((n for n in NICE_LENGTHS if n * scale <= 105), default=NICE_LENGTHS[0])
    bar = half * scale
    style: dict[str, Attribute] = {"stroke": inks.INK, "stroke_width": 1.0, "height": 5.0}
    blocks = [
        element("rect", x=0.5, y=top + 14, width=bar, fill=inks.INK, **style),
        element("rect", x=0.5 + bar, y=top + 14, width=bar, fill=inks.PAPER, **style),
    ]
    words: dict[str, Attribute] = {"y": top + 10, "font_size": size, "fill": inks.INK}
    return "".join(
        [
            *blocks,
            text("0", x=0.5, **words),
            text(f"{half:g}", x=0.5 + bar, text_anchor="middle", **words),
            text(f"{half + half:g} {unit}", x=0.5 + 2 * bar, text_anchor="middle", **words),
        ]
    )


def north_arrow(place: FloatArray, size: float) -> str:
    """An arrow up with an N under it, about `place`."""
    across, down = float(place[0]), float(place[1])
    left = f"M{across:g} {down - 26:g}L{across - 7:g} {down:g}L{across:g} {down - 5:g}Z"
    right = f"M{across:g} {down - 26:g}L{across + 7:g} {down:g}L{across:g} {down - 5:g}Z"
    style: dict[str, Attribute] = {"stroke": inks.INK, "stroke_width": 0.9}
    return "".join(
        [
            element("path", d=left, fill=inks.INK, **style),
            element("path", d=right, fill=inks.PAPER, **style),
            text(
                "N",
                x=across,
                y=down + size,
                text_anchor="middle",
                font_size=size,
                font_weight="bold",
                fill=inks.INK,
            ),
        ]
    )
