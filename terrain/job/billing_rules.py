"""What must hold between the keys of `[billing]`: items once, periods in order, shares of one."""

from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from itertools import pairwise
from typing import Any, TypeAlias

from terrain.job.asdug_tables import AsDug
from terrain.job.billing_tables import Billing, Item, Period
from terrain.job.kinds import shown
from terrain.job.places import KeyPath

Found: TypeAlias = Iterable[tuple[KeyPath, str]]


def billing_rules(tables: dict[str, Any]) -> Iterator[tuple[KeyPath, str]]:
    """Every broken rule of `[billing]` as a key path and what is wrong there.

    Args:
        tables: those tables of the job file that are valid.
    """
    billing: Billing | None = tables.get("billing")
    if billing is None:
        return
    for key in ("tax", "retainage"):
        value = Decimal(getattr(billing, key))
        if not 0 <= value < 1:
            message = f'{value} is no share of one: for 7 % write "0.07"'
            yield ("billing", key), message
    yield from _items(billing.items)
    yield from _periods(billing.periods, tables.get("asdug", []))


def _items(items: Sequence[Item]) -> Found:
    names = [item.item for item in items]
    for index, item in enumerate(items):
        path = ("billing", "items", index)
        if item.item in names[:index]:
            first = names.index(item.item) + 1
            message = f"{shown(item.item)} is already the name of item {first}"
            yield (*path, "item"), message
        if item.allowance > 0.0 and item.basis != "as dug to line":
            message = 'has no use but with basis = "as dug to line"'
            yield (*path, "allowance"), message
        for key in ("ordered", "depth"):
            given = getattr(item, key) is not None
            if item.of == "undercut" and not given:
                message = "undercut is paid if it was ordered: say by whom and when, and how deep"
                yield (*path, key), message
            elif item.of != "undercut" and given:
                yield (*path, key), 'has no use but with of = "undercut"'


def _periods(periods: Sequence[Period], asdug: Sequence[AsDug]) -> Found:
    days = [survey.date for survey in asdug]
    for index, period in enumerate(periods):
        path = ("billing", "periods", index)
        if period.asdug is None and period.share is None:
            message = "say what closes the period: asdug, the day of a survey, or share of the work"
            yield path, message
        if period.asdug is not None and period.asdug not in days:
            known = ", ".join(days) or "none"
            message = f"there is no [[asdug]] survey of {period.asdug}; those there are: {known}"
            yield (*path, "asdug"), message
        if period.asdug is not None and period.asdug > period.end:
            message = f"the survey of {period.asdug} was made after the period's end, {period.end}"
            yield (*path, "asdug"), message
    for index, (before, period) in enumerate(pairwise(periods), start=1):
        path = ("billing", "periods", index)
        if period.number <= before.number:
            message = f"{period.number} does not come after {before.number}, the number above it"
            yield (*path, "number"), message
        if period.end <= before.end:
            message = f"{period.end} does not come after {before.end}, the end of the period above"
            yield (*path, "end"), message
        if period.share is not None and before.share is not None and period.share < before.share:
            message = (
                f"{period.share:g} is less than {before.share:g}, the share of the period above"
            )
            yield (*path, "share"), f"{message}: share is of all the work, to date"
        if period.asdug is not None and before.asdug is not None and period.asdug < before.asdug:
            message = f"{period.asdug} comes before {before.asdug}, the survey of the period above"
            yield (*path, "asdug"), message
