"""Text as every format can hold it."""

import re

LIVE_STARTS = tuple("=+-@＝＋－＠")
_LIVE_LATER = re.compile(rf"(;[\s\"]*)(?=[{re.escape(''.join(LIVE_STARTS))}])")
"""A live start behind a semicolon, at which many a spreadsheet parts a line."""


def plain(text: str) -> str:
    """The text with a blank for each sign that can't be printed: controls, halves of letters.

    What is left is text that UTF-8 and XML 1.0 can hold; markup in it is for each format to escape.
    """
    return text if text.isprintable() else "".join(c if c.isprintable() else " " for c in text)


def inert(text: str) -> str:
    """The text, with an apostrophe wherever a spreadsheet would take what follows for a formula."""
    printable = _LIVE_LATER.sub(r"\1'", plain(text))
    return f"'{printable}" if printable.lstrip().startswith(LIVE_STARTS) else printable
