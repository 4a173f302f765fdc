"""What the columns of a text file are: named by the job, by a header, or by the usual order."""

import re
from collections.abc import Sequence

from terrain.base.errors import Fault, SurveyError
from terrain.base.units import LengthUnit

CANONICAL = ("point", "northing", "easting", "elevation", "code", "line", "skip")
NEEDED = ("northing", "easting", "elevation")
TEXT_COLUMNS = ("point", "code", "line", "skip")

# For each column its names from strong to weak: of two columns the stronger name is taken, and
# two of like strength are an error. All are compared without capitals, blanks and signs.
_NAMES: dict[str, tuple[str, ...]] = {
    "point": (
        "point pt pnt pointno pointnumber pointname pointid ptno ptnumber ptname ptid pno pn p",
        "name number no nr num id shot station",
    ),
    "northing": ("northing north n northings ycoord y northcoord gridnorthing",),
    "easting": ("easting east e eastings xcoord x eastcoord grideasting",),
    "elevation": (
        "elevation elev ele el z zcoord level lvl rl height ht h hgt orthoheight "
        "orthometricheight elevations gridelevation",
    ),
    "code": (
        "code feature featurecode pointcode fcode",
        "desc description d descriptor dsc",
        "remark remarks note notes",
    ),
    "line": ("line string lineid linename lineno linenumber breakline stringno stringid",),
    "latitude": ("latitude lat",),
    "longitude": ("longitude lon long lng",),
}  # fmt: skip
_STRENGTH = {
    word: (column, strength)
    for column, groups in _NAMES.items()
    for strength, group in enumerate(groups)
    for word in group.split()
}
_BRACKETS = re.compile(r"[(\[{]([^)\]}]*)[)\]}]")
_UNITS = {
    "m": "m", "metre": "m", "metres": "m", "meter": "m", "meters": "m",
    "ft": "feet", "foot": "feet", "feet": "feet", "ift": "ft", "intlft": "ft",
    "usft": "ftUS", "ftus": "ftUS", "sft": "ftUS", "ussurveyfoot": "ftUS", "ussurveyfeet": "ftUS",
}  # fmt: skip


def plain_name(text: str) -> str:
    """A column's name without capitals, blanks, signs and what stands in brackets."""
    return re.sub(r"[\W_]+", "", _BRACKETS.sub("", text).casefold())


def recognised(text: str) -> str | None:
    """The canonical column a header's name stands for, or None."""
    found = _STRENGTH.get(plain_name(text))
    return found[0] if found else None


def from_job(columns: Sequence[str]) -> tuple[str, ...]:
    """The columns a job names, checked: known, each once, the three needed ones there."""
    names = tuple(name.strip().casefold() for name in columns)
    faults = []
    for k, name in enumerate(names):
        if name not in CANONICAL:
            faults.append(
                Fault(
                    key=f"existing.columns[{k}]",
                    message=f'"{columns[k]}" is not a column; write one of {", ".join(CANONICAL)}.',
                )
            )
        elif name != "skip" and name in names[:k]:
            faults.append(Fault(key="existing.columns", message=f'"{name}" is named twice.'))
    missing = [name for name in NEEDED if name not in names]
    if missing and not faults:
        faults.append(Fault(key="existing.columns", message=f"{_and(missing)} not named."))
    if faults:
        raise SurveyError(*faults)
    return names


def from_header(fields: Sequence[str], elevation: str = "needed") -> tuple[str, ...]:
    """The columns a header names; those not recognised are `skip`.

    Two names for one column are an error, unless one of them is the stronger name (`code` before
    `description`). `elevation` is "needed" or "optional".

    Errors: `SurveyError` with a message for each double or missing column, without file or line.
    """
    columns = ["skip"] * len(fields)
    taken: dict[str, tuple[int, int]] = {}
    faults = []
    for k, text in enumerate(fields):
        column, strength = _STRENGTH.get(plain_name(text), ("skip", 0))
        if column == "skip":
            continue
        before = taken.get(column)
        if before is not None and before[1] == strength:
            faults.append(
                f'two columns are the {column}: "{fields[before[0]]}" (column {before[0] + 1}) and '
                f'"{text}" (column {k + 1}); say in the job which holds, with columns = [...], '
                'and call the other "skip".'
            )
        elif before is None or strength < before[1]:
            if before is not None:
                columns[before[0]] = "skip"
            columns[k] = column
            taken[column] = (k, strength)
    _prefer_grid(columns)
    needed: tuple[str, ...] = NEEDED if elevation == "needed" else NEEDED[:2]
    if "latitude" in columns and "longitude" in columns:
        needed = needed[2:]
    missing = [name for name in needed if name not in columns]
    if missing and not faults:
        seen = ", ".join(f'"{text}"' for text in fields[:12])
        faults.append(
            f"no column is called {_or(missing)}; the header has {seen}. Name the columns in the "
            'job, for instance columns = ["point", "northing", "easting", "elevation", "code"].'
        )
    if faults:
        raise SurveyError(*faults)
    return tuple(columns)


def _prefer_grid(columns: list[str]) -> None:
    if ("northing" in columns and "easting" in columns) or not (
        "latitude" in columns and "longitude" in columns
    ):
        columns[:] = ["skip" if c in ("latitude", "longitude") else c for c in columns]


def unit_conflicts(fields: Sequence[str], columns: Sequence[str], unit: LengthUnit) -> list[str]:
    """Messages on units that a header states in brackets and that aren't the job's."""
    conflicts = []
    for text, column in zip(fields, columns, strict=False):
        stated = [_UNITS.get(re.sub(r"[\W_]+", "", b.casefold())) for b in _BRACKETS.findall(text)]
        if column not in NEEDED or not stated or stated[0] is None:
            continue
        agrees = stated[0] == unit.name or (stated[0] == "feet" and not unit.is_metric)
        if not agrees:
            conflicts.append(
                f'the header says "{text.strip()}" but the job\'s length_unit is "{unit.name}"; '
                "give all in one unit."
            )
    return conflicts


def usual_order(fields: Sequence[str], numeric: Sequence[bool]) -> tuple[str, ...]:
    """Columns of a file without a header: point, northing, easting, elevation and perhaps code.

    Taken only when the first row fits it: five fields of which the middle three are numbers, or
    four with a whole number first. Anything else could be any order.

    Errors: `SurveyError` that says what to write in the job.
    """
    if len(fields) == 5 and any(numeric[1:4]):
        return CANONICAL[:5]
    if len(fields) == 4 and fields[0].isdigit() and any(numeric[1:4]):
        return CANONICAL[:4]
    raise SurveyError(
        f"there is no header and {len(fields)} fields a line could be in any order; write a "
        "header line above them, for instance easting,northing,elevation; or, for shots, name them "
        'in the job: columns = ["northing", "easting", "elevation"] '
        f"({', '.join(CANONICAL)} are known)."
    )


def _or(names: Sequence[str]) -> str:
    return " or ".join(names)


def _and(names: Sequence[str]) -> str:
    return " and ".join(names) + (" is" if len(names) == 1 else " are")
