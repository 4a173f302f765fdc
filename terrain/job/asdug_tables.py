"""The tables of later surveys: `[[asdug]]`, `[verify]`, `[[asgraded]]`, `[[piles]]`."""

from typing import Annotated, TypeAlias

from pydantic import Field
from pydantic.functional_validators import AfterValidator
from pydantic_core import PydanticCustomError

from terrain.job.kinds import Length, LengthOverNought, Name
from terrain.job.table import Table


def _date(value: str) -> str:
    from datetime import date

    try:
        return date.fromisoformat(value).isoformat()
    except ValueError:
        raise PydanticCustomError("date", 'a date such as "2027-05-04" is wanted') from None


Date: TypeAlias = Annotated[str, Field(max_length=10), AfterValidator(_date)]
"""A day as ISO 8601 writes it: `"2027-05-04"`."""


class Surveyed(Table):
    """A survey of one day: its files, their columns if no header says so, what it errs by.

    Accuracies are as those of `[existing]`, which stand where one is left out.
    """

    date: Date
    shots: list[Name] = Field(min_length=1)
    columns: list[Name] | None = Field(default=None, min_length=3)
    accuracy: Length | None = None
    horizontal_accuracy: Length | None = None
    datum_accuracy: Length | None = None
    correlated_accuracy: Length | None = None
    correlation_range: LengthOverNought | None = None


class AsDug(Surveyed):
    """`[[asdug]]`: the hole as dug. Without codes shots are told apart by where they lie.

    `hours` were dug since the survey before it, or since the beginning.
    """

    floor_codes: list[Name] = []
    toe_codes: list[Name] = []
    top_codes: list[Name] = []
    face_codes: list[Name] = []
    hours: LengthOverNought | None = None


class AsGraded(Surveyed):
    """`[[asgraded]]`: the lot as graded, against the finished surface."""


class Piles(Surveyed):
    """`[[piles]]`: spoil piles on a day, one pile a code; shots without a code, one a file.

    They hold what was dug up to the as-dug survey of the day `asdug` (by default the last one up
    to the piles' own date) and after that of the day `since` (by default all of it), but for
    `hauled`, the loose volume that left by truck, in the job's volume unit. `topsoil` names the
    piles of topsoil; `sides` says whose side of the house a pile is, where it isn't the one it
    lies on.
    """

    asdug: Date | None = None
    since: Date | None = None
    hauled: Length = 0.0
    topsoil: list[Name] = []
    sides: dict[Name, Name] = {}


class Verify(Table):
    """`[verify]`: how far floor and dig lines may be off; `line_tolerance` is of a wall's line.

    `grade_tolerance` is of the finished ground.
    """

    floor_tolerance: LengthOverNought | None = None
    line_tolerance: LengthOverNought | None = None
    grade_tolerance: LengthOverNought | None = None
