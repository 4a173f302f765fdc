"""Names as people wrote them, made fit to print: no control characters, no more than fits."""

import unicodedata
from collections import Counter
from collections.abc import Sequence

from rich.cells import cell_len, chop_cells

ELLIPSIS = "…"
PLAINER = {"±": "+/-", "³": "3", "²": "2", ELLIPSIS: "~", "–": "-", "−": "-"}


def plain(text: str) -> str:
    """The text on one line without characters that move the cursor or turn the reading order."""
    kept = (c if _prints(c) else " " for c in text)
    return " ".join("".join(kept).split())


def _prints(character: str) -> bool:
    return unicodedata.category(character) not in {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


def shortened(text: str, width: int) -> str:
    """The text in at most `width` columns, its middle left out where it is longer."""
    if cell_len(text) <= width:
        return text
    if width < 3:
        return (chop_cells(text, width) or [""])[0] if width > 0 else ""
    tail_width = (width - 1) // 2
    head = chop_cells(text, width - 1 - tail_width)[0]
    tail = chop_cells(text[::-1], tail_width)[0][::-1]
    return head.rstrip() + ELLIPSIS + tail.lstrip()


def told_apart(names: Sequence[str], width: int) -> list[str]:
    """Each name, fit to print and in at most `width` columns; those that would then read alike
    have their place in the list, from 1, before them.

    >>> told_apart(["east wall of the old barn", "east wall of the big barn", "west"], 12)
    ['1: east…barn', '2: east…barn', 'west']
    """
    short = [shortened(plain(name), width) for name in names]
    alike = Counter(short)
    return [
        said
        if alike[said] == 1
        else f"{k}: {shortened(plain(name), max(width - len(f'{k}: '), 3))}"
        for k, (name, said) in enumerate(zip(names, short, strict=True), start=1)
    ]


def encodable(text: str, encoding: str) -> str:
    """The text with what the encoding lacks written plainer, or else as a question mark."""
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        plainer = "".join(PLAINER.get(c, c) for c in text)
        return plainer.encode(encoding, "replace").decode(encoding)
    return text
