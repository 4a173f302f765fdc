"""Cautions as read: a rule is said once, with a row for all of whom the same is said."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from terrain.ledger.entries import Caution


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """A caution in its own words, or a rule with its points and a row for each that it is about.

    `wall` stands before a message that does not name it; `also` are the other walls of which it
    says just the same. `rows` are names and what is said of them, which may be nothing.
    """

    wall: str | None
    message: str
    also: tuple[str, ...] = ()
    points: tuple[str, ...] = ()
    rows: tuple[tuple[tuple[str, ...], str], ...] = ()


def said_once(cautions: Iterable[Caution]) -> list[Said]:
    """The cautions in order, each rule where its first one stands.

    Those that are not parted into a rule and a row are said once with every wall whose caution
    differs only in the wall's name; `wall` is None where the message names the wall itself.
    """
    groups: dict[tuple[str, str, bool], list[Caution]] = {}
    for caution in cautions:
        frame = caution.rule or _without_name(caution)
        is_whole = caution.wall is None and not caution.rule
        groups.setdefault((caution.code, frame, is_whole), []).append(caution)
    return [_rule(group) if group[0].rule else _said(group) for group in groups.values()]


def _rule(group: list[Caution]) -> Said:
    alike: dict[str, list[str]] = {}
    for caution in group:
        if caution.of:
            alike.setdefault(caution.own, []).append(caution.of)
    return Said(
        wall=None,
        message=group[0].rule,
        points=group[0].points,
        rows=tuple((tuple(dict.fromkeys(names)), own) for own, names in alike.items()),
    )


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
