"""What must hold between the keys of later surveys: their days, and what piles refer to."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Any, TypeAlias

from terrain.job.asdug_tables import AsDug, Piles, Surveyed
from terrain.job.faults import nearest
from terrain.job.kinds import shown
from terrain.job.places import KeyPath
from terrain.job.schema import Foundation, House

Found: TypeAlias = Iterable[tuple[KeyPath, str]]

SURVEYS = ("asdug", "asgraded", "piles")


def later_rules(tables: dict[str, Any]) -> Iterator[tuple[KeyPath, str]]:
    """Every broken rule of `[[asdug]]`, `[[asgraded]]` and `[[piles]]` as key path and words.

    Args:
        tables: those tables of the job file that are valid.
    """
    for key in SURVEYS:
        yield from _in_order(key, tables.get(key, []))
        yield from _in_pairs(key, tables.get(key, []))
    piles: list[Piles] = tables.get("piles", [])
    walls = _walls(tables.get("foundation"), tables.get("house"))
    for index, survey in enumerate(piles):
        yield from _days(index, survey, tables.get("asdug"))
        if walls:
            yield from _sides(index, survey, walls)


def _in_pairs(key: str, surveys: Sequence[Surveyed]) -> Found:
    pair = ("correlated_accuracy", "correlation_range")
    for index, survey in enumerate(surveys):
        for one, other in (pair, pair[::-1]):
            if getattr(survey, one) is not None and getattr(survey, other) is None:
                yield (key, index, one), f"has no use without {key}[{index + 1}].{other}"


def _in_order(key: str, surveys: Sequence[Surveyed]) -> Found:
    for index, survey in enumerate(surveys[1:], start=1):
        before = surveys[index - 1].date
        if survey.date == before:
            message = f"{before} is also the day of the survey before: put its files into one"
            yield (key, index, "date"), message
        elif survey.date < before:
            message = (
                f"{survey.date} comes before {before}, the day of the survey written above it: put "
                "surveys in the order of their days"
            )
            yield (key, index, "date"), message


def _days(index: int, survey: Piles, asdug: list[AsDug] | None) -> Found:
    days = [] if asdug is None else [one.date for one in asdug]
    for name in ("asdug", "since"):
        day = getattr(survey, name)
        if day is not None and day not in days:
            known = ", ".join(days) or "none"
            message = f"there is no [[asdug]] survey of {day}; those there are: {known}"
            yield ("piles", index, name), message
    until = survey.asdug or max((day for day in days if day <= survey.date), default=None)
    if survey.asdug is not None and survey.asdug > survey.date:
        message = (
            f"the hole of {survey.asdug} was dug on after {survey.date}, the day of the piles: "
            "name a survey of that day or before"
        )
        yield ("piles", index, "asdug"), message
    if survey.since is not None and until is not None and survey.since >= until:
        message = f"{survey.since} does not come before {until}, the day up to which piles hold"
        yield ("piles", index, "since"), message


def _sides(index: int, survey: Piles, walls: list[str]) -> Found:
    for pile, wall in survey.sides.items():
        if wall not in walls:
            close = nearest(wall, walls)
            hint = f"did you mean {shown(close)}?" if close else "walls are " + ", ".join(walls)
            yield ("piles", index, "sides", pile), f"there is no wall {shown(wall)}; {hint}"


def _walls(foundation: Foundation | None, house: House | None) -> list[str]:
    walls = [] if foundation is None or foundation.walls is None else list(foundation.walls)
    return walls + ([] if house is None or house.walls is None else list(house.walls))
