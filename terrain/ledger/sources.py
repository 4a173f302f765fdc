"""Where a figure comes from, and how well its source was read."""

from dataclasses import dataclass
from typing import Literal, TypeAlias

Mark: TypeAlias = Literal["S", "S2", "M"]

TYPICAL = "typical figure"
MARK_WORDS: dict[Mark, str] = {
    "S": "read in the source",
    "S2": "as quoted on a secondary page",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A published source and the mark of how its figure was read.

    S: in the source or a direct quotation of it. S2: on a secondary page that quotes it.
    M: from memory; it has no title to show then, since nobody saw it there, and reads as a typical
    figure.
    """

    title: str
    mark: Mark

    def __str__(self) -> str:
        return TYPICAL if self.mark == "M" else f"{self.title} ({MARK_WORDS[self.mark]})"
