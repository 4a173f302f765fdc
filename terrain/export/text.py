"""Text as every format can hold it."""

LIVE_STARTS = tuple("=+-@＝＋－＠")


def plain(text: str) -> str:
    """The text with a blank for each sign that can't be printed: controls, halves of letters.

    What is left is text that UTF-8 and XML 1.0 can hold; markup in it is for each format to escape.
    """
    return text if text.isprintable() else "".join(c if c.isprintable() else " " for c in text)


def inert(text: str) -> str:
    """The text, with an apostrophe before it if a spreadsheet would take it for a formula."""
    printable = plain(text)
    return f"'{printable}" if printable.lstrip().startswith(LIVE_STARTS) else printable
