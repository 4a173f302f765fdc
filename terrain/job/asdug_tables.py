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
    """A survey of one day: its files, their columns if no header says so, its accuracy."""

    date: Date
    shots: list[Name] = Field(min_length=1)
    columns: list[Name] | None = Field(default=None, min_length=3)
    accuracy: Length | None = None


class AsDug(Surveyed):
    """`[[asdug]]`: the hole as dug. Without codes shots are told apart by where they lie."""

    floor_codes: list[Name] = []
    toe_codes: list[Name] = []
    top_codes: list[Name] = []
    face_codes: list[Name] = []


class AsGraded(Surveyed):
    """`[[asgraded]]`: the lot as graded, against the finished surface."""


class Piles(Surveyed):
    """`[[piles]]`: spoil piles on a day, by code one pile a code."""


class Verify(Table):
    """`[verify]`: how far floor and dig lines may be off; `line_tolerance` is of a wall's line.

    `grade_tolerance` is of the finished ground.
    """

    floor_tolerance: LengthOverNought | None = None
    line_tolerance: LengthOverNought | None = None
    grade_tolerance: LengthOverNought | None = None
