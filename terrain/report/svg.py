"""Small words for writing SVG: elements, paths and how wide a text will be."""

from collections.abc import Iterable
from typing import TypeAlias
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from rich.cells import cell_len, get_character_cell_size

from terrain.base.arrays import FloatArray
from terrain.report.names import shortened

Attribute: TypeAlias = str | float

EM_WIDE, EM_CAPITAL, EM_PLAIN, EM_NARROW = 1.0, 0.76, 0.6, 0.4
WIDE, NARROW_LETTERS = frozenset("WMmw@%…—&"), frozenset(" ijltfrI.,:;'!|()[]/-·’‘")
"""How wide letters are for their size in bold sans faces, rather over than under."""


def element(tag: str, *inner: str, **attributes: Attribute) -> str:
    """An element around markup already made; `_` in a name stands for `-`, `class_` for class."""
    words = "".join(
        f" {name.rstrip('_').replace('_', '-')}={quoteattr(_value(value))}"
        for name, value in attributes.items()
    )
    return f"<{tag}{words}>{''.join(inner)}</{tag}>" if inner else f"<{tag}{words}/>"


def text(content: str, **attributes: Attribute) -> str:
    """A text element; the content is escaped here."""
    return element("text", escape(content), **attributes)


def text_width(content: str, size: float) -> float:
    """About how many pixels the text takes at a font size in pixels, rather over than under."""
    return sum(map(_em, content)) * size


def fitted(content: str, room: float, size: float) -> str:
    """The text with so much of its middle left out that it takes at most `room` pixels."""
    columns = cell_len(content)
    said = content
    while columns > 1 and text_width(said, size) > room:
        columns -= 1
        said = shortened(content, columns)
    return said


def _em(letter: str) -> float:
    if letter in WIDE or get_character_cell_size(letter) > 1:
        return EM_WIDE
    if letter in NARROW_LETTERS:
        return EM_NARROW
    return EM_CAPITAL if letter.isupper() else EM_PLAIN


def path_data(lines: Iterable[FloatArray]) -> str:
    """Path data of polylines (m, 2) in pixels, to a tenth of a pixel; closed if ends meet."""
    return "".join(_one_path(np.round(line, 1)) for line in lines if len(line) > 1)


def dots_data(places: FloatArray) -> str:
    """Path data of strokes of no length, which round caps show as dots."""
    return "".join(f"M{_value(e)} {_value(n)}h0" for e, n in np.round(places, 1).tolist())


def _one_path(line: FloatArray) -> str:
    moved = np.any(np.diff(line, axis=0) != 0, axis=1)
    kept = line[np.concatenate([[True], moved])]
    closed = len(kept) > 2 and bool(np.all(kept[0] == kept[-1]))
    steps = kept[:-1] if closed else kept
    joined = "L".join(f"{_value(e)} {_value(n)}" for e, n in steps.tolist())
    return f"M{joined}Z" if closed else f"M{joined}"


def _value(value: Attribute) -> str:
    return value if isinstance(value, str) else f"{round(value, 2) + 0.0:g}"
