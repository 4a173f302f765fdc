"""Cautions as read: those that say the same of several walls are said once."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from terrain.ledger.entries import Caution


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """A caution in its own words, and the other walls of which it says just the same."""

    wall: str | None
    message: str
    also: tuple[str, ...]


def said_once(cautions: Iterable[Caution]) -> list[Said]:
    """The cautions in order, each with the walls whose caution differs only in the wall's name.

    `wall` is None too where the message names the wall itself.
    """
    groups: dict[tuple[str, str, bool], list[Caution]] = {}
    for caution in cautions:
        frame = _without_name(caution)
        groups.setdefault((caution.code, frame, caution.wall is None), []).append(caution)
    return [_said(group) for group in groups.values()]


def _without_name(caution: Caution) -> str:
    """The message with a mark wherever it has the wall's name as words of their own."""
    if not caution.wall:
        return caution.message
    name = rf"(?<!\w){re.escape(caution.wall)}(?!\w)"
    return re.sub(name, "\0", caution.message)


def _said(group: list[Caution]) -> Said:
    first = group[0]
    is_named = first.wall is None or _without_name(first) != first.message
    also = tuple(dict.fromkeys(c.wall for c in group[1:] if c.wall is not None))
    return Said(wall=None if is_named else first.wall, message=first.message, also=also)
